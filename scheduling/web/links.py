"""Where a holder's own page is, and what is said of what it holds beside its strip."""

from __future__ import annotations

from django.urls import reverse
from django.utils.translation import gettext as _

from scheduling.selectors.held import HeldSpan, Holder
from scheduling.web.clocks import Clock


def holder_link(holder: Holder) -> str:
    """A session, a firing and a kiln job have a page; bench time stands among one's own seats."""
    if holder.face in {"session", "firing"}:
        return reverse(holder.face, args=[holder.uid])
    if holder.face == "kiln-job":
        return reverse("kiln-jobs-job", args=[holder.uid]) if holder.who or holder.mine else ""
    return reverse("my-seats") if holder.mine else ""


def whose(holder: Holder) -> str:
    """What holds it and for whom; of bench time that is not the reader's to know, that it is taken."""
    ours = {"bench": _("Bench time"), "charge": _("Charge of the pot")}
    title = ours.get(holder.face, holder.title)
    who = holder.who or (_("taken") if holder.face == "bench" else "")
    return f"{title}, {who}" if who else title


class Said:
    """What is said of what is held, by a studio's clock; the sentences are looked up once for a sheet."""

    def __init__(self, clock: Clock) -> None:
        self.clock = clock
        self._ours = {"bench": _("Bench time"), "charge": _("Charge of the pot")}
        self._taken = _("taken")
        self._stands = _("%(whose)s: %(start)s to %(end)s")
        self._broken = _("%(whose)s: %(start)s to %(end)s; it broke off and is to be annealed again")

    def names(self, held: HeldSpan) -> tuple[str, ...]:
        """What may stand beside a strip, the longest first; of bench time the name says most."""
        holder = held.holder
        title, who = self._ours.get(holder.face, holder.title), holder.who
        full = f"{title}, {who}" if who else title
        return (full, who, title) if holder.face == "bench" else (full, title, title.partition(":")[0])

    def whole(self, held: HeldSpan) -> str:
        """What, whose, from when to when, and whether its firing broke off."""
        holder, (start, end) = held.holder, held.span
        title = self._ours.get(holder.face, holder.title)
        who = holder.who or (self._taken if holder.face == "bench" else "")
        words = {"start": self.clock.when(start), "end": self.clock.when(end)}
        words["whose"] = f"{title}, {who}" if who else title
        return (self._stands if held.broken_at is None else self._broken) % words
