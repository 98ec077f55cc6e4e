"""Rows to engine records and back: the only bridge between the database and the engine."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from django.utils import timezone

from scheduling.claimed import Claimed, claimed_at
from scheduling.engine.clock import (
    ceil_minutes,
    day_span,
    floor_minutes,
    local,
    moment,
    whole_day,
    whole_days,
)
from scheduling.engine.latest_end import over_by
from scheduling.engine.records import (
    ELSEWHERE,
    Apparatus,
    Ask,
    Duty,
    Engagement,
    FiringAsk,
    FiringRecord,
    Kind,
    Lot,
    StudioRecord,
    SupplyRecord,
    Use,
)
from scheduling.engine.spans import Span, intersect, subtract, union
from scheduling.engine.world import World
from scheduling.errors import InvalidInput
from scheduling.models import BusySpan, Course, Firing, Load, PersonSpan
from scheduling.stored import pots_of, stores_of
from studios.models import Equipment, GlassType, Person, StaffedHours, Studio, Supply, Travel
from studios.models.equipment import SupplyKind
from studios.models.places import WeeklyHours
from studios.said import said
from studios.thermal import Body, Glass, Piece, Recipe, Shape

DAY = 24 * 60
BEFORE_MIN, AFTER_MIN = 10 * DAY, 45 * DAY
FIRST_YEAR, LAST_YEAR = 2000, 2200


def require_reachable(moment_asked: dt.datetime) -> None:
    """A book of bookings goes so far and no further. Raises InvalidInput."""
    if not FIRST_YEAR <= moment_asked.year <= LAST_YEAR:
        raise InvalidInput(
            field="starts_at",
            problem=said(
                "The book goes from {first_year} to {last_year}; choose a time in it.",
                first_year=FIRST_YEAR,
                last_year=LAST_YEAR,
            ),
        )


def horizon_around(first: dt.datetime, last: dt.datetime | None = None) -> Span:
    """What must be known to place a start between two moments: long firings before, long waits after."""
    for asked in (first, last or first):
        require_reachable(asked)
    return floor_minutes(first) - BEFORE_MIN, ceil_minutes(last or first) + AFTER_MIN


def load_world(
    studios: Iterable[Studio],
    horizon: Span,
    people: Iterable[Person] = (),
    now: dt.datetime | None = None,
    *,
    without: Collection[int] = (),
) -> World:
    """All that exists and is taken at these studios within the horizon, in a fixed number of queries.

    Occupancies in `without`, by their keys, are as if they were given back.
    """
    found, persons = set_up({studio.pk for studio in studios}, horizon), list(people)
    claimed = claimed_at(found.apparatus, *horizon, without=without)
    return World(
        now=ceil_minutes(now or timezone.now()),
        horizon=horizon,
        studios=found.studios,
        apparatus=found.apparatus,
        taken={key: tuple(each.claim for each in every) for key, every in claimed.items()},
        supplies=supplies_of(found.supplies, claimed),
        people=engagements(persons, horizon),
        names={person.pk: person.name for person in persons},
        travel=found.travel,
        stores=stores_of(found.supplies, horizon[0]),
        pots=pots_of(found.apparatus.values(), horizon[0]),
    )


@dataclass(frozen=True, kw_only=True)
class SetUp:
    """What exists at some studios, without what is taken there."""

    studios: Mapping[int, StudioRecord]
    apparatus: Mapping[int, Apparatus]
    supplies: Sequence[Supply]
    travel: Mapping[tuple[int, int], int]
    equipment: Mapping[int, Equipment]


def set_up(studio_ids: Iterable[int], horizon: Span) -> SetUp:
    """Read what exists at some studios, with the hours that somebody is there within a horizon."""
    wanted = Studio.objects.prefetch_related("staffed_hours", "closures", "own_processes", "seasons")
    studios = wanted.in_bulk(sorted(studio_ids))
    supplies = Supply.objects.filter(studio__in=studios).in_bulk()
    equipment = _equipment(studios, supplies)
    return SetUp(
        studios={key: _studio(row, horizon) for key, row in studios.items()},
        apparatus={key: apparatus_of(row, horizon) for key, row in equipment.items()},
        supplies=list(supplies.values()),
        travel={(t.origin_id, t.destination_id): t.minutes for t in Travel.objects.all()},
        equipment=equipment,
    )


def _studio(row: Studio, horizon: Span) -> StudioRecord:
    hours = list(row.staffed_hours.all())
    by_duty = {
        Duty.PRESENT: hours,
        Duty.LIGHT: [h for h in hours if h.may_light],
        Duty.LOAD: [h for h in hours if h.may_load],
        Duty.UNLOAD: [h for h in hours if h.may_unload],
        Duty.CHARGE: [h for h in hours if h.may_charge],
    }
    return StudioRecord(
        id=row.pk,
        name=row.name,
        zone=row.zone,
        fahrenheit=row.temperature_unit == Studio.TemperatureUnit.FAHRENHEIT,
        notice_min=row.notice_min,
        electric_unattended=row.electric_unattended,
        hold_gap_min=row.hold_gap_min,
        policy=row.as_policy(),
        staffed=_staffed(row, by_duty, horizon),
        over_by=over_by(row.latest_end, row.zone, horizon),
    )


def bench_spans(studio: Studio, horizon: Span) -> tuple[Span, ...]:
    """Open bench time: its weekly hours, as far as the studio's latest end allows."""
    hours = weekly_spans(studio, studio.bench_hours.all(), horizon)
    latest = over_by(studio.latest_end, studio.zone, horizon)
    return intersect(hours, latest) if latest else hours


