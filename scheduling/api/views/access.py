"""Signing in with a token, and who is signed in."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib.auth import authenticate
from django.http import HttpRequest
from rest_framework.authtoken.models import Token
from rest_framework.exceptions import AuthenticationFailed, Throttled
from rest_framework.permissions import AllowAny

from scheduling.api.access import SignInThrottle
from scheduling.api.operations import operation
from scheduling.api.resource import Resource
from scheduling.api.serializers.people import MeSerializer
from scheduling.api.serializers.tokens import SignIn, TokenSerializer
from scheduling.services.accounts import withdraw_token
from studios.models import Person


class TokenView(Resource):
    """A token for an e-mail address and its password."""

    authentication_classes = ()
    permission_classes = (AllowAny,)
    throttle_classes = (SignInThrottle,)

    @operation(answer=TokenSerializer, body=SignIn, refuses=(401, 429))
    def create(self, _nobody: Any, given: dict[str, Any]) -> Token:
        """Sign in: the token is the same until it is withdrawn."""
        # Attempts are counted on Django's own request, beneath that of the API.
        asked: HttpRequest = self.request._request  # noqa: SLF001 - DRF wraps it there
        person = authenticate(asked, username=given["email"], password=given["password"])
        if getattr(asked, "axes_locked_out", False):
            asked.axes_locked_out = False  # type: ignore[attr-defined]  # a problem answers, not the page
            raise Throttled(wait=settings.AXES_COOLOFF_TIME.total_seconds())
        if person is None:
            raise AuthenticationFailed("No account has this e-mail address and password.")
        return Token.objects.get_or_create(user=person)[0]


class MeView(Resource):
    """The person signed in."""

    @operation(answer=MeSerializer, detail=True)
    def retrieve(self, person: Person, _given: dict[str, Any]) -> Person:
        """Yourself, with your roles and what you are signed off for."""
        return person

    @operation(status=204, repeatable=True)
    def withdraw_token(self, person: Person, _given: dict[str, Any]) -> None:
        """Withdraw your token: whoever has it is signed out.

        Whoever asked by the token itself is not signed in any more, so a repeat is answered with 401.
        """
        withdraw_token(person=person)
