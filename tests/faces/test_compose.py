"""The compose file, the settings and README's configuration table name the same variables.

No container engine takes part: the file is parsed and compared.
"""

from __future__ import annotations

import re
from typing import Any

import pytest
import yaml
from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.test import Client

from scheduling.project import celery_app, environment, pulse

ROOT = settings.BASE_DIR
NAME = re.compile(r"LEHRBOOK_[A-Z_]+")


def names_read_by_the_settings() -> set[str]:
    files = ("scheduling/project/settings.py", "scheduling/project/environment.py")
    return {name for file in files for name in NAME.findall((ROOT / file).read_text())}


def names_in_the_readme_table() -> set[str]:
    rows = re.findall(r"^\|\s*`(LEHRBOOK_[A-Z_]+)`\s*\|", (ROOT / "README.md").read_text(), re.MULTILINE)
    assert len(rows) == len(set(rows)), "a name stands twice in the table"
    return set(rows)


@pytest.fixture
def services() -> dict[str, Any]:
    services: dict[str, Any] = yaml.safe_load((ROOT / "docker-compose.yml").read_text())["services"]
    return services


def test_the_readme_table_lists_every_setting_and_no_other() -> None:
    assert names_in_the_readme_table() == names_read_by_the_settings()


def test_compose_and_dockerfile_use_only_names_of_the_table() -> None:
    used = {
        name
        for file in ("docker-compose.yml", "Dockerfile")
        for name in NAME.findall((ROOT / file).read_text())
    }
    assert {"LEHRBOOK_SECRET_KEY", "LEHRBOOK_DATABASE_URL", "LEHRBOOK_REDIS_URL"} <= used
    assert used <= names_in_the_readme_table()


def test_compose_runs_the_five_services_each_with_a_health_check(services: dict[str, Any]) -> None:
    assert set(services) == {"web", "worker", "beat", "postgres", "redis"}
    assert all(service["healthcheck"]["test"] for service in services.values())


def test_every_service_waits_for_a_service_that_exists_to_be_healthy(services: dict[str, Any]) -> None:
    waits = {name: service.get("depends_on", {}) for name, service in services.items()}
    assert set(waits["web"]) == {"postgres", "redis"}
    assert waits["worker"] == waits["beat"] == {"web": {"condition": "service_healthy"}}
    assert all(wait == {"condition": "service_healthy"} for each in waits.values() for wait in each.values())


@pytest.mark.parametrize("service", ["web", "worker", "beat"])
def test_each_of_ours_reaches_the_same_database_and_redis(services: dict[str, Any], service: str) -> None:
    given = services[service]["environment"]
    database = environment.database(
        re.sub(r"\$\{[^}]*\}", "secret", given["LEHRBOOK_DATABASE_URL"]), embedded_file=ROOT / "unused"
    )
    server = services[database["HOST"]]["environment"]
    assert (database["USER"], database["NAME"]) == (server["POSTGRES_USER"], server["POSTGRES_DB"])
    assert given["LEHRBOOK_REDIS_URL"].startswith("redis://redis:")


def test_worker_and_beat_run_the_application_that_knows_the_rounds(services: dict[str, Any]) -> None:
    for service in ("worker", "beat"):
        assert services[service]["command"].startswith(f"celery --app scheduling.project.celery {service} ")
    assert {entry["task"] for entry in celery_app.conf.beat_schedule.values()} <= set(celery_app.tasks)


@pytest.mark.parametrize("service", ["web", "worker", "beat"])
def test_what_is_under_way_may_be_ended_before_a_container_stops(
    services: dict[str, Any], service: str
) -> None:
    seconds = int(services[service]["stop_grace_period"].removesuffix("s"))
    assert seconds > settings.EMAIL_TIMEOUT + pulse.PATIENCE_S


@pytest.mark.parametrize("name", ["LEHRBOOK_SECRET_KEY", "POSTGRES_PASSWORD"])
def test_compose_has_no_secret_of_its_own(name: str) -> None:
    uses = re.findall(rf"\$\{{{name}([^}}]*)\}}", (ROOT / "docker-compose.yml").read_text())
    assert uses
    assert all(use.startswith(":?") for use in uses)


def test_a_server_with_a_database_of_its_own_refuses_to_start_without_a_secret(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.delenv("LEHRBOOK_SECRET_KEY", raising=False)
    with pytest.raises(ImproperlyConfigured, match="LEHRBOOK_SECRET_KEY"):
        environment.secret_key(embedded=False, kept_in=ROOT / "unused")


@pytest.mark.django_db
def test_the_page_that_the_health_check_asks_for_answers(services: dict[str, Any], client: Client) -> None:
    script = services["web"]["healthcheck"]["test"][-1]
    (path,) = re.findall(r"http://127\.0\.0\.1:8000(/[^\"]*)", script)
    assert client.get(path).status_code == 200