def _staffed(
    row: Studio, by_duty: Mapping[Duty, list[StaffedHours]], horizon: Span
) -> dict[Duty, tuple[Span, ...]]:
    """The hours of each duty; where the same hours serve for several, they are laid out once."""
    laid: dict[tuple[int, ...], tuple[Span, ...]] = {}
    for chosen in by_duty.values():
        key = tuple(stretch.pk for stretch in chosen)
        if key not in laid:
            laid[key] = weekly_spans(row, chosen, horizon)
    return {duty: laid[tuple(stretch.pk for stretch in chosen)] for duty, chosen in by_duty.items()}


def weekly_spans(studio: Studio, hours: Iterable[WeeklyHours], horizon: Span) -> tuple[Span, ...]:
    """Weekly hours by the studio's wall clock as spans, the days of its closures taken out."""
    zone, by_weekday = studio.zone, defaultdict(list)
    for stretch in hours:
        by_weekday[stretch.weekday].append(stretch)
    opened = [
        day_span(day, stretch.opens, stretch.closes, zone, whole)
        for day, whole in whole_days(*horizon, zone)
        for stretch in by_weekday[day.weekday()]
    ]
    closed = [
        (
            whole_day(closure.first_day, zone)[0],
            whole_day(closure.last_day, zone)[1],
        )
        for closure in studio.closures.all()
    ]
    return subtract(union(opened), closed)


def _equipment(studios: Mapping[int, Studio], supplies: Mapping[int, Supply]) -> dict[int, Equipment]:
    """The equipment of some studios; no row of a studio or a supply is read a second time."""
    wanted = Equipment.objects.filter(studio__in=studios)
    found = wanted.prefetch_related("thermal_records", "draws").in_bulk()
    for row in found.values():
        row.studio = studios[row.studio_id]
        for draw in row.draws.all():
            draw.supply = supplies[draw.supply_id]
    return found


def apparatus_of(row: Equipment, horizon: Span) -> Apparatus:
    """One piece of equipment with the thermal records in force within a horizon."""
    return Apparatus(
        id=row.pk,
        studio_id=row.studio_id,
        active=row.active,
        kind=Kind(row.kind),
        name=row.name,
        number=row.number,
        places=row.places,
        station_id=row.station_id,
        bodies=_bodies(row, horizon),
        gas_fired=row.gas_fired,
        working_c=row.working_c,
        touch_c=row.touch_c,
        prepare_min=row.prepare_min,
        clear_min=row.clear_min,
        capacity_cm2=row.capacity_cm2,
        controller_segments=row.controller_segments,
        draws=tuple((draw.supply_id, draw.amount) for draw in row.draws.all()),
        breakers=frozenset(
            draw.supply_id for draw in row.draws.all() if draw.supply.kind == SupplyKind.ELECTRICITY
        ),
        longest_wait_min=row.longest_wait_min if row.kind == Kind.KILN else 0,
        lighting_kwh=row.lighting_kwh,
        room_id=row.room_id,
    )


def _bodies(row: Equipment, horizon: Span) -> tuple[tuple[int, Body], ...]:
    """Each record with the midnight from which it is in force; another season begins another record."""
    first, zone = local(horizon[0], row.studio.zone).date(), row.studio.zone
    last = local(horizon[1], zone).date()
    begins = {record.valid_from for record in row.thermal_records.all()}
    begins |= {
        season.begins_in(year)
        for season in row.studio.seasons.all()
        for year in range(first.year, last.year + 1)
    }
    days = [first, *sorted(day for day in begins if first < day <= last)]
    bodies = ((whole_day(day, zone)[0], row.body_on(day)) for day in days)
    return tuple((since, body) for since, body in bodies if body is not None)


def firing_record(row: Firing, lots: tuple[Lot, ...]) -> FiringRecord:
    """A firing as the engine sees it."""
    return FiringRecord(
        id=row.pk,
        recipe=Recipe(row.recipe),
        lots=lots,
        ready=floor_minutes(row.at_hold_at),
        last_in=floor_minutes(row.last_in_at),
    )


def lot_of_load(row: Load) -> Lot:
    """A load as the engine sees it."""
    return Lot(
        piece=_piece(row),
        footprint_cm2=row.footprint_cm2,
        in_from=floor_minutes(row.in_from),
        in_until=ceil_minutes(row.in_until),
        held_by=_held_by(row),
    )


