"""The outbox: what waits, what failed, and trying it again."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from rest_framework import serializers
from rest_framework.decorators import action

from scheduling.api.fields import SlugField
from scheduling.api.operations import operation
from scheduling.api.paging import PageQuery
from scheduling.api.resource import Resource
from scheduling.api.serializers.messages import HurriedSerializer, MessageSerializer
from scheduling.api.strict import Strict
from scheduling.models import Message
from scheduling.selectors.outbox import MessageState, in_state, messages_minded_by, minded_by, to_people_of
from scheduling.services.outbox import require_outbox, try_again, try_all_again
from studios.models import Person


class MessageQuery(PageQuery):
    """Which messages."""

    state = serializers.ChoiceField(choices=MessageState.choices, required=False)
    studio = SlugField(
        among=minded_by, what="studio", required=False, help_text="Only to people of this studio."
    )


class TryAllAgain(Strict):
    """All that waits or failed, or only what goes to people of one studio."""

    studio = SlugField(among=minded_by, what="studio", required=False)


class MessageView(Resource):
    """The outbox of the studios that you manage."""

    lookup_field = "uid"
    lookup_value_converter = "uuid"

    @operation(answer=MessageSerializer, query=MessageQuery, paged=True)
    def list(self, person: Person, given: dict[str, Any]) -> QuerySet[Message]:
        """Messages to people of your studios, the newest first; never what they say."""
        require_outbox(person)
        found = messages_minded_by(person)
        found = found.filter(in_state(given["state"])) if "state" in given else found
        return found.filter(to_people_of(given["studio"])) if "studio" in given else found

    @action(detail=True, methods=["post"], url_path="try-again")
    @operation(answer=MessageSerializer, repeatable=True, refuses=(409,))
    def try_again(self, person: Person, _given: dict[str, Any], uid: UUID) -> Message:
        """Try one message now. It goes out right after the answer: ask for it again to see how it fared."""
        require_outbox(person)
        message = get_object_or_404(messages_minded_by(person), uid=uid)
        try_again(actor=person, message=message)
        return messages_minded_by(person).get(pk=message.pk)

    @action(detail=False, methods=["post"], url_path="try-all-again")
    @operation(answer=HurriedSerializer, body=TryAllAgain, repeatable=True)
    def try_all_again(self, person: Person, given: dict[str, Any]) -> dict[str, int]:
        """Try all that waits or failed now, as when a mail server is there again."""
        return {"messages": try_all_again(actor=person, **given)}
