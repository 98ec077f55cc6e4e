"""What bookings are decided from is edited in the admin; what is booked is shown, and written by services."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.apps import apps
from django.contrib import admin
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from rest_framework.authtoken.models import Token, TokenProxy

from scheduling.models import (
    Actual,
    BusySpan,
    FeedCopy,
    FeedKey,
    Firing,
    KilnAnswer,
    Lease,
    Message,
    OtherCalendar,
    Outage,
    PickUp,
    RepeatedRequest,
    Series,
    Session,
    Tick,
    WaitingPlace,
)
from scheduling.services.booking import book_session
from scheduling.services.charges import book_charge
from scheduling.services.messages import tell
from scheduling.services.refills import record_refill
from scheduling.services.seats import reserve_class_seat
from studios.models import Calibration, Membership, Person, Pot, Studio, Supply
from tests.services.kiln_work import a_job
from tests.services.test_booking import book
from tests.services.test_heat import hole
from tests.worlds import Town, add_course, local

SHOWN = {
    "actual",
    "auditentry",
    "booking",
    "busyspan",
    "feedcopy",
    "calibration",
    "firing",
    "kilnanswer",
    "kilnjob",
    "lease",
    "load",
    "charge",
    "refill",
    "message",
    "occupancy",
    "occupancyphase",
    "othercalendar",
    "personspan",
    "pickup",
    "piece",
    "repeatedrequest",
    "revision",
    "seat",
    "series",
    "session",
    "supplyuse",
    "tick",
    "waitingplace",
}
ASKED_FOR = {"seat", "session"}
EDITED = {"course", "equipment", "glasstype", "outage", "person", "studio", "supply", "travel"}


@pytest.fixture
def owner(town: Town) -> Client:
    """The admin as whoever runs the server uses it, with something in every table."""
    person = Person.objects.create_superuser("owner@town.example", "glass", name="Owner")
    session = book_session(
        actor=town.instructor,
        course=town.courses["beads"],
        studio=town.flame,
        instructor=town.instructor,
        starts_at=local(1, 18).astimezone(dt.UTC),
    )
    reserve_class_seat(actor=town.student, session=session)
    WaitingPlace.objects.create(session=session, person=town.other_student)
    firing, at = Firing.objects.get(), local(0, 9)
    Actual.objects.create(firing=firing, kind="lit", at=at, recorded_by=town.technician)
    PickUp.objects.create(load=firing.loads.get(), shelf="shelf 3", ready_at=at, recorded_by=town.technician)
    Tick.objects.create(
        studio=town.flame, duty="light", said="Light it", due_at=at, ticked_by=town.technician
    )
    Lease.objects.create(name="messages", holder="a server")
    series = Series.objects.create(
        course=session.course,
        studio=session.studio,
        instructor=session.instructor,
        first_day=dt.date(2031, 3, 4),
        time=dt.time(18),
        booked_by=session.instructor,
    )
    Session.objects.update(series=series)
    Outage.objects.create(
        equipment=town.equipment["saw"], starts_at=local(1, 9), ends_at=local(1, 10), reason="new belt"
    )
    Pot.objects.create(furnace=town.equipment["furnace"], capacity_kg=100, floor_kg=40)
    book_charge(actor=town.technician, furnace=town.equipment["furnace"], starts_at=local(3, 8))
    Supply.objects.filter(name="oxygen").update(content=9000)
    oxygen = Supply.objects.get(name="oxygen")
    record_refill(actor=town.technician, supply=oxygen, at=local(0, 8))
    phone = FeedKey.objects.create(person=town.student, label="phone")
    written = {"digest": "d", "content": b"secret-link", "base": "https://book.example"}
    now = timezone.now()
    FeedCopy.objects.create(feed_key=phone, form="ics", count=1, good_until=now, changed_at=now, **written)
    elsewhere = OtherCalendar.objects.create(
        person=town.instructor, label="home", link="https://calendars.example/secret-link"
    )
    BusySpan.objects.create(
        calendar=elsewhere, person=town.instructor, starts_at=local(1, 9), ends_at=local(1, 10)
    )
    RepeatedRequest.objects.create(person=town.student, key="k", digest="d", body={"link": "secret-link"})
    Calibration.objects.create(
        equipment=town.equipment["kiln"],
        made_by=town.technician,
        file_name="night.csv",
        reading_count=12,
        ambient_c=22,
        door_c=50,
        one_range={},
        offered="one",
    )
    job = a_job(town)
    KilnAnswer.objects.create(job=job, asked_by=job.owner)
    client = Client()
    client.force_login(person)
    return client


def models_of_ours() -> dict[str, type[Any]]:
    return {
        str(model._meta.model_name): model
        for model in admin.site._registry
        if model._meta.app_label in {"studios", "scheduling"}
    }


def page(model: type[Any], name: str, *args: Any) -> str:
    return reverse(f"admin:{model._meta.app_label}_{model._meta.model_name}_{name}", args=args)


def test_every_table_is_in_the_admin_or_on_the_page_of_another() -> None:
    inline = {inline.model for shown in admin.site._registry.values() for inline in shown.inlines}
    ours = {model for label in ("studios", "scheduling") for model in apps.get_app_config(label).get_models()}
    assert ours <= inline | set(admin.site._registry)
    assert models_of_ours().keys() == SHOWN | EDITED | {"feedkey"}


@pytest.mark.parametrize("name", sorted(SHOWN | EDITED | {"feedkey"}))
def test_every_list_and_every_page_opens(owner: Client, name: str) -> None:
    model = models_of_ours()[name]
    row = model.objects.first()

    for address in (page(model, "changelist"), page(model, "change", row.pk)):
        assert owner.get(address).status_code == 200, address
    assert owner.get(page(model, "changelist"), {"q": "x"}).status_code == 200


@pytest.mark.parametrize("name", sorted(EDITED | ASKED_FOR))
def test_what_the_services_decide_from_and_what_they_book_can_be_added(owner: Client, name: str) -> None:
    assert owner.get(page(models_of_ours()[name], "add")).status_code == 200


@pytest.mark.parametrize("name", sorted(EDITED | ASKED_FOR))
def test_an_empty_form_is_answered_beside_its_fields(owner: Client, name: str) -> None:
    answer = owner.post(page(models_of_ours()[name], "add"), {"thermal_records-0-source": "x"})

    assert answer.status_code == 200
    assert "error" in answer.content.decode()


@pytest.mark.parametrize("name", sorted(SHOWN))
def test_what_the_services_write_is_not_edited_by_hand(owner: Client, name: str) -> None:
    model = models_of_ours()[name]
    row = model.objects.first()

    assert owner.get(page(model, "add")).status_code == (200 if name in ASKED_FOR else 403)
    assert owner.post(page(model, "change", row.pk), {}).status_code == 403
    assert owner.post(page(model, "delete", row.pk), {"post": "yes"}).status_code == 403
    owner.post(
        page(model, "changelist"), {"action": "delete_selected", "_selected_action": row.pk, "post": "yes"}
    )
    assert model.objects.filter(pk=row.pk).exists()


def test_rows_shown_on_another_page_are_not_edited_there_either(owner: Client) -> None:
    content = owner.get(page(Session, "change", Session.objects.get().pk)).content.decode()

    assert "Student" in content
    assert "_save" not in content
    assert 'name="seat_rows-0-number"' not in content
    assert 'name="loads-0-pieces"' not in content


def test_a_studio_is_edited_with_its_hours(owner: Client, town: Town) -> None:
    address = page(Studio, "change", town.flame.pk)
    form = form_of(owner, address)
    form["notice_min"] = "90"
    form["staffed_hours-0-closes"] = "22:00"

    assert owner.post(address, form).status_code == 302

    town.flame.refresh_from_db()
    assert town.flame.notice_min == 90
    assert dt.time(22) in {hours.closes for hours in town.flame.staffed_hours.all()}


def test_a_studio_is_given_its_address_for_mail_and_its_place_on_the_map(owner: Client, town: Town) -> None:
    address = page(Studio, "change", town.flame.pk)
    form = form_of(owner, address) | {"email": "desk@flame.example", "latitude": "41.5"}

    refused = owner.post(address, form)
    accepted = owner.post(address, form | {"longitude": "-93.25"})

    assert "Give both latitude and longitude, or neither." in refused.content.decode()
    assert accepted.status_code == 302
    town.flame.refresh_from_db()
    assert town.flame.email == "desk@flame.example"
    assert (town.flame.latitude, town.flame.longitude) == (Decimal("41.5"), Decimal("-93.25"))


def test_what_a_mail_says_and_what_a_calendar_is_told_stay_hidden(owner: Client, town: Town) -> None:
    message = tell(
        person=town.student, subject="Seat", body="between us", method="REQUEST", invitation="BEGIN:VCALENDAR"
    )

    content = owner.get(page(Message, "change", message.pk)).content.decode()

    assert "REQUEST" in content
    assert "between us" not in content
    assert "VCALENDAR" not in content


def test_the_region_of_holidays_is_checked_in_the_form(owner: Client, town: Town) -> None:
    address = page(Studio, "change", town.flame.pk)
    form = form_of(owner, address) | {"holiday_country": "DE", "holiday_region": "ENG"}

    refused = owner.post(address, form)
    accepted = owner.post(address, form | {"holiday_region": "BY"})

    assert "DE has no such region; its regions: " in refused.content.decode()
    assert accepted.status_code == 302
    town.flame.refresh_from_db()
    assert (town.flame.holiday_country, town.flame.holiday_region) == ("DE", "BY")


def form_of(client: Client, address: str) -> dict[str, Any]:
    """What the page's forms hold, as a browser would send it back."""
    context = client.get(address).context
    forms = [context["adminform"].form]
    for formset in (one.formset for one in context["inline_admin_formsets"]):
        forms += [formset.management_form, *formset.forms]
    return {
        form.add_prefix(name): "" if (value := form[name].value()) is None else value
        for form in forms
        for name in form.fields
        if form[name].value() is not False
    }


