"""The table: waiting lines, rosters and what is paid."""

from __future__ import annotations

from tests.faces.permissions.table import SIGNED_IN, Row, uid_of

CLASS = uid_of("session")
LINES = [
    Row(
        name="join-line",
        method="POST",
        by=("reserve",),
        made=lambda cast, _: {"uid": cast.full.uid},
        shows=lambda *_: "You are in the waiting line",
    ),
    Row(
        name="leave-line",
        method="POST",
        note="one's own place",
        by=(SIGNED_IN,),
        made=lambda cast, person: {"uid": cast.own_place(person).uid},
    ),
    Row(
        name="leave-line",
        method="POST",
        note="somebody else's place",
        by=("reserve-for-others",),
        made=lambda cast, _: {"uid": cast.place.uid},
    ),
    Row(name="roster", by=("see-names",), made=CLASS, shows=lambda cast, _: cast.seat.person.name),
    Row(
        name="roster",
        note="with addresses of mail",
        by=("reserve-for-others",),
        made=CLASS,
        shows=lambda cast, _: cast.seat.person.email,
    ),
    Row(
        name="roster-file",
        by=("see-names",),
        made=CLASS,
        shows=lambda cast, _: cast.seat.person.name,
    ),
    Row(
        name="payments",
        by=("mark-paid",),
        before=lambda cast, _: cast.paid_and_given_back,
        shows=lambda cast, _: cast.seated.name,
    ),
    Row(
        name="mark-paid",
        method="POST",
        by=("mark-paid",),
        made=lambda cast, _: {"uid": cast.priced.uid},
    ),
    Row(
        name="unmark-paid",
        method="POST",
        by=("mark-paid",),
        made=lambda cast, _: {"uid": cast.paid.uid},
    ),
]
