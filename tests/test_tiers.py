"""A suite that quietly runs on the wrong database proves nothing about the right one."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
import redis
from django.conf import settings
from django.db import connection

from tests import servers, tiers


@pytest.mark.django_db
def test_the_suite_runs_on_the_database_that_its_tier_names(pytestconfig: pytest.Config) -> None:
    on_postgres = pytestconfig.pluginmanager.has_plugin("tests.plugins.postgres")
    assert connection.vendor == ("postgresql" if on_postgres else "sqlite")


@pytest.mark.django_db
def test_sqlite_is_tested_in_a_file_so_that_threads_meet_there(pytestconfig: pytest.Config) -> None:
    if connection.vendor == "sqlite":
        file = Path(connection.settings_dict["NAME"])
        assert file.is_file()
        assert file.parent == Path(os.environ["LEHRBOOK_DATA_DIR"])


@pytest.mark.postgres_only
@pytest.mark.django_db
def test_the_server_behind_the_postgresql_tier_is_a_real_one() -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT version()")
        assert cursor.fetchone()[0].startswith("PostgreSQL 1")


@pytest.mark.parametrize("folder", tiers.PURE)
def test_what_one_tier_alone_runs_asks_for_no_database(folder: str) -> None:
    files = list((settings.BASE_DIR / folder).rglob("test_*.py"))
    assert files
    asking = ("django_db", "transactional_db", "live_server", "scheduling.models", "studios.models")
    for file in files:
        assert not [word for word in asking if word in file.read_text(encoding="utf-8")], file


def test_a_run_keeps_its_files_to_itself() -> None:
    assert Path(os.environ["LEHRBOOK_DATA_DIR"]) == settings.DATA_DIR
    assert settings.BASE_DIR not in settings.DATA_DIR.parents


@pytest.mark.redis
def test_a_real_redis_answers(redis_url: str) -> None:
    with redis.Redis.from_url(redis_url) as client:
        assert client.ping()
        assert "redis_version" in client.info("server")


@pytest.mark.parametrize(
    ("codes", "exit_code"),
    [((0, 0, 0), 0), ((0, 1, 0), 1), ((0, -9, 0), 1)],
    ids=["well", "failed", "killed"],
)
def test_a_tier_that_fails_or_is_killed_fails_the_suite(
    monkeypatch: pytest.MonkeyPatch, codes: tuple[int, ...], exit_code: int
) -> None:
    left = iter(codes)
    monkeypatch.setattr(tiers, "run", lambda _tier: next(left))
    monkeypatch.setattr(servers, "missing_tools", dict)

    assert tiers.main([]) == exit_code


def test_a_tier_without_its_tool_is_named(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(tiers, "run", lambda _tier: 0)
    monkeypatch.setattr(servers, "missing_tools", lambda: {"Chromium": "install it"})

    assert tiers.main([]) == 0
    assert "Tier not run: browser: install it" in capsys.readouterr().out
    assert tiers.main(["browser"]) == 1
