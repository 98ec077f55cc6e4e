"""The public holidays of a country or one of its regions, as the library `holidays` lists them.

They only ever propose: whether a studio teaches on a holiday, its people say.
"""

from __future__ import annotations

import datetime as dt
from functools import cache

import holidays


@cache
def regions() -> dict[str, frozenset[str]]:
    """The countries that are known, by ISO 3166-1 alpha-2, each with its regions (mostly ISO 3166-2)."""
    known = holidays.list_supported_countries(include_aliases=False)
    return {country: frozenset(parts) for country, parts in known.items() if len(country) == 2}


@cache
def countries() -> dict[str, str]:
    """The countries that are known, by code, each with its English name as the library calls it."""
    named = {facts[1]: module for module, facts in holidays.registry.COUNTRIES.items()}
    return {code: named.get(code, code).replace("_", " ").title() for code in regions()}


def public_holidays(country: str, region: str, first: dt.date, last: dt.date) -> dict[dt.date, str]:
    """The holidays from one day to another, both included, by their English name where there is one."""
    if country not in regions():
        return {}
    years = range(first.year, last.year + 1)
    language = _english(country)
    known = holidays.country_holidays(country, subdiv=region or None, years=years, language=language)
    return {day: name for day, name in sorted(known.items()) if first <= day <= last}


def _english(country: str) -> str | None:
    spoken = holidays.list_localized_countries(include_aliases=False).get(country, [])
    return "en_US" if "en_US" in spoken else next((each for each in spoken if each.startswith("en")), None)
