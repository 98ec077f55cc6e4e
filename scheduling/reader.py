"""Who reads what is said: in which language, and in which units.

A page has a reader, as the middleware has found out. What is written and kept is English (`for_the_record`);
what is told to somebody is said in their own language, in the units of its studio (`telling`).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from contextvars import ContextVar
from decimal import Decimal
from functools import lru_cache
from string import Formatter
from typing import Any

from django.utils.dateformat import format as dated
from django.utils.translation import get_language, gettext, ngettext, override, pgettext
from django.utils.translation.trans_real import translation

from studios.models import Person, Units
from studios.said import Degrees, Form, Moment, Said, Several, Unstopped, degrees_said, strung

RECORD = "en"
FEWEST_WORDS = 3
_FACT = re.compile(r"\{[^}]*\}")
# Of whoever reads this page; mails, calendars and the API have no such reader, and keep each studio's units.
_units: ContextVar[str] = ContextVar("units", default="")


@contextmanager
def reading(language: str, units: str = "") -> Iterator[None]:
    """What is said meanwhile is read in this language and these units; empty: those of each studio."""
    before = _units.set(units)
    try:
        with override(language):
            yield
    finally:
        _units.reset(before)


def present() -> tuple[str, str]:
    """The language and the units of now, for `reading` to come back to."""
    return get_language() or RECORD, _units.get()


def units() -> str:
    """What the reader chose, if there is one who did."""
    return _units.get()


def telling(person: Person) -> AbstractContextManager[None]:
    """What is said meanwhile is told to a person, who reads it as a mail."""
    return reading(person.language or RECORD)


def for_the_record() -> AbstractContextManager[None]:
    """What is said meanwhile is kept, whoever may read it."""
    return reading(RECORD)


def english() -> bool:
    """Whether what is said now is English."""
    return (get_language() or RECORD) == RECORD


def spoken(text: str) -> str:
    """A text in the reader's language and units, where it remembers what it was made of."""
    if isinstance(text, Said):
        return _filled(text)
    if isinstance(text, Moment):
        return str(text) if english() else _dated(text)
    if isinstance(text, Degrees):
        return _degrees(text)
    if isinstance(text, Unstopped):
        return spoken(text.whole).removesuffix(".")
    if isinstance(text, Several):
        return strung(tuple(spoken(part) for part in text.parts), text.between, _last(text))
    return text


def said_again(kept: str) -> str:
    """A sentence that was kept in English, said anew: it is known by the template that it was made from."""
    if english() or not kept:
        return kept
    whole = gettext(kept)
    if whole != kept:
        return whole
    for template, pattern in _templates(present()[0]):
        if found := pattern.fullmatch(kept):
            facts = {name: said_again(fact) for name, fact in found.groupdict().items()}
            return _Facts().format(gettext(template), **facts)
    return kept


@lru_cache
def _templates(language: str) -> tuple[tuple[str, re.Pattern[str]], ...]:
    """The templates of whole sentences, as patterns; those that say most of themselves come first."""
    # Django has no other way to list them.
    every = translation(language)._catalog.keys()  # type: ignore[attr-defined]  # noqa: SLF001
    known = (key for key in every if isinstance(key, str) and "{" in key)
    patterns = [(template, _pattern(template)) for template in known]
    told = [(template, found) for template, found in patterns if found is not None]
    return tuple(sorted(told, key=lambda pair: -len(_FACT.sub("", pair[0]))))


def _pattern(template: str) -> re.Pattern[str] | None:
    """None where a template says too little of itself to be known by."""
    own_words = re.findall(r"[a-z]{2,}", _FACT.sub("", template))
    if len(own_words) < (FEWEST_WORDS if template.startswith("{") else 1):
        return None
    parts = (
        re.escape(words) + ("" if name is None else f"(?P<{name}>.+?)")
        for words, name, _, _ in Formatter().parse(template)
    )
    try:
        return re.compile("".join(parts), re.DOTALL)
    except re.error:  # a fact that stands in it twice
        return None


class _Facts(Formatter):
    """Fills a template: facts that are said are said anew, and numbers get the language's comma."""

    def format_field(self, value: Any, format_spec: str) -> str:
        if isinstance(value, str):
            return spoken(value)
        text = format(value, format_spec)
        return text if english() or not isinstance(value, float | int | Decimal) else text.replace(".", ",")


def _filled(said: Said) -> str:
    if said.several:
        template = ngettext(said.template, said.several, int(str(said.facts["count"])))
    else:
        template = gettext(said.template) if said.template else ""
    return _Facts().format(template, **said.facts)


def _degrees(said: Degrees) -> str:
    fahrenheit = said.endswith("F") if not units() else units() == Units.US
    return str(degrees_said(said.celsius, fahrenheit))


def _last(several: Several) -> str:
    return f" {gettext('and')} " if several.last == " and " else several.last


def _dated(said: Moment) -> str:
    return dated(said.when, _forms()[said.form])


def _forms() -> dict[Form, str]:
    """As Django writes dates; each language has its own."""
    return {
        Form.FULL: pgettext("date", "D j M Y, H:i T"),
        Form.SHORT: pgettext("date", "D j M, H:i"),
        Form.PLAIN: pgettext("date", "D j M H:i"),
        Form.CLOCK: pgettext("date", "H:i"),
        Form.CLOCK_ZONE: pgettext("date", "H:i T"),
        Form.NAMED: pgettext("date", "D j M"),
        Form.DATE: pgettext("date", "l j F"),
        Form.DAY: pgettext("date", "j M Y"),
        Form.WEEKDAY: pgettext("date", "l j F Y"),
    }
