"""The table: the API."""

from __future__ import annotations

from typing import Any

from studios.models import Person
from tests.faces.permissions.api_kiln_jobs import KILN_JOBS
from tests.faces.permissions.api_seats import AN_HOUR, LINES, PROMISES, SEATS
from tests.faces.permissions.cast import Cast
from tests.faces.permissions.rounds import API as ROUND
from tests.faces.permissions.table import ANYBODY, SIGNED_IN, Row, shows_uid, uid_of
from tests.logs import cooling_log
from tests.services.other_calendars import calendar
from tests.worlds import local

DAY = {"first_day": "2031-03-07", "last_day": "2031-03-07", "time": "18:00"}
BEADS = {"course": "beads", "studio": "flame"}
FRIDAY = {"starts_at": local(4, 18).isoformat()}
SATURDAY = {"starts_at": local(5, 18).isoformat()}


def equipment(name: str) -> Any:
    return lambda cast, _person: {"uid": cast.town.equipment[name].uid}


def taught_by(cast: Cast) -> dict[str, Any]:
    return {"instructor": cast.town.other_instructor.uid}


def firing_uid(cast: Cast, _person: Person) -> dict[str, Any]:
    return {"uid": cast.session.loads.get().firing.uid}


def own_class(cast: Cast, person: Person) -> dict[str, Any]:
    return {"uid": cast.own_class(person).uid}


