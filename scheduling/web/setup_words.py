"""What is lacking in words, each with the page where it is put right; and the cautions of equipment."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from scheduling.selectors.lacking import Lack, Lacks
from scheduling.web.setup_forms.base import Words
from studios.models import EquipmentKind, Studio, SupplyKind


@dataclass(frozen=True, kw_only=True)
class Step:
    """What to do next: a sentence, and where."""

    says: str
    does: str
    url: str


def step(lack: Lack, studio: Studio) -> Step:
    """The sentence and the link for something that is lacking."""
    says, does = _said(lack)
    return Step(says=says, does=does, url=_where(lack, studio))


def _said(lack: Lack) -> tuple[str, str]:
    if lack.equipment is not None:
        return _of_equipment(lack.what, lack.equipment.name)
    if lack.course is not None:
        return _of_course(lack, lack.course.name)
    if lack.studio is not None:
        says = _("Nobody has said how long the way to %(studio)s takes; it counts as none.")
        return says % {"studio": lack.studio.name}, _("Say how long")
    return _of_studio(lack.what)


def _of_equipment(what: Lacks, name: str) -> tuple[str, str]:
    says = {
        Lacks.RECORD: _("%(name)s has no thermal record, so nobody knows when it is hot, and when cool."),
        Lacks.DRAW: _("%(name)s draws on no supply, so no supply is ever too small for it."),
        Lacks.POT: _("%(name)s has no pot in the book, so its glass is not counted."),
    }
    does = {
        Lacks.RECORD: _("Enter its record"),
        Lacks.DRAW: _("Say what it draws"),
        Lacks.POT: _("Enter its pot"),
    }
    return says[what] % {"name": name}, does[what]


def _of_course(lack: Lack, name: str) -> tuple[str, str]:
    facts = {"course": name, "number": lack.number, "kind": str(lack.kind.label) if lack.kind else ""}
    match lack.what:
        case Lacks.NEEDS:
            return _("%(course)s does not say what it needs.") % facts, _("Say what it needs")
        case Lacks.FOR_COURSE:
            says = ngettext(
                "%(course)s needs %(number)s more of this kind: %(kind)s.",
                "%(course)s needs %(number)s more of this kind: %(kind)s.",
                lack.number,
            )
            return says % facts, _("Add it")
        case Lacks.SHELF:
            says = _(
                "The pieces of %(course)s need %(number)s cm² on the shelf, and no %(kind)s has so much."
            )
            return says % facts, _("Say how large the shelves are")
    says = _("Nobody who teaches here is signed off for all that %(course)s needs.")
    return says % facts, _("Sign somebody off")


def _of_studio(what: Lacks) -> tuple[str, str]:
    return {
        Lacks.STAFFED: (_("Nobody is ever there."), _("Say when somebody is")),
        Lacks.LIGHT: (_("Nobody may light the gas in any of the hours."), _("Say when somebody may")),
        Lacks.LOAD: (_("Nobody loads kilns in any of the hours."), _("Say when somebody does")),
        Lacks.UNLOAD: (_("Nobody unloads in any of the hours."), _("Say when somebody does")),
        Lacks.EQUIPMENT: (_("There is no equipment."), _("Add some")),
        Lacks.GLASS: (_("There is no glass."), _("Add one")),
        Lacks.COURSE: (_("No course is taught here."), _("Add one")),
        Lacks.INSTRUCTOR: (_("Nobody teaches here."), _("Give somebody the role instructor")),
        Lacks.SAFETY: (_("There is no safety text, so nobody is asked to read any."), _("Write it")),
        Lacks.TECHNICIAN: (
            _("Nobody is technician, so nobody is sent the day’s sheet."),
            _("Give somebody the role technician"),
        ),
        Lacks.BENCH_HOURS: (
            _("There is no open bench time, so torches are for classes only."),
            _("Say when a torch may be reserved"),
        ),
    }[what]


def _where(lack: Lack, studio: Studio) -> str:
    if lack.equipment is not None:
        name = {Lacks.RECORD: "enter-record", Lacks.POT: "set-up-pot"}.get(lack.what, "change-equipment")
        return reverse(name, args=[lack.equipment.uid])
    if lack.what == Lacks.FOR_COURSE and lack.kind is not None:
        return reverse("add-equipment", args=[studio.slug, lack.kind.value])
    if lack.what == Lacks.NEEDS and lack.course is not None:
        return reverse("set-up-course", args=[studio.slug, lack.course.slug])
    if lack.what in LINES:
        return reverse("set-up-lines", args=[studio.slug, LINES[lack.what]])
    if lack.what in PEOPLE:
        return f"{reverse('people')}?{urlencode({'studio': studio.slug})}"
    return reverse(PAGES[lack.what], args=[studio.slug])


LINES: Mapping[Lacks, str] = {
    Lacks.STAFFED: "staffed-hours",
    Lacks.LIGHT: "staffed-hours",
    Lacks.LOAD: "staffed-hours",
    Lacks.UNLOAD: "staffed-hours",
    Lacks.BENCH_HOURS: "bench-hours",
}
PEOPLE = (Lacks.INSTRUCTOR, Lacks.TECHNICIAN)
PAGES: Mapping[Lacks, str] = {
    Lacks.EQUIPMENT: "set-up-equipment",
    Lacks.SHELF: "set-up-equipment",
    Lacks.GLASS: "set-up-glasses",
    Lacks.COURSE: "add-course",
    Lacks.SIGN_OFF: "sign-offs",
    Lacks.SAFETY: "set-up-safety",
    Lacks.WAY: "set-up-travel",
}

_FIRED = gettext_lazy(
    "Hot for a night after its program has ended: read the temperature before its door is opened. Its "
    "circuit, its earth and the room around it are for a licensed electrician; lock out the current before "
    "anybody works on it. Local codes, the makers’ instructions and licensed practice decide."
)
_BURNING = gettext_lazy(
    "Lines, valves, the supervision of the flame and the ventilation are for licensed people to fit and to "
    "test; gas is attended from lighting to off, and carbon monoxide has no smell. Local codes, the makers’ "
    "instructions and licensed practice decide."
)
CAUTIONS: Mapping[str, Words] = {
    EquipmentKind.FURNACE: _BURNING,
    EquipmentKind.GLORY_HOLE: _BURNING,
    EquipmentKind.PIPE_WARMER: _BURNING,
    EquipmentKind.TORCH: gettext_lazy(
        "Oxygen and fuel: check valves and flashback arrestors stand at both, oil and grease come near "
        "neither, and fumes are drawn away from faces. Local codes, the makers’ instructions and licensed "
        "practice decide."
    ),
    EquipmentKind.KILN: _FIRED,
    EquipmentKind.ANNEALER: _FIRED,
    EquipmentKind.BENCH: gettext_lazy(
        "Glass looks cold long before it is. Clear ways, fitting eye protection and clothes that do not "
        "melt; local codes and licensed practice decide."
    ),
    EquipmentKind.COLD_STATION: gettext_lazy(
        "Water beside current needs a residual-current device; glass is cut and ground wet, as its dust "
        "harms the lungs. Local codes, the makers’ instructions and licensed practice decide."
    ),
}
SUPPLY_CAUTIONS: Mapping[str, Words] = {
    SupplyKind.ELECTRICITY: gettext_lazy(
        "The book counts what is drawn and switches nothing off. What a breaker and its wiring may carry is "
        "for a licensed electrician to say; local codes decide."
    ),
    SupplyKind.OXYGEN: gettext_lazy(
        "Cylinders stand upright and chained, away from fuel, oil, grease and heat; what burns, burns "
        "fiercely in oxygen. The book reads no gauge. Local codes, the supplier’s instructions and licensed "
        "practice decide."
    ),
    SupplyKind.FUEL_GAS: gettext_lazy(
        "What a line and its regulator give is for a licensed fitter to say; the book reads no meter and "
        "closes no valve. Local codes decide."
    ),
    SupplyKind.EXHAUST: gettext_lazy(
        "Whether air is drawn away well enough is measured at the hood, not calculated here. Local codes "
        "decide."
    ),
    SupplyKind.PEOPLE: gettext_lazy(
        "How many a room may hold is for your local codes to say, and its exits."
    ),
}
