"""What a firing costs, and what each load in it bears, by the room that its pieces take."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from decimal import Decimal

from scheduling.models import Firing, Load
from scheduling.selectors.shelf_levels import levels_of, stands_of


def firing_cost(firing: Firing, loads: Sequence[Load]) -> Decimal | None:
    """Energy, wash of the shelves that are laid, and the kiln's hours from loading to unloaded.

    What has no price costs nothing; None where nothing of it has one.
    """
    kiln = firing.equipment
    prices = (kiln.heat_price, kiln.shelf_wash_price, kiln.hour_price)
    if all(price is None for price in prices):
        return None
    span = firing.occupancy.ends_at - firing.occupancy.starts_at
    hours = Decimal(span // dt.timedelta(minutes=1)) / 60
    shelves = levels_of(firing, stands_of(loads)).laid
    amounts = (Decimal(firing.energy_kwh), Decimal(shelves), hours)
    parts = (price * much for price, much in zip(prices, amounts, strict=True) if price is not None)
    return sum(parts, Decimal())


def borne(cost: Decimal, loads: Sequence[Load]) -> dict[int, Decimal]:
    """What each load bears: of all as much as its pieces take of the room that is taken."""
    taken = sum(load.footprint_cm2 for load in loads)
    return {load.pk: cost * load.footprint_cm2 / taken for load in loads} if taken else {}
