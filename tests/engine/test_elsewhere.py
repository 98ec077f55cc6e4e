"""What a person's own calendar has takes their hours, wherever it is; nobody is told what for."""

from __future__ import annotations

from dataclasses import replace

from scheduling.engine.journeys import way_min
from scheduling.engine.people import with_promises_kept
from scheduling.engine.records import ELSEWHERE, Engagement, Kind, Placement, Refusal
from scheduling.engine.search import place
from scheduling.engine.spans import Span
from scheduling.engine.startspace.space import start_space
from scheduling.engine.world import World
from tests.engine.reference.small import an_hour, both_find, world_of
from tests.engine.reference.town import thing

ADA, BO = 8, 9
ASKED = replace(an_hour((Kind.TORCH, 1)), person_id=ADA)
ASSISTED = replace(an_hour((Kind.TORCH, 1)), assistants=1, assistant_ids=(ADA, BO))


def elsewhere(*spans: Span) -> tuple[Engagement, ...]:
    return tuple(Engagement(span=span, studio_id=ELSEWHERE, studio="", what="") for span in spans)


def town(**busy: tuple[Engagement, ...]) -> World:
    """One torch, and another studio half an hour away."""
    return replace(
        world_of([thing(8, Kind.TORCH)]),
        people={ADA: busy.get("ada", ()), BO: busy.get("bo", ())},
        names={ADA: "Ada", BO: "Bo"},
        travel={(1, 2): 30, (2, 1): 30},
    )


def test_hours_of_the_own_calendar_are_not_offered_and_no_way_is_reckoned() -> None:
    ours, judged = both_find(town(ada=elsewhere((100, 200))), ASKED)

    assert ours == judged == {*range(41), *range(200, 1000)}


def test_whoever_is_busy_in_their_own_calendar_does_not_assist() -> None:
    world = town(ada=elsewhere((100, 200)), bo=elsewhere((150, 300)))

    ours, judged = both_find(world, ASSISTED)
    answer = place(world, ASSISTED, 60)

    assert ours == judged == {*range(91), *range(200, 1000)}
    assert isinstance(answer, Placement)
    assert answer.assistant_ids == (BO,)


def test_the_refusal_says_whose_calendar_and_never_what_for() -> None:
    answer = place(town(ada=elsewhere((100, 200))), ASKED, 120)

    assert isinstance(answer, Refusal)
    (reason,) = answer.reasons
    assert reason.sentence == "Ada is busy in their own calendar from Thu 1 Jan 01:40 to 03:20."
    assert (reason.code, reason.until, answer.not_before) == ("person-busy", 200, 200)


def test_hours_promised_to_a_class_stay_promised_and_the_rest_of_the_entry_counts() -> None:
    class_here = Engagement(span=(500, 560), studio_id=1, studio="Studio", what="Bowls")
    world = with_promises_kept(town(ada=(*elsewhere((100, 200)), class_here)), {ADA: (120, 180)})

    assert start_space(world, ASKED, 60, 300) == ((120, 121), (200, 300))
    assert class_here in world.people[ADA]


def test_what_one_person_promised_frees_nobody_else() -> None:
    world = with_promises_kept(town(ada=elsewhere((100, 200)), bo=elsewhere((100, 200))), {BO: (100, 200)})

    assert isinstance(place(world, ASKED, 120), Refusal)
    assert isinstance(place(world, replace(ASKED, person_id=BO), 120), Placement)


def test_what_is_elsewhere_hides_no_way_from_one_studio_to_the_next() -> None:
    at_the_other = Engagement(span=(60, 120), studio_id=2, studio="Other", what="Bowls")

    assert way_min(town(ada=(at_the_other, *elsewhere((200, 300)))), ASKED, 400) == 30
    assert way_min(town(ada=elsewhere((200, 300))), ASKED, 400) == 0
