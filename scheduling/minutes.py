"""Moments as the engine counts them: whole minutes come from the database, and nothing is parsed."""

from __future__ import annotations

from typing import Any

from django.db.models import Expression, Func, IntegerField


class Minute(Func):
    """The minute in which a moment lies, counted since the epoch; as `engine.clock.floor_minutes`."""

    output_field = IntegerField()
    arity = 1

    @property
    def convert_value(self) -> Any:
        """Both databases answer with a whole number, or nothing: there is nothing left to convert."""
        return Expression._convert_value_noop  # type: ignore[attr-defined]  # noqa: SLF001 - Django asks for this one

    def as_sqlite(self, compiler: Any, connection: Any, **context: Any) -> Any:
        """Moments are kept as text in UTC; from 1970 on a division of whole numbers rounds down."""
        return self.as_sql(
            compiler,
            connection,
            template="CAST(strftime('%%%%s', %(expressions)s) AS INTEGER) / 60",
            **context,
        )

    def as_postgresql(self, compiler: Any, connection: Any, **context: Any) -> Any:
        """Moments are kept with their zone, to the microsecond."""
        return self.as_sql(
            compiler,
            connection,
            template="FLOOR(EXTRACT(EPOCH FROM %(expressions)s) / 60)::bigint",
            **context,
        )