def test_the_thermal_model_has_its_say_in_the_form(owner: Client, town: Town) -> None:
    address = page(type(town.equipment["kiln"]), "change", town.equipment["kiln"].pk)
    form = form_of(owner, address)
    form["thermal_records-0-ceiling_c"] = "10"

    response = owner.post(address, form)

    assert response.status_code == 200
    assert "must lie" in response.content.decode()
    assert town.equipment["kiln"].thermal_records.get().ceiling_c == 1150


def test_a_person_is_created_with_an_address_in_lower_case(owner: Client, town: Town) -> None:
    form = {
        "email": "New.Person@Town.example",
        "name": "New Person",
        "usable_password": "true",
        "password1": "long enough 31",
        "password2": "long enough 31",
    }
    for prefix in ("memberships", "qualifications"):
        form |= {f"{prefix}-TOTAL_FORMS": "0", f"{prefix}-INITIAL_FORMS": "0"}

    assert owner.post(page(Person, "add"), form).status_code == 302
    assert Person.objects.get(name="New Person").email == "new.person@town.example"
    signed_in = Client().post(
        "/sign-in", {"username": "new.person@town.example", "password": "long enough 31"}
    )
    assert signed_in.status_code == 302

    again = owner.post(page(Person, "add"), {**form, "email": "NEW.person@town.example"})
    assert again.status_code == 200
    assert "already exists" in again.content.decode()


