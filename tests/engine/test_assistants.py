"""Classes that somebody assists in: so many of those who could, free with their way."""

from __future__ import annotations

from dataclasses import replace

from scheduling.engine.people import assisting_notes
from scheduling.engine.records import Ask, Engagement, Kind, Placement, Refusal
from scheduling.engine.search import place
from scheduling.engine.spans import Span
from scheduling.engine.startspace.space import start_space
from scheduling.engine.world import World
from tests.engine.reference.small import an_hour, both_find, world_of
from tests.engine.reference.town import thing

ADA, BO, CY = 8, 9, 10
TORCH = thing(8, Kind.TORCH)


def teaching(**busy: Span) -> World:
    """A studio with one torch, and what three people do at another, half an hour away."""
    at_the_other = {
        key: (Engagement(span=busy[name], studio_id=2, studio="Other", what="Bowls"),) if name in busy else ()
        for name, key in (("ada", ADA), ("bo", BO), ("cy", CY))
    }
    return replace(
        world_of([TORCH]),
        people=at_the_other,
        names={ADA: "Ada", BO: "Bo", CY: "Cy"},
        travel={(1, 2): 30, (2, 1): 20},
    )


def assisted_by(count: int, *could: int) -> Ask:
    return replace(an_hour((Kind.TORCH, 1)), assistants=count, assistant_ids=could, person_id=CY)


def test_the_first_who_are_free_come_in_their_order() -> None:
    world = teaching(bo=(100, 200))

    answer = place(world, assisted_by(1, BO, ADA), 120)
    later = place(world, assisted_by(1, BO, ADA), 220)

    assert isinstance(answer, Placement)
    assert isinstance(later, Placement)
    assert (answer.assistant_ids, later.assistant_ids) == ((ADA,), (BO,))
    assert "Ada assists." in answer.notes


def test_they_are_on_their_way_before_and_after() -> None:
    world = teaching(ada=(300, 400))

    assert start_space(world, assisted_by(1, ADA), 0, 600) == ((0, 211), (420, 600))


def test_two_are_needed_and_any_two_of_three_will_do() -> None:
    world = replace(teaching(ada=(100, 200), bo=(150, 300)), travel={})
    asked = replace(assisted_by(2, ADA, BO, 11), person_id=None)

    ours, judged = both_find(world, asked)

    assert ours == judged == {*range(91), *range(200, 1000)}


def test_the_refusal_names_who_is_busy_and_the_first_minute_that_may_do() -> None:
    answer = place(teaching(ada=(100, 400), bo=(100, 300)), assisted_by(1, ADA, BO), 150)

    assert isinstance(answer, Refusal)
    (reason,) = answer.reasons
    assert reason.code == "assistants-busy"
    assert reason.sentence == (
        "class needs 1 assistant, and nobody is free: "
        "Ada has Bowls at Other from Thu 1 Jan 01:40 to 06:40, and 20 min on the way; "
        "Bo has Bowls at Other from Thu 1 Jan 01:40 to 05:00, and 20 min on the way."
    )
    assert (reason.until, answer.not_before) == (320, 320)


def test_too_few_who_could_at_all_are_no_matter_of_time() -> None:
    answer = place(teaching(), assisted_by(2, ADA), 0)

    assert isinstance(answer, Refusal)
    assert answer.reasons[0].sentence == "class needs 2 assistants, and only 1 could assist at Studio."
    assert answer.not_before is None
    assert start_space(teaching(), assisted_by(2, ADA), 0, 1000) == ()


def test_nobody_assists_in_their_own_class() -> None:
    assert isinstance(place(teaching(), assisted_by(1, CY), 0), Refusal)


def test_several_who_assist_are_named_together() -> None:
    assert assisting_notes(teaching(), (ADA, BO)) == ["Ada and Bo assist."]
    assert assisting_notes(teaching(), ()) == []
