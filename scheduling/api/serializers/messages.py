"""The outbox as it is shown: to whom, about what and how far, but never what is said."""

from __future__ import annotations

from rest_framework import serializers

from scheduling.models import Message
from scheduling.selectors.outbox import MessageState


class ReaderSerializer(serializers.Serializer[Message]):
    """To whom a message goes, and where."""

    uid = serializers.UUIDField(read_only=True)
    name = serializers.CharField(read_only=True)
    email = serializers.EmailField(read_only=True)


class MessageSerializer(serializers.ModelSerializer[Message]):
    """A message of the outbox. Its text is its reader's alone: a secret link may stand in it."""

    person = ReaderSerializer(read_only=True)
    state = serializers.ChoiceField(choices=MessageState.choices, read_only=True)

    class Meta:
        model = Message
        fields = [
            "uid",
            "person",
            "subject",
            "method",
            "state",
            "created_at",
            "tries",
            "next_try_at",
            "last_error",
            "sent_at",
        ]
        read_only_fields = fields


class HurriedSerializer(serializers.Serializer[dict[str, int]]):
    """How many messages are tried again now."""

    messages = serializers.IntegerField(read_only=True)
