"""How long stress lives: the textbook gloss, and what Maxwell's law makes of the same viscosities."""

from __future__ import annotations

import math
from functools import partial

from studios.outside.check import About, Check, Seen
from studios.outside.samples import soda_lime
from studios.thermal.viscosity import ANNEALING, STRAIN

GLOSS = "textbook gloss (Shand; Varshneya)"
MAXWELL = "Maxwell, τ = 6η(1−ν)/E with E 70 GPa, ν 0.22"
PA_S_PER_DPA_S = 0.1


def maxwell_s(log10_dpa_s: float) -> float:
    """Seconds in which the stress of a plate falls to 1/e."""
    glass = soda_lime()
    viscosity_pa_s = PA_S_PER_DPA_S * 10**log10_dpa_s
    return 6 * viscosity_pa_s * (1 - glass.poisson) / glass.youngs_pa


def left_percent(log10_dpa_s: float, minutes: float) -> float:
    """The part of the stress that remains."""
    return 100 * math.exp(-minutes * 60 / maxwell_s(log10_dpa_s))


def _after_the_model_s_time(log10_dpa_s: float) -> float:
    """What remains after as long as the model lets a piece relax at that point."""
    glass = soda_lime()
    point_c = glass.annealing_c if log10_dpa_s == ANNEALING else glass.strain_c
    return left_percent(log10_dpa_s, glass.relaxation_min(point_c))


ROWS = (
    Check(
        what="stress is gone at the annealing point after",
        unit="min",
        published=About(value=15.0, within=0.0),
        seen=Seen.FOUND,
        source=GLOSS,
        computed=lambda: soda_lime().relaxation_min(soda_lime().annealing_c),
    ),
    Check(
        what="stress is gone at the strain point after",
        unit="min",
        published=About(value=240.0, within=0.001),
        seen=Seen.FOUND,
        source=GLOSS,
        computed=lambda: soda_lime().relaxation_min(soda_lime().strain_c),
    ),
    Check(
        what="Maxwell's time at 10^12 Pa·s (annealing point)",
        unit="s",
        published=About(value=67.0, within=0.5),
        seen=Seen.DERIVED,
        source=MAXWELL,
        computed=partial(maxwell_s, ANNEALING),
    ),
    Check(
        what="Maxwell's time at 10^13.5 Pa·s (strain point)",
        unit="s",
        published=About(value=2114.0, within=1.0),
        seen=Seen.DERIVED,
        source=MAXWELL,
        computed=partial(maxwell_s, STRAIN),
    ),
    Check(
        what="stress left by Maxwell at the annealing point after the model's time there",
        unit="%",
        published=About(value=1.4e-4, within=0.05e-4),
        seen=Seen.DERIVED,
        source=MAXWELL,
        computed=partial(_after_the_model_s_time, ANNEALING),
    ),
    Check(
        what="stress left by Maxwell at the strain point after 15 min",
        unit="%",
        published=About(value=65.0, within=0.5),
        seen=Seen.DERIVED,
        source=MAXWELL,
        computed=partial(left_percent, STRAIN, 15.0),
    ),
    Check(
        what="stress left by Maxwell at the strain point after the model's time there",
        unit="%",
        published=About(value=0.11, within=0.005),
        seen=Seen.DERIVED,
        source=MAXWELL,
        computed=partial(_after_the_model_s_time, STRAIN),
    ),
)
