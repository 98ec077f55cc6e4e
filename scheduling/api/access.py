"""Signing in from a program: a token for an e-mail address and its password."""

from __future__ import annotations

import hashlib
import re
from typing import Any

from rest_framework.authentication import SessionAuthentication, TokenAuthentication
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request
from rest_framework.throttling import SimpleRateThrottle

KEY = re.compile(r"[0-9a-f]{40}")


class TokenSignIn(TokenAuthentication):
    """`Authorization: Token <token>`; anything else in its place is refused before the database is asked."""

    def authenticate_credentials(self, key: str) -> Any:
        if not KEY.fullmatch(key):
            raise AuthenticationFailed("This is no token.")
        return super().authenticate_credentials(key)


AUTHENTICATION = [SessionAuthentication, TokenSignIn]


class SignInThrottle(SimpleRateThrottle):
    """Passwords are not guessed by trying: ten attempts a minute for an address, from wherever they come."""

    scope = "sign-in"
    rate = "10/min"

    def get_cache_key(self, request: Request, view: Any) -> str | None:  # noqa: ARG002 - DRF's signature
        if request.method != "POST" or not isinstance(request.data, dict):
            return None
        address = str(request.data.get("email", "")).strip().lower()
        return f"sign-in-{hashlib.sha256(address.encode()).hexdigest()}"
