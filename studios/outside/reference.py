"""Numbers of the library `ht` (its own tables); a test holds them against the installed library.

From its refractories come the time constants of brick equipment: a wall that loses heat through one face
dies away by its first mode, τ = 4·w²/(π²·κ), however hot it was.
"""

from __future__ import annotations

from functools import partial

from studios.outside.check import Between, Check, Seen
from studios.thermal.stress import SLAB

HT = "ht 1.2.0 (Python library), its own tables"

GLASS_SODA_LIME = (2500.0, 1.0, 750.0)  # density kg/m³, conductivity W/(m K), heat capacity J/(kg K) at 20 °C
FIRECLAY_AT_500_C_W_PER_M_K = 1.075
# Insulating brick L1260: density kg/m³; conductivity W/(m K) and heat capacity J/(kg K) at 400 °C.
L1260_KG_PER_M3 = 490.0
L1260_W_PER_M_K = 0.14
L1260_J_PER_KG_K = 942.0


def brick_tau_h(wall_mm: float) -> float:
    """The slowest mode of a wall of insulating brick, hot on one side, in hours."""
    diffusivity = L1260_W_PER_M_K / (L1260_KG_PER_M3 * L1260_J_PER_KG_K)
    return (wall_mm / 1e3) ** 2 / (SLAB.decay * diffusivity) / 3600


ROWS = tuple(
    Check(
        what=f"time constant of {what}: a wall of {wall_mm:g} mm insulating brick L1260",
        unit="h",
        published=Between(low=low, high=high),
        seen=Seen.DERIVED,
        source=f"from brick data of {HT}; the thickness is ours",
        computed=partial(brick_tau_h, wall_mm),
    )
    for what, wall_mm, low, high in (
        ("a small brick kiln", 76.0, 2.0, 3.5),
        ("a big brick annealer", 127.0, 5.0, 8.0),
    )
)
