"""Titles and gist of the usual texts. Local codes, the makers' instructions and licensed practice decide."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Caution:
    """One danger: what it is about, the gist, and the texts that say it in full."""

    about: str
    gist: str
    texts: tuple[str, ...]


CAUTIONS = (
    Caution(
        about="Oxygen and fuel gas",
        gist="Only trained people light a torch or a glory hole. Oxygen cylinders stand 6 m (20 ft) from "
        "fuel, or behind a barrier. Nothing oily comes near oxygen. Gas is attended from lighting to off.",
        texts=("NFPA 51", "29 CFR 1910.253"),
    ),
    Caution(
        about="Electric current",
        gist="Kilns and annealers draw for many hours at a stretch: a licensed electrician sizes circuits "
        "and breakers. Elements are dead only when the supply is locked out, not when a controller says so.",
        texts=("NFPA 70",),
    ),
    Caution(
        about="Eyes",
        gist="Sodium flare at the torch and infrared at furnace and glory hole want filters made for them. "
        "Cold work wants shields against splinters.",
        texts=("29 CFR 1910.133", "ANSI Z87.1"),
    ),
    Caution(
        about="Fumes and air",
        gist="Torches and kilns need exhaust at the place where the fumes arise. Measure it; a draught is "
        "no exhaust.",
        texts=("ACGIH, Industrial Ventilation",),
    ),
    Caution(
        about="Kilns at night",
        gist="Most kiln fires start at night. Keep the clearances, and have a cut-out against "
        "over-temperature that does not depend on the controller.",
        texts=("HSE, Safe use of kilns in schools and craft studios",),
    ),
    Caution(
        about="Opening the door",
        gist="The moment when a kiln is cool enough is calculated, not measured: read the temperature at "
        "the kiln first. Never open it above 93 °C (200 °F), whatever a program says.",
        texts=(),
    ),
)
