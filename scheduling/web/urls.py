"""Addresses of the pages."""

from django.urls import path

from scheduling.web.views import (
    booking,
    calendars,
    calibrations,
    cautions,
    firings,
    outbox,
    seats,
    sessions,
    sheet,
    signing,
    torches,
    weekly,
)

urlpatterns = [
    path("", sheet.week, name="week"),
    path("sign-in", signing.SignIn.as_view(), name="sign-in"),
    path("sign-out", signing.SignOut.as_view(), name="sign-out"),
    path("book", booking.book, name="book"),
    path("book/weekly", weekly.weekly, name="book-weekly"),
    path("sessions/<uuid:uid>", sessions.session, name="session"),
    path("sessions/<uuid:uid>/seat", sessions.take_seat, name="take-seat"),
    path("sessions/<uuid:uid>/call-off", sessions.call_off, name="call-off"),
    path("torches", torches.torches, name="torches"),
    path("my-seats", seats.my_seats, name="my-seats"),
    path("my-seats/<uuid:uid>/give-back", seats.give_back, name="give-back"),
    path("firings/<uuid:uid>", firings.firing, name="firing"),
    path("equipment/<uuid:uid>", calibrations.equipment, name="equipment"),
    path("calibrations/<uuid:uid>", calibrations.calibration, name="calibration"),
    path("calendars", calendars.calendars, name="calendars"),
    path("calendar-links/<uuid:uid>/withdraw", calendars.withdraw, name="withdraw-link"),
    path("outbox", outbox.outbox, name="outbox"),
    path("outbox/try-again", outbox.try_all_again, name="try-all-again"),
    path("outbox/<uuid:uid>/try-again", outbox.try_again, name="try-again"),
    path("cautions", cautions.cautions, name="cautions"),
]
