"""An instructor books a class; everything it holds is found, stored and refused to others."""

from __future__ import annotations

import datetime as dt
from itertools import pairwise

import pytest
import time_machine

from scheduling.errors import InvalidInput, NaiveTime, NoStart, NotAllowed, NotQualified
from scheduling.models import Booking, Firing, Message, Occupancy, PersonSpan, Session
from scheduling.services.booking import book_session
from studios.models import Person, Qualification, StaffedHours
from tests.worlds import Town, add_course, local, sign_off

pytestmark = pytest.mark.django_db


def book(town: Town, course: str, starts_at: dt.datetime, instructor: Person | None = None) -> Session:
    """Book a course of the test town by the instructor himself."""
    teacher = instructor or town.instructor
    chosen = town.courses[course]
    studio = chosen.studios.get()
    return book_session(actor=teacher, course=chosen, studio=studio, instructor=teacher, starts_at=starts_at)


def kinds_of(session: Session, equipment: str) -> list[str]:
    """The phases of one piece of equipment that a session holds."""
    occupancy = Occupancy.objects.get(booking=session.booking, equipment__name=equipment)
    return list(occupancy.phases.values_list("kind", flat=True))


def held_by(session: Session) -> set[str]:
    """The names of the equipment that a session's booking holds."""
    return set(session.booking.occupancies.values_list("equipment__name", flat=True))


def firing_of(session: Session) -> Firing:
    """The firing that a session's pieces are in."""
    return session.loads.get().firing


def test_a_blowing_class_holds_the_glory_hole_its_bench_and_warmer_and_a_furnace_place(town: Town) -> None:
    session = book(town, "blowing", local(1, 18))

    assert held_by(session) == {"furnace", "hole 1", "bench 1", "warmer 1"}
    for equipment in ("hole 1", "bench 1", "warmer 1"):
        assert kinds_of(session, equipment)[:2] == ["heat-up", "working"]
    assert kinds_of(session, "hole 1")[-1] == "cooling"
    assert kinds_of(session, "furnace") == ["working"]


def test_its_annealer_is_hot_for_the_first_piece_and_kept_until_somebody_may_unload_it(town: Town) -> None:
    town.hot_shop.staffed_hours.filter(weekday=2).update(opens=dt.time(14))

    firing = firing_of(book(town, "blowing", local(1, 18)))

    phases = [(phase.kind, phase.starts_at) for phase in firing.occupancy.phases.all()]
    assert [kind for kind, _ in phases] == [
        "heat-up",
        "holding",
        "soak",
        "annealing",
        "cooling",
        "waiting",
        "unloading",
    ]
    assert dict(phases)["holding"] == local(1, 18)
    assert dict(phases)["soak"] == local(1, 21)
    assert firing.unload_at == local(2, 14)
    assert firing.occupancy.ends_at == local(2, 14, 30)


def test_phases_follow_one_another_without_a_gap_and_their_temperatures_join(town: Town) -> None:
    book(town, "blowing", local(1, 18))

    for occupancy in Occupancy.objects.all():
        phases = list(occupancy.phases.all())
        assert phases[0].starts_at == occupancy.starts_at
        assert phases[-1].ends_at == occupancy.ends_at
        for before, after in pairwise(phases):
            assert before.ends_at == after.starts_at
            if before.to_c is not None and after.from_c is not None:
                assert before.to_c == pytest.approx(after.from_c, abs=0.01)


def test_supplies_count_the_full_draw_from_lighting_to_the_end_of_the_program(town: Town) -> None:
    session = book(town, "blowing", local(1, 18))

    firing = firing_of(session)
    use = firing.occupancy.supply_uses.get()
    soaked = firing.occupancy.phases.get(kind="soak").ends_at
    stops = pairwise(firing.segments[1:])
    asked_h = sum((a["target_c"] - b["target_c"]) / b["rate_c_per_h"] for a, b in stops)
    off = soaked + dt.timedelta(hours=asked_h)
    # A night is a long load: on its breaker 6 kW count at 125 %.
    assert (use.amount, use.starts_at) == (6 * 1.25, firing.occupancy.starts_at)
    assert off <= use.ends_at < off + dt.timedelta(minutes=1)
    assert use.ends_at > firing.occupancy.phases.get(kind="annealing").ends_at
    hole = session.booking.occupancies.get(equipment__name="hole 1")
    assert hole.supply_uses.get().ends_at == local(1, 21)


