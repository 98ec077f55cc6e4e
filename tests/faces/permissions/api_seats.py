"""The table: seats over the API, what people are promised with them, and their lines."""

from __future__ import annotations

from typing import Any

from studios.models import Person
from tests.faces.permissions.cast import Cast
from tests.faces.permissions.table import SIGNED_IN, Row, shows_uid, uid_of
from tests.worlds import local

AN_HOUR = {"starts_at": local(2, 15).isoformat(), "ends_at": local(2, 16).isoformat()}


def own_kept(cast: Cast, person: Person) -> dict[str, Any]:
    return {"uid": cast.own_kept(person).uid}


def vouched(cast: Cast, _person: Person) -> dict[str, Any]:
    return {"studio": "flame", "person": cast.seated.uid, "course": "beads"}


def own_seat(cast: Cast, person: Person) -> dict[str, Any]:
    return {"uid": cast.own_seat(person).uid}


SEATS = [
    Row(
        name="api:seat-list",
        by=(SIGNED_IN,),
        shows=lambda cast, person: str(cast.own_seat(person).uid),
    ),
    Row(name="api:seat-list", note="without those of others", by=(), shows=shows_uid("seat")),
    Row(
        name="api:seat-list",
        method="POST",
        note="in a class, for oneself",
        by=("reserve",),
        sent=lambda cast, _: {"session": cast.session.uid},
    ),
    Row(
        name="api:seat-list",
        method="POST",
        note="in a class, for somebody else",
        by=("reserve-for-others",),
        sent=lambda cast, _: {"session": cast.session.uid, "person": cast.seated.uid},
    ),
    Row(
        name="api:seat-list",
        method="POST",
        note="at a torch, for oneself",
        by=("reserve",),
        sent=lambda cast, _: AN_HOUR | {"torch": cast.town.torches[4].uid},
    ),
    Row(
        name="api:seat-list",
        method="POST",
        note="at a torch, for somebody else",
        by=("reserve-for-others",),
        sent=lambda cast, _: AN_HOUR | {"torch": cast.town.torches[4].uid, "person": cast.seated.uid},
    ),
    Row(
        name="api:seat-keep",
        method="POST",
        note="in a class",
        by=("reserve",),
        sent=lambda cast, _: {"session": cast.session.uid},
    ),
    Row(
        name="api:seat-keep",
        method="POST",
        note="at a torch, for somebody else",
        by=("reserve-for-others",),
        sent=lambda cast, _: AN_HOUR | {"torch": cast.town.torches[4].uid, "person": cast.seated.uid},
    ),
    *(
        Row(name=f"api:seat-{step}", method="POST", note=note, by=by, made=made)
        for step in ("book", "keep-longer", "let-go")
        for note, by, made in (
            ("one's own", (SIGNED_IN,), own_kept),
            ("somebody else's", ("reserve-for-others",), uid_of("kept")),
        )
    ),
    Row(name="api:seat-detail", note="one's own", by=(SIGNED_IN,), made=own_seat),
    Row(name="api:seat-detail", note="somebody else's", by=("reserve-for-others",), made=uid_of("seat")),
    Row(name="api:seat-cancel", method="POST", note="one's own", by=(SIGNED_IN,), made=own_seat),
    Row(
        name="api:seat-cancel",
        method="POST",
        note="somebody else's",
        by=("reserve-for-others",),
        made=uid_of("seat"),
    ),
]
PROMISES = [
    Row(name="api:safety-text-list", by=("see",), shows=lambda cast, _: cast.safety_text.body),
    Row(
        name="api:acknowledgement-list",
        by=(SIGNED_IN,),
        shows=lambda cast, person: cast.own_reading(person).acknowledged_at.isoformat()[:10],
    ),
    Row(
        name="api:acknowledgement-list",
        method="POST",
        by=("see",),
        before=lambda cast, _: cast.safety_text,
        sent=lambda *_: {"studio": "flame", "version": 1, "on_day": "2031-03-04"},
    ),
    Row(name="api:earlier-course-list", by=("vouch",), shows=lambda cast, _: str(cast.earlier.person.uid)),
    Row(name="api:earlier-course-list", method="POST", by=("vouch",), sent=vouched),
    Row(
        name="api:earlier-course-take-back",
        method="POST",
        by=("vouch",),
        before=lambda cast, _: cast.earlier,
        sent=vouched,
    ),
]
LINES = [
    Row(
        name="api:waiting-place-list",
        by=(SIGNED_IN,),
        shows=lambda cast, person: str(cast.own_place(person).uid),
    ),
    Row(name="api:waiting-place-list", note="without those of others", by=(), shows=shows_uid("place")),
    Row(
        name="api:waiting-place-list",
        method="POST",
        note="for oneself",
        by=("reserve",),
        sent=lambda cast, _: {"session": cast.full.uid},
    ),
    Row(
        name="api:waiting-place-list",
        method="POST",
        note="for somebody else",
        by=("reserve-for-others",),
        sent=lambda cast, _: {"session": cast.full.uid, "person": cast.seated.uid},
    ),
    *(
        Row(name=f"api:waiting-place-{name}", method=method, note=note, by=by, made=made)
        for name, method in (("detail", "GET"), ("leave", "POST"))
        for note, by, made in (
            ("one's own", (SIGNED_IN,), lambda cast, person: {"uid": cast.own_place(person).uid}),
            ("somebody else's", ("reserve-for-others",), uid_of("place")),
        )
    ),
    Row(
        name="api:waiting-place-take",
        method="POST",
        note="one's own offer",
        by=(SIGNED_IN,),
        made=lambda cast, person: {"uid": cast.offered(cast.own_place(person)).uid},
    ),
    Row(
        name="api:waiting-place-take",
        method="POST",
        note="somebody else's offer",
        by=("reserve-for-others",),
        made=uid_of("offer"),
    ),
    Row(name="api:roster-detail", by=("see-names",), made=uid_of("session")),
    Row(
        name="api:roster-detail",
        note="with addresses of mail",
        by=("reserve-for-others",),
        made=uid_of("session"),
        shows=lambda cast, _: cast.seat.person.email,
    ),
    Row(name="api:paid-seat-list", by=("mark-paid",), shows=shows_uid("paid_and_given_back")),
    Row(name="api:paid-seat-mark", method="POST", by=("mark-paid",), made=uid_of("priced")),
    Row(name="api:paid-seat-unmark", method="POST", by=("mark-paid",), made=uid_of("paid")),
]
