"""A firing as it really goes: its plan, and what happened since, in order, always from the beginning.

    the plan --lit--> --last piece in, soak started--> the program begins then
             --temperature read while it cools--> the slower of the program from there and the body itself
             --power lost, stopped early--> the heat is off: the body alone     --lit, soak started--> again
             --opened, unloaded--> free

Whoever recomputes it from the same records gets the same curve, so a record that is struck leaves nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import StrEnum

from scheduling.engine.claims import draws
from scheduling.engine.curves import laid, level, temperature, up_to
from scheduling.engine.records import Apparatus, Duty, Held, Lot, PhaseSpan, StudioRecord
from scheduling.engine.spans import Span, first_fit
from scheduling.engine.wording import at as said_at
from scheduling.engine.wording import degrees, holders
from studios.said import Said, marked, said
from studios.thermal import Curve, CurvePiece, FiringPlan, Phase, Recipe, energy_kwh, heat_up_curve
from studios.thermal.onward import (
    Onward,
    cools_freely,
    cools_on,
    fired_again,
    overstressed,
    processed_min,
    soaks,
)

# What a reading may differ from the plan before somebody should ask why: common practice, no source.
NOTED_K = 25.0
# Nobody reads a pyrometer closer than that.
DEGREE = 0.5
STRAINED = marked(
    "{glass}, {thickest_mm:g} mm: cooling by itself at up to {rate:.0f} K an hour strains it by "
    "{strain:.1f} MPa, and {permitted:.1f} MPa are permitted. Look for cracks before it is handed out."
)
OFF_EMPTY = marked("The heat is off before the first piece: light it again, and record it.")


class What(StrEnum):
    """What whoever is there can say of a firing."""

    LIT = "lit"
    LAST_IN = "last-in"
    SOAK_STARTED = "soak-started"
    STOPPED_EARLY = "stopped-early"
    POWER_LOST = "power-lost"
    TEMPERATURE = "temperature"
    OPENED = "opened"
    UNLOADED = "unloaded"


HEAT_OFF = frozenset({What.STOPPED_EARLY, What.POWER_LOST})


@dataclass(frozen=True, kw_only=True)
class Happened:
    """One thing that happened, and what the pyrometer said then, where somebody read it."""

    what: What
    at: int
    read_c: float | None = None


@dataclass(frozen=True, kw_only=True)
class Planned:
    """A firing as planned: at hold (a kiln: door closed) and last piece in (a kiln: program begins)."""

    studio: StudioRecord
    apparatus: Apparatus
    plan: FiringPlan
    lots: tuple[Lot, ...]
    ready: int
    last_in: int

    @property
    def kiln(self) -> bool:
        return self.plan.recipe is not Recipe.ANNEAL

    @property
    def begin(self) -> int:
        """When it is lit, or loaded."""
        return self.ready - (self.apparatus.prepare_min if self.kiln else self.plan.heat_up_min)


@dataclass(frozen=True, kw_only=True)
class Ran:
    """What a firing comes to. `broken`: its glass must be annealed again. `cautions`: what to mind now."""

    held: Held
    ready: int
    last_in: int
    below_strain: int
    cool: int
    unload: int
    broken: int | None
    opened: int | None
    unloaded: int | None
    energy_kwh: float
    cautions: tuple[str, ...]


def ran(planned: Planned, events: Iterable[Happened]) -> Ran:
    """The firing after all that happened; at the same minute a reading comes before what it is read at."""
    so_far = _Course(planned)
    for event in sorted(events, key=lambda event: (event.at, event.what is not What.TEMPERATURE)):
        so_far.take(event)
    return so_far.ran()


@dataclass
class _Course:
    """How a firing went so far, and how it goes on from there if nothing else happens."""

    planned: Planned
    phases: tuple[PhaseSpan, ...] = ()
    heated: list[Span] = field(default_factory=list)
    heat: Span | None = None
    ready: int = 0
    last_in: int = 0
    soaked: int = 0
    processed: int = 0
    lit: int | None = None
    resumed: bool = False
    broken: int | None = None
    opened: int | None = None
    cool_open: bool = False
    unloaded: int | None = None
    cold: tuple[int, float] | None = None
    cautions: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._begin_at(self.planned.begin, self.planned.ready, self.planned.last_in, self._cold_c)

    @property
    def _plan(self) -> FiringPlan:
        return self.planned.plan

    @property
    def _cold_c(self) -> float:
        return self._plan.body.ambient_c

    def take(self, event: Happened) -> None:
        """One thing more has happened."""
        steps = {
            What.LIT: self._lit,
            What.LAST_IN: self._last_in,
            What.SOAK_STARTED: self._soak_started,
            What.STOPPED_EARLY: self._heat_off,
            What.POWER_LOST: self._heat_off,
            What.TEMPERATURE: self._read,
            What.OPENED: self._opened,
            What.UNLOADED: self._unloaded,
        }
        steps[event.what](event)

    def celsius(self, minute: int) -> float:
        """How hot it is, as far as anybody knows."""
        if self.cold is not None and minute >= self.cold[0]:
            return self.cold[1]
        known = [phase for phase in self.phases if phase.from_c is not None and phase.span[0] <= minute]
        if not known:
            return self._cold_c
        last = known[-1]
        found = temperature(last, min(minute, last.span[1]))
        return self._cold_c if found is None else found

    def _begin_at(self, begin: int, ready: int, last_in: int, from_c: float) -> None:
        """Lay out all of it, from lighting (a kiln: loading) to the open door."""
        planned, plan = self.planned, self._plan
        before = up_to(self.phases, begin)
        if planned.kiln:
            loading = level(Phase.LOADING, (min(begin, ready), ready))
            way_in: tuple[PhaseSpan, ...] = (loading, level(Phase.WAITING, (ready, last_in), self._cold_c))
        else:
            rise = heat_up_curve(plan.body, from_c=from_c, to_c=plan.hold_c)
            way_in = (*laid(rise, begin), level(Phase.HOLDING, (ready, last_in), plan.hold_c))
        self.ready, self.last_in = ready, last_in
        self.phases = (*before, *(phase for phase in way_in if phase.span[0] < phase.span[1]))
        self._go_on(Onward(run=plan.after), last_in, since=last_in if planned.kiln else begin)
        self.processed = last_in + int(processed_min(plan)) * planned.kiln

    def _go_on(self, onward: Onward, minute: int, *, since: int | None = None) -> None:
        """From a minute on the controller does this; `since`: from when on the heat may be on."""
        self._lay(onward.curve, minute)
        begin = since if since is not None else self.heat[0] if self.heat else minute
        self.heat = (begin, max(begin, minute + onward.switching_min))
        soak = [phase.span[1] for phase in self.phases if phase.kind is Phase.SOAK]
        self.soaked = soak[-1] if soak else minute

    def _lit(self, event: Happened) -> None:
        """Lit for the first time: hot so much earlier or later. Lit again: what was lost is made good."""
        first_in = min(lot.in_from for lot in self.planned.lots)
        again = self.lit is not None or self.heat is None
        self.lit = event.at
        if again and (self.planned.kiln or event.at > first_in):
            self._fired_again(event)
        elif self.planned.kiln:
            ready, begin = min(self.ready, event.at), self.phases[0].span[0]
            self.phases = ()
            self._begin_at(min(begin, ready), ready, event.at, self._cold_c)
        else:
            self._lit_empty(event, again=again)

    def _lit_empty(self, event: Happened, *, again: bool) -> None:
        """No piece goes into an annealer before it is at its hold."""
        from_c = event.read_c if event.read_c is not None else self.celsius(event.at) if again else None
        self.phases = self.phases if again else ()
        cold_c = self._cold_c if from_c is None else from_c
        rise = heat_up_curve(self._plan.body, from_c=cold_c, to_c=self._plan.hold_c)
        ready = event.at + rise.whole_min
        self._begin_at(event.at, ready, max(ready, self.planned.last_in), cold_c)

    def _fired_again(self, event: Happened) -> None:
        """With glass in it: brought back to where it was, soaked whole, cooled by its program."""
        from_c = self.celsius(event.at) if event.read_c is None else event.read_c
        whole = self.planned.kiln and self.broken is not None and self.broken < self.processed
        self._go_on(fired_again(self._plan, from_c, whole=whole), event.at, since=event.at)
        self.broken, self.resumed = None, True

    def _last_in(self, event: Happened) -> None:
        """An annealer soaks from then on. A kiln's door is closed, and its program begins as long after."""
        if not self.planned.kiln:
            self._soak_started(event)
            return
        wait = self.planned.last_in - self.planned.ready
        self.phases = ()
        begin = min(self.planned.begin, event.at)
        self._begin_at(begin, event.at, event.at + wait, self._cold_c)

    def _soak_started(self, event: Happened) -> None:
        """The soak begins: whatever was thought before, from then on the program runs from there."""
        goes_on = self.heat is not None
        self.resumed = self.resumed or not goes_on
        moves = not self.planned.kiln and not self.resumed
        self.phases = up_to(self.phases, min(event.at, self.last_in) if moves else event.at)
        last = self.phases[-1].span[1] if self.phases else event.at
        if last < event.at:
            self.phases = (*self.phases, level(Phase.HOLDING, (last, event.at), self._plan.hold_c))
        if moves:
            self.last_in, self.ready = event.at, min(self.ready, event.at)
        self._go_on(soaks(self._plan), event.at, since=None if goes_on else event.at)
        self.broken = None

    def _heat_off(self, event: Happened) -> None:
        """The heat is off: the body cools by itself from the temperature then.

        By all that stands recorded it may be lit or loaded later than that: what is not on yet goes not off.
        """
        if event.at < self.phases[0].span[0]:
            self.cautions.append(said(OFF_EMPTY))
            return
        from_c = self.celsius(event.at) if event.read_c is None else event.read_c
        if self._glass_in(event.at) and (event.at < self.soaked or from_c > self._plan.strain_c):
            self.broken = event.at
        if self.heat is not None:
            self.heated.append((self.heat[0], max(self.heat[0], min(self.heat[1], event.at))))
        self.heat = None
        self._cool_by_itself(event.at, from_c)

    def _cool_by_itself(self, minute: int, from_c: float) -> None:
        alone = cools_freely(self._plan, from_c)
        self._lay(alone, minute, from_c)
        if not self._glass_in(minute):
            self.cautions.append(said(OFF_EMPTY))
        elif self.broken is None:
            self.cautions.extend(self._strained(alone))

    def _strained(self, alone: Curve) -> Iterable[str]:
        for line in overstressed(self._plan, alone):
            yield said(
                STRAINED,
                glass=line.piece.glass.name,
                thickest_mm=line.piece.thickest_mm,
                rate=line.rate_c_per_h,
                strain=line.classical_mpa,
                permitted=line.permitted_mpa,
            )

    def _read(self, event: Happened) -> None:
        """Read while it cools, the curve goes on from there; before that it only shows if all is well."""
        if event.read_c is None:
            return
        if self.heat is not None and event.at < self.soaked:
            self._compare(event.at, event.read_c)
            return
        if self.heat is None:
            if self._glass_in(event.at) and event.read_c > self._plan.strain_c and self.broken is None:
                self.broken = self.heated[-1][1]
            self.cautions = [caution for caution in self.cautions if not _of_strain(caution)]
            self._cool_by_itself(event.at, event.read_c)
            return
        program_over = event.at >= self.heat[1]
        onward = cools_on(self._plan, event.read_c)
        self._lay(onward.curve, event.at, event.read_c)
        if not program_over:
            self.heat = (self.heat[0], max(event.at, event.at + onward.switching_min))

    def _compare(self, minute: int, read_c: float) -> None:
        thought = self.celsius(minute)
        if abs(read_c - thought) > NOTED_K:
            studio = self.planned.studio
            self.cautions.append(
                said(
                    "Read {read} at {when}, where the program has {thought}: look whether the heat is on. "
                    "If it is not, record it.",
                    read=degrees(read_c, studio),
                    when=said_at(minute, studio),
                    thought=degrees(thought, studio),
                )
            )

    def _lay(self, curve: Curve, minute: int, from_c: float | None = None) -> None:
        """From a minute on it goes this way; a body thought cold already stays so until then.

        Where nothing was before and nothing follows, it is held for that minute: off as soon as it was lit.
        """
        phases = up_to(self.phases, minute)
        last = phases[-1].span[1] if phases else minute
        gap = (level(Phase.COOLING, (last, minute), self.celsius(last)),) if last < minute else ()
        goes = (*phases, *gap, *laid(curve, minute))
        self.phases = goes or (level(Phase.COOLING, (minute, minute + 1), from_c),)
        # Cool enough to open at once: no curve follows, and the reading is all that is known.
        self.cold = None if curve.pieces or from_c is None else (minute, from_c)

    def _opened(self, event: Happened) -> None:
        """Open, and cool enough: unloading begins. Too hot: said, and it is waited for all the same."""
        if event.read_c is not None:
            self._read(event)
        hot = self.celsius(event.at) if event.read_c is None else event.read_c
        studio, door_c = self.planned.studio, self._plan.body.opening_c
        self.opened, self.cool_open = event.at, hot <= door_c + DEGREE
        if self.cool_open:
            return
        self.cautions.append(
            said(
                "Opened at {hot}: the door stays closed above {door}. Close it, let it cool, "
                "and look for cracks.",
                hot=degrees(hot, studio),
                door=degrees(door_c, studio),
            )
        )
        if hot > self._plan.strain_c and self._glass_in(event.at):
            self.broken = event.at

    def _unloaded(self, event: Happened) -> None:
        """Empty: free from then on."""
        if event.read_c is not None:
            self._read(event)
        self.unloaded = event.at

    def _glass_in(self, minute: int) -> bool:
        return self.planned.kiln or minute >= min(lot.in_from for lot in self.planned.lots)

    def ran(self) -> Ran:
        """What it comes to now: cool, unloaded by somebody who is there, free."""
        cool = max(self.phases[-1].span[1], self.last_in + 1)
        unload, end = self._out(cool)
        cool = max(self.last_in + 1, min(cool, unload))
        unload = max(unload, cool)
        end = max(end, unload)
        phases = self._whole(cool, unload, end)
        begin = phases[0].span[0]
        title = holders(lot.held_by for lot in self.planned.lots)
        spans = [*self.heated, *([self.heat] if self.heat is not None else [])]
        cut = [(since, min(until, end)) for since, until in spans if since < min(until, end)]
        return Ran(
            held=Held(
                apparatus_id=self.planned.apparatus.id,
                place=1,
                span=(begin, end),
                exclusive=(begin, end),
                laid=lambda: phases,
                draws=tuple(use for span in cut for use in draws(self.planned.apparatus, span, title)),
            ),
            ready=self.ready,
            last_in=self.last_in,
            below_strain=min(max(_falls_below(phases, self._plan.strain_c), self.last_in), cool),
            cool=cool,
            unload=unload,
            broken=self.broken,
            opened=self.opened,
            unloaded=self.unloaded,
            energy_kwh=energy_kwh(_curve(phases), self._plan.body),
            cautions=tuple(dict.fromkeys(self.cautions)),
        )

    def _out(self, cool: int) -> Span:
        """When it is unloaded, and when that is done: in staffed hours, or when somebody has been there."""
        planned, clear = self.planned, self.planned.apparatus.clear_min
        staffed = first_fit(planned.studio.staffed[Duty.UNLOAD], cool, clear)
        unload = cool if staffed is None else staffed
        if self.opened is not None:
            unload = self.opened if self.cool_open else max(unload, self.opened)
        if self.unloaded is not None:
            return min(unload, self.unloaded), self.unloaded
        return unload, unload + clear

    def _whole(self, cool: int, unload: int, end: int) -> tuple[PhaseSpan, ...]:
        phases, door_c = up_to(self.phases, cool), self.celsius(cool)
        last = phases[-1].span[1]
        parts = (
            *phases,
            level(Phase.COOLING, (last, cool), door_c),
            level(Phase.WAITING, (cool, unload), door_c),
            level(Phase.UNLOADING, (unload, end), door_c),
        )
        return tuple(phase for phase in parts if phase.span[0] < phase.span[1])


