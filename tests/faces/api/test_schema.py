"""The description of the API is valid, complete, and what the API really does."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any

import jsonschema_rs
import pytest
from django.core.management import call_command
from django.test import Client

from scheduling.api.urls import router
from tests.faces.api.conftest import Api, refused


@pytest.fixture(scope="module")
def description() -> dict[str, Any]:
    response = Client().get("/api/schema", {"format": "json"})
    assert response.status_code == 200
    return dict(json.loads(response.content))


def operations(description: dict[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    for path, methods in description["paths"].items():
        for method, operation in methods.items():
            yield path, method, operation


def test_the_description_is_valid_and_made_without_a_warning(tmp_path: Any) -> None:
    call_command("spectacular", "--validate", "--fail-on-warn", "--file", str(tmp_path / "schema.yml"))


def test_it_is_openapi_3_1(description: dict[str, Any]) -> None:
    assert description["openapi"].startswith("3.1")
    assert Client().get("/api/schema/").status_code == 200


def test_every_resource_is_described(description: dict[str, Any]) -> None:
    described = {path.split("/")[2] for path in description["paths"]}

    assert described == {prefix for prefix, _, _ in router.registry} | {"me", "problems"}


def test_every_operation_says_what_it_is_and_how_it_refuses(description: dict[str, Any]) -> None:
    for path, method, operation in operations(description):
        assert operation.get("description"), (method, path)
        errors = {status: body for status, body in operation["responses"].items() if status >= "400"}
        assert errors, (method, path)
        assert all(list(body["content"]) == ["application/problem+json"] for body in errors.values())


def test_every_write_may_be_repeated(description: dict[str, Any]) -> None:
    for path, method, operation in operations(description):
        headers = {each["name"] for each in operation.get("parameters", []) if each["in"] == "header"}
        wanted = method in {"post", "delete"} and path != "/api/token/"
        assert ("Idempotency-Key" in headers) == wanted, (method, path)


def test_nothing_is_addressed_by_a_primary_key(description: dict[str, Any]) -> None:
    names = {
        each["name"]
        for _, _, operation in operations(description)
        for each in operation.get("parameters", [])
    }

    assert names.isdisjoint({"id", "pk"})


def test_a_problem_is_what_the_description_says(description: dict[str, Any], instructor: Api) -> None:
    instructor.book()
    schema = {"$ref": "#/components/schemas/Problem", "components": description["components"]}

    jsonschema_rs.validate(schema, refused(instructor.book(), 409, "no-start"))
    with pytest.raises(jsonschema_rs.ValidationError):
        jsonschema_rs.validate(schema, {"title": "half a problem"})


def test_the_docs_can_be_browsed_without_another_host(db: None) -> None:
    page = Client().get("/api/docs/").content.decode()

    fetched = re.findall(r'(?:src|href)="([^"]+)"', page)
    assert any(address.endswith("swagger-ui-bundle.js") for address in fetched)
    *files, script = fetched
    assert all(address.startswith("/static/") for address in files)
    assert "/api/schema" in Client().get(script).content.decode()
