"""The table: pages of calendar links, and calendar files."""

from __future__ import annotations

from scheduling.models import About
from tests.faces.permissions.table import ANYBODY, SIGNED_IN, Row

CALENDARS = [
    Row(name="week-file", by=(SIGNED_IN,), made=lambda *_: {"year": 2031, "week": 10}),
    Row(name="month-file", by=(SIGNED_IN,), made=lambda *_: {"year": 2031, "month": 3}),
    Row(name="term-file", by=("see",), made=lambda cast, _: {"studio": "flame", "number": cast.term.pk}),
    Row(
        name="seat-file",
        note="of one's own",
        by=(SIGNED_IN,),
        made=lambda cast, person: {"uid": cast.own_seat(person).uid},
    ),
    Row(name="seat-file", note="somebody else's", by=(), made=lambda cast, _: {"uid": cast.seat.uid}),
    Row(name="class-file", by=("see",), made=lambda cast, _: {"uid": cast.session.uid}),
    Row(
        name="feed-form",
        by=(ANYBODY,),
        made=lambda cast, _: {"key": cast.feed_key.key, "form": "json"},
    ),
    Row(
        name="feed",
        note="about a studio, of somebody with a role there",
        by=("see",),
        made=lambda cast, person: {"key": cast.link_about(person, About.STUDIO).key},
    ),
    Row(
        name="feed",
        note="about a kiln, of somebody with a role there",
        by=("see",),
        made=lambda cast, person: {"key": cast.link_to_kiln(person).key},
    ),
    Row(
        name="feed",
        note="about duties, of somebody with a role there",
        by=("see-names",),
        made=lambda cast, person: {"key": cast.link_about(person, About.DUTIES).key},
    ),
    Row(
        name="feed",
        note="by its secret link",
        by=(ANYBODY,),
        made=lambda cast, _: {"key": cast.feed_key.key},
    ),
    Row(
        name="feed",
        note="by a link that nobody made",
        by=(),
        made=lambda cast, _: {"key": "x" * len(cast.feed_key.key)},
    ),
]
