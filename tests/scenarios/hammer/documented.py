"""Whether every answer was promised: a status that the description names, and a code that has a page."""

from __future__ import annotations

import contextlib
import json
import re
import urllib.error
import urllib.request
from typing import Any

from tests.own_servers import LOOPBACK
from tests.scenarios.hammer.clients import Journal
from tests.scenarios.hammer.stack import Stack

UID = re.compile(r"[0-9a-f]{8}-[0-9a-f-]{27}")


def not_promised(stack: Stack, journal: Journal) -> list[str]:
    """Answers that the description does not know, as sentences."""
    paths = _read(stack, "schema?format=json")["paths"]
    statuses = {(UID.sub("{uid}", entry.asked.path), entry.status) for entry in journal.entries}
    wrong = [
        f"POST /api/{path} was answered {status}, which its description does not name"
        for path, status in sorted(statuses)
        if str(status) not in paths[f"/api/{path}"]["post"]["responses"]
    ]
    codes = {entry.code for entry in journal.entries if entry.code}
    return wrong + [f"the code {code} has no page" for code in sorted(codes) if not _has_page(stack, code)]


def _has_page(stack: Stack, code: str) -> bool:
    with contextlib.suppress(urllib.error.HTTPError):
        return bool(_read(stack, f"problems/{code}/")["code"] == code)
    return False


def _read(stack: Stack, path: str) -> Any:
    token = stack.town["students"][0]["token"]
    request = urllib.request.Request(
        f"http://{LOOPBACK}:{stack.port}/api/{path}", headers={"Authorization": f"Token {token}"}
    )
    with urllib.request.urlopen(request, timeout=60) as answer:
        return json.load(answer)