def _falls_below(phases: Iterable[PhaseSpan], celsius: float) -> int:
    """The first minute from which on it stays at or below a temperature."""
    stays = 0
    for phase in phases:
        if phase.from_c is None or phase.to_c is None:
            continue
        if phase.to_c > celsius:
            stays = phase.span[1]
        elif phase.from_c > celsius:
            inside = range(phase.span[0], phase.span[1])
            stays = next((at for at in inside if (temperature(phase, at) or 0.0) <= celsius), phase.span[1])
    return stays


def _of_strain(caution: str) -> bool:
    return isinstance(caution, Said) and caution.template == STRAINED


def _curve(phases: Iterable[PhaseSpan]) -> Curve:
    """The phases as the thermal model has them, for what they cost."""
    return Curve(
        pieces=tuple(
            CurvePiece(
                phase=phase.kind,
                starts_min=phase.span[0],
                ends_min=phase.span[1],
                from_c=phase.from_c,
                to_c=phase.to_c,
                toward_c=phase.toward_c,
                tau_min=phase.tau_min,
            )
            for phase in phases
            if phase.from_c is not None and phase.to_c is not None and phase.kind in HEATED
        )
    )


HEATED = frozenset({Phase.HEAT_UP, Phase.HOLDING, Phase.SOAK, Phase.ANNEALING, Phase.COOLING})
