"""The table: pages; those of calendars, lines, outages and the set-up have files of their own."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.tokens import default_token_generator
from django.core.files.uploadedfile import SimpleUploadedFile

from scheduling.services.accounts import confirmations, key_of
from studios.models import Person, SignUp
from tests.faces.permissions.cast import Cast
from tests.faces.permissions.pages_calendars import CALENDARS
from tests.faces.permissions.pages_kiln_jobs import KILN_JOBS
from tests.faces.permissions.pages_lines import LINES
from tests.faces.permissions.pages_outages import CHARGES, OUTAGES
from tests.faces.permissions.pages_set_up import SET_UP
from tests.faces.permissions.rounds import PAGES as ROUND
from tests.faces.permissions.table import ANYBODY, SIGNED_IN, Row
from tests.logs import cooling_log
from tests.services.other_calendars import calendar as calendar_file
from tests.worlds import local

WEEK = {"week": "2031-W10"}
WISH = {
    "course": "beads",
    "studios": ["flame"],
    "first_day": "2031-03-07",
    "last_day": "2031-03-07",
    "time": "18:00",
}
WEEKLY = {"course": "beads", "studio": "flame", "first_day": "2031-03-07", "weeks": "2", "time": "18:00"}
HOURS = {"studio": "flame", "day": "2031-03-05", "starts": "15:00", "ends": "16:00"}
PASSWORDS = {"new_password1": "molten-amber-42", "new_password2": "molten-amber-42"}
FRIDAY_SIX = local(4, 18)


def session(cast: Cast, _person: Person) -> dict[str, Any]:
    return {"uid": cast.session.uid}


def own_class(cast: Cast, person: Person) -> dict[str, Any]:
    return {"uid": cast.own_class(person).uid}


def own_kept(cast: Cast, person: Person) -> dict[str, Any]:
    return {"uid": cast.own_kept(person).uid}


def somebodys_kept(cast: Cast, _person: Person) -> dict[str, Any]:
    return {"uid": cast.kept.uid}


def role(cast: Cast, _person: Person) -> dict[str, Any]:
    return {"key": cast.membership.pk}


def reset_key(cast: Cast, _person: Person) -> dict[str, Any]:
    return key_of(cast.seated, default_token_generator)


def sign_up_key(cast: Cast, _person: Person) -> dict[str, Any]:
    person, _ = Person.objects.get_or_create(
        email="new@town.example", defaults={"name": "New", "is_active": False}
    )
    SignUp.objects.get_or_create(person=person, studio=cast.town.flame)
    return key_of(person, confirmations)


def of_whoever(person: Person) -> dict[str, Any]:
    return {"instructor": person.uid}


ENTRY = [
    Row(name="sign-in", by=(ANYBODY,)),
    Row(
        name="sign-in",
        method="POST",
        by=(ANYBODY,),
        sent=lambda _cast, person: {"username": person.email, "password": "glass"},
    ),
    Row(name="sign-out", method="POST", by=(ANYBODY,)),
    Row(name="sign-up", by=(ANYBODY,)),
    Row(
        name="sign-up",
        method="POST",
        by=(ANYBODY,),
        sent=lambda *_: {"name": "New", "email": "new@town.example", "studio": "flame"},
    ),
    Row(name="confirm", by=(ANYBODY,), made=sign_up_key),
    Row(name="confirm", method="POST", by=(ANYBODY,), made=sign_up_key, sent=lambda *_: PASSWORDS),
    Row(name="mailed", by=(ANYBODY,)),
    Row(name="forgotten", by=(ANYBODY,)),
    Row(name="forgotten", method="POST", by=(ANYBODY,), sent=lambda cast, _: {"email": cast.seated.email}),
    Row(name="new-password", by=(ANYBODY,), made=reset_key),
    Row(name="new-password", method="POST", by=(ANYBODY,), made=reset_key, sent=lambda *_: PASSWORDS),
    Row(name="cautions", by=(ANYBODY,)),
]
ACCOUNT = [
    Row(name="account", by=(SIGNED_IN,), shows=lambda _, person: person.email),
    Row(name="rename", method="POST", by=(SIGNED_IN,), sent=lambda *_: {"name": "Another"}),
    Row(name="read-in", method="POST", by=(SIGNED_IN,), sent=lambda *_: {"language": "de", "units": "us"}),
    Row(name="change-password", by=(SIGNED_IN,)),
    Row(
        name="change-password",
        method="POST",
        by=(SIGNED_IN,),
        sent=lambda *_: {"old_password": "glass"} | PASSWORDS,
        shows=lambda *_: "The new password stands",
    ),
    Row(name="join", method="POST", by=(SIGNED_IN,), sent=lambda cast, _: {"studio": cast.annex.slug}),
    Row(
        name="sign-out-everywhere",
        method="POST",
        by=(SIGNED_IN,),
        shows=lambda *_: "signed out on every device",
    ),
    Row(name="calendars", by=(SIGNED_IN,)),
    Row(name="calendars", method="POST", by=(SIGNED_IN,), sent=lambda *_: {"label": "phone"}),
    *(
        Row(
            name="calendars",
            method="POST",
            note=f"about {thing}",
            by=(action,),
            sent=lambda *_, thing=thing: {"label": "phone", "about": thing},
        )
        for thing, action in (("studio:flame", "see"), ("duties:flame", "see-names"))
    ),
    Row(
        name="calendars",
        method="POST",
        note="about a kiln",
        by=("see",),
        sent=lambda cast, _: {"label": "phone", "about": f"equipment:{cast.town.equipment['kiln'].uid}"},
    ),
    Row(
        name="withdraw-link",
        method="POST",
        note="of one's own",
        by=(SIGNED_IN,),
        made=lambda cast, person: {"uid": cast.own_link(person).uid},
    ),
    Row(
        name="withdraw-link",
        method="POST",
        note="of somebody else",
        by=(),
        made=lambda cast, _: {"uid": cast.feed_key.uid},
    ),
    Row(name="other-calendars", by=("keep-other-calendars",), anywhere=True),
    Row(
        name="other-calendars",
        note="where one is left over",
        by=(SIGNED_IN,),
        before=lambda cast, person: cast.own_calendar(person),
    ),
    Row(
        name="give-calendar-link",
        method="POST",
        by=("keep-other-calendars",),
        anywhere=True,
        sent=lambda *_: {"label": "home", "link": "https://calendars.example/b.ics"},
    ),
    Row(
        name="give-calendar-file",
        method="POST",
        by=("keep-other-calendars",),
        anywhere=True,
        sent=lambda *_: {"label": "home", "file": SimpleUploadedFile("home.ics", calendar_file())},
    ),
    *(
        Row(name=name, method="POST", note=note, by=by, made=made)
        for name in ("read-calendar", "remove-calendar")
        for note, by, made in (
            ("of one's own", (SIGNED_IN,), lambda cast, person: {"uid": cast.own_calendar(person).uid}),
            ("of somebody else", (), lambda cast, _: {"uid": cast.other_calendar.uid}),
        )
    ),
]
PEOPLE = [
    Row(name="people", by=("keep-people",), shows=lambda *_: 'aria-label="People at Flame"'),
    Row(
        name="people",
        note="with earlier courses",
        by=("vouch",),
        shows=lambda cast, _: f"{cast.earlier.person}: {cast.earlier.course}",
    ),
    Row(
        name="vouch",
        method="POST",
        by=("vouch",),
        made=lambda *_: {"slug": "flame"},
        sent=lambda cast, _: {"person": cast.earlier.person.uid, "course": "beads"},
    ),
    Row(
        name="take-back-vouched",
        method="POST",
        by=("vouch",),
        made=lambda cast, _: {"key": cast.earlier.pk},
    ),
    Row(
        name="give-role",
        method="POST",
        by=("keep-people",),
        made=lambda *_: {"slug": "flame"},
        sent=lambda cast, _: {"person": cast.seated.uid, "role": "technician"},
    ),
    Row(name="confirm-role", method="POST", by=("keep-people",), made=role),
    Row(name="end-role", method="POST", by=("keep-people",), made=role),
    Row(name="audit", by=("see-audit",), before=session, shows=lambda *_: "beads at Flame"),
    Row(name="audit-file", by=("see-audit",), before=session, shows=lambda *_: "beads at Flame"),
    Row(name="outbox", by=("see-outbox",), shows=lambda cast, _: cast.message.subject),
    Row(
        name="try-again",
        method="POST",
        by=("see-outbox",),
        made=lambda cast, _: {"uid": cast.message.uid},
    ),
    Row(
        name="try-all-again",
        method="POST",
        note="which reaches only one's own studios",
        by=("see-outbox",),
        before=lambda cast, _: cast.message,
        shows=lambda *_: "1 message tried again now",
    ),
]
SHEET = [
    Row(name="week", by=("see",), query=lambda *_: WEEK, shows=lambda cast, _: str(cast.session.uid)),
    Row(name="week", note="of one studio", by=("see",), query=lambda *_: WEEK | {"studio": "flame"}),
    Row(
        name="week",
        note="with a student's name",
        by=("see-names",),
        query=lambda *_: WEEK,
        shows=lambda cast, _: cast.bench.person.name,
    ),
    Row(name="firing", by=("see",), made=lambda cast, _: {"uid": cast.session.loads.get().firing.uid}),
    Row(
        name="record-actual",
        method="POST",
        by=("record-actual",),
        made=lambda cast, _: {"uid": cast.fired.uid},
        sent=lambda *_: {"kind": "temperature", "day": "2031-02-26", "at": "06:00", "read_c": "60"},
    ),
    Row(
        name="lay-log",
        method="POST",
        by=("record-actual",),
        made=lambda cast, _: {"uid": cast.session.loads.get().firing.uid},
        sent=lambda *_: {"log": SimpleUploadedFile("night.csv", cooling_log(2.0).encode())},
    ),
    Row(
        name="strike-actual",
        method="POST",
        by=("record-actual",),
        made=lambda cast, _: {"uid": cast.actual.uid},
    ),
    Row(name="unload", by=("record-actual",), made=lambda cast, _: {"uid": cast.fired.uid}),
    Row(
        name="unload",
        method="POST",
        by=("record-actual",),
        made=lambda cast, _: {"uid": cast.fired.uid},
        sent=lambda cast, _: {f"shelf-{load.pk}": "shelf 9" for load in cast.fired.loads.all()},
    ),
    Row(name="pick-up", by=("hand-out",), shows=lambda *_: 'aria-label="Pick-up at Flame"'),
    Row(
        name="mark-collected",
        method="POST",
        by=("hand-out",),
        made=lambda cast, _: {"uid": cast.collection.uid},
        sent=lambda *_: {"collected": "yes"},
    ),
    Row(name="equipment", by=("see",), made=lambda cast, _: {"uid": cast.town.equipment["kiln"].uid}),
    Row(
        name="equipment",
        method="POST",
        by=("calibrate",),
        made=lambda cast, _: {"uid": cast.town.equipment["small annealer"].uid},
        sent=lambda *_: {"log": SimpleUploadedFile("night.csv", cooling_log(2.0).encode())},
    ),
    Row(name="calibration", by=("calibrate",), made=lambda cast, _: {"uid": cast.calibration.uid}),
    Row(
        name="calibration",
        method="POST",
        by=("calibrate",),
        made=lambda cast, _: {"uid": cast.calibration.uid},
        sent=lambda *_: {"ranges": "one", "valid_from": "2031-03-04", "although_early": "on"},
    ),
]
CLASSES = [
    Row(name="book", by=("book",), shows=lambda *_: 'value="flame"'),
    Row(
        name="book",
        method="POST",
        note="a class of one's own",
        by=("teach",),
        query=lambda _, person: WISH | of_whoever(person),
        sent=lambda *_: {"studio": "flame", "starts_at": FRIDAY_SIX.isoformat()},
    ),
    Row(
        name="book",
        method="POST",
        note="a class of somebody else",
        by=("book-for-others",),
        query=lambda cast, _: WISH | of_whoever(cast.town.other_instructor),
        sent=lambda *_: {"studio": "flame", "starts_at": FRIDAY_SIX.isoformat()},
        shows=lambda cast, _: f"<dt>Instructor</dt><dd>{cast.town.other_instructor}</dd>",
    ),
    Row(name="book-weekly", by=("book",), shows=lambda *_: 'value="flame"'),
    Row(
        name="book-weekly",
        method="POST",
        note="a class of one's own",
        by=("teach",),
        query=lambda _, person: WEEKLY | of_whoever(person),
        sent=lambda *_: {"day": ["2031-03-07", "2031-03-14"]},
    ),
    Row(
        name="book-weekly",
        method="POST",
        note="a class of somebody else",
        by=("book-for-others",),
        query=lambda cast, _: WEEKLY | of_whoever(cast.town.other_instructor),
        sent=lambda *_: {"day": ["2031-03-07", "2031-03-14"]},
        shows=lambda cast, _: f"<dt>Instructor</dt><dd>{cast.town.other_instructor}</dd>",
    ),
    Row(
        name="move-session",
        note="one's own class",
        by=("teach", "book-for-others"),
        made=own_class,
        query=lambda *_: {"day": "2031-03-08", "time": "18:00"},
        shows=lambda *_: "Move it there",
    ),
    Row(
        name="move-session",
        method="POST",
        note="one's own class",
        by=("teach", "book-for-others"),
        made=own_class,
        sent=lambda *_: {"starts_at": local(5, 18).isoformat()},
    ),
    Row(
        name="move-session",
        method="POST",
        note="somebody else's class",
        by=("book-for-others",),
        made=session,
        sent=lambda *_: {"starts_at": local(5, 18).isoformat()},
    ),
    Row(name="session", by=("see",), made=session),
    Row(
        name="session",
        note="with a student's name",
        by=("see-names",),
        made=session,
        shows=lambda cast, _: cast.seat.person.name,
    ),
    Row(name="take-seat", method="POST", note="for oneself", by=("reserve",), made=session),
    Row(
        name="take-seat",
        method="POST",
        note="for somebody else",
        by=("reserve-for-others",),
        made=session,
        sent=lambda cast, _: {"person": cast.seated.uid},
        shows=lambda cast, _: f"is taken for {cast.seated.name}",
    ),
    Row(
        name="call-off",
        method="POST",
        note="one's own class",
        by=("teach", "book-for-others"),
        made=own_class,
    ),
    Row(
        name="call-off-series",
        method="POST",
        note="one's own classes",
        by=("teach", "book-for-others"),
        made=lambda cast, person: {"uid": cast.own_series(person).sessions.get().uid},
    ),
    Row(
        name="call-off-series",
        method="POST",
        note="somebody else's classes",
        by=("book-for-others",),
        made=lambda cast, _: {"uid": cast.series.sessions.get().uid},
    ),
    Row(
        name="call-off",
        method="POST",
        note="somebody else's class",
        by=("book-for-others",),
        made=session,
    ),
]
SEATS = [
    Row(name="torches", by=("see",), query=lambda *_: HOURS, shows=lambda *_: "Reserve torch 5"),
    Row(
        name="torches",
        method="POST",
        by=("reserve",),
        sent=lambda cast, _: HOURS | {"torch": cast.town.torches[4].uid},
        shows=lambda *_: "is kept for you until",
    ),
    Row(name="keep-seat", method="POST", by=("reserve",), made=session, shows=lambda *_: "is kept for you"),
    *(
        Row(name=name, method=method, note=note, by=by, made=made)
        for name, method in (
            ("kept-seat", "GET"),
            ("kept-seat", "POST"),
            ("keep-longer", "POST"),
            ("let-go", "POST"),
        )
        for note, by, made in (
            ("one's own", (SIGNED_IN,), own_kept),
            ("somebody else's", ("reserve-for-others",), somebodys_kept),
        )
    ),
    Row(
        name="acknowledge",
        method="POST",
        by=("see",),
        before=lambda cast, _: cast.safety_text,
        sent=lambda *_: {"studio": "flame", "day": "2031-03-04", "acknowledged": "1"},
    ),
    Row(name="my-seats", by=("see",), shows=lambda cast, _: str(cast.session.uid)),
    Row(
        name="give-back",
        method="POST",
        note="one's own seat",
        by=(SIGNED_IN,),
        made=lambda cast, person: {"uid": cast.own_seat(person).uid},
    ),
    Row(
        name="give-back",
        method="POST",
        note="somebody else's seat",
        by=("reserve-for-others",),
        made=lambda cast, _: {"uid": cast.seat.uid},
    ),
]
ROWS = [
    *ENTRY,
    *ACCOUNT,
    *PEOPLE,
    *SHEET,
    *OUTAGES,
    *CHARGES,
    *ROUND,
    *CLASSES,
    *SEATS,
    *LINES,
    *CALENDARS,
    *SET_UP,
    *KILN_JOBS,
]
