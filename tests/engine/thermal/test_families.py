"""The families of glass a studio starts from."""

from __future__ import annotations

from dataclasses import fields, replace

import pytest

from studios.thermal import FAMILIES, Family, Glass, Piece, Shape, compatible, family
from studios.thermal.errors import MixedExpansion, UnknownGlass

EACH = pytest.mark.parametrize("known", FAMILIES.values(), ids=list(FAMILIES))

# Published or practised, each beside its source; a family lies within what is said of it.
SAID: dict[tuple[str, str], tuple[float, float]] = {
    ("float", "expansion_per_k"): (8.8e-6, 9.5e-6),  # CRC Handbook
    ("float", "youngs_pa"): (70e9, 74e9),  # CRC Handbook
    ("float", "poisson"): (0.22, 0.23),  # CRC Handbook
    ("float", "diffusivity_m2_per_s"): (4.2e-7, 5.5e-7),  # at 500 °C: Nielsen et al. 2010, from memory
    ("borosilicate-33", "expansion_per_k"): (3.3e-6, 3.3e-6),  # ISO 3585:1998, from memory
    ("borosilicate-33", "density_kg_per_m3"): (2230, 2230),  # ISO 3585:1998, from memory
    ("borosilicate-33", "annealing_c"): (560, 566),  # ISO 3585:1998 from memory; common practice
    ("borosilicate-33", "strain_c"): (510, 515),  # ISO 3585:1998, from memory
    ("borosilicate-33", "softening_c"): (820, 825),  # ISO 3585:1998, from memory
    ("soft-104", "annealing_c"): (504, 516),  # common practice
    ("hot-shop", "annealing_c"): (480, 515),  # common practice: annealers hold 480-515 °C
    ("lead-crystal", "annealing_c"): (443, 443),  # SRM 711, tabulated by Fluegel 2007
    ("lead-crystal", "softening_c"): (614, 614),  # SRM 711, tabulated by Fluegel 2007
}


@pytest.mark.parametrize(("slug", "field"), SAID, ids=lambda said: said)
def test_a_family_has_what_is_said_of_it(slug: str, field: str) -> None:
    least, most = SAID[slug, field]

    assert least * (1 - 1e-9) <= getattr(family(slug).glass, field) <= most * (1 + 1e-9)


def test_every_glass_a_studio_meets_has_a_family() -> None:
    assert len(FAMILIES) >= 7
    assert {"float", "hot-shop", "fusing-90", "soft-104", "borosilicate-33", "lead-crystal"} < set(FAMILIES)


@EACH
def test_each_value_has_its_source(known: Family) -> None:
    given = {each.name for each in fields(Glass) if getattr(known.glass, each.name) is not None} - {"name"}

    assert set(known.sources) == given
    assert all(source.strip() for source in known.sources.values())
    assert all(source in known.source for source in known.sources.values())
    assert known.source.endswith(".")


@EACH
def test_a_family_is_asked_for_by_a_short_plain_name(known: Family) -> None:
    assert known.slug.isascii()
    assert known.slug == known.slug.lower()
    assert " " not in known.slug
    assert family(known.slug) is known


def test_no_two_families_share_a_name() -> None:
    assert len({known.glass.name for known in FAMILIES.values()}) == len(FAMILIES)


def test_an_unknown_glass_is_refused_with_the_known_ones() -> None:
    with pytest.raises(UnknownGlass) as refused:
        family("window")

    assert refused.value.field == "glass"
    assert "window" in str(refused.value)
    assert all(slug in str(refused.value) for slug in FAMILIES)


def test_the_annealing_point_does_not_follow_from_the_expansion() -> None:
    """Common practice: 477 to 548 °C across expansions of 83 to 96."""
    window, crystal = family("float").glass, family("lead-crystal").glass

    assert abs(window.expansion_per_k - crystal.expansion_per_k) <= 1.01e-7
    assert window.annealing_c - crystal.annealing_c > 100


def test_soft_glass_and_borosilicate_share_neither_a_piece_nor_a_firing() -> None:
    soft, hard = family("soft-104").glass, family("borosilicate-33").glass

    assert not compatible(soft, hard)
    with pytest.raises(MixedExpansion):
        Piece(glass=soft, shape=Shape.BEAD, thickness_mm=12, fused_with=(hard,))


def test_a_studio_adds_its_own_glass_from_a_family() -> None:
    own = replace(family("hot-shop").glass, name="our batch", annealing_c=507.0)

    assert own.annealing_c == 507
    assert own.diffusivity_m2_per_s == family("hot-shop").glass.diffusivity_m2_per_s
