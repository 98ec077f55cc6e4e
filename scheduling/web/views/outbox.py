"""The outbox for whoever minds it: what failed, what waits, what went out lately."""

from __future__ import annotations

import datetime as dt
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from scheduling.models import Message
from scheduling.selectors.outbox import MessageState, in_state, last_delivery, messages_minded_by, minded_by
from scheduling.services import outbox as services
from scheduling.web.access import permitted, person_of
from scheduling.web.lists import zones_of
from scheduling.wording import say
from studios.errors import LehrbookError
from studios.models import Person

MOST_SHOWN = 100
LATELY = dt.timedelta(days=7)


@login_required
@require_safe
def outbox(request: HttpRequest) -> HttpResponse:
    """Messages to people of one's studios; what they say is not shown."""
    person = _minder(request)
    studios, found = minded_by(person), messages_minded_by(person)
    failed = found.filter(in_state(MessageState.FAILED))
    waiting = found.filter(in_state(MessageState.WAITING, MessageState.SENDING))
    context = {
        "failed": failed.order_by("next_try_at", "id")[:MOST_SHOWN],
        "failed_count": failed.count(),
        "waiting": waiting.order_by("next_try_at", "id")[:MOST_SHOWN],
        "waiting_count": waiting.count(),
        "sent": found.filter(sent_at__gt=timezone.now() - LATELY).order_by("-sent_at", "-id")[:MOST_SHOWN],
        "most": MOST_SHOWN,
        "zone": studios[0].zone if studios else dt.UTC,
        "zones": zones_of(studios[:1]),
        "last_delivery": last_delivery(),
    }
    return render(request, "web/outbox.html", context)


@login_required
@require_POST
def try_again(request: HttpRequest, uid: UUID) -> HttpResponse:
    """One message, now."""
    person = _minder(request)
    message: Message = get_object_or_404(messages_minded_by(person), uid=uid)
    try:
        services.try_again(actor=person, message=message)
    except LehrbookError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, say("“{subject}” is tried again now.", subject=message.subject))
    return redirect("outbox")


@login_required
@require_POST
def try_all_again(request: HttpRequest) -> HttpResponse:
    """All that waits or failed, now."""
    count = services.try_all_again(actor=_minder(request))
    messages.success(
        request,
        say("{count} message tried again now.", several="{count} messages tried again now.", count=count),
    )
    return redirect("outbox")


def _minder(request: HttpRequest) -> Person:
    person = person_of(request)
    with permitted():
        services.require_outbox(person)
    return person
