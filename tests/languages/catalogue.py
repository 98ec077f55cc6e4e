"""The German catalogue: read, brought up to what is marked, compiled."""

from __future__ import annotations

import gettext
from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog, Message
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from tests.languages.marked import ROOT, marked

FOLDER = ROOT / "scheduling" / "locale" / "de" / "LC_MESSAGES"
PO, MO = FOLDER / "django.po", FOLDER / "django.mo"
HEADER = "# The pages in German."


def read(path: Path = PO) -> Catalog:
    """What is translated so far."""
    with path.open("rb") as file:
        return read_po(file, locale="de")


def of_marked() -> Catalog:
    """A catalogue of all that is marked, not translated."""
    template = Catalog(project="Lehrbook", header_comment=HEADER)
    for text, files in marked().items():
        template.add(text.id, context=text.context or None, locations=[(name, 0) for name in files])
    return template


def bring_up() -> Catalog:
    """The catalogue with all that is marked, and nothing else; what is translated stays translated."""
    known = read() if PO.exists() else Catalog(locale="de", project="Lehrbook")
    known.update(of_marked(), no_fuzzy_matching=True)
    known.obsolete.clear()
    known.header_comment, known.last_translator, known.language_team = HEADER, "Lehrbook", "Lehrbook"
    return known


def write(catalogue: Catalog) -> None:
    """As text, and compiled, so that a machine with only Python serves it."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    with PO.open("wb") as file:
        write_po(file, catalogue, width=106, sort_output=True, include_lineno=False, omit_header=False)
    MO.write_bytes(compiled(catalogue))


def untranslated(catalogue: Catalog) -> list[str]:
    """The texts that lack an answer, or have one that nobody has looked at."""
    return [str(one.id) for one in catalogue if one.id and (one.fuzzy or not all(strings(one)))]


def strings(message: Message) -> tuple[str, ...]:
    """The answer, or both where there are two numbers."""
    found = message.string
    return tuple(map(str, found)) if isinstance(found, tuple | list) else (str(found or ""),)


def compiled(catalogue: Catalog) -> bytes:
    """What the server reads."""
    into = BytesIO()
    write_mo(into, catalogue)
    return into.getvalue()


def answers(content: bytes) -> dict[object, str]:
    """Every answer of a compiled catalogue, but for its header."""
    found = dict(gettext.GNUTranslations(BytesIO(content))._catalog)  # type: ignore[attr-defined]
    return {key: value for key, value in found.items() if key not in ("", ("", 0))}
