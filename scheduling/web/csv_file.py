"""A table as a file for a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from itertools import chain

from django.http import StreamingHttpResponse

# A spreadsheet takes a cell that begins so for a formula, whoever typed it.
FORMULA = ("=", "+", "-", "@", "\t", "\r")


def csv_file(name: str, head: Sequence[str], rows: Iterable[Sequence[object]]) -> StreamingHttpResponse:
    """Row by row, as long as it may be (RFC 4180)."""
    response = StreamingHttpResponse(_lines(chain([head], rows)), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def _lines(rows: Iterable[Sequence[object]]) -> Iterator[str]:
    text = io.StringIO()
    writer = csv.writer(text)
    for row in rows:
        writer.writerow([_plain(str(cell)) for cell in row])
        yield text.getvalue()
        text.seek(0)
        text.truncate()


def _plain(cell: str) -> str:
    return f"'{cell}" if cell.startswith(FORMULA) else cell
