"""What a seat costs, as it is written on it when it is reserved."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

CENT = Decimal("0.01")


def price_of_hours(hour: Decimal | None, minutes: int) -> Decimal | None:
    """So many minutes at the price of an hour, rounded half up to the cent; None where none is asked."""
    if hour is None:
        return None
    return (hour * minutes / 60).quantize(CENT, ROUND_HALF_UP)
