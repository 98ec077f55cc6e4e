"""Properties of the families, against standards, handbooks and a reference library."""

from __future__ import annotations

from collections.abc import Callable

from studios.outside.check import About, Between, Check, Seen
from studios.outside.reference import GLASS_SODA_LIME, HT
from studios.thermal import FAMILIES, Glass

ISO_3585 = "ISO 3585:1998, borosilicate 3.3"
CRC = "CRC Handbook of Chemistry and Physics; Nielsen et al., Computers & Structures 88 (2010) 963"

Published = About | Between


def _row(
    slug: str,
    what: str,
    unit: str,
    published: Published,
    *,
    seen: Seen,
    source: str,
    read: Callable[[Glass], float],
) -> Check:
    return Check(
        what=f"{FAMILIES[slug].glass.name}: {what}",
        unit=unit,
        published=published,
        seen=seen,
        source=source,
        computed=lambda: read(FAMILIES[slug].glass),
    )


def _boro(what: str, unit: str, published: Published, read: Callable[[Glass], float]) -> Check:
    return _row("borosilicate-33", what, unit, published, seen=Seen.MEMORY, source=ISO_3585, read=read)


def _float(what: str, unit: str, published: Published, seen: Seen, read: Callable[[Glass], float]) -> Check:
    return _row("float", what, unit, published, seen=seen, source=CRC, read=read)


def exactly(value: float) -> About:
    """A stored value is the published one, but for the last bit of a float."""
    return About(value=value, within=1e-9)


BOROSILICATE = (
    _boro("expansion (20-300 °C)", "× 1e-7 /K", exactly(33.0), lambda glass: glass.expansion_per_k * 1e7),
    _boro("density", "g/cm³", exactly(2.23), lambda glass: glass.density_kg_per_m3 / 1e3),
    _boro("Young's modulus", "GPa", exactly(64.0), lambda glass: glass.youngs_pa / 1e9),
    _boro("Poisson's ratio", "", exactly(0.20), lambda glass: glass.poisson),
    _boro("annealing point", "°C", exactly(560.0), lambda glass: glass.annealing_c),
    _boro("strain point", "°C", Between(low=510.0, high=515.0), lambda glass: glass.strain_c),
    _boro("softening point", "°C", Between(low=820.0, high=825.0), lambda glass: glass.softening_c),
    _boro("conductivity", "W/(m K)", exactly(1.2), lambda glass: glass.conductivity_w_per_m_k),
)

FLOAT = (
    _float(
        "expansion",
        "× 1e-7 /K",
        Between(low=88.0, high=95.0),
        Seen.FOUND,
        lambda glass: glass.expansion_per_k * 1e7,
    ),
    _float(
        "Young's modulus",
        "GPa",
        Between(low=70.0, high=74.0),
        Seen.FOUND,
        lambda glass: glass.youngs_pa / 1e9,
    ),
    _float("Poisson's ratio", "", Between(low=0.22, high=0.23), Seen.FOUND, lambda glass: glass.poisson),
    _float("density", "g/cm³", exactly(2.5), Seen.FOUND, lambda glass: glass.density_kg_per_m3 / 1e3),
    _float(
        "conductivity at 500 °C",
        "W/(m K)",
        About(value=1.4, within=0.05),
        Seen.MEMORY,
        lambda glass: glass.conductivity_w_per_m_k,
    ),
    _float(
        "heat capacity at 500 °C",
        "J/(kg K)",
        About(value=1170.0, within=5.0),
        Seen.MEMORY,
        lambda glass: glass.heat_capacity_j_per_kg_k,
    ),
    _float(
        "diffusivity at 500 °C",
        "× 1e-7 m²/s",
        About(value=4.8, within=0.05),
        Seen.MEMORY,
        lambda glass: glass.diffusivity_m2_per_s * 1e7,
    ),
    _float(
        "diffusivity at 500 °C, range",
        "× 1e-7 m²/s",
        Between(low=4.2, high=5.5),
        Seen.MEMORY,
        lambda glass: glass.diffusivity_m2_per_s * 1e7,
    ),
    _float(
        "heat capacity at 500 °C, above that at 20 °C (720-880)",
        "J/(kg K)",
        Between(low=880.0),
        Seen.FOUND,
        lambda glass: glass.heat_capacity_j_per_kg_k,
    ),
)

LIBRARY = (
    _row(
        "float",
        "density, against a library's table",
        "kg/m³",
        exactly(GLASS_SODA_LIME[0]),
        seen=Seen.FOUND,
        source=HT,
        read=lambda glass: glass.density_kg_per_m3,
    ),
    _row(
        "float",
        "conductivity at 500 °C, not below the library's at 20 °C",
        "W/(m K)",
        Between(low=GLASS_SODA_LIME[1]),
        seen=Seen.FOUND,
        source=HT,
        read=lambda glass: glass.conductivity_w_per_m_k,
    ),
    _row(
        "float",
        "heat capacity at 500 °C, not below the library's at 20 °C",
        "J/(kg K)",
        Between(low=GLASS_SODA_LIME[2]),
        seen=Seen.FOUND,
        source=HT,
        read=lambda glass: glass.heat_capacity_j_per_kg_k,
    ),
)

ANNEALING_RANGES_C = {
    "float": (477.0, 548.0),
    "hot-shop": (477.0, 548.0),
    "fusing-90": (477.0, 548.0),
    "soft-104": (504.0, 516.0),
    "borosilicate-33": (560.0, 566.0),
}

# The annealing temperature does not follow from the expansion number, so each glass stores its own.
ANNEALING = tuple(
    _row(
        slug,
        "annealing temperature",
        "°C",
        Between(low=low, high=high),
        seen=Seen.PRACTICE,
        source="no source",
        read=lambda glass: glass.annealing_c,
    )
    for slug, (low, high) in ANNEALING_RANGES_C.items()
)

ROWS = (*BOROSILICATE, *FLOAT, *LIBRARY, *ANNEALING)
