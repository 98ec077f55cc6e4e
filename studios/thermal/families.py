"""Families of glass a studio meets, each value with where it comes from. No maker's glass is meant.

A studio adds its own glass from the maker's data sheet; the families are where to start when there is none.
"FOUND" values were seen in a copy of the source or a text that quotes it; "from memory" were recalled.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from studios.thermal.errors import UnknownGlass
from studios.thermal.glass import Glass

PRACTICE = "common practice, no source"
MEMORY = "from memory"
CRC = "CRC Handbook of Chemistry and Physics"
NIELSEN = "Nielsen et al., Computers & Structures 88 (2010) 963; at 500 °C from memory"
FLUEGEL = "NIST SRM certificates as tabulated by Fluegel, Glass Technol. A 48 (2007) 13-30, table 12"
ISO_3585 = "ISO 3585:1998, from memory"


@dataclass(frozen=True, kw_only=True)
class Family:
    """A glass with a short name to ask for it by, and the source of each of its values."""

    slug: str
    glass: Glass
    sources: Mapping[str, str]

    @property
    def source(self) -> str:
        """The sources in one sentence, each once, in the order of the values."""
        by_source: dict[str, list[str]] = {}
        for field, source in self.sources.items():
            by_source.setdefault(source, []).append(WORDS[field])
        return "; ".join(f"{', '.join(fields)}: {source}" for source, fields in by_source.items()) + "."


WORDS = {
    "expansion_per_k": "α",
    "annealing_c": "annealing",
    "strain_c": "strain",
    "softening_c": "softening",
    "working_c": "working point",
    "youngs_pa": "E",
    "poisson": "ν",
    "conductivity_w_per_m_k": "k",
    "density_kg_per_m3": "density",
    "heat_capacity_j_per_kg_k": "cp",
}

Sourced = tuple[float, str]


def _family(slug: str, name: str, **values: Sourced) -> Family:
    return Family(
        slug=slug,
        glass=Glass(name=name, **{field: value for field, (value, _) in values.items()}),
        sources=MappingProxyType({field: source for field, (_, source) in values.items()}),
    )


# What all soda-lime glasses share.
SODA_LIME: dict[str, Sourced] = {
    "youngs_pa": (70e9, CRC),
    "poisson": (0.22, CRC),
    "density_kg_per_m3": (2500.0, CRC),
    "conductivity_w_per_m_k": (1.4, NIELSEN),
    "heat_capacity_j_per_kg_k": (1170.0, NIELSEN),
}

_ALL = (
    _family(
        "float",
        "Float (window glass)",
        expansion_per_k=(90e-7, CRC),
        annealing_c=(545.0, FLUEGEL),
        strain_c=(505.0, MEMORY),
        softening_c=(725.0, FLUEGEL),
        working_c=(1019.0, MEMORY),
        **SODA_LIME | {"youngs_pa": (72e9, CRC)},
    ),
    _family(
        "hot-shop",
        "Hot-shop soda-lime",
        expansion_per_k=(96e-7, PRACTICE),
        annealing_c=(510.0, PRACTICE),
        strain_c=(470.0, PRACTICE),
        softening_c=(690.0, MEMORY),
        **SODA_LIME,
    ),
    _family(
        "fusing-90",
        "Fusing glass",
        expansion_per_k=(90e-7, PRACTICE),
        annealing_c=(515.0, PRACTICE),
        strain_c=(480.0, PRACTICE),
        softening_c=(680.0, MEMORY),
        **SODA_LIME,
    ),
    _family(
        "soft-104",
        "Soft lampworking glass",
        expansion_per_k=(104e-7, PRACTICE),
        annealing_c=(510.0, PRACTICE),
        strain_c=(470.0, PRACTICE),
        softening_c=(670.0, MEMORY),
        **SODA_LIME,
    ),
    _family(
        "borosilicate-33",
        "Borosilicate 3.3",
        expansion_per_k=(33e-7, ISO_3585),
        annealing_c=(560.0, ISO_3585),
        strain_c=(515.0, ISO_3585),
        softening_c=(820.0, ISO_3585),
        working_c=(1260.0, MEMORY),
        youngs_pa=(64e9, ISO_3585),
        poisson=(0.20, ISO_3585),
        conductivity_w_per_m_k=(1.2, ISO_3585),
        density_kg_per_m3=(2230.0, ISO_3585),
        heat_capacity_j_per_kg_k=(1100.0, MEMORY),
    ),
    _family(
        "lead-crystal",
        "Lead crystal",
        expansion_per_k=(91e-7, MEMORY),
        annealing_c=(443.0, f"SRM 711, {FLUEGEL}"),
        strain_c=(400.0, MEMORY),
        softening_c=(614.0, f"SRM 711, {FLUEGEL}"),
        working_c=(910.0, "by VFT through the three isokoms of SRM 711"),
        youngs_pa=(61e9, MEMORY),
        poisson=(0.22, MEMORY),
        conductivity_w_per_m_k=(1.1, MEMORY),
        density_kg_per_m3=(3000.0, MEMORY),
        heat_capacity_j_per_kg_k=(900.0, MEMORY),
    ),
    _family(
        "fused-silica",
        "Fused silica (the limit case)",
        expansion_per_k=(5.5e-7, MEMORY),
        annealing_c=(1140.0, MEMORY),
        strain_c=(1070.0, MEMORY),
        softening_c=(1665.0, MEMORY),
        youngs_pa=(73e9, MEMORY),
        poisson=(0.17, MEMORY),
        conductivity_w_per_m_k=(1.6, MEMORY),
        density_kg_per_m3=(2200.0, MEMORY),
        heat_capacity_j_per_kg_k=(1050.0, MEMORY),
    ),
)

FAMILIES: Mapping[str, Family] = MappingProxyType({family.slug: family for family in _ALL})


def family(slug: str) -> Family:
    """A family by its short name. Raises UnknownGlass."""
    if slug not in FAMILIES:
        raise UnknownGlass(field="glass", value=slug, known=", ".join(FAMILIES))
    return FAMILIES[slug]
