"""Signing in with a token: what is sent, and what comes back."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from scheduling.api.fields import TextField
from scheduling.api.strict import Strict


class SignIn(Strict):
    """An e-mail address and its password."""

    email = serializers.EmailField(max_length=254)
    password = TextField(max_length=1024)


class TokenSerializer(serializers.Serializer[Any]):
    """To be sent with each request as `Authorization: Token <token>`."""

    token = serializers.CharField(source="key")
