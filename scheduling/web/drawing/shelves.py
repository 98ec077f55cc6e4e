"""A shelf seen from above, with the pieces where they stand: their numbers, the margin, the door, a scale.

Drawn in millimetres, so a print keeps the proportions of the kiln. The door is below, as whoever loads it
stands before it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from scheduling.web.drawing.frame import tag, title

# Letters grow with the shelf, so that they are read on a phone and on paper alike.
LETTERS_PER_SHELF = 26.0
# A number fills so much of the smaller side of its piece, and never more than so many lines.
OF_PIECE, MOST_LINES = 0.42, 1.8
WIDE_PER_LETTER = 0.62
RULER_MM = {"mm": (50, 100, 200), "in": (50.8, 101.6, 254.0)}


@dataclass(frozen=True, kw_only=True)
class Standing:
    """A piece on a shelf: its number as the roster has it, its left front corner, its size. Millimetres.

    `other`: it is somebody else's, in the same firing.
    """

    number: str
    x_mm: int
    y_mm: int
    length_mm: int
    width_mm: int
    round: bool = False
    other: bool = False


@dataclass(frozen=True, kw_only=True)
class ShelfDrawn:
    """A shelf as it is drawn: its size, what is kept free at its edge, and what stands on it."""

    length_mm: int
    width_mm: int
    margin_mm: int
    stands: Sequence[Standing]
    named: str
    said: str
    inches: bool = False


def shelf(one: ShelfDrawn) -> SafeString:
    """The picture of one shelf; in words, what it is and what stands on it."""
    letter = max(one.length_mm, one.width_mm) / LETTERS_PER_SHELF
    pad = letter * 0.5
    below = letter * 3.1
    box = (-pad, -pad, one.length_mm + 2 * pad, one.width_mm + pad + below)
    body = (
        title(one.named)
        + tag("desc", escape(one.said))
        + tag("rect", cls="shelf-slab", width=one.length_mm, height=one.width_mm)
        + _margin(one)
        + "".join(_piece(each, one.width_mm, letter) for each in one.stands)
        + _door(one, letter)
        + _ruler(one, letter)
    )
    viewed = " ".join(f"{side:.1f}" for side in box)
    drawn = tag("svg", body, cls="shelf", viewBox=viewed, role="img")
    return mark_safe(drawn)  # noqa: S308 - every word in it is escaped where it is drawn


def _margin(one: ShelfDrawn) -> str:
    free = one.margin_mm
    if not 0 < free < min(one.length_mm, one.width_mm) / 2:
        return ""
    return tag(
        "rect",
        cls="shelf-margin",
        x=free,
        y=free,
        width=one.length_mm - 2 * free,
        height=one.width_mm - 2 * free,
    )


def _piece(one: Standing, shelf_width: int, letter: float) -> str:
    """The front of the shelf is below: what stands at its front edge is drawn there."""
    top = shelf_width - one.y_mm - one.width_mm
    middle = one.x_mm + one.length_mm / 2, top + one.width_mm / 2
    style = "shelf-piece shelf-other" if one.other else "shelf-piece"
    if one.round:
        shape = tag("circle", cls=style, cx=middle[0], cy=middle[1], r=one.length_mm / 2)
    else:
        shape = tag("rect", cls=style, x=one.x_mm, y=top, width=one.length_mm, height=one.width_mm)
    high = min(min(one.length_mm, one.width_mm) * OF_PIECE, letter * MOST_LINES)
    high = min(high, one.length_mm * 0.9 / (WIDE_PER_LETTER * max(1, len(one.number))))
    number = tag(
        "text",
        escape(one.number),
        cls="shelf-number",
        x=middle[0],
        y=middle[1] + high * 0.36,
        font_size=high,
        text_anchor="middle",
    )
    return shape + number


def _door(one: ShelfDrawn, letter: float) -> str:
    """Where whoever loads it stands."""
    y = one.width_mm + letter * 1.1
    return _words(one.length_mm / 2, y, _("door"), letter, "middle")


def _ruler(one: ShelfDrawn, letter: float) -> str:
    """A length that is known, in the reader's unit."""
    lengths = RULER_MM["in" if one.inches else "mm"]
    long = next((each for each in reversed(lengths) if each <= one.length_mm / 3), lengths[0])
    y = one.width_mm + letter * 1.75
    tick = letter * 0.3
    line = tag("path", cls="shelf-ruler", d=f"M0 {y:.1f}v{tick:.1f}h{long:.1f}v{-tick:.1f}")
    said = f"{long / 25.4:.0f} in" if one.inches else f"{long:.0f} mm"
    return line + _words(long + letter * 0.5, y + letter * 0.45, said, letter, None)


def _words(x: float, y: float, words: str, letter: float, anchor: str | None) -> str:
    where = {"x": x, "y": y, "font_size": letter, "text_anchor": anchor}
    return tag("text", escape(words), cls="shelf-words", **where)
