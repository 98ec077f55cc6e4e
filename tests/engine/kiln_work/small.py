"""Questions small enough to be gone through: the same ten each time, or as many others as are asked."""

from __future__ import annotations

import os

from hypothesis import settings

from scheduling.engine.kiln_work.answer import answer
from scheduling.engine.kiln_work.answers import WorkPlanned
from scheduling.engine.kiln_work.asked import WorkAsked
from scheduling.engine.world import World
from tests.engine.kiln_work.sound import assert_sound

CHOSEN = os.environ.get("KILN_WORK")
small_questions = settings(max_examples=int(CHOSEN or "10"), deadline=None, derandomize=not CHOSEN)
# A shelf for one piece of 100 mm, and one for two.
SIZES = {1: (130, 130, 1), 2: (242, 130, 1)}


def planned(shop: World, asked: WorkAsked) -> WorkPlanned:
    """The plan that is found, which is sound."""
    found = answer(shop, asked)
    assert isinstance(found, WorkPlanned), found
    assert_sound(shop, asked, found)
    return found