def test_two_sessions_at_two_glory_holes_share_the_furnace_and_the_annealer_at_the_same_hour(
    town: Town,
) -> None:
    first = book(town, "blowing", local(1, 18))
    second = book(town, "blowing", local(1, 18), town.other_instructor)

    assert held_by(second) == {"furnace", "hole 2", "bench 2", "warmer 2"}
    places = Occupancy.objects.filter(equipment__name="furnace").values_list("place", flat=True)
    assert sorted(places) == [1, 2]
    assert firing_of(first) == firing_of(second)


def test_a_third_session_finds_no_glory_hole_and_nothing_is_written(town: Town) -> None:
    book(town, "blowing", local(1, 18))
    book(town, "blowing", local(1, 18), town.other_instructor)
    third = _third_instructor(town)
    before = (Booking.objects.count(), Occupancy.objects.count(), Message.objects.count())

    with pytest.raises(
        NoStart, match="No glory hole can be had: hole 1 and hole 2 are held by blowing until Tue 4 Mar 21:00"
    ):
        book(town, "blowing", local(1, 19), third)

    assert (Booking.objects.count(), Occupancy.objects.count(), Message.objects.count()) == before


def _third_instructor(town: Town) -> Person:
    person = Person.objects.create_user("third@town.example", "glass", name="Third")
    person.memberships.create(studio=town.hot_shop, role="instructor")
    sign_off(person, town.hot_shop, ("furnace", "glory-hole", "annealer"))
    return person


def test_a_session_right_after_another_at_the_same_glory_hole_is_accepted_and_needs_no_heat_up(
    town: Town,
) -> None:
    town.equipment["hole 2"].delete()
    book(town, "blowing", local(1, 14))

    after = book(town, "blowing", local(1, 17), town.other_instructor)

    hole = after.booking.occupancies.get(equipment__name="hole 1")
    assert (hole.starts_at, hole.phases.all()[0].kind) == (local(1, 17), "working")


def test_set_up_and_clean_up_keep_two_classes_from_meeting_in_the_doorway(town: Town) -> None:
    town.equipment["hole 2"].delete()
    book(town, "paperweights", local(1, 13))

    with pytest.raises(NoStart, match="bench 1 is held by paperweights until Tue 4 Mar 16:15"):
        book(town, "paperweights", local(1, 16, 29), town.other_instructor)
    book(town, "paperweights", local(1, 16, 30), town.other_instructor)


def test_a_glory_hole_is_lit_only_while_somebody_is_there_to_attend_it(town: Town) -> None:
    StaffedHours.objects.filter(studio=town.hot_shop, weekday=1).update(opens=dt.time(17))

    with pytest.raises(NoStart, match="must be lit at Tue 4 Mar 16:47 to be at 1100 °C in time"):
        book(town, "blowing", local(1, 18))


def test_an_instructor_needs_time_to_get_from_one_studio_to_the_other(town: Town) -> None:
    book(town, "tiles", local(1, 15))

    with pytest.raises(NoStart, match=r"Instructor has tiles at Flame .*, and 30 min on the way"):
        book(town, "blowing", local(1, 17, 29))
    book(town, "blowing", local(1, 17, 30))


def test_a_kiln_is_loaded_after_the_class_and_fires_through_the_night(town: Town) -> None:
    firing = firing_of(book(town, "tiles", local(2, 18)))

    kinds = list(firing.occupancy.phases.values_list("kind", flat=True))
    assert kinds[0] == "loading"
    assert kinds[-1] == "unloading"
    assert firing.occupancy.starts_at == local(2, 20)
    assert firing.at_hold_at == local(2, 20, 45)