def _held_by(row: Load) -> str:
    """What a load belongs to, as a refusal names it."""
    if row.session is not None:
        return row.session.course.name
    return row.job.title if row.job is not None else said("a load")


def _piece(row: Course | Load) -> Piece:
    return Piece(
        glass=glass_of(row.glass),
        shape=Shape(row.shape),
        thickness_mm=row.thickness_mm,
        foot_mm=row.foot_mm,
    )


def glass_of(row: GlassType) -> Glass:
    """A glass as the thermal model sees it."""
    return row.as_thermal()


def supplies_of(
    supplies: Iterable[Supply], claimed: Mapping[int, Sequence[Claimed]]
) -> dict[int, SupplyRecord]:
    """Supplies with all that claims draw from them."""
    uses: dict[int, list[Use]] = defaultdict(list)
    for every in claimed.values():
        for each in every:
            for supply_id, use in each.draws:
                uses[supply_id].append(use)
    return {
        supply.pk: SupplyRecord(
            id=supply.pk, name=supply.name, unit=supply.unit, limit=supply.limit, uses=uses[supply.pk]
        )
        for supply in supplies
    }


def engagements(persons: Iterable[Person], horizon: Span) -> dict[int, tuple[Engagement, ...]]:
    """What people have promised already, wherever it is, and the hours that their own calendars have."""
    found: dict[int, list[Engagement]] = defaultdict(list)
    keys = [person.pk for person in persons]
    for key, engagement in (*_promised(keys, horizon), *_elsewhere(keys, horizon)):
        found[key].append(engagement)
    return {key: tuple(sorted(every, key=_in_time)) for key, every in found.items()}


def _in_time(engagement: Engagement) -> tuple[int, bool]:
    """In order of time; of two that begin together, the one that can be named."""
    return engagement.span[0], engagement.elsewhere


def _promised(people: Sequence[int], horizon: Span) -> Iterator[tuple[int, Engagement]]:
    rows = PersonSpan.objects.filter(
        person__in=people, ends_at__gt=moment(horizon[0]), starts_at__lt=moment(horizon[1])
    ).values_list(
        "person_id",
        "starts_at",
        "ends_at",
        "studio_id",
        "studio__name",
        "session__course__name",
        "seat__session__course__name",
    )
    for person, since, until, studio_id, studio, taught, attended in rows:
        yield (
            person,
            Engagement(
                span=(floor_minutes(since), ceil_minutes(until)),
                studio_id=studio_id,
                studio=studio,
                what=taught or attended or said("bench time"),
            ),
        )


def _elsewhere(people: Sequence[int], horizon: Span) -> Iterator[tuple[int, Engagement]]:
    """The hours of other calendars; of several that overlap, all their hours once."""
    rows = BusySpan.objects.filter(
        person__in=people, ends_at__gt=moment(horizon[0]), starts_at__lt=moment(horizon[1])
    )
    spans: dict[int, list[Span]] = defaultdict(list)
    for person, since, until in rows.order_by().values_list("person_id", "starts_at", "ends_at"):
        spans[person].append((floor_minutes(since), ceil_minutes(until)))
    for person, every in spans.items():
        for span in union(every):
            yield person, Engagement(span=span, studio_id=ELSEWHERE, studio="", what="")


def ask_of(course: Course, studio: Studio, instructor: Person, assistants: Iterable[Person] = ()) -> Ask:
    """What a class of a course needs at a studio, whoever teaches it; `assistants` are those who could."""
    needs = [(Kind(need.kind), need.count) for need in course.needs.all()]
    if Kind.GLORY_HOLE in dict(needs):
        # A glory hole brings its own bench and pipe warmer.
        needs = [need for need in needs if need[0] not in {Kind.BENCH, Kind.PIPE_WARMER}]
    # A class at the torches has no more seats than the torches that it holds.
    seats = min(course.seats, dict(needs).get(Kind.TORCH, course.seats))
    piece = _piece(course)
    return Ask(
        title=course.name,
        studio_id=studio.pk,
        teach_min=course.minutes,
        setup_min=course.setup_min,
        cleanup_min=course.cleanup_min,
        person_id=instructor.pk,
        stations=tuple(need for need in needs if need[0] not in {Kind.ANNEALER, Kind.KILN}),
        glass_kg=course.glass_kg_per_seat * seats,
        people=seats + 1 + course.assistants,
        assistants=course.assistants,
        assistant_ids=tuple(person.pk for person in assistants),
        firings=tuple(
            FiringAsk(
                kind=kind,
                recipe=Recipe.ANNEAL if kind is Kind.ANNEALER else Recipe(course.recipe),
                piece=piece,
                footprint_cm2=seats * course.pieces_per_seat * course.piece_footprint_cm2,
            )
            for kind, _ in needs
            if kind in {Kind.ANNEALER, Kind.KILN}
        ),
    )
