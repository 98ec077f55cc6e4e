"""Content lines (RFC 5545, 3.1) with the numbers they have in the file, and the parts that they make up."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from scheduling.errors import UnreadableCalendar

NAME = re.compile(r"[A-Za-z0-9-]+")
PARAMETER = re.compile(
    r';([A-Za-z0-9-]+)=((?:"[^"\x00-\x08\x0a-\x1f]*"|[^";:,\x00-\x08\x0a-\x1f]*)'
    r'(?:,(?:"[^"]*"|[^";:,]*))*)'
)
CONTROLS = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
LONGEST_SHOWN = 40
DEEPEST = 4


@dataclass(frozen=True, kw_only=True)
class ContentLine:
    """One property: where it begins in the file, its name, parameters and value as written."""

    number: int
    name: str
    parameters: Mapping[str, str]
    value: str


@dataclass(frozen=True, kw_only=True)
class Part:
    """What stands between BEGIN and END: its kind, the line it begins on, its properties and parts."""

    kind: str
    number: int
    lines: list[ContentLine] = field(default_factory=list)
    parts: list[Part] = field(default_factory=list)

    def named(self, name: str) -> list[ContentLine]:
        """Its properties of one name, in order."""
        return [line for line in self.lines if line.name == name]

    def of_kind(self, kind: str) -> Iterator[Part]:
        """Its direct parts of one kind."""
        return (part for part in self.parts if part.kind == kind)


def calendars(content: bytes) -> list[Part]:
    """The calendars of a file, as parts. Raises UnreadableCalendar with the first line that is wrong."""
    found: list[Part] = []
    stack: list[Part] = []
    for line in _content_lines(_text(content)):
        if line.name == "BEGIN":
            _begin(line, stack, found)
        elif line.name == "END":
            _end(line, stack)
        elif not stack:
            raise UnreadableCalendar(line=line.number, reason="A calendar begins with BEGIN:VCALENDAR.")
        else:
            stack[-1].lines.append(line)
    if stack:
        reason = f"The file ends inside {shown(stack[-1].kind)}, which begins here."
        raise UnreadableCalendar(line=stack[-1].number, reason=reason)
    if not found:
        raise UnreadableCalendar(line=1, reason="The file is empty; a calendar begins with BEGIN:VCALENDAR.")
    return found


def _begin(line: ContentLine, stack: list[Part], found: list[Part]) -> None:
    kind = line.value.upper()
    if (kind == "VCALENDAR") == bool(stack) or len(stack) >= DEEPEST:
        where = f"inside {shown(stack[-1].kind)}" if stack else "outside a calendar"
        raise UnreadableCalendar(line=line.number, reason=f"{shown(kind)} cannot begin {where}.")
    part = Part(kind=kind, number=line.number)
    (stack[-1].parts if stack else found).append(part)
    stack.append(part)


def _end(line: ContentLine, stack: list[Part]) -> None:
    kind = line.value.upper()
    if not stack or stack[-1].kind != kind:
        inside = f"{shown(stack[-1].kind)} is still open" if stack else "nothing is open"
        raise UnreadableCalendar(line=line.number, reason=f"{shown(kind)} ends here, but {inside}.")
    stack.pop()


def shown(text: str) -> str:
    """What a stranger wrote, as much of it as is shown: a line may be as long as the file."""
    return text if len(text) <= LONGEST_SHOWN else f"{text[:LONGEST_SHOWN]}…"


def _text(content: bytes) -> str:
    try:
        return content.removeprefix(b"\xef\xbb\xbf").decode()
    except UnicodeDecodeError as error:
        number = content.count(b"\n", 0, error.start) + 1
        raise UnreadableCalendar(line=number, reason="The text is not UTF-8.") from error


def _content_lines(text: str) -> Iterator[ContentLine]:
    """Unfolded: a line that begins with a blank goes on from the one before."""
    number, held = 0, ""
    for at, line in enumerate(text.split("\n"), start=1):
        raw = line.removesuffix("\r")
        if raw[:1] in {" ", "\t"} and held:
            held += raw[1:]
            continue
        if held:
            yield _parsed(number, held)
        elif raw[:1] in {" ", "\t"} and raw.strip():
            raise UnreadableCalendar(
                line=at, reason="A line that begins with a blank has none to go on from."
            )
        number, held = at, raw.rstrip() and raw
    if held:
        yield _parsed(number, held)


def _parsed(number: int, line: str) -> ContentLine:
    if CONTROLS.search(line):
        raise UnreadableCalendar(line=number, reason="It has a control character in it.")
    name = NAME.match(line)
    at, parameters = (name.end() if name else 0), {}
    while name and (found := PARAMETER.match(line, at)):
        parameters[found[1].upper()] = found[2].strip('"')
        at = found.end()
    if name is None or line[at : at + 1] != ":":
        reason = f"It neither begins a property nor goes on from the line before: {shown(line)}"
        raise UnreadableCalendar(line=number, reason=reason)
    return ContentLine(
        number=number, name=name[0].upper(), parameters=parameters, value=line[at + 1 :].strip()
    )
