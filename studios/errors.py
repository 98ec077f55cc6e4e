"""The one root of every refusal: a code a program can test, a sentence a person can act on, and the facts."""

from __future__ import annotations

from typing import Any, ClassVar

from studios.said import Said, marked, said, speech


class LehrbookError(Exception):
    """A request that cannot be carried out, said so that the person who made it knows what to change.

    Each leaf gives a `code` and a `template`; the facts given as keywords fill the template and stay on the
    object. The fact `field` names the input at fault, where there is one.
    """

    code: ClassVar[str] = "refused"
    template: ClassVar[str] = marked("This cannot be done.")

    def __init__(self, **facts: object) -> None:
        self.facts: dict[str, Any] = facts
        super().__init__(self.template.format(**facts))

    def __str__(self) -> str:
        return speech.say(self.said)

    @property
    def said(self) -> Said:
        """The sentence, with what it is made of."""
        return said(self.template, **self.facts)

    def __reduce__(self) -> tuple[object, ...]:
        # Exceptions are rebuilt from positional arguments; ours are built from facts.
        return (_rebuild, (type(self), self.facts))

    @property
    def field(self) -> str | None:
        named = self.facts.get("field")
        return None if named is None else str(named)


def _rebuild(kind: type[LehrbookError], facts: dict[str, object]) -> LehrbookError:
    return kind(**facts)
