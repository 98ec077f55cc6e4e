"""Addresses of the set-up."""

from django.urls import path

from scheduling.web.views.setup import courses, equipment, lines, people, records, studios, supplies

urlpatterns = [
    path("set-up", studios.studios, name="set-up"),
    path("set-up/new", studios.open_new, name="open-studio"),
    path("set-up/<slug:slug>", studios.studio, name="set-up-studio"),
    path("set-up/<slug:slug>/about/<slug:part>", studios.about, name="set-up-about"),
    path("set-up/<slug:slug>/lines/<slug:kind>", lines.lines, name="set-up-lines"),
    path("set-up/<slug:slug>/lines/<slug:kind>/<int:key>", lines.line, name="set-up-line"),
    path("set-up/<slug:slug>/lines/<slug:kind>/<int:key>/drop", lines.drop, name="drop-line"),
    path("set-up/<slug:slug>/supplies", supplies.supplies, name="set-up-supplies"),
    path("set-up/<slug:slug>/supplies/new/<slug:kind>", supplies.add, name="add-supply"),
    path("supplies/<uuid:uid>/set-up", supplies.supply, name="set-up-supply"),
    path("supplies/<uuid:uid>/drop", supplies.drop, name="drop-supply"),
    path("set-up/<slug:slug>/glasses", supplies.glasses, name="set-up-glasses"),
    path("set-up/<slug:slug>/glasses/family", supplies.family, name="add-family"),
    path("set-up/<slug:slug>/glasses/<slug:name>", supplies.glass, name="set-up-glass"),
    path("set-up/<slug:slug>/equipment", equipment.equipment, name="set-up-equipment"),
    path("set-up/<slug:slug>/equipment/new/<slug:kind>", equipment.add, name="add-equipment"),
    path("equipment/<uuid:uid>/set-up", equipment.change, name="change-equipment"),
    path("equipment/<uuid:uid>/retire", equipment.retire, name="retire-equipment"),
    path("equipment/<uuid:uid>/use-again", equipment.again, name="use-again"),
    path("equipment/<uuid:uid>/record", records.enter, name="enter-record"),
    path("records/<int:key>/take-back", records.drop, name="drop-record"),
    path("equipment/<uuid:uid>/pot", records.pot, name="set-up-pot"),
    path("set-up/<slug:slug>/courses", courses.courses, name="set-up-courses"),
    path("set-up/<slug:slug>/courses/new", courses.add, name="add-course"),
    path("set-up/<slug:slug>/courses/<slug:name>", courses.course, name="set-up-course"),
    path("set-up/<slug:slug>/courses/<slug:name>/teach", courses.teach, name="teach-here"),
    path("set-up/<slug:slug>/courses/<slug:name>/teach-no-more", courses.no_more, name="teach-no-more"),
    path("set-up/<slug:slug>/sign-offs", people.sign_offs, name="sign-offs"),
    path("set-up/<slug:slug>/sign-offs/<uuid:uid>", people.signing_off, name="sign-off"),
    path("set-up/<slug:slug>/safety", people.safety, name="set-up-safety"),
    path("set-up/<slug:slug>/travel", people.travel, name="set-up-travel"),
]
