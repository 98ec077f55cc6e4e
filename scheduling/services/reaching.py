"""What a firing breaks since it runs longer than planned, for whoever works there."""

from __future__ import annotations

from typing import Any

from scheduling.models import Firing
from scheduling.selectors.reached import found_hot, over_limit, reached_into
from scheduling.services.actuals import require_recorder
from scheduling.services.repairing import with_repairs
from studios.models import Person


def breaks_of(*, actor: Person, firing: Firing) -> dict[str, Any]:
    """Bookings that find it hot, each with its nearest repair; outages that do; supplies over their limit.

    Raises NotAllowed.
    """
    require_recorder(actor, firing)
    uses = found_hot(firing)
    return {
        "bookings": with_repairs(reached_into(firing)),
        "outages": [use for use in uses if use.key.startswith("outage-")],
        "supplies": over_limit(firing),
    }
