"""Sentences that remember what they were made of, so that they can be said again in another language. Pure.

Each is the English text itself, and goes wherever a text goes: a program reads it, the audit keeps it. Where
somebody reads in another language, or in units of their own, it is said anew from its template and its facts.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping
from enum import Enum
from typing import Any


class Said(str):
    """A sentence, or a part of one: a template, and the facts that fill it.

    `many` is the same said of several; `several` goes with the fact `count`, where that is not one.
    """

    __slots__ = ("facts", "many", "several", "template")
    template: str
    facts: Mapping[str, Any]
    many: str
    several: str

    @property
    def of_many(self) -> str:
        """The same, said of several at once."""
        return said(self.many, **self.facts) if self.many else self

    def __reduce__(self) -> tuple[object, ...]:
        return (_again, (self.template, self.many, self.several, dict(self.facts)))


def said(template: str, /, *, many: str = "", several: str = "", **facts: object) -> Said:
    """What a template and its facts say in English."""
    made = Said(chosen(template, several, facts).format(**facts))
    made.template, made.facts, made.many, made.several = template, facts, many, several
    return made


def _again(template: str, many: str, several: str, facts: dict[str, object]) -> Said:
    return said(template, many=many, several=several, **facts)


def chosen(one: str, several: str, facts: Mapping[str, object]) -> str:
    """In English one is one, and everything else is several."""
    return several if several and facts.get("count") != 1 else one


def marked(template: str) -> str:
    """A template that is said later: the catalogue has it."""
    return template


class Form(Enum):
    """How a moment is written; the values are what English has."""

    FULL = "{:%a} {day} {:%b %Y, %H:%M %Z}"
    SHORT = "{:%a} {day} {:%b, %H:%M}"
    PLAIN = "{:%a} {day} {:%b %H:%M}"
    CLOCK = "{:%H:%M}"
    CLOCK_ZONE = "{:%H:%M %Z}"
    NAMED = "{:%a} {day} {:%b}"
    DATE = "{:%A} {day} {:%B}"
    DAY = "{day} {:%b %Y}"
    WEEKDAY = "{:%A} {day} {:%B %Y}"


class Moment(str):
    """A moment by a clock, such as Tue 9 Mar 2027, 18:00 CST."""

    __slots__ = ("form", "when")
    when: dt.datetime | dt.date
    form: Form

    def __reduce__(self) -> tuple[object, ...]:
        return (moment_said, (self.when, self.form))


def moment_said(when: dt.datetime | dt.date, form: Form) -> Moment:
    """A moment, as English writes it."""
    text = form.value.replace("{day}", str(when.day))
    made = Moment(text.replace("{:", "{0:").format(when))
    made.when, made.form = when, form
    return made


class Degrees(str):
    """A temperature to the degree, in the unit of its studio."""

    __slots__ = ("celsius",)
    celsius: float

    def __reduce__(self) -> tuple[object, ...]:
        return (degrees_said, (self.celsius, self.endswith("F")))


def degrees_said(celsius: float, fahrenheit: bool) -> Degrees:  # noqa: FBT001 - a unit has two letters
    """A temperature, in one of the two units."""
    made = Degrees(f"{celsius * 9 / 5 + 32:.0f} °F" if fahrenheit else f"{celsius:.0f} °C")
    made.celsius = celsius
    return made


class Several(str):
    """Things one after another, with what stands between them."""

    __slots__ = ("between", "last", "parts")
    parts: tuple[str, ...]
    between: str
    last: str

    def __reduce__(self) -> tuple[object, ...]:
        return (several_said, (self.parts, self.between, self.last))


def several_said(parts: Iterable[str], between: str, last: str = "") -> Several:
    """Things one after another: a, b and c, where " and " comes before the `last`."""
    found = tuple(parts)
    made = Several(strung(found, between, last))
    made.parts, made.between, made.last = found, between, last
    return made


def strung(parts: tuple[str, ...], between: str, last: str) -> str:
    """The parts as one text."""
    if not last or len(parts) < 2:
        return between.join(parts)
    return f"{between.join(parts[:-1])}{last}{parts[-1]}"


class Unstopped(str):
    """A sentence without its full stop, to stand within another one."""

    __slots__ = ("whole",)
    whole: str

    def __reduce__(self) -> tuple[object, ...]:
        return (unstopped, (self.whole,))


def unstopped(whole: str) -> Unstopped:
    """A sentence without its full stop."""
    made = Unstopped(whole.removesuffix("."))
    made.whole = whole
    return made


class Speech:
    """How a refusal is said: in English, unless the pages have it said in their reader's language."""

    say: Callable[[str], str] = staticmethod(str)


speech = Speech()
