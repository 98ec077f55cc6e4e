"""Answers for one job side by side: the three aims, and what something otherwise would come to."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from scheduling.engine.kiln_work.answers import WorkPlanned, from_json
from scheduling.models import KilnAim, KilnAnswer, KilnJob
from scheduling.selectors.kiln_ready import HandedBack, handed_back_by
from scheduling.web.kiln_plan import cost_of
from scheduling.web.kiln_words import AIMS, SEEK
from scheduling.wording import length
from studios.models import Equipment, Studio

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

MOST_READ = 60


@dataclass(frozen=True, kw_only=True)
class Compared:
    """One answer in a line; `plan` None: there is none, or it is still sought."""

    answer: KilnAnswer
    aim: StrOrPromise
    otherwise: list[str]
    plan: WorkPlanned | None
    handed_back: list[HandedBack]
    cost: str
    here: bool

    @property
    def ready(self) -> HandedBack | None:
        """Where and when the last of it can be handed back."""
        return self.handed_back[-1] if self.handed_back else None

    @property
    def studios(self) -> list[str]:
        """The studios that it is split between, and none where one fires all of it."""
        return [each.studio.name for each in self.handed_back] if len(self.handed_back) > 1 else []

    @property
    def firings(self) -> int:
        return len(self.plan.loads) if self.plan else 0

    @property
    def visits(self) -> int:
        return len(self.plan.visits) if self.plan else 0


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """The answers that are worth a look beside this one, and the aims that nobody has asked for yet."""

    lines: list[Compared]
    unasked: list[tuple[str, StrOrPromise]]


def compared(answer: KilnAnswer) -> Comparison:
    """Of each aim the last answer as the job stands now; and this one, where something is otherwise."""
    rows = list(answer.job.answers.order_by("-started_at", "-pk")[:MOST_READ])
    as_it_is = [row for row in rows if not row.what_if and row.started_at >= answer.job.changed_at]
    by_aim = {aim: next((row for row in as_it_is if row.aim == aim), None) for aim in KilnAim.values}
    chosen = {row.pk: row for row in (*by_aim.values(), answer) if row is not None}
    studio = answer.job.studios.all()[0]
    lines = [_line(row, studio, here=row.pk == answer.pk) for row in _in_order(chosen, by_aim, answer)]
    unasked = [(aim, SEEK[aim]) for aim, row in by_aim.items() if row is None]
    return Comparison(lines=lines, unasked=unasked)


def _in_order(
    chosen: Mapping[int, KilnAnswer], by_aim: Mapping[str, KilnAnswer | None], answer: KilnAnswer
) -> Iterator[KilnAnswer]:
    """The same aim as this one's first, this one next to it, then the others."""
    same = by_aim.get(answer.aim)
    first = [row for row in (same, answer) if row is not None]
    yield from dict.fromkeys([*first, *chosen.values()])


def _line(row: KilnAnswer, studio: Studio, *, here: bool) -> Compared:
    plan = from_json(row.plan) if row.plan is not None else None
    ready = handed_back_by(plan) if plan is not None else []
    return Compared(
        answer=row,
        aim=AIMS.get(row.aim, row.aim),
        otherwise=list(otherwise(row.job, row.what_if, studio)),
        plan=plan,
        handed_back=ready,
        cost=cost_of(plan, {each.studio.pk: each.studio for each in ready}) if plan is not None else "",
        here=here,
    )


def otherwise(job: KilnJob, what_if: Mapping[str, Any], studio: Studio) -> Iterator[str]:
    """What is otherwise than in the job, in words."""
    if kilns := what_if.get("without_kilns"):
        names = Equipment.objects.filter(uid__in=kilns).order_by("name").values_list("name", flat=True)
        yield _("without %(kilns)s") % {"kilns": ", ".join(names)}
    if more := what_if.get("more_pieces"):
        yield ngettext("%(number)s piece more", "%(number)s pieces more", more) % {"number": more}
    if thickness := what_if.get("thickness_mm"):
        facts = {"new": length(thickness, studio), "old": length(job.thickness_mm, studio)}
        yield _("%(new)s thick in place of %(old)s") % facts
    if set(what_if) & {"due_at", "arrives_at", "studios"}:
        yield _("other days or studios")
