"""Where the demo is not loaded, and what its commands say without it."""

from __future__ import annotations

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from studios.models import Studio
from tests.worlds import Town


def test_a_database_with_studios_of_its_own_is_left_alone(town: Town) -> None:
    with pytest.raises(CommandError, match="Load the demo beside them with --beside"):
        call_command("load_demo", "--yes")

    assert set(Studio.objects.values_list("slug", flat=True)) == {"hot-shop", "flame"}


def test_a_server_is_not_given_known_passwords_unasked(db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connection, "vendor", "postgresql")

    with pytest.raises(CommandError, match="password that anybody can read"):
        call_command("load_demo")

    assert not Studio.objects.exists()


@pytest.mark.parametrize("command", ["main_job", "demo_signins"])
def test_the_demo_s_commands_say_that_it_is_missing(db: None, command: str) -> None:
    with pytest.raises(CommandError, match="The demo is not loaded: run load_demo first"):
        call_command(command)


@pytest.mark.parametrize(
    ("today", "sentence"),
    [
        ("notaday", "'notaday' is no day; write it like 2027-03-09."),
        ("2027-02-30", "'2027-02-30' is no day; write it like 2027-03-09."),
        ("9999-12-31", "The book goes from 2000 to 2200; choose a time in it."),
        ("0001-01-01", "The book goes from 2000 to 2200; choose a time in it."),
        ("2200-12-01", "The book goes from 2000 to 2200; choose a time in it."),
    ],
)
def test_a_day_that_the_term_cannot_lie_ahead_of_is_refused(db: None, today: str, sentence: str) -> None:
    with pytest.raises(CommandError) as refused:
        call_command("load_demo", "--yes", "--today", today)

    assert str(refused.value) == sentence
    assert not Studio.objects.exists()


@pytest.mark.parametrize("command", ["main_job", "demo_signins"])
@pytest.mark.parametrize(
    "address", ["foo", "", "http://", "ftp://localhost", "//localhost", "http://a b", "http://localhost:port"]
)
def test_an_address_where_no_page_can_be_is_refused(db: None, command: str, address: str) -> None:
    with pytest.raises(CommandError) as refused:
        call_command(command, "--address", address)

    assert str(refused.value) == f"{address!r} is no address of pages; write it like http://127.0.0.1:8000."
