"""The drawn curve is the computed one."""

from __future__ import annotations

import datetime as dt
import re
from math import exp
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest
from django.utils import translation

from scheduling.engine.clock import floor_minutes
from scheduling.engine.records import PhaseSpan
from scheduling.selectors.held import HeldSpan, Holder
from scheduling.selectors.sheet import steps_of
from scheduling.web.drawing.curve import celsius, in_turn, line, run
from scheduling.web.drawing.frame import Frame, Scale, tag
from scheduling.web.drawing.ground import WIDTH
from scheduling.web.drawing.held import clock_strip
from scheduling.web.drawing.letters import fits, width
from scheduling.web.drawing.naming import Laid, label_places, names_of
from scheduling.web.drawing.traced import Trace
from studios.thermal import Phase

FRAME = Frame(span=(0, 2400), width=2400)
SCALE = Scale(top_c=1000.0, height=1000.0)


def cooling(start: int, end: int, from_c: float, tau_min: float, toward_c: float = 30.0) -> PhaseSpan:
    """A body left to itself."""
    to_c = toward_c + (from_c - toward_c) * exp(-(end - start) / tau_min)
    return PhaseSpan(
        kind=Phase.COOLING, span=(start, end), from_c=from_c, to_c=to_c, toward_c=toward_c, tau_min=tau_min
    )


def bezier_points(d: str, start: tuple[float, float]) -> list[tuple[float, float]]:
    """Points along the C commands of a path, by the definition of a cubic."""
    points, pen = [], start
    for command in re.findall(r"C([^A-Z]+)", d):
        x1, y1, x2, y2, x3, y3 = map(float, command.split())
        for n in range(21):
            t = n / 20
            weights = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3)
            xs, ys = (pen[0], x1, x2, x3), (pen[1], y1, y2, y3)
            points.append(
                (
                    sum(w * x for w, x in zip(weights, xs, strict=True)),
                    sum(w * y for w, y in zip(weights, ys, strict=True)),
                )
            )
        pen = (x3, y3)
    return points


@pytest.mark.parametrize("tau_min", [60.0, 240.0, 360.0])
def test_a_cooling_tail_is_drawn_within_three_thousandths_of_its_fall(tau_min: float) -> None:
    phase = cooling(100, 1300, 900.0, tau_min)

    points = bezier_points(run(phase, phase.span, FRAME, SCALE), (100.0, SCALE.y(900.0)))

    assert len(points) > 20
    for x, y in points:
        truth = 30 + 870 * exp(-(x - 100) / tau_min)
        assert abs((1000 - y) - truth) <= 0.003 * 870


def test_a_heat_up_cuts_the_cooling_before_it_short() -> None:
    first, second = cooling(0, 600, 1000.0, 60.0), cooling(300, 700, 500.0, 60.0)

    pieces = in_turn([[first], [second]])

    assert [span for _, span in pieces] == [(0, 300), (300, 700)]


def test_between_two_occupancies_the_line_lies_at_rest() -> None:
    level = PhaseSpan(kind=Phase.HOLDING, span=(600, 1200), from_c=500.0, to_c=500.0)

    d = line(in_turn([[level]]), 30.0, FRAME, SCALE)

    # Room temperature to 10:00, the hold until 20:00, room temperature to the end.
    assert d == "M0.0 970.0L600.0 970.0L600.0 500.0L1200.0 500.0L1200.0 970.0L2400.0 970.0"


def test_what_was_over_before_the_sheet_begins_leaves_no_trace_on_it() -> None:
    """A heat-up and a hold of yesterday evening, and the tail that reaches into today."""
    heat_up = PhaseSpan(kind=Phase.HEAT_UP, span=(-600, -500), from_c=30.0, to_c=500.0)
    level = PhaseSpan(kind=Phase.HOLDING, span=(-500, 0), from_c=500.0, to_c=500.0)
    tail = PhaseSpan(kind=Phase.COOLING, span=(0, 400), from_c=500.0, to_c=100.0)

    d = line(in_turn([[heat_up, level, tail]]), None, Frame(span=(100, 500), width=400), SCALE)

    assert d == "M0.0 600.0L300.0 900.0"


def test_a_ramp_is_read_at_any_moment() -> None:
    ramp = PhaseSpan(kind=Phase.HEAT_UP, span=(0, 100), from_c=100.0, to_c=300.0)

    assert celsius(ramp, 25) == pytest.approx(150.0)


def test_draws_that_overlap_add_up_and_vanish_when_they_end() -> None:
    steps = steps_of([(0, 120, 6.0), (60, 180, 6.0), (500, 900, 25.0)], (30, 600))

    assert steps == ((30, 6.0), (60, 12.0), (120, 6.0), (180, 0.0), (500, 25.0), (600, 0.0))


def test_of_several_names_the_longest_that_fits_whole_is_written() -> None:
    names = ("Beginners, Corvin Hazelmere", "Beginners")

    assert fits(names, 300) == names[0]
    assert fits(names, 120) == "Beginners"
    assert fits(names, 20) == ""
    assert width("mm") > 2 * width("i")


