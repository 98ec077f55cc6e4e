"""How wide words come out at the size of a label, so that none is cut and none runs into another."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

# Of a bold sans serif, the widest in use (DejaVu Sans), at 11 pixels; what is not named counts as a capital.
SIZE = 11.0
_SHARES = {
    0.39: "ijlI.,'’‘| /",
    0.53: 'frtJ!()[]:;-"',
    0.61: "csz",
    0.74: "abdeghknopquvxyEFLPSTYZC?–“”0123456789áäéèíöüß",
    0.94: "w",
    1.11: "mMW%@",
}
_WIDTHS = {letter: share * SIZE for share, letters in _SHARES.items() for letter in letters}
_CAPITAL = 0.88 * SIZE


@lru_cache(maxsize=4096)
def width(words: str) -> float:
    """At most so many pixels are taken by words in a label."""
    return sum(_WIDTHS.get(letter, _CAPITAL) for letter in words)


def fits(names: Iterable[str], room: float) -> str:
    """The first of some names, the longest first, that fits whole; nothing where none does."""
    return next((name for name in names if name and width(name) <= room), "")
