"""The demo's files, and the names by which they call one another's rows."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from typing import Any, TypeVar

from django.conf import settings
from django.db.models import Model

Facts = Mapping[str, Any]
AnyRow = TypeVar("AnyRow", bound=Model)

FOLDER = settings.BASE_DIR / "fixtures" / "demo"
MAIL_DOMAIN = "tarnhollow.example"


def read(name: str) -> dict[str, Any]:
    """One file of the demo, by its name without the ending."""
    return tomllib.loads((FOLDER / f"{name}.toml").read_text(encoding="utf-8"))


def email_of(key: str) -> str:
    """The sign-in of the person whom the files call by this key."""
    return f"{key}@{MAIL_DOMAIN}"


def checked(row: AnyRow) -> AnyRow:
    """Save a row after the checks that the admin would make."""
    row.full_clean()
    row.save()
    return row
