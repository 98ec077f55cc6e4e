"""Where and when a class could be held: on each day as wished, at its best, or every week."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from scheduling.api.operations import operation
from scheduling.api.resource import Resource
from scheduling.api.serializers.offers import (
    BestStartsQuery,
    BestStartsSerializer,
    WeeklyQuery,
    WeeklyTimesSerializer,
)
from scheduling.api.serializers.options import FindingsSerializer, Wish
from scheduling.errors import NotAllowed
from scheduling.selectors.offers import ORDERS, best_starts, weekly_times
from scheduling.selectors.options import Option, wishes
from scheduling.selectors.skips import proposed_skips
from studios.models import Person, Studio
from studios.selectors import may


class OptionView(Resource):
    """Where and when a class could be held."""

    @operation(answer=FindingsSerializer, query=Wish, refuses=(422,))
    def list(self, person: Person, given: dict[str, Any]) -> dict[str, Any]:
        """The asked time on each day at each studio: what it would hold, or why not and what opens it."""
        wanted = {"instructor": person, **given}
        _require_may_look(person, given["studio"])
        found = wishes(studios=wanted.pop("studio"), **wanted)
        works = [each for each in found if isinstance(each, Option)]
        return {"options": works, "refused": [each for each in found if not isinstance(each, Option)]}


class BestStartView(Resource):
    """The best starts of a course."""

    @operation(answer=BestStartsSerializer, query=BestStartsQuery, refuses=(409, 422))
    def list(self, person: Person, given: dict[str, Any]) -> dict[str, Any]:
        """Of all starts that work, to the minute, the best of each day and studio by what counts."""
        wanted = {"instructor": person, **given}
        _require_may_look(person, given["studio"])
        order = ORDERS[wanted.pop("order")]
        return {"offers": best_starts(studios=wanted.pop("studio"), order=order, **wanted)}


class WeeklyTimesView(Resource):
    """The times that a weekly class can have."""

    @operation(answer=WeeklyTimesSerializer, query=WeeklyQuery, refuses=(409, 422))
    def list(self, person: Person, given: dict[str, Any]) -> dict[str, Any]:
        """The times of day that work every week, those that few weeks spoil, and what each meeting holds."""
        wanted = {"instructor": person, **given}
        _require_may_look(person, [given["studio"]])
        found = weekly_times(skipped=wanted.pop("skip", ()), **wanted)
        skips = proposed_skips(given["studio"], given["first_day"], given["weeks"])
        return {**vars(found), "proposed_skips": skips}


def _require_may_look(person: Person, studios: Iterable[Studio]) -> None:
    """Who may book at a studio may look for a start there."""
    for studio in studios:
        if not may(person, "book", studio):
            facts = {"who": person.name, "what": "look for a start", "studio": studio.name}
            raise NotAllowed(field="studio", role="instructor", **facts)
