"""The service with one endpoint more: it locks a session, counts its seats and inserts one, and no more.

It hangs behind the same middleware and asks for the same sign-in. Nothing is told, noted or made repeatable.
"""

from __future__ import annotations

from typing import Any

from scheduling.project.wsgi import application  # isort: skip  (the registry must be ready)

from django.db import transaction
from django.urls import path
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from scheduling.api.access import AUTHENTICATION
from scheduling.models import TAKEN, Seat, Session
from scheduling.project import urls

__all__ = ["application"]


class BareSeat(APIView):
    """Lock, count, insert."""

    authentication_classes = AUTHENTICATION

    def post(self, request: Request) -> Response:
        with transaction.atomic():
            given: Any = request.data
            session = Session.objects.select_for_update(no_key=True).get(uid=given["session"])
            taken = Seat.objects.filter(session=session, status__in=TAKEN).count()
            if taken >= session.seats:
                return Response({"code": "no-seat-left"}, status=409)
            seat = Seat.objects.create(number=taken + 1, **_facts(session, request.user))
        return Response({"uid": str(seat.uid), "number": seat.number}, status=201)


def _facts(session: Session, person: Any) -> dict[str, Any]:
    times = {"starts_at": session.starts_at, "ends_at": session.ends_at}
    return {"session": session, "studio_id": session.studio_id, "person": person, **times}


urls.urlpatterns += [path("bare-seats/", BareSeat.as_view())]  # type: ignore[list-item]  # of views, too
