"""What a person may see at all: the things of their studios; anything else does not exist for them."""

from __future__ import annotations

from django.db.models import Prefetch, Q, QuerySet

from scheduling.models import (
    Charge,
    Course,
    Firing,
    Load,
    Occupancy,
    Outage,
    Refill,
    Seat,
    Series,
    Session,
)
from scheduling.selectors.least import seats_booked
from scheduling.selectors.line import in_line_count
from scheduling.selectors.seats import seats_taken, standing
from studios.models import (
    Equipment,
    EquipmentKind,
    GlassType,
    Membership,
    Mould,
    Person,
    Studio,
    Supply,
)
from studios.permissions import ACTIONS
from studios.selectors import studios_of


def equipment_of(person: Person) -> QuerySet[Equipment]:
    """The equipment of the person's studios, with what it is and draws."""
    return (
        Equipment.objects.filter(studio__in=studios_of(person))
        .select_related("studio", "station", "room")
        .select_related("pot")
        .prefetch_related("thermal_records", "draws__supply")
        .order_by("studio__slug", "kind", "number", "id")
    )


def glasses_of(_person: Person) -> QuerySet[GlassType]:
    """Glasses are the same at every studio."""
    return GlassType.objects.order_by("slug")


def moulds_of(person: Person) -> QuerySet[Mould]:
    """The moulds of the person's studios, also those out of use."""
    rows = Mould.objects.filter(studio__in=studios_of(person)).select_related("studio")
    return rows.order_by("studio__slug", "name", "pk")


def torches_of(person: Person) -> QuerySet[Equipment]:
    """The torches among it."""
    return equipment_of(person).filter(kind=EquipmentKind.TORCH)


def supplies_of(person: Person) -> QuerySet[Supply]:
    """The supplies of the person's studios."""
    studios = studios_of(person)
    return (
        Supply.objects.filter(studio__in=studios)
        .select_related("studio")
        .order_by("studio__slug", "name", "id")
    )


def furnaces_of(person: Person) -> QuerySet[Equipment]:
    """The furnaces among the equipment of the person's studios."""
    return equipment_of(person).filter(kind=EquipmentKind.FURNACE)


def refills_of(person: Person) -> QuerySet[Refill]:
    """The refills of the supplies of the person's studios."""
    return (
        Refill.objects.filter(supply__studio__in=studios_of(person))
        .select_related("supply", "booking")
        .order_by("at", "id")
    )


def charges_of(person: Person) -> QuerySet[Charge]:
    """The charges of the furnaces of the person's studios."""
    return (
        Charge.objects.charges()
        .filter(furnace__studio__in=studios_of(person))
        .select_related("furnace__studio")
        .order_by("starts_at", "id")
    )


def pot_levels_of(person: Person) -> QuerySet[Charge]:
    """The levels of glass as measured, in the furnaces of the person's studios."""
    return (
        Charge.objects.measured()
        .filter(furnace__studio__in=studios_of(person))
        .select_related("furnace__studio")
        .order_by("ends_at", "id")
    )


def courses_of(person: Person) -> QuerySet[Course]:
    """The courses that one of the person's studios may hold, each with those of these studios."""
    studios = studios_of(person)
    return (
        Course.objects.filter(studios__in=studios)
        .distinct()
        .select_related("glass")
        .prefetch_related("needs", "requires", Prefetch("studios", queryset=studios.order_by("slug")))
        .order_by("slug")
    )


def sessions_of(person: Person) -> QuerySet[Session]:
    """The sessions at the person's studios, with the count of seats taken."""
    return (
        Session.objects.filter(studio__in=studios_of(person))
        .select_related("course", "studio", "instructor", "booking", "series")
        .prefetch_related(Prefetch("assistants", queryset=Person.objects.order_by("name", "id")))
        .annotate(seats_taken=seats_taken(), seats_booked=seats_booked(), waiting=in_line_count())
        .order_by("starts_at", "id")
    )


def session_details_of(person: Person) -> QuerySet[Session]:
    """As `sessions_of`, each with what it holds, its firings and its seats."""
    return sessions_of(person).prefetch_related(
        Prefetch("booking__occupancies", queryset=_whole(Occupancy.objects.all())),
        Prefetch("loads", queryset=Load.objects.select_related("firing__equipment__studio")),
        Prefetch("loads__firing__occupancy", queryset=_whole(Occupancy.objects.all())),
        Prefetch("seat_rows", queryset=_seats().filter(standing()).order_by("number")),
    )


def series_of(person: Person) -> QuerySet[Series]:
    """The weekly classes at the person's studios, each with its meetings."""
    return (
        Series.objects.filter(studio__in=studios_of(person))
        .select_related("course", "studio", "instructor")
        .prefetch_related(Prefetch("sessions", queryset=Session.objects.order_by("starts_at", "id")))
        .order_by("first_day", "id")
    )


def firings_of(person: Person) -> QuerySet[Firing]:
    """The firings at the person's studios."""
    return (
        Firing.objects.filter(equipment__studio__in=studios_of(person))
        .select_related("equipment__studio")
        .prefetch_related(
            Prefetch("loads", queryset=Load.objects.select_related("glass", "owner", "session__course")),
            Prefetch("occupancy", queryset=_whole(Occupancy.objects.all())),
        )
        .order_by("at_hold_at", "id")
    )


def occupancies_of(person: Person) -> QuerySet[Occupancy]:
    """What is held at the person's studios, with its phases."""
    held = Occupancy.objects.filter(equipment__studio__in=studios_of(person))
    return _whole(held).order_by("starts_at", "equipment_id", "place", "id")


def outages_of(person: Person) -> QuerySet[Outage]:
    """The outages at the person's studios."""
    return (
        Outage.objects.filter(equipment__studio__in=studios_of(person))
        .select_related("equipment__studio")
        .order_by("starts_at", "id")
    )


def own_seats(person: Person) -> QuerySet[Seat]:
    """Seats that a person has, or had and gave back: they stay in the calendar as called off."""
    return _seats().filter(person=person)


def seats_to_change(person: Person) -> QuerySet[Seat]:
    """The person's own seats, and those at studios where the person may reserve for others."""
    if person.is_superuser:
        return _seats()
    roles = ACTIONS["reserve-for-others"]
    keeps = Membership.objects.filter(person=person, role__in=roles).values("studio")
    return _seats().filter(Q(person=person) | Q(studio__in=keeps))


def bench_time_at(studio: Studio) -> QuerySet[Seat]:
    """Who works at which torch in open bench time, for whoever takes torches there out of use."""
    return _seats().filter(session__isnull=True, studio=studio)


def instructors_of(person: Person) -> QuerySet[Person]:
    """Everybody who teaches at one of the person's studios, and the person."""
    roles = ACTIONS["teach"]
    teaching = Membership.objects.filter(studio__in=studios_of(person), role__in=roles).values("person")
    return Person.objects.filter(Q(pk__in=teaching) | Q(pk=person.pk), is_active=True)


def fellows_of(person: Person) -> QuerySet[Person]:
    """Everybody who belongs to one of the person's studios, and the person."""
    together = Membership.objects.filter(studio__in=studios_of(person)).values("person")
    return Person.objects.filter(Q(pk__in=together) | Q(pk=person.pk), is_active=True)


def _whole(occupancies: QuerySet[Occupancy]) -> QuerySet[Occupancy]:
    return occupancies.select_related(
        "equipment__studio", "booking__session", "firing", "charge"
    ).prefetch_related("phases")


def _seats() -> QuerySet[Seat]:
    seats = Seat.objects.select_related("person", "studio", "session__course", "torch__studio")
    return seats.order_by("starts_at", "id")
