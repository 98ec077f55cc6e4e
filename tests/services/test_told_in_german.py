"""Whoever is told something hears it in their own language; what is kept is English."""

from __future__ import annotations

import pickle

import pytest

from scheduling.errors import NotAllowed
from scheduling.models import AuditEntry, Message
from scheduling.reader import reading, said_again, spoken
from scheduling.services.seats import reserve_class_seat
from studios.said import degrees_said, said
from tests.faces.web.bookings import a_class
from tests.worlds import Town

pytestmark = pytest.mark.django_db


def test_a_mail_is_in_the_language_of_its_reader_whoever_causes_it(town: Town) -> None:
    session = a_class(town, "beads")
    town.student.language = "de"
    town.student.save()

    with reading("en", "us"):
        reserve_class_seat(actor=town.student, session=session)

    message = Message.objects.get(person=town.student)
    assert message.subject == "Reserviert: beads, Platz 1"
    assert "beads, Platz 1 in Flame, Di, 4. Mär 2031, 18:00 CST bis" in message.body
    assert "SUMMARY:beads" in message.invitation


def test_the_audit_is_english_though_a_german_acts(town: Town) -> None:
    session = a_class(town, "beads")

    with reading("de", "us"):
        reserve_class_seat(actor=town.student, session=session)

    assert "Tue 4 Mar 2031, 18:00 CST" in AuditEntry.objects.get(did="reserve").said


def test_a_refusal_is_said_in_the_language_of_who_reads_it(town: Town) -> None:
    session = a_class(town, "beads")

    with reading("de"), pytest.raises(NotAllowed) as refused:
        reserve_class_seat(actor=town.stranger, session=session)

    with reading("de"):
        assert str(refused.value).startswith("Stranger darf in Flame nicht einen Platz reservieren: ")
    with reading("en"):
        assert str(refused.value).startswith("Stranger cannot reserve a seat at Flame: ")


def test_a_temperature_is_said_in_the_units_of_who_reads_it() -> None:
    sentence = said(
        "Joins the firing in {equipment}, held at {degrees}; it is then unloaded at {when}.",
        equipment="Ada",
        degrees=degrees_said(510, fahrenheit=False),
        when="noon",
    )

    with reading("en", "us"):
        american = spoken(sentence)
    with reading("de", ""):
        german = spoken(sentence)

    assert "held at 510 °C" in sentence
    assert "held at 950 °F" in american
    assert "gehalten auf 510 °C" in german


KEPT = {
    "lines 3-5: no time that can be read; left out.": "Zeilen 3-5: keine lesbare Zeit; ausgelassen.",
    "line 7: no reading for 42 minutes before it.": "Zeile 7: 42 Minuten davor kein Wert.",
    "No ceiling is found. The log has no heating.": (
        "Keine Grenztemperatur ist zu finden. Das Protokoll enthält kein Aufheizen."
    ),
    "Written by hand.": "Written by hand.",
}


@pytest.mark.parametrize("kept", KEPT)
def test_a_sentence_that_was_kept_is_known_by_its_template(kept: str) -> None:
    with reading("de"):
        assert said_again(kept) == KEPT[kept]
    with reading("en"):
        assert said_again(kept) == kept


def test_a_sentence_goes_through_a_pickle_with_what_it_is_made_of() -> None:
    sentence = said("{count} minute", several="{count} minutes", count=2)

    again = pickle.loads(pickle.dumps(sentence))

    assert (again, again.template, again.facts) == ("2 minutes", "{count} minute", {"count": 2})
