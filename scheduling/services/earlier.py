"""Somebody of a studio vouches that a person has taken a course, here or elsewhere."""

from __future__ import annotations

from scheduling.errors import EarlierCourseNeeded, InvalidInput, NotAllowed
from scheduling.models import Course, EarlierCourse, Session
from scheduling.selectors.earlier import VOUCHES, missing_courses, vouched_at
from scheduling.services import audit
from scheduling.services.transactions import lock, one_write
from scheduling.wording import when
from studios.models import Person, Studio
from studios.said import said, several_said
from studios.selectors import may, people_known_at, studios_where


@one_write
def vouch(*, actor: Person, studio: Studio, person: Person, course: Course) -> EarlierCourse:
    """Record that somebody whom the studio knows has taken a course that it teaches.

    A second time changes nothing. Raises NotAllowed or InvalidInput.
    """
    _require_voucher(actor, studio)
    lock(people=[person.pk])
    if not people_known_at(studio).filter(pk=person.pk).exists():
        raise InvalidInput(
            field="person", problem=said("Choose somebody who belongs to {studio}.", studio=studio.name)
        )
    if not course.studios.filter(pk=studio.pk).exists():
        raise InvalidInput(
            field="course",
            problem=said("{course} is not taught at {studio}.", course=course.name, studio=studio.name),
        )
    row, new = EarlierCourse.objects.get_or_create(
        person=person, course=course, defaults={"recorded_by": actor}
    )
    if new:
        noted = f"{person.name} has taken {course.name} before"
        audit.note(actor=actor, did="vouch", subject=person, studio=studio, said=noted)
    return row


@one_write
def take_back(*, actor: Person, earlier: EarlierCourse) -> None:
    """What was recorded counts no longer; seats that are booked stand.

    Anybody who vouches at a studio of the course, where the person is known, may. Raises NotAllowed or
    InvalidInput.
    """
    taught_at = earlier.course.studios.filter(pk__in=studios_where(actor, VOUCHES)).order_by("pk")
    studio = next((one for one in taught_at if vouched_at(one).filter(pk=earlier.pk).exists()), None)
    if studio is None:
        _require_voucher(actor, earlier.course.studios.order_by("pk")[0])
        raise InvalidInput(problem=said("Only a studio that knows the person takes this back."))
    lock(people=[earlier.person_id])
    noted = f"{earlier.person.name} has not taken {earlier.course.name} before"
    audit.note(actor=actor, did="vouch-taken-back", subject=earlier.person, studio=studio, said=noted)
    earlier.delete()


def _require_voucher(actor: Person, studio: Studio) -> None:
    if not may(actor, VOUCHES, studio):
        raise NotAllowed(
            who=actor.name,
            what=said("vouch for an earlier course"),
            studio=studio.name,
            role=said("instructor"),
        )


def require_earlier_courses(person: Person, session: Session) -> None:
    """A student has taken what the course builds on. Raises EarlierCourseNeeded."""
    missing = missing_courses(person=person, session=session)
    if missing:
        raise EarlierCourseNeeded(
            field="session",
            course=session.course.name,
            missing=several_said((course.name for course in missing), ", ", " and "),
            who=person.name,
            when=when(session.starts_at, session.studio),
            studio=session.studio.name,
        )