def test_a_person_is_edited_with_roles_and_sign_offs(owner: Client, town: Town) -> None:
    address = page(Person, "change", town.stranger.pk)
    form = form_of(owner, address)
    form |= {
        "memberships-TOTAL_FORMS": "1",
        "memberships-0-studio": town.flame.pk,
        "memberships-0-role": "student",
        "memberships-0-person": town.stranger.pk,
        "name": "Known Now",
        "last_login_0": "",
    }

    assert owner.post(address, form).status_code == 302
    assert Membership.objects.get(person=town.stranger).role == "student"
    assert Person.objects.get(pk=town.stranger.pk).name == "Known Now"


def test_an_outage_keeps_who_entered_it(owner: Client, town: Town) -> None:
    form = {
        "equipment": town.equipment["kiln"].pk,
        "starts_at_0": "2031-03-04",
        "starts_at_1": "09:00",
        "ends_at_0": "2031-03-04",
        "ends_at_1": "12:00",
        "reason": "new shelf",
    }

    assert owner.post(page(Outage, "add"), form).status_code == 302
    outage = Outage.objects.get(reason="new shelf")
    assert str(outage.entered_by) == "Owner"

    late = {**form, "ends_at_1": "08:00"}
    assert "ends after it starts" in owner.post(page(Outage, "change", outage.pk), late).content.decode()


