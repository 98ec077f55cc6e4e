"""Long lists come in pages; a page outside the limits is refused, not bent."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rest_framework.pagination import LimitOffsetPagination
from rest_framework.request import Request

from scheduling.api.fields import CountField
from scheduling.api.strict import Query

MOST = 200
FURTHEST = 1_000_000


class PageQuery(Query):
    """Which page of a list."""

    limit = CountField(required=False, min_value=1, max_value=MOST, default=50, help_text="How many at most.")
    offset = CountField(
        required=False, min_value=0, max_value=FURTHEST, default=0, help_text="How many to skip."
    )


class Pages(LimitOffsetPagination):
    """Pages by limit and offset, as a checked `PageQuery` gives them."""

    given: Mapping[str, Any] = {}

    def get_limit(self, request: Request) -> int:  # noqa: ARG002 - DRF's signature
        return int(self.given["limit"])

    def get_offset(self, request: Request) -> int:  # noqa: ARG002 - DRF's signature
        return int(self.given["offset"])

    def get_schema_operation_parameters(self, view: Any) -> list[Any]:  # noqa: ARG002 - DRF's signature
        """None: they stand in the query of each list."""
        return []
