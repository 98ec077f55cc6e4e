"""The numbers copied from the library `ht` are those of the library that is installed."""

from __future__ import annotations

from importlib.metadata import version
from typing import Any

import pytest
from ht import insulation

from studios.outside import reference


def test_the_library_is_the_one_that_is_named() -> None:
    assert f"ht {version('ht')}" in reference.HT


def test_soda_lime_glass() -> None:
    assert insulation.building_materials["Glass, soda lime"] == reference.GLASS_SODA_LIME


def test_fireclay_at_500_degrees() -> None:
    found = insulation.refractory_VDI_k("Fireclay", 773.15)

    assert found == pytest.approx(reference.FIRECLAY_AT_500_C_W_PER_M_K)


def test_insulating_brick() -> None:
    by_name: dict[str, Any] = insulation.refractories
    density, conductivities, heat_capacities = by_name["L1260"]

    assert density == reference.L1260_KG_PER_M3 == 490
    assert (conductivities[0], heat_capacities[0]) == (reference.L1260_W_PER_M_K, reference.L1260_J_PER_KG_K)