OPEN = [
    Row(name="api:schema", by=(ANYBODY,)),
    Row(name="api:docs", by=(ANYBODY,)),
    Row(name="api:problem-detail", by=(ANYBODY,), made=lambda *_: {"code": "no-start"}),
    Row(
        name="api:token-list",
        method="POST",
        by=(ANYBODY,),
        sent=lambda _, person: {"email": person.email, "password": "glass"},
    ),
]
OWN = [
    Row(name="api:me", by=(SIGNED_IN,), shows=lambda _, person: person.email),
    Row(
        name="api:my-token",
        method="DELETE",
        by=(SIGNED_IN,),
        before=lambda cast, person: cast.own_token(person),
    ),
    Row(
        name="api:feed-key-list",
        by=(SIGNED_IN,),
        shows=lambda cast, person: str(cast.own_link(person).uid),
    ),
    Row(
        name="api:feed-key-list",
        note="without those of others",
        by=(),
        shows=shows_uid("feed_key"),
    ),
    Row(name="api:feed-key-list", method="POST", by=(SIGNED_IN,), sent=lambda *_: {"label": "phone"}),
    *(
        Row(
            name="api:feed-key-list",
            method="POST",
            note=f"about {about}",
            by=(action,),
            sent=lambda *_, about=about: {"label": "phone", "about": about, "studio": "flame"},
        )
        for about, action in (("studio", "see"), ("duties", "see-names"))
    ),
    Row(
        name="api:feed-key-list",
        method="POST",
        note="about a kiln",
        by=("see",),
        sent=lambda cast, _: {
            "label": "phone",
            "about": "equipment",
            "equipment": str(cast.town.equipment["kiln"].uid),
        },
    ),
    Row(
        name="api:feed-key-detail",
        method="DELETE",
        note="of one's own",
        by=(SIGNED_IN,),
        made=lambda cast, person: {"uid": cast.own_link(person).uid},
    ),
    Row(
        name="api:feed-key-detail",
        method="DELETE",
        note="of somebody else",
        by=(),
        made=uid_of("feed_key"),
    ),
    Row(
        name="api:other-calendar-list",
        by=(SIGNED_IN,),
        shows=lambda cast, person: str(cast.own_calendar(person).uid),
    ),
    Row(
        name="api:other-calendar-list",
        note="without those of others",
        by=(),
        shows=shows_uid("other_calendar"),
    ),
    Row(
        name="api:other-calendar-list",
        method="POST",
        note="by link",
        by=("keep-other-calendars",),
        anywhere=True,
        sent=lambda *_: {"label": "home", "link": "https://calendars.example/b.ics"},
    ),
    Row(
        name="api:other-calendar-list",
        method="POST",
        note="as a file",
        by=("keep-other-calendars",),
        anywhere=True,
        sent=lambda *_: {"label": "home", "content": calendar().decode()},
    ),
    *(
        Row(name=name, method=method, note=note, by=by, made=made)
        for name, method in (
            ("api:other-calendar-detail", "DELETE"),
            ("api:other-calendar-read-again", "POST"),
        )
        for note, by, made in (
            ("of one's own", (SIGNED_IN,), lambda cast, person: {"uid": cast.own_calendar(person).uid}),
            ("of somebody else", (), uid_of("other_calendar")),
        )
    ),
    Row(name="api:glass-list", by=(SIGNED_IN,), shows=lambda *_: "boro-33"),
    Row(name="api:glass-detail", by=(SIGNED_IN,), made=lambda *_: {"slug": "boro-33"}),
]
PLACES = [
    Row(name="api:studio-list", by=("see",), shows=lambda *_: '"flame"'),
    Row(name="api:studio-detail", by=("see",), made=lambda *_: {"slug": "flame"}),
    Row(
        name="api:equipment-list",
        by=("see",),
        shows=lambda cast, _: str(cast.town.equipment["kiln"].uid),
    ),
    Row(name="api:equipment-detail", by=("see",), made=equipment("kiln")),
    Row(name="api:supply-list", by=("see",), shows=shows_uid("oxygen")),
    Row(name="api:course-list", by=("see",), shows=lambda *_: '"beads"'),
    Row(name="api:course-detail", by=("see",), made=lambda *_: {"slug": "beads"}),
    Row(
        name="api:occupancy-list",
        by=("see",),
        query=lambda cast, _: {
            "studio": "flame",
            "from": cast.session.starts_at.isoformat(),
            "to": cast.session.ends_at.isoformat(),
        },
    ),
    Row(name="api:firing-list", by=("see",), shows=lambda *given: str(firing_uid(*given)["uid"])),
    Row(name="api:firing-detail", by=("see",), made=firing_uid),
    Row(name="api:firing-breaks", by=("record-actual",), made=uid_of("fired")),
    Row(name="api:actual-list", by=("see",), shows=shows_uid("actual")),
    Row(
        name="api:actual-list",
        method="POST",
        by=("record-actual",),
        sent=lambda cast, _: {
            "firing": cast.fired.uid,
            "kind": "temperature",
            "at": local(-5, 6).isoformat(),
            "read_c": 60,
        },
    ),
    Row(name="api:actual-strike", method="POST", by=("record-actual",), made=uid_of("actual")),
    Row(
        name="api:pick-up-list",
        by=("hand-out",),
        before=lambda cast, _: cast.collection,
        shows=lambda *_: "shelf 9",
    ),
    Row(
        name="api:pick-up-list",
        method="POST",
        by=("record-actual",),
        sent=lambda cast, _: {
            "firing": cast.fired.uid,
            "at": local(-5, 12).isoformat(),
            "shelves": [
                {"session": cast.fired.loads.values_list("session__uid", flat=True).get(), "shelf": "shelf 9"}
            ],
        },
    ),
    Row(
        name="api:collection-list",
        by=("hand-out",),
        before=lambda cast, _: cast.collection,
        shows=lambda *_: "shelf 9",
    ),
    Row(
        name="api:collection-mark",
        method="POST",
        by=("hand-out",),
        made=uid_of("collection"),
        sent=lambda *_: {"collected": True},
    ),
    Row(name="api:outage-list", by=("see",), shows=lambda cast, _: cast.outage.reason),
    Row(
        name="api:outage-list",
        method="POST",
        by=("enter-outage",),
        sent=lambda cast, _: AN_HOUR | {"equipment": cast.town.equipment["saw"].uid, "reason": "a belt"},
    ),
    Row(name="api:outage-detail", method="DELETE", by=("enter-outage",), made=uid_of("outage")),
    Row(name="api:outage-end", method="POST", by=("enter-outage",), made=uid_of("running_outage")),
    Row(name="api:outage-broken", by=("enter-outage",), made=uid_of("outage")),
]
CARE = [
    Row(name="api:calibration-list", by=("calibrate",), shows=shows_uid("calibration")),
    Row(
        name="api:calibration-list",
        method="POST",
        by=("calibrate",),
        sent=lambda cast, _: {
            "equipment": cast.town.equipment["small annealer"].uid,
            "log": cooling_log(2.0),
            "file_name": "night.csv",
        },
    ),
    Row(name="api:calibration-detail", by=("calibrate",), made=uid_of("calibration")),
    Row(
        name="api:calibration-accept",
        method="POST",
        by=("calibrate",),
        made=uid_of("calibration"),
        sent=lambda *_: {"ranges": "one", "valid_from": "2031-03-04", "although_early": True},
    ),
    Row(name="api:refill-list", by=("see",), shows=shows_uid("refill")),
    Row(
        name="api:refill-list",
        method="POST",
        by=("refill",),
        sent=lambda cast, _: {"supply": cast.oxygen.uid, "at": local(0, 7).isoformat()},
    ),
    Row(name="api:refill-strike", method="POST", by=("refill",), made=uid_of("planned")),
    Row(
        name="api:pot-level-list",
        at="hot-shop",
        by=("see",),
        before=lambda cast, _: cast.level,
        shows=lambda *_: '"count":1',
    ),
    Row(
        name="api:pot-level-list",
        method="POST",
        at="hot-shop",
        by=("charge",),
        sent=lambda cast, _: {
            "furnace": cast.pot.furnace.uid,
            "at": local(0, 8).isoformat(),
            "level_kg": 70,
        },
    ),
    Row(name="api:charge-list", at="hot-shop", by=("see",), shows=shows_uid("charge")),
    Row(
        name="api:charge-list",
        method="POST",
        at="hot-shop",
        by=("charge",),
        sent=lambda cast, _: {"furnace": cast.pot.furnace.uid, "starts_at": local(3, 8).isoformat()},
    ),
    Row(name="api:charge-cancel", method="POST", at="hot-shop", by=("charge",), made=uid_of("charge")),
    Row(
        name="api:charge-proposal-list",
        at="hot-shop",
        by=("see",),
        query=lambda cast, _: {"furnace": cast.pot.furnace.uid},
    ),
    Row(
        name="api:audit-entry-list",
        by=("see-audit",),
        before=lambda cast, _: cast.session,
        shows=shows_uid("session"),
    ),
    Row(name="api:message-list", by=("see-outbox",), shows=shows_uid("message")),
    Row(name="api:message-try-again", method="POST", by=("see-outbox",), made=uid_of("message")),
    Row(
        name="api:message-try-all-again",
        method="POST",
        note="which reaches only one's own studios",
        by=("see-outbox",),
        before=lambda cast, _: cast.message,
        shows=lambda *_: '"messages":1',
    ),
]
CLASSES = [
    Row(name="api:option-list", by=("book",), query=lambda cast, _: BEADS | DAY | taught_by(cast)),
    Row(
        name="api:best-start-list",
        by=("book",),
        query=lambda cast, _: BEADS | {"order": "energy"} | DAY | taught_by(cast),
    ),
    Row(
        name="api:weekly-time-list",
        by=("book",),
        query=lambda cast, _: (
            BEADS | {"first_day": "2031-03-07", "weeks": 2, "time": "18:00"} | taught_by(cast)
        ),
    ),
    Row(name="api:series-list", by=("see",), shows=shows_uid("series")),
    Row(name="api:series-detail", by=("see",), made=uid_of("series")),
    Row(
        name="api:series-list",
        method="POST",
        note="of one's own",
        by=("teach",),
        sent=lambda *_: BEADS | {"days": ["2031-03-07"], "time": "18:00"},
    ),
    Row(
        name="api:series-list",
        method="POST",
        note="of somebody else",
        by=("book-for-others",),
        sent=lambda cast, _: BEADS | {"days": ["2031-03-07"], "time": "18:00"} | taught_by(cast),
    ),
    Row(
        name="api:series-cancel",
        method="POST",
        note="one's own",
        by=("teach", "book-for-others"),
        made=lambda cast, person: {"uid": cast.own_series(person).uid},
    ),
    Row(
        name="api:series-cancel",
        method="POST",
        note="somebody else's",
        by=("book-for-others",),
        made=uid_of("series"),
    ),
    Row(name="api:session-list", by=("see",), shows=shows_uid("session")),
    Row(name="api:session-detail", by=("see",), made=uid_of("session")),
    Row(
        name="api:session-detail",
        note="with a student's name",
        by=("see-names",),
        made=uid_of("session"),
        shows=lambda cast, _: cast.seat.person.name,
    ),
    Row(
        name="api:session-list",
        method="POST",
        note="of one's own",
        by=("teach",),
        sent=lambda *_: BEADS | FRIDAY,
    ),
    Row(
        name="api:session-list",
        method="POST",
        note="of somebody else",
        by=("book-for-others",),
        sent=lambda cast, _: BEADS | FRIDAY | taught_by(cast),
    ),
    Row(
        name="api:session-cancel",
        method="POST",
        note="one's own",
        by=("teach", "book-for-others"),
        made=own_class,
    ),
    Row(
        name="api:session-cancel",
        method="POST",
        note="somebody else's",
        by=("book-for-others",),
        made=uid_of("session"),
    ),
    Row(
        name="api:session-move",
        note="one's own",
        by=("teach", "book-for-others"),
        made=own_class,
        query=lambda *_: SATURDAY,
    ),
    Row(
        name="api:session-move",
        note="somebody else's",
        by=("book-for-others",),
        made=uid_of("session"),
        query=lambda *_: SATURDAY,
    ),
    Row(
        name="api:session-move",
        note="one's own",
        by=("teach", "book-for-others"),
        made=own_class,
        method="POST",
        sent=lambda *_: SATURDAY,
    ),
    Row(
        name="api:session-move",
        note="somebody else's",
        by=("book-for-others",),
        made=uid_of("session"),
        method="POST",
        sent=lambda *_: SATURDAY,
    ),
]
ROWS = [*PROMISES, *OPEN, *OWN, *PLACES, *CARE, *CLASSES, *SEATS, *LINES, *ROUND, *KILN_JOBS]