def test_secrets_are_shown_nowhere(owner: Client, town: Town) -> None:
    feed_key = FeedKey.objects.get()
    tokens = [Token.objects.create(user=person).key for person in (town.student, town.stranger)]
    pages = [
        page(FeedKey, "changelist"),
        page(FeedKey, "change", feed_key.pk),
        page(FeedKey, "delete", feed_key.pk),
    ]
    row, elsewhere = RepeatedRequest.objects.get(), OtherCalendar.objects.get()
    pages += [
        page(OtherCalendar, "change", elsewhere.pk),
        page(OtherCalendar, "changelist"),
        page(RepeatedRequest, "change", row.pk),
        page(Person, "change", town.student.pk),
        page(Person, "delete", town.student.pk),
        page(Person, "delete", town.stranger.pk),
        reverse("admin:index"),
    ]

    shown = "".join(owner.get(address).content.decode() for address in pages)

    assert "phone" in shown
    for secret in (feed_key.key, *tokens, "secret-link"):
        assert secret not in shown
    assert TokenProxy not in admin.site._registry


def test_a_calendar_link_is_withdrawn_from_the_list(owner: Client) -> None:
    feed_key = FeedKey.objects.get()

    owner.post(page(FeedKey, "changelist"), {"action": "withdraw", "_selected_action": feed_key.pk})

    feed_key.refresh_from_db()
    assert feed_key.revoked_at is not None
    assert owner.get(page(FeedKey, "add")).status_code == 403


def test_nobody_without_the_right_is_let_in(town: Town) -> None:
    client = Client()
    client.force_login(town.manager)

    assert client.get(reverse("admin:index")).status_code == 302


def test_an_outage_of_the_admin_makes_heat_good_too(owner: Client, town: Town) -> None:
    town.equipment["hole 2"].delete()
    blowing = {"furnace": 1, "glory-hole": 1, "annealer": 1}
    add_course(town, "an hour", town.hot_shop, "studio-96", blowing, minutes=60)
    book(town, "an hour", local(1, 12))
    later = book(town, "an hour", local(1, 15, 30), town.other_instructor)
    warm = hole(later).exclusive_from
    form = {
        "equipment": town.equipment["hole 1"].pk,
        "starts_at_0": "2031-03-04",
        "starts_at_1": "19:15",
        "ends_at_0": "2031-03-04",
        "ends_at_1": "19:45",
        "reason": "burner",
    }

    assert owner.post(page(Outage, "add"), form).status_code == 302
    cold = hole(later).exclusive_from
    outage = Outage.objects.get(reason="burner")
    action = {"action": "delete_selected", "_selected_action": outage.pk, "post": "yes"}
    assert owner.post(page(Outage, "changelist"), action).status_code == 302

    assert cold < warm
    assert hole(later).exclusive_from == warm
