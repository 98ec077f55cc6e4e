"""Every text in the code and in the templates that is marked for translation."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from django.utils.translation.template import templatize

ROOT = Path(__file__).resolve().parents[2]
SOURCES = ("studios", "scheduling")
# The functions that mark a text, with what stands in which of their places.
PLAIN = {"_", "gettext", "gettext_lazy", "gettext_noop", "said", "say", "marked"}
SAID = {"said", "say"}
SEVERAL = {"ngettext", "ngettext_lazy"}
IN_CONTEXT = {"pgettext", "pgettext_lazy"}
WITH_BOTH = {"npgettext", "npgettext_lazy"}
CALL = re.compile(r"\b(?:_|gettext|ngettext|pgettext|npgettext)\(")


@dataclass(frozen=True, order=True)
class Text:
    """A text as the catalogue knows it; `several` is its plural, empty where it has none."""

    one: str
    several: str = ""
    context: str = ""

    @property
    def id(self) -> str | tuple[str, str]:
        return (self.one, self.several) if self.several else self.one


def marked() -> dict[Text, list[str]]:
    """Each text with the files in which it is marked."""
    found: dict[Text, set[str]] = {}
    for path in _files():
        for text in _texts(path):
            found.setdefault(text, set()).add(path.relative_to(ROOT).as_posix())
    return {text: sorted(found[text]) for text in sorted(found)}


def _files() -> Iterator[Path]:
    for source in SOURCES:
        yield from (ROOT / source).rglob("*.py")
        yield from (ROOT / source).rglob("*.html")


def _texts(path: Path) -> Iterator[Text]:
    source = path.read_text(encoding="utf-8")
    if path.suffix == ".py":
        yield from _of_tree(ast.parse(source))
    else:
        yield from _of_template(source)


def _of_template(source: str) -> Iterator[Text]:
    """Django turns a template into calls, with letters for all between them."""
    calls = templatize(source)
    for match in CALL.finditer(calls):
        for end in (at.end() for at in re.finditer(r"\)", calls[match.end() :])):
            try:
                tree = ast.parse(calls[match.start() : match.end() + end])
            except SyntaxError:
                continue
            yield from _of_tree(tree)
            break


def _of_tree(tree: ast.AST) -> Iterator[Text]:
    called = _aliases(tree)
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            name = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
            name = called.get(name, name)
            yield from _of_call(name, [_constant(one) for one in node.args], node.keywords)


def _aliases(tree: ast.AST) -> dict[str, str]:
    """What a module calls Django's functions."""
    imports = (node for node in ast.walk(tree) if isinstance(node, ast.ImportFrom))
    from_django = (node for node in imports if node.module == "django.utils.translation")
    return {name.asname: name.name for node in from_django for name in node.names if name.asname}


def _of_call(name: str, given: list[str], keywords: list[ast.keyword]) -> Iterator[Text]:
    named = {one.arg: _constant(one.value) for one in keywords if one.arg in {"many", "several"}}
    if name in PLAIN and given and given[0]:
        yield Text(given[0], named.get("several", "") if name in SAID else "")
        if name in SAID and named.get("many"):
            yield Text(named["many"])
    elif name in SEVERAL and len(given) > 1 and given[0]:
        yield Text(given[0], given[1])
    elif name in IN_CONTEXT and len(given) > 1 and given[1]:
        yield Text(given[1], context=given[0])
    elif name in WITH_BOTH and len(given) > 2 and given[1]:
        yield Text(given[1], given[2], context=given[0])


def _constant(node: ast.expr) -> str:
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else ""
