"""From a log to the record that is offered: the stretches, one range and two, and what must be confirmed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from studios.calibration.cooling import Room, Search, check_cooling, find_coolings
from studios.calibration.errors import (
    ControlledCooling,
    DoorOpened,
    FitError,
    MarkedTwice,
    NothingToFit,
    TimeConstantsDisagree,
    TooNoisy,
    TooShort,
)
from studios.calibration.fit import Data, Fit, data_of, fit, has_two_ranges
from studios.calibration.heating import bend_of, check_heating, find_heatings
from studios.calibration.judge import LARGEST_ERROR_SHARE, Record, judge
from studios.calibration.log import Log
from studios.calibration.shape import noise_k
from studios.calibration.stretches import Kind, Mark, Stretch, marked
from studios.said import said
from studios.thermal.errors import DoorBelowAmbient, require_range

BELOW_AMBIENT_K = 3.0
MOST_NOISE_K = 15.0
TAUS_DIFFER = 0.25
QUICKER = 0.25
SLOWER = 2.0
_GRAVEST = (DoorOpened, ControlledCooling, TooShort)


@dataclass(frozen=True, kw_only=True)
class Calibration:
    """What a log says of a piece of equipment, for a person to accept.

    `two_range` is there wherever the cooling goes far enough above and below the split. `offered` is one
    range while its error in the time to the door is at most 5 %, else the one of the two that errs less.
    `warnings` must be confirmed by the person before the offered record is accepted. `log_warnings` are those
    of the log itself, whichever fit is accepted: in a room said to be warmer than it was, every τ comes out
    too short, and the record says 'open' early in the real one.
    """

    one_range: Fit
    two_range: Fit | None
    offered: Fit
    stretches: tuple[Stretch, ...]
    notices: tuple[str, ...]
    log_warnings: tuple[str, ...] = ()

    @property
    def warnings(self) -> tuple[str, ...]:
        return (*warnings_of(self.offered), *self.log_warnings)

    @property
    def needs_confirmation(self) -> bool:
        return bool(self.warnings)


def calibrate(
    log: Log,
    *,
    ambient_c: float,
    door_c: float,
    split_c: float = 200.0,
    stretches: Sequence[Mark] | None = None,
) -> Calibration:
    """Fit a record to a log: τ from a cooling with the heating off, T∞ and τ from a heating at full power.

    The stretches are found, or marked by the person, at most one of each kind. Raises a leaf of FitError
    with the reason where no fit holds; OutOfRange or DoorBelowAmbient for what the person gave.
    """
    room = _room(ambient_c, door_c, split_c)
    _require_quiet(log)
    if stretches:
        told: tuple[str, ...] = ()
        cooling, heating = _marked(log, stretches, room)
    else:
        cooling, heating, told = _found(log, room)
    data = data_of(log, cooling, heating)
    one = fit(data, ambient_c=ambient_c, split_c=split_c, two_ranges=False)
    one = _judged(log, one, cooling, door_c)
    two = _two_ranges(log, data, room, split_c)
    colder = tuple(_colder(log, room))
    return Calibration(
        one_range=one,
        two_range=two,
        offered=_offered(one, two),
        stretches=tuple(each for each in (cooling, heating) if each is not None),
        notices=(*log.notices, *told, *colder, *_doubts(data, one)),
        log_warnings=colder,
    )


def warnings_of(record: Fit) -> tuple[str, ...]:
    """What nobody may accept silently: not judged, judged above the door, far off, or 'open' too early."""
    judged = record.judgement
    if judged is None:
        return (said("The log has no cooling with the heating off: the time to the door is not checked."),)
    grave = judged.says_open_early or not judged.holds or not judged.reaches_door
    return (judged.sentence,) if grave else ()


def _room(ambient_c: float, door_c: float, split_c: float) -> Room:
    require_range("ambient_c", ambient_c, -40.0, 60.0)
    require_range("door_c", door_c, -40.0, 1000.0)
    require_range("split_c", split_c, 0.0, 1000.0)
    if door_c <= ambient_c:
        raise DoorBelowAmbient(field="door_c", target_c=door_c, ambient_c=ambient_c)
    return Room(ambient_c=ambient_c, door_c=door_c)


def _require_quiet(log: Log) -> None:
    jumps_k = noise_k(np.array(log.minutes), np.array(log.temps_c))
    if jumps_k > MOST_NOISE_K:
        raise TooNoisy(field="log", noise_k=jumps_k, limit_k=MOST_NOISE_K)


def _marked(log: Log, marks: Sequence[Mark], room: Room) -> tuple[Stretch | None, Stretch | None]:
    by_kind = {Kind(mark.kind): marked(log, mark) for mark in marks}
    if len(by_kind) < len(marks):
        raise MarkedTwice(field="stretches")
    cooling, heating = by_kind.get(Kind.COOLING), by_kind.get(Kind.FULL_POWER)
    return (
        None if cooling is None else check_cooling(log, cooling, room),
        None if heating is None else check_heating(log, heating),
    )


def _found(log: Log, room: Room) -> tuple[Stretch | None, Stretch | None, tuple[str, ...]]:
    coolings, heatings = find_coolings(log, room), find_heatings(log)
    opened = any(isinstance(each, DoorOpened) for each in coolings.refusals)
    if not coolings.stretches and (opened or not heatings.stretches):
        raise _gravest(coolings, heatings)
    cooling = next(iter(coolings.stretches), None)
    heatings = _agreeing(log, heatings, cooling, room)
    heating = next(iter(heatings.stretches), None)
    return cooling, heating, tuple(_left_out(coolings, heatings))


def _agreeing(log: Log, heatings: Search, cooling: Stretch | None, room: Room) -> Search:
    """Only heatings whose own time constant may be that of the body that cooled.

    Heating from cold warms the hot face first, so it may look several times as quick, never much slower.
    """
    if cooling is None:
        return heatings
    alone = data_of(log, cooling, None)
    cooling_h = fit(alone, ambient_c=room.ambient_c, split_c=0.0, two_ranges=False).tau_h
    disagree = {each: _disagreement(log, each, cooling_h) for each in heatings.stretches}
    return Search(
        stretches=tuple(each for each, why in disagree.items() if why is None),
        refusals=(*heatings.refusals, *(why for why in disagree.values() if why is not None)),
    )


def _disagreement(log: Log, heating: Stretch, cooling_h: float) -> TimeConstantsDisagree | None:
    heating_h = own_tau_h(data_of(log, None, heating))
    if QUICKER * cooling_h <= heating_h <= SLOWER * cooling_h:
        return None
    span = {"field": "stretches", "from_min": heating.from_min, "to_min": heating.to_min}
    return TimeConstantsDisagree(**span, heating_h=heating_h, cooling_h=cooling_h)


def own_tau_h(data: Data) -> float:
    """The time constant that a heating gives without its cooling."""
    return float(data.heating_h[-1]) / bend_of(data.heating_h, data.heating_c).constants


def _gravest(coolings: Search, heatings: Search) -> FitError:
    """The reason that tells most: an opened door, a controlled cooling, too short, then the heating."""
    refused = sorted(coolings.refusals, key=_length_min, reverse=True)
    for kind in _GRAVEST:
        for each in refused:
            if isinstance(each, kind):
                return each
    heated = sorted(heatings.refusals, key=_length_min, reverse=True)
    return next(iter([*refused, *heated]), NothingToFit(field="log"))


def _length_min(refusal: FitError) -> float:
    ends, starts = refusal.facts.get("to_min"), refusal.facts.get("from_min")
    return ends - starts if isinstance(ends, float) and isinstance(starts, float) else 0.0


def _left_out(coolings: Search, heatings: Search) -> Iterator[str]:
    for refusal in coolings.refusals:
        if isinstance(refusal, DoorOpened):
            yield said("A cooling is left out. {why}", why=refusal.said)
    if len(coolings.stretches) > 1:
        yield said("The log has more than one free cooling; the one that falls furthest is used.")
    if not heatings.stretches:
        longest = max(heatings.refusals, key=_length_min, default=None)
        why = longest.said if longest else said("The log has no heating.")
        yield said("No ceiling is found. {why}", why=why)


def _judged(log: Log, record: Fit, cooling: Stretch | None, door_c: float) -> Fit:
    if cooling is None:
        return record
    rules = Record(
        tau_h=record.tau_h,
        tau_low_h=record.tau_low_h,
        split_c=record.split_c,
        ambient_c=record.ambient_c,
    )
    return replace(record, judgement=judge(log, cooling, rules, door_c=door_c))


def _two_ranges(log: Log, data: Data, room: Room, split_c: float) -> Fit | None:
    if not has_two_ranges(data, ambient_c=room.ambient_c, split_c=split_c):
        return None
    two = fit(data, ambient_c=room.ambient_c, split_c=split_c, two_ranges=True)
    return _judged(log, two, data.cooling, room.door_c)


def _offered(one: Fit, two: Fit | None) -> Fit:
    if one.judgement is None or two is None or two.judgement is None or one.judgement.holds:
        return one
    return two if two.judgement.error_share < one.judgement.error_share else one


def _colder(log: Log, room: Room) -> Iterator[str]:
    """Nothing cools below the room it stands in."""
    coldest_c = float(np.percentile(log.temps_c, 2))
    if coldest_c < room.ambient_c - BELOW_AMBIENT_K:
        yield said(
            "The log goes down to {coldest_c:.0f} °C, below ambient ({ambient_c:g} °C): check it.",
            coldest_c=coldest_c,
            ambient_c=room.ambient_c,
        )


def _doubts(data: Data, one: Fit) -> Iterator[str]:
    if one.judgement is not None and not one.judgement.holds:
        yield said(
            "One τ errs by more than {share:.0%}. {sentence}",
            share=LARGEST_ERROR_SHARE,
            sentence=one.judgement.sentence,
        )
    if data.cooling is None or data.heating is None:
        return
    own_h = own_tau_h(data)
    if abs(own_h / one.tau_h - 1) > TAUS_DIFFER:
        yield said(
            "By itself the heating gives a time constant of {own_h:.1f} h, both together {both_h:.1f} h: "
            "check that it was at full power.",
            own_h=own_h,
            both_h=one.tau_h,
        )
