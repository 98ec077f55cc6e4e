"""Secret calendar links: made, withdrawn, and the day of last use."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from django.db.models import Q
from django.utils import timezone

from scheduling.errors import InvalidInput, NotAllowed, NotYours
from scheduling.models import About, FeedCopy, FeedKey
from scheduling.selectors.calendar_events import ALARM_MIN
from scheduling.selectors.feed_links import ALLOWED_BY, KINDS, may_follow
from scheduling.services import audit
from scheduling.services.transactions import one_write
from studios.models import Equipment, Person, Studio
from studios.permissions import ACTIONS
from studios.said import said

LABEL_LENGTH, LONGEST_ALARM_MIN = 60, 24 * 60


@one_write
def new_feed_key(
    *,
    actor: Person,
    label: str,
    about: About = About.PERSON,
    studio: Studio | None = None,
    equipment: Equipment | None = None,
    shows: Iterable[str] = (),
    alarm_min: int | None = ALARM_MIN,
) -> FeedKey:
    """A person makes as many secret links as they have devices, each with a name to know it by.

    It is about the own week, or about a studio, a piece of equipment or the duties of a studio whose sheet
    the person sees. `shows` are the kinds of events in it: all, where none is chosen. Raises InvalidInput or
    NotAllowed.
    """
    name = label.strip()
    if not name or len(name) > LABEL_LENGTH:
        raise InvalidInput(
            field="label",
            problem=said(
                "Give the link a name of 1 to {label_length} letters, such as “my phone”.",
                label_length=LABEL_LENGTH,
            ),
        )
    if alarm_min is not None and not 0 <= alarm_min <= LONGEST_ALARM_MIN:
        raise InvalidInput(
            field="alarm_min", problem=said("An alarm rings at most a day before: 0 to 1440 minutes.")
        )
    _require_one_thing(about, studio, equipment)
    _require_may_follow(actor, about, equipment.studio if equipment else studio)
    made = FeedKey.objects.create(
        person=actor,
        label=name,
        about=about,
        studio=studio,
        equipment=equipment,
        shows=_chosen(about, shows),
        alarm_min=alarm_min,
    )
    _note(actor, "make-link", made)
    return made


def _require_one_thing(about: About, studio: Studio | None, equipment: Equipment | None) -> None:
    """The calendar is about what it is said to be about, and that is named."""
    named = {"studio": studio, "equipment": equipment}
    wanted = {About.STUDIO: "studio", About.DUTIES: "studio", About.EQUIPMENT: "equipment"}.get(about)
    if wanted and named[wanted] is None:
        what = "studio" if wanted == "studio" else "piece of equipment"
        raise InvalidInput(
            field=wanted, problem=said("Choose the {what} that the calendar is about.", what=what)
        )
    for field in (name for name, row in named.items() if row is not None and name != wanted):
        raise InvalidInput(
            field=field,
            problem=said("A calendar about {name} names no {field}.", name=About(about).label, field=field),
        )


def _require_may_follow(actor: Person, about: About, studio: Studio | None) -> None:
    if studio is not None and not may_follow(actor, about, studio):
        what = "follow its duties" if about == About.DUTIES else "follow what happens there"
        role = " or ".join(sorted(ACTIONS[ALLOWED_BY[about]]))
        raise NotAllowed(who=actor.name, what=what, studio=studio.name, role=role)


def _chosen(about: About, shows: Iterable[str]) -> list[str]:
    """The kinds in their own order; all of them is as good as none."""
    wanted, offered = set(shows), KINDS[about]
    if unknown := sorted(wanted - set(offered)):
        listed = ", ".join(offered)
        problem = f"A calendar about {about.label} has no {unknown[0]}; it has: {listed}."
        raise InvalidInput(field="shows", problem=problem)
    chosen = [kind.value for kind in offered if kind in wanted]
    return [] if len(chosen) == len(offered) else chosen


@one_write
def withdraw_feed_key(*, actor: Person, feed_key: FeedKey) -> FeedKey:
    """From now on the link shows nothing, and nothing of it is kept. Only its owner withdraws it.

    A second time changes nothing.
    """
    if feed_key.person_id != actor.pk and not actor.is_superuser:
        raise NotYours(what=said("This calendar link"))
    if FeedKey.objects.filter(pk=feed_key.pk, revoked_at__isnull=True).update(revoked_at=timezone.now()):
        FeedCopy.objects.filter(feed_key=feed_key).delete()
        _note(actor, "withdraw-link", feed_key)
    feed_key.refresh_from_db()
    return feed_key


def _note(actor: Person, did: str, link: FeedKey) -> None:
    """Without its name: which devices somebody has is nobody else's business."""
    noted = f"A calendar link of {link.person.name}"
    audit.note_of_account(actor=actor, did=did, subject=link, person=link.person, said=noted)


def note_feed_use(*, link_id: int, last_used_on: dt.date | None, day: dt.date) -> bool:
    """Keep the day on which a link was last used; one write a day, however often it is read."""
    if last_used_on is not None and last_used_on >= day:
        return False
    unwritten = Q(last_used_on__isnull=True) | Q(last_used_on__lt=day)
    return bool(FeedKey.objects.filter(unwritten, pk=link_id).update(last_used_on=day))
