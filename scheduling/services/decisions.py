"""On its decision day a class with too few people is said to whoever decides whether it takes place.

Nothing is called off here: that is for people. The flag itself is read, never stored (`selectors.least`).
"""

from __future__ import annotations

from collections.abc import Callable

from django.utils import timezone

from scheduling.models import Message, Session
from scheduling.selectors.least import below_least, booked_in, with_too_few
from scheduling.services import audit
from scheduling.services.messages import tell
from scheduling.services.transactions import lock, one_write
from scheduling.wording import meeting
from studios.models import Person
from studios.said import said
from studios.selectors import people_with


def flag_sessions(between: Callable[[], None] = lambda: None) -> int:
    """Tell of each class that is below its least number, once; returns how many were told of."""
    now, told = timezone.now(), 0
    due = [each.pk for each in with_too_few(now) if below_least(each, booked_in(each)) and _untold(each)]
    for key in due:
        between()
        told += _flag(key)
    return told


@one_write
def _flag(key: int) -> int:
    """Looked at again under the lock: somebody may have booked a seat or called it off meanwhile."""
    lock(sessions=[key])
    session = Session.objects.select_related("course", "studio", "instructor").get(pk=key)
    booked = booked_in(session)
    people = _untold(session) if below_least(session, booked) else []
    how_many = said(
        "{count} seat is booked, and it needs {least}",
        several="{count} seats are booked, and it needs {least}",
        count=booked,
        least=session.course.min_seats,
    )
    for person in people:
        tell(
            person=person,
            subject=said("Below its least number: {course}", course=session.course.name),
            body=said(
                "{meeting}: {how_many}. Decide whether it takes place; on its page it can be called off.",
                meeting=meeting(session),
                how_many=how_many,
            ),
            key=_key(session),
        )
    if people:
        noted = f"Below its least number: {meeting(session)}; {how_many}"
        audit.note(actor=None, did="flag", subject=session, studio=session.studio, said=noted)
    return bool(people)


def _key(session: Session) -> str:
    """Once a class; one that is moved has another decision day."""
    return f"below-least-{session.uid}-{session.sequence}"


def _untold(session: Session) -> list[Person]:
    """The instructor and the managers, but those who know already."""
    told = Message.objects.filter(key=_key(session)).values_list("person_id", flat=True)
    deciding = {session.instructor, *people_with("book-for-others", session.studio)}
    return sorted((one for one in deciding if one.pk not in set(told)), key=lambda one: one.pk)
