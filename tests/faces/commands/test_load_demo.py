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
