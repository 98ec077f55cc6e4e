"""Who tries every address, and what stands there to be reached for."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import cached_property

import time_machine
from rest_framework.authtoken.models import Token

from scheduling.models import (
    About,
    Actual,
    Charge,
    Collection,
    EarlierCourse,
    FeedKey,
    Firing,
    Message,
    OtherCalendar,
    Outage,
    Refill,
    Seat,
    Series,
    Session,
    Tick,
    WaitingPlace,
)
from scheduling.selectors.duties import duties_on
from scheduling.services.actuals import record_actual
from scheduling.services.booking import book_session
from scheduling.services.calibrating import fit_log
from scheduling.services.charges import Measured, book_charge, measure_pot
from scheduling.services.earlier import vouch
from scheduling.services.in_line import join_line
from scheduling.services.keeping import keep_seat
from scheduling.services.messages import tell
from scheduling.services.payments import mark_paid
from scheduling.services.pick_up import unload
from scheduling.services.refills import record_refill
from scheduling.services.safety import acknowledge
from scheduling.services.seats import cancel_seat, reserve_bench_torch, reserve_class_seat
from scheduling.services.series import book_series
from scheduling.services.ticks import tick_duty
from studios.models import (
    Acknowledgement,
    Calibration,
    EquipmentKind,
    Membership,
    Person,
    Pot,
    Role,
    SafetyText,
    Studio,
    Supply,
    Term,
)
from tests.logs import cooling_log
from tests.worlds import Town, local, sign_off

KINDS = EquipmentKind.values
STUDIOS = ("flame", "hot-shop")
MONDAY_NINE = local(0, 9)
TUESDAY_BEFORE = local(-6, 0).date()


@dataclass
class Cast:
    """The town with somebody in each role at each studio alone, and with things to be reached for.

    The things stand at the flame studio, unless they are of the furnace. They are made when they are asked
    for, and belong to nobody of those who try.
    """

    town: Town

    @cached_property
    def tries(self) -> dict[tuple[str, str], Person]:
        """Somebody for each role and studio, signed off for everything there, so that the role decides."""
        return {(role, slug): self._somebody(role, slug) for role in Role.values for slug in STUDIOS}

    def _somebody(self, role: str, slug: str) -> Person:
        email = f"{role}@{slug}.example"
        person = Person.objects.create_user(email, "glass", name=f"Trying {role.title()}")
        studio = self.studio(slug)
        Membership.objects.create(person=person, studio=studio, role=role)
        sign_off(person, studio, KINDS)
        return person

    def studio(self, slug: str) -> Studio:
        return {"flame": self.town.flame, "hot-shop": self.town.hot_shop}[slug]

    def own_studio(self, person: Person) -> Studio:
        return person.memberships.get().studio

    @cached_property
    def annex(self) -> Studio:
        """A studio to which nobody belongs yet."""
        return Studio.objects.create(name="Annex", slug="annex", time_zone="America/Chicago")

    @cached_property
    def seated(self) -> Person:
        """A student of the flame studio alone, whose name is for the staff there."""
        person = Person.objects.create_user("seated@town.example", "glass", name="Seated Somebody")
        Membership.objects.create(person=person, studio=self.town.flame, role=Role.STUDENT)
        sign_off(person, self.town.flame, KINDS)
        return person

    def a_class(self, studio: Studio, instructor: Person, day: int = 1) -> Session:
        course = self.town.courses["beads" if studio == self.town.flame else "blowing"]
        return book_session(
            actor=instructor, course=course, studio=studio, instructor=instructor, starts_at=local(day, 18)
        )

    @cached_property
    def session(self) -> Session:
        return self.a_class(self.town.flame, self.town.instructor)

    @cached_property
    def seat(self) -> Seat:
        return reserve_class_seat(actor=self.seated, session=self.session)

    @cached_property
    def kept(self) -> Seat:
        return keep_seat(actor=self.seated, session=self.session)

    @cached_property
    def safety_text(self) -> SafetyText:
        return SafetyText.objects.create(
            studio=self.town.flame, version=1, body="Tie long hair back.", since=local(0, 8)
        )

    @cached_property
    def earlier(self) -> EarlierCourse:
        beads = self.town.courses["beads"]
        self.town.courses["boro"].requires.add(beads)
        return vouch(actor=self.town.manager, studio=self.town.flame, person=self.seated, course=beads)

    @cached_property
    def bench(self) -> Seat:
        torch = self.town.torches[0]
        return reserve_bench_torch(
            actor=self.seated, torch=torch, starts_at=local(2, 12), ends_at=local(2, 14)
        )

    @cached_property
    def series(self) -> Series:
        return self.a_series(self.town.instructor)

    def a_series(self, instructor: Person) -> Series:
        return book_series(
            actor=instructor,
            course=self.town.courses["beads"],
            studio=self.town.flame,
            instructor=instructor,
            days=[dt.date(2031, 3, 6)],
            time=dt.time(18),
        )

    @cached_property
    def calibration(self) -> Calibration:
        annealer = self.town.equipment["small annealer"]
        return fit_log(
            actor=self.town.technician, equipment=annealer, log=cooling_log(2.0), file_name="night.csv"
        )

    @cached_property
    def outage(self) -> Outage:
        hours = {"starts_at": local(1, 9), "ends_at": local(1, 10)}
        return Outage.objects.create(equipment=self.town.equipment["saw"], reason="a new belt", **hours)

    @cached_property
    def torch_outage(self) -> Outage:
        """It breaks bench time that was reserved before."""
        assert self.bench.torch is not None
        hours = {"starts_at": local(2, 11), "ends_at": local(2, 13)}
        return Outage.objects.create(equipment=self.bench.torch, reason="a new hose", **hours)

    @cached_property
    def furnace_outage(self) -> Outage:
        hours = {"starts_at": local(6, 9), "ends_at": local(6, 10)}
        return Outage.objects.create(equipment=self.pot.furnace, reason="a new burner", **hours)

    @cached_property
    def running_outage(self) -> Outage:
        hours = {"starts_at": local(0, 8), "ends_at": local(0, 12)}
        return Outage.objects.create(equipment=self.town.equipment["saw"], reason="a new belt", **hours)

    @cached_property
    def oxygen(self) -> Supply:
        supply = self.town.supplies["oxygen"]
        supply.content = 9000
        supply.save()
        return supply

    @cached_property
    def refill(self) -> Refill:
        return record_refill(actor=self.town.technician, supply=self.oxygen, at=local(0, 8))

    @cached_property
    def planned(self) -> Refill:
        return record_refill(actor=self.town.technician, supply=self.oxygen, at=local(5, 8))

    @cached_property
    def pot(self) -> Pot:
        return Pot.objects.create(furnace=self.town.equipment["furnace"], capacity_kg=100, floor_kg=40)

    @cached_property
    def charge(self) -> Charge:
        return book_charge(actor=self.town.technician, furnace=self.pot.furnace, starts_at=local(3, 8))

    @cached_property
    def level(self) -> Measured:
        actor, furnace = self.town.technician, self.pot.furnace
        return measure_pot(actor=actor, furnace=furnace, at=local(0, 8), level_kg=70)

    @cached_property
    def fired(self) -> Firing:
        """A class of the evening before, with its pieces in the annealer."""
        with time_machine.travel(local(-7, 9), tick=False):
            session = self.a_class(self.town.flame, self.town.instructor, day=-6)
            reserve_class_seat(actor=self.seated, session=session)
        return session.loads.get().firing

    @cached_property
    def actual(self) -> Actual:
        return record_actual(
            actor=self.town.technician, firing=self.fired, kind="temperature", at=local(-5, 6), read_c=60.0
        ).actual

    @cached_property
    def tick(self) -> Tick:
        """The annealer of the evening before was switched on."""
        assert self.fired.pk
        lit, *_ = duties_on(self.town.flame, TUESDAY_BEFORE)
        return tick_duty(
            actor=self.town.technician, studio=self.town.flame, day=TUESDAY_BEFORE, duties=lit.keys
        ).ticks[0]

    @cached_property
    def collection(self) -> Collection:
        shelves = dict.fromkeys(self.fired.loads.all(), "shelf 9")
        unload(actor=self.town.technician, firing=self.fired, shelves=shelves, at=local(-5, 12))
        return Collection.objects.get()

    @cached_property
    def message(self) -> Message:
        return tell(person=self.seated, subject="Word for somebody seated", body="Hidden.")

    @cached_property
    def feed_key(self) -> FeedKey:
        return FeedKey.objects.create(person=self.seated, label="phone")

    @cached_property
    def other_calendar(self) -> OtherCalendar:
        return self.own_calendar(self.seated)

    @cached_property
    def term(self) -> Term:
        return Term.objects.create(
            studio=self.town.flame, name="Spring", first_day=local(0, 0).date(), last_day=local(60, 0).date()
        )

    def link_about(self, person: Person, about: About) -> FeedKey:
        """A link of whoever tries to the flame studio, as if their role had been ended since."""
        owner = self._owner(person)
        return FeedKey.objects.create(person=owner, label="flame", about=about, studio=self.town.flame)

    def link_to_kiln(self, person: Person) -> FeedKey:
        kiln = self.town.equipment["kiln"]
        owner = self._owner(person)
        return FeedKey.objects.create(person=owner, label="kiln", about=About.EQUIPMENT, equipment=kiln)

    def _owner(self, person: Person) -> Person:
        """Whoever is not signed in has no role anywhere."""
        return self.town.stranger if person == self.seated else person

    @cached_property
    def membership(self) -> Membership:
        return Membership.objects.get(person=self.seated)

    def own_seat(self, person: Person) -> Seat:
        """A seat of whoever tries, at the own studio."""
        session = self.a_class(self.own_studio(person), self.town.other_instructor, day=4)
        return reserve_class_seat(actor=person, session=session)

    def own_kept(self, person: Person) -> Seat:
        """A seat that is kept for whoever tries, at the own studio."""
        session = self.a_class(self.own_studio(person), self.town.other_instructor, day=4)
        return keep_seat(actor=person, session=session)

    def own_reading(self, person: Person) -> Acknowledgement:
        """A text that whoever tries has read, at the own studio."""
        text, _ = SafetyText.objects.get_or_create(
            studio=self.own_studio(person), version=1, defaults={"body": "Tie long hair back."}
        )
        return acknowledge(person=person, studio=text.studio, on_day=local(1, 0).date(), version=1)

    @cached_property
    def full(self) -> Session:
        """A class of one seat, which somebody has."""
        session = self.one_seat(self.town.flame)
        reserve_class_seat(actor=self.town.other_student, session=session)
        return session

    def one_seat(self, studio: Studio) -> Session:
        session = self.a_class(studio, self.town.other_instructor, day=5)
        Session.objects.filter(pk=session.pk).update(seats=1)
        return session

    @cached_property
    def place(self) -> WaitingPlace:
        return join_line(actor=self.seated, session=self.full)

    @cached_property
    def offer(self) -> WaitingPlace:
        return self.offered(self.place)

    def offered(self, place: WaitingPlace) -> WaitingPlace:
        """Whoever sat there gives the seat back."""
        seat = Seat.objects.get(session=place.session, status="booked")
        cancel_seat(actor=seat.person, seat=seat)
        return place

    def own_place(self, person: Person) -> WaitingPlace:
        """A place in a line, of whoever tries, at the own studio."""
        session = self.one_seat(self.own_studio(person))
        reserve_class_seat(actor=self.town.student, session=session)
        return join_line(actor=person, session=session)

    @cached_property
    def priced(self) -> Seat:
        Seat.objects.filter(pk=self.seat.pk).update(price=40)
        return self.seat

    @cached_property
    def paid(self) -> Seat:
        return mark_paid(actor=self.town.manager, seat=self.priced)

    @cached_property
    def paid_and_given_back(self) -> Seat:
        return cancel_seat(actor=self.seated, seat=self.paid)

    def own_link(self, person: Person) -> FeedKey:
        return FeedKey.objects.create(person=person, label="own")

    def own_calendar(self, person: Person) -> OtherCalendar:
        """A calendar that whoever tries keeps elsewhere, or kept as an instructor."""
        return OtherCalendar.objects.create(
            person=person, label="home", link="https://calendars.example/a.ics"
        )

    def own_class(self, person: Person) -> Session:
        """A class of whoever tries where that is an instructor there, else somebody else's."""
        teaches = person.memberships.filter(studio=self.town.flame, role=Role.INSTRUCTOR).exists()
        return self.a_class(self.town.flame, person if teaches else self.town.other_instructor, day=4)

    def own_series(self, person: Person) -> Series:
        """A weekly class of whoever tries where that is an instructor there, else somebody else's."""
        teaches = person.memberships.filter(studio=self.town.flame, role=Role.INSTRUCTOR).exists()
        return self.a_series(person if teaches else self.town.other_instructor)

    def own_token(self, person: Person) -> Token:
        return Token.objects.create(user=person)