@pytest.mark.parametrize(
    ("day", "cool_at"),
    [(1, local(2, 11, 15)), (5, local(6, 12, 15))],
    ids=["an ordinary night", "the night of the change of clocks"],
)
def test_a_night_over_the_change_of_clocks_has_the_same_elapsed_hours(
    town: Town, day: int, cool_at: dt.datetime
) -> None:
    """The night of Saturday 8 March has an hour less by the clock; the glass does not know."""
    firing = firing_of(book(town, "blowing", local(day, 18)))

    assert firing.cool_at.astimezone(town.hot_shop.zone) == cool_at
    assert (firing.cool_at - firing.last_in_at) == dt.timedelta(hours=14, minutes=15)


def test_an_instructor_books_only_what_the_studio_has_signed_him_off_for(town: Town) -> None:
    Qualification.objects.filter(person=town.instructor, kind="glory-hole").delete()

    with pytest.raises(NotQualified, match="not signed off for glory hole at Hot shop"):
        book(town, "blowing", local(1, 18))


@pytest.mark.parametrize("who", ["student", "technician", "stranger"])
def test_only_instructors_and_managers_book(town: Town, who: str) -> None:
    with pytest.raises(NotAllowed):
        book_session(
            actor=getattr(town, who),
            course=town.courses["blowing"],
            studio=town.hot_shop,
            instructor=town.instructor,
            starts_at=local(1, 18),
        )


def test_a_manager_books_for_an_instructor_who_is_told(town: Town) -> None:
    session = book_session(
        actor=town.manager,
        course=town.courses["blowing"],
        studio=town.hot_shop,
        instructor=town.instructor,
        starts_at=local(1, 18),
    )

    assert session.booking.booked_by == town.manager
    assert Message.objects.get().person == town.instructor


def test_an_instructor_does_not_book_for_another(town: Town) -> None:
    with pytest.raises(NotAllowed, match="needs the role manager"):
        book_session(
            actor=town.instructor,
            course=town.courses["blowing"],
            studio=town.hot_shop,
            instructor=town.other_instructor,
            starts_at=local(1, 18),
        )


def test_a_course_is_booked_only_where_it_is_taught(town: Town) -> None:
    with pytest.raises(InvalidInput, match="blowing is not taught at Flame"):
        book_session(
            actor=town.instructor,
            course=town.courses["blowing"],
            studio=town.flame,
            instructor=town.instructor,
            starts_at=local(1, 18),
        )


def test_a_time_without_zone_and_a_time_with_seconds_are_refused(town: Town) -> None:
    with pytest.raises(NaiveTime):
        book(town, "blowing", local(1, 18).replace(tzinfo=None))
    with pytest.raises(InvalidInput, match="without seconds"):
        book(town, "blowing", local(1, 18).replace(second=30))


def test_the_past_and_too_short_a_notice_are_refused(town: Town) -> None:
    with time_machine.travel(local(1, 17, 30), tick=False):
        with pytest.raises(NoStart, match="less than 60 minutes ahead"):
            book(town, "blowing", local(1, 18))
        with pytest.raises(NoStart, match="in the past"):
            book(town, "blowing", local(0, 18))


def test_a_course_that_needs_equipment_the_studio_lacks_says_so(town: Town) -> None:
    course = add_course(town, "engraving", town.hot_shop, "studio-96", {"cold-station": 1})
    with pytest.raises(NoStart, match="No cold station can be had: the studio has no other"):
        book(town, course.name, local(1, 18))


def test_a_session_gives_the_instructor_no_second_hour(town: Town) -> None:
    book(town, "blowing", local(1, 18))

    assert PersonSpan.objects.filter(person=town.instructor).count() == 1
    with pytest.raises(NoStart, match="Instructor has blowing"):
        book(town, "blowing", local(1, 20))
