"""Find starts of a class: the best ones, why one cannot be had, or the times of a weekly class."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

from django.core.management.base import CommandError, CommandParser
from django.utils import timezone

from scheduling.management import finding
from scheduling.management.base import HouseCommand
from scheduling.management.lookups import (
    course_named,
    day_typed,
    instant,
    person_with,
    studio_named,
    time_typed,
)
from scheduling.management.wording import plain_errors
from scheduling.selectors.offers import MOST_DAYS, MOST_WEEKS, ORDERS, best_starts, weekly_times
from scheduling.selectors.options import examine
from scheduling.selectors.skips import proposed_skips
from studios.models import Studio

DAY = dt.timedelta(days=1)


class Command(HouseCommand):
    help = "Find the starts of a class that work, each with everything it holds; nothing is booked."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--course", required=True, metavar="SLUG")
        parser.add_argument(
            "--studio", required=True, action="append", metavar="SLUG", help="repeat it for several studios"
        )
        parser.add_argument("--instructor", required=True, metavar="E-MAIL")
        parser.add_argument("--from", dest="first", metavar="DATE", help="the first day; tomorrow")
        parser.add_argument("--to", dest="last", metavar="DATE", help="the last day; six days later")
        parser.add_argument(
            "--order",
            choices=list(ORDERS),
            default="earliest",
            help="what the best is the least of: "
            + "; ".join(f"{word} = {order.value}" for word, order in ORDERS.items()),
        )
        parser.add_argument("--time", metavar="HH:MM", help="the wished time, by the studio's clock")
        parser.add_argument(
            "--over-by", metavar="HH:MM", help="the class is to be over by then, by the studio's clock"
        )
        parser.add_argument("--most", type=int, default=20, metavar="N", help="how many starts at most; 20")
        parser.add_argument(
            "--at",
            metavar="TIME",
            help="one start, such as 2027-03-09T18:00: every reason against it, and what would open it",
        )
        parser.add_argument(
            "--weekly",
            type=int,
            metavar="N",
            help="a weekly class of N meetings from --from on, at one studio",
        )
        parser.add_argument(
            "--skip", action="append", default=[], metavar="DATE", help="a day the weekly class leaves out"
        )

    def handle(self, *_args: Any, **options: Any) -> None:
        studios = [studio_named(slug) for slug in dict.fromkeys(options["studio"])]
        with plain_errors():
            wanted = {
                "course": course_named(options["course"]),
                "instructor": person_with(options["instructor"]),
                "over_by": time_typed(options["over_by"]) if options["over_by"] else None,
            }
            self.stdout.write("\n".join(_found(wanted, studios, options)))


def _found(wanted: dict[str, Any], studios: list[Studio], options: dict[str, Any]) -> Iterable[str]:
    if options["at"] is not None:
        return _one_start(wanted, studios, options["at"])
    if options["weekly"] is not None:
        return _weekly(wanted, studios, options)
    return _best(wanted, studios, options)


def _one_start(wanted: dict[str, Any], studios: list[Studio], at: str) -> Iterable[str]:
    """At each studio by its own clock; the others are tried as a way out."""
    for studio in studios:
        asked = instant(at, studio.zone)
        others = [other for other in studios if other != studio]
        found = examine(studio=studio, starts_at=asked, others=others, **wanted)
        yield from finding.one_start(asked, studio, found)


def _best(wanted: dict[str, Any], studios: list[Studio], options: dict[str, Any]) -> Iterable[str]:
    first = _first_day(studios[0], options)
    last = day_typed(options["last"]) if options["last"] else first + 6 * DAY
    if not 0 <= (last - first).days < MOST_DAYS:
        raise CommandError(f"--to lies on --from or after it, and at most {MOST_DAYS} days are searched.")
    if options["most"] < 1:
        raise CommandError("--most is at least 1.")
    time = time_typed(options["time"]) if options["time"] else None
    if options["order"] == "nearest" and time is None:
        raise CommandError("--order nearest needs --time, such as --time 18:00.")
    order = ORDERS[options["order"]]
    found = best_starts(
        studios=studios,
        first_day=first,
        last_day=last,
        order=order,
        time=time,
        most=options["most"],
        **wanted,
    )
    return finding.ranked(found, order.value)


def _weekly(wanted: dict[str, Any], studios: list[Studio], options: dict[str, Any]) -> Iterable[str]:
    if len(studios) > 1:
        raise CommandError("A weekly class meets at one studio: give --studio once.")
    if not 1 <= options["weekly"] <= MOST_WEEKS:
        raise CommandError(f"A weekly class has between 1 and {MOST_WEEKS} meetings.")
    first = _first_day(studios[0], options)
    found = weekly_times(
        studio=studios[0],
        first_day=first,
        weeks=options["weekly"],
        skipped=[day_typed(day) for day in options["skip"]],
        time=time_typed(options["time"]) if options["time"] else None,
        **wanted,
    )
    return finding.weekly(found, proposed_skips(studios[0], first, options["weekly"]))


def _first_day(studio: Studio, options: dict[str, Any]) -> dt.date:
    if options["first"]:
        return day_typed(options["first"])
    return timezone.now().astimezone(studio.zone).date() + DAY
