"""A glass and the numbers that decide how slowly it must cool."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from studios.thermal.errors import PointsOutOfOrder, WorkingPointTooLow, require_range
from studios.thermal.viscosity import ANNEALING, SOFTENING, WORKING, Viscosity

# Stress is gone in about 15 minutes at the annealing point and about 4 hours at the strain point:
# textbook gloss (Shand; Varshneya), from memory.
RELAXED_AT_ANNEALING_MIN = 15.0
RELAXED_AT_STRAIN_MIN = 240.0

# Nearer than this they are a slip, and nothing could be said between them.
LEAST_APART_K = 1.0

# Wide enough for every glass a studio melts, narrow enough to catch a value typed in the wrong unit.
PLAUSIBLE = {
    "expansion_per_k": (1e-8, 3e-5),
    "annealing_c": (100.0, 1500.0),
    "strain_c": (100.0, 1500.0),
    "softening_c": (100.0, 2000.0),
    "working_c": (200.0, 3000.0),
    "youngs_pa": (1e9, 5e11),
    "poisson": (0.01, 0.49),
    "conductivity_w_per_m_k": (0.1, 10.0),
    "density_kg_per_m3": (1000.0, 10000.0),
    "heat_capacity_j_per_kg_k": (100.0, 3000.0),
}


@dataclass(frozen=True, kw_only=True)
class Glass:
    """A glass type. The annealing temperature does not follow from the expansion, so each is stored.

    Annealing, strain and softening point are where the viscosity is 10^13, 10^14.5 and 10^7.6 dPa·s
    (ISO 7884-1:1987; ASTM C336, C338), the working point, where it is known, 10^4. Conductivity and heat
    capacity are those near 500 °C. Raises OutOfRange, PointsOutOfOrder, WorkingPointTooLow or
    IsokomsOutOfOrder.
    """

    name: str
    expansion_per_k: float
    annealing_c: float
    strain_c: float
    softening_c: float
    youngs_pa: float
    poisson: float
    conductivity_w_per_m_k: float
    density_kg_per_m3: float
    heat_capacity_j_per_kg_k: float
    working_c: float | None = None

    def __post_init__(self) -> None:
        for field, (low, high) in PLAUSIBLE.items():
            if (value := getattr(self, field)) is not None:
                require_range(field, value, low, high)
        if not self.strain_c + LEAST_APART_K <= self.annealing_c < self.softening_c:
            raise PointsOutOfOrder(
                field="annealing_c",
                glass=self.name,
                strain_c=self.strain_c,
                annealing_c=self.annealing_c,
                softening_c=self.softening_c,
            )
        self._require_viscosity()

    def _require_viscosity(self) -> None:
        if self.working_c is None:
            return
        if self.working_c <= self.softening_c:
            raise WorkingPointTooLow(
                field="working_c",
                glass=self.name,
                working_c=self.working_c,
                softening_c=self.softening_c,
            )
        _ = self.viscosity

    @cached_property
    def viscosity(self) -> Viscosity | None:
        """The curve through working, softening and annealing point, where all three are known."""
        if self.working_c is None:
            return None
        return Viscosity.through(
            (WORKING, self.working_c), (SOFTENING, self.softening_c), (ANNEALING, self.annealing_c)
        )

    @cached_property
    def stress_modulus_pa(self) -> float:
        """M = E·α/(1 − ν): the stress in Pa that one kelvin of difference makes in a clamped plate, Pa/K."""
        return self.youngs_pa * self.expansion_per_k / (1 - self.poisson)

    @cached_property
    def diffusivity_m2_per_s(self) -> float:
        """κ = k/(ρ·cp)."""
        return self.conductivity_w_per_m_k / (self.density_kg_per_m3 * self.heat_capacity_j_per_kg_k)

    def relaxation_min(self, temperature_c: float) -> float:
        """Minutes until stress is gone: 15 at the annealing point, 240 at the strain point.

        Between the two *stored* points the logarithm of viscosity, and so of the time, is linear in
        temperature; the same line is carried on for the few kelvin by which glasses in one firing differ.
        """
        below = (self.annealing_c - temperature_c) / (self.annealing_c - self.strain_c)
        return float(RELAXED_AT_ANNEALING_MIN * (RELAXED_AT_STRAIN_MIN / RELAXED_AT_ANNEALING_MIN) ** below)