@pytest.mark.parametrize("frame", [FRAME, Frame(span=(150, 900), width=750)])
def test_a_strip_drawn_in_one_pass_is_the_same_curve(frame: Frame) -> None:
    """A heat-up, a level and two stages of cooling, as they are drawn piece by piece."""
    phases = [
        PhaseSpan(kind=Phase.HEAT_UP, span=(100, 300), from_c=30.0, to_c=510.0),
        PhaseSpan(kind=Phase.SOAK, span=(300, 500), from_c=510.0, to_c=510.0),
        cooling(500, 800, 510.0, 120.0),
        cooling(800, 1300, 30 + 480 * exp(-300 / 120), 200.0),
    ]
    pieces = in_turn([phases])

    trace = Trace(frame, SCALE, 30.0)
    trace.add(pieces)

    drawn, known = vertices(trace.line), vertices(line(pieces, 30.0, frame, SCALE))
    assert [x for x, _ in drawn] == pytest.approx([x for x, _ in known], abs=0.11)
    assert [y for _, y in drawn] == pytest.approx([y for _, y in known], abs=0.11)
    assert set(trace.areas) == {phase.kind for phase in phases if phase.span[1] > frame.span[0]}


def vertices(d: str) -> list[tuple[float, float]]:
    """Where the commands of a path end, each point once."""
    found: list[tuple[float, float]] = []
    for command, rest in re.findall(r"([MLHC])([^MLHC]+)", d):
        last = [float(number) for number in rest.split()]
        point = (last[-1], found[-1][1]) if command == "H" else (last[-2], last[-1])
        if not found or point != found[-1]:
            found.append(point)
    return found


def test_what_people_wrote_cannot_break_out_of_the_drawing() -> None:
    assert tag("a", "x", aria_label='"><script>') == '<a aria-label="&quot;&gt;&lt;script&gt;">x</a>'


def test_a_bar_by_itself_is_named_in_the_free_room_after_it() -> None:
    assert label_places([(100.0, 120.0), (400.0, 420.0)]) == {
        (100.0, 120.0): (120.0, 280.0),
        (400.0, 420.0): (420.0, WIDTH - 420.0),
    }


def test_bars_that_touch_are_named_inside_themselves_or_not_at_all() -> None:
    """A name after the last of them would be read as the first one's."""
    narrow = label_places([(100.0, 120.0), (120.0, 180.0), (800.0, 820.0)])
    wide = label_places([(100.0, 200.0), (200.0, 300.0)])

    assert narrow[100.0, 120.0][1] == narrow[120.0, 180.0][1] == 0.0
    assert narrow[800.0, 820.0] == (820.0, WIDTH - 820.0)
    assert wide == {(100.0, 200.0): (100.0, 100.0), (200.0, 300.0): (200.0, 100.0)}


def laid(title: str, left: float, right: float) -> Laid:
    """A class in the first lane."""
    holder = Holder(face="session", uid=uuid4(), title=title, who="")
    held = HeldSpan(
        equipment_id=1,
        place=1,
        span=(0, 1),
        exclusive=(0, 1),
        phases=(),
        holder=holder,
        changed_at=dt.datetime(2031, 3, 3, tzinfo=dt.UTC),
    )
    return Laid(held, uuid4(), 0.0, (left, right))


def test_of_two_bars_that_touch_the_first_is_named_before_them_and_the_second_after() -> None:
    first, second, far = laid("beads", 400, 420), laid("marbles", 420, 440), laid("beads", 900, 920)

    names = names_of(
        {each.held.holder.uid: [each] for each in (first, second, far)},
        lambda held: (held.holder.title,),
        12.0,
    )

    said = {name.of: (name.words, name.x, name.anchor) for name in names.values()}
    assert said == {
        first: ("beads", 396.0, "end"),
        second: ("marbles", 444.0, None),
        far: ("beads", 924.0, None),
    }


def test_where_no_name_fits_on_either_side_none_is_written() -> None:
    first, second = laid("beads", 30, 50), laid("marbles", 50, 70)

    names = names_of(
        {each.held.holder.uid: [each] for each in (first, second)}, lambda held: (held.holder.title,), 12.0
    )

    assert names == {}


@pytest.mark.parametrize(("language", "day"), [("en", "Tue 9 Mar"), ("de", "Di, 9. Mär")])
def test_a_day_over_the_strips_of_an_option_is_written_as_its_reader_writes_it(
    language: str, day: str
) -> None:
    evening = floor_minutes(dt.datetime(2027, 3, 8, 18, tzinfo=dt.UTC))
    frame = Frame(span=(evening, evening + 18 * 60), width=1000)

    with translation.override(language):
        drawn = clock_strip(frame, (evening + 60, evening + 240), ZoneInfo("UTC"))

    assert f">{day}<" in drawn
