"""Sessions in the database, asked for only by keys that one could have."""

from __future__ import annotations

import re
from typing import Any

from django.contrib.sessions.backends import db

# As Django makes them: 32 lower-case letters and digits.
KEY = re.compile(r"[a-z0-9]{32}")


class SessionStore(db.SessionStore):
    """A cookie is whatever somebody sends: PostgreSQL breaks off at a NUL character in it."""

    def _validate_session_key(self, key: Any) -> bool:
        return isinstance(key, str) and KEY.fullmatch(key) is not None
