"""Attempts to sign in: whose they are, where they come from, and what is said after too many."""

from __future__ import annotations

import ipaddress
from collections.abc import Mapping
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def address_typed(request: HttpRequest, credentials: Mapping[str, Any] | None = None) -> str:
    """The e-mail address that somebody tries; capitals make no second one."""
    typed = (credentials or {}).get("username") or request.POST.get("username") or ""
    return str(typed).strip().lower()


def client_address(request: HttpRequest) -> str:
    """Where a request comes from.

    Behind a proxy every request comes from the proxy, which writes the sender's address last. Without HTTPS
    there is no proxy that we know of, and what such a header says is not believed.
    """
    last = request.headers.get("X-Forwarded-For", "").rpartition(",")[2].strip()
    if settings.HTTPS_ONLY and _is_address(last):
        return last
    return str(request.META.get("REMOTE_ADDR", ""))


def _is_address(text: str) -> bool:
    try:
        ipaddress.ip_address(text)
    except ValueError:
        return False
    return True


def too_many(request: HttpRequest, *_given: Any) -> HttpResponse:
    """The page after too many attempts; nothing is said of whether the address has an account."""
    minutes = int(settings.AXES_COOLOFF_TIME.total_seconds() // 60)
    response = render(request, "web/too_many.html", {"minutes": minutes}, status=429)
    response["Retry-After"] = str(minutes * 60)
    return response
