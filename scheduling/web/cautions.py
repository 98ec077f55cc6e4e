"""Titles and gist of the usual texts. Local codes, the makers' instructions and licensed practice decide."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.utils.translation import gettext_lazy as _

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

GAS = frozenset({"furnace", "glory-hole", "pipe-warmer", "torch"})
CLOSED = frozenset({"kiln", "annealer"})
HOT = GAS | CLOSED | {"bench"}


@dataclass(frozen=True, kw_only=True)
class Caution:
    """One danger: what it is about, the gist, the texts that say it in full, and where it is met."""

    about: StrOrPromise
    gist: StrOrPromise
    texts: tuple[str, ...]
    kinds: frozenset[str]


CAUTIONS = (
    Caution(
        about=_("Oxygen and fuel gas"),
        gist=_(
            "Only trained people light a torch or a glory hole. Oxygen cylinders stand 6 m (20 ft) from "
            "fuel, or behind a barrier. Nothing oily comes near oxygen. Gas is attended from lighting to off."
        ),
        texts=("NFPA 51", "29 CFR 1910.253"),
        kinds=GAS,
    ),
    Caution(
        about=_("Electric current"),
        gist=_(
            "Kilns and annealers draw for many hours at a stretch: a licensed electrician sizes circuits "
            "and breakers. Elements are dead only when the supply is locked out, not when a controller "
            "says so."
        ),
        texts=("NFPA 70",),
        kinds=CLOSED | {"cold-station"},
    ),
    Caution(
        about=_("Eyes"),
        gist=_(
            "Sodium flare at the torch and infrared at furnace and glory hole want filters made for them. "
            "Cold work wants shields against splinters."
        ),
        texts=("29 CFR 1910.133", "ANSI Z87.1"),
        kinds=(GAS - {"pipe-warmer"}) | {"cold-station"},
    ),
    Caution(
        about=_("Fumes and air"),
        gist=_(
            "Torches and kilns need exhaust at the place where the fumes arise. Measure it; a draught is "
            "no exhaust."
        ),
        texts=("ACGIH, Industrial Ventilation",),
        kinds=(GAS - {"pipe-warmer"}) | CLOSED,
    ),
    Caution(
        about=_("Kilns at night"),
        gist=_(
            "Most kiln fires start at night. Keep the clearances, and have a cut-out against "
            "over-temperature that does not depend on the controller."
        ),
        texts=("HSE, Safe use of kilns in schools and craft studios",),
        kinds=CLOSED,
    ),
    Caution(
        about=_("Opening the door"),
        gist=_(
            "The moment when a kiln is cool enough is calculated, not measured: read the temperature at "
            "the kiln first. Never open it above 93 °C (200 °F), whatever a program says."
        ),
        texts=(),
        kinds=CLOSED,
    ),
    Caution(
        about=_("Burns"),
        gist=_(
            "Glass, pipes and tools that are hot enough to burn look just like cold ones. Take nothing up "
            "that you have not seen cool, wear no sleeves that melt, and know where the water is."
        ),
        texts=(),
        kinds=HOT,
    ),
    Caution(
        about=_("Wash, plaster and fibre"),
        gist=_(
            "Dry kiln wash, mould material and fibre dust harm the lungs: a respirator made for dust while "
            "they are mixed, sanded or brushed off, and wiping up wet in place of sweeping."
        ),
        texts=("29 CFR 1910.1053",),
        kinds=frozenset({"kiln"}),
    ),
    Caution(
        about=_("Cold working"),
        gist=_(
            "Cut and grind wet: dry glass dust harms the lungs. Where water meets current, a "
            "residual-current breaker belongs before it."
        ),
        texts=(),
        kinds=frozenset({"cold-station"}),
    ),
)


def cautions_about(kind: str) -> tuple[Caution, ...]:
    """What to mind at a piece of equipment."""
    return tuple(caution for caution in CAUTIONS if kind in caution.kinds)
