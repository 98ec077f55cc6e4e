"""Signing in with a token, and who is signed in."""

from __future__ import annotations

from typing import Any

from django.contrib.auth import authenticate
from rest_framework.authtoken.models import Token
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.permissions import AllowAny

from scheduling.api.access import SignInThrottle
from scheduling.api.operations import operation
from scheduling.api.resource import Resource
from scheduling.api.serializers.people import MeSerializer
from scheduling.api.serializers.tokens import SignIn, TokenSerializer
from studios.models import Person


class TokenView(Resource):
    """A token for an e-mail address and its password."""

    authentication_classes = ()
    permission_classes = (AllowAny,)
    throttle_classes = (SignInThrottle,)

    @operation(answer=TokenSerializer, body=SignIn, refuses=(401, 429))
    def create(self, _nobody: Any, given: dict[str, Any]) -> Token:
        """Sign in: the token is the same until it is withdrawn."""
        person = authenticate(username=given["email"], password=given["password"])
        if person is None:
            raise AuthenticationFailed("No account has this e-mail address and password.")
        return Token.objects.get_or_create(user=person)[0]


class MeView(Resource):
    """The person signed in."""

    @operation(answer=MeSerializer, detail=True)
    def retrieve(self, person: Person, _given: dict[str, Any]) -> Person:
        """Yourself, with your roles and what you are signed off for."""
        return person

    @operation(status=204)
    def withdraw_token(self, person: Person, _given: dict[str, Any]) -> None:
        """Withdraw your token: whoever has it is signed out."""
        Token.objects.filter(user=person).delete()
