"""Problems (RFC 9457) as they are shown."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers


class FieldErrorSerializer(serializers.Serializer[Any]):
    """A field at fault and the rule it breaks."""

    field = serializers.CharField(help_text="Dotted path in the body or address; empty: the whole of it.")
    code = serializers.CharField(help_text="The rule, for programs.")
    detail = serializers.CharField(help_text="What to do.")


class CauseSerializer(serializers.Serializer[Any]):
    """One thing in the way, and until when."""

    code = serializers.CharField()
    sentence = serializers.CharField()
    until = serializers.DateTimeField(allow_null=True)


class UnreadTextSerializer(serializers.Serializer[Any]):
    """A safety text that is still to be read."""

    studio = serializers.SlugField()
    version = serializers.IntegerField(help_text="What `acknowledged` says once it is read.")
    body = serializers.CharField()


class ProblemSerializer(serializers.Serializer[Any]):
    """Why a request was refused."""

    type = serializers.CharField(help_text="Where this kind of problem is explained.")
    title = serializers.CharField(help_text="The kind of problem.")
    status = serializers.IntegerField()
    detail = serializers.CharField(help_text="This case, in a sentence to act on.")
    instance = serializers.CharField(help_text="Where it happened.")
    code = serializers.CharField(help_text="The kind, for programs.")
    errors = FieldErrorSerializer(many=True)  # type: ignore[assignment]  # this one is only shown
    reasons = CauseSerializer(
        many=True, required=False, help_text="What is in the way, where the book says no."
    )
    safety_text = UnreadTextSerializer(required=False, help_text="With `safety-unread`.")


class ProblemKindSerializer(serializers.Serializer[Any]):
    """A kind of problem."""

    code = serializers.CharField()
    title = serializers.CharField()
    status = serializers.IntegerField()
