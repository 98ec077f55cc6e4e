"""JSON as the API takes it: strictly."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import IO, Any

from rest_framework.exceptions import ErrorDetail, ParseError, ValidationError
from rest_framework.parsers import JSONParser
from rest_framework.utils.json import strict_constant

from scheduling.api.problems import TooLarge

# The longest body that means anything here is under 1 kB; only a log is longer.
MOST_BYTES = 64 * 1024
MOST_BYTES_OF_A_LOG = 2_500_000


class StrictJSONParser(JSONParser):
    """UTF-8 JSON without doubled names, endless nesting, NUL characters or broken Unicode."""

    most_bytes = MOST_BYTES

    def parse(
        self,
        stream: IO[Any],
        media_type: str | None = None,  # noqa: ARG002 - DRF's signature
        parser_context: Mapping[str, Any] | None = None,  # noqa: ARG002 - DRF's signature
    ) -> Any:
        """Read the body; refuse what is no JSON with 400 and what is too long with 413."""
        raw = stream.read(self.most_bytes + 1)
        if len(raw) > self.most_bytes:
            raise TooLarge
        try:
            data = json.loads(raw.decode("utf-8"), parse_constant=strict_constant, object_pairs_hook=_once)
        except (ValueError, RecursionError) as error:
            raise ParseError(f"The body is no JSON: {error}") from error
        _refuse_unstorable(data, "")
        return data


class LogParser(StrictJSONParser):
    """The same, with room for a log; a longer one goes through its page or the command."""

    most_bytes = MOST_BYTES_OF_A_LOG


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        raise ValueError("a name stands twice in one object")
    return found


def _refuse_unstorable(data: Any, path: str) -> None:
    """Neither database stores a NUL character or half a surrogate pair."""
    if isinstance(data, dict):
        for name, inner in data.items():
            _refuse_text(name, path)
            _refuse_unstorable(inner, f"{path}.{name}".lstrip("."))
    elif isinstance(data, list):
        for inner in data:
            _refuse_unstorable(inner, path)
    elif isinstance(data, str):
        _refuse_text(data, path)


def _refuse_text(text: str, path: str) -> None:
    if "\0" in text or any("\ud800" <= letter <= "\udfff" for letter in text):
        message = "NUL characters and halves of surrogate pairs are not allowed."
        raise ValidationError({path: [ErrorDetail(message, code="unstorable-text")]})
