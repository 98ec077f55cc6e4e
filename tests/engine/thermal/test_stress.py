"""Stress against rate: the published fractions, conduction in small steps, and a handbook's schedule."""

from __future__ import annotations

import math
from statistics import median

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studios.thermal import Piece, Shape, stress
from studios.thermal.limits import annealing_limit, heating_limit, passing_limit
from studios.thermal.stress import CYLINDER, SLAB, SPHERE, Form
from tests.engine.thermal.samples import NO_CEILINGS, glass, piece, pieces

# E 70 GPa, ν 0.22, α 9e-6, κ 4.825e-7, R 3 °C/min, L 6.35 mm. Fractions: Carslaw & Jaeger, Conduction of Heat
# in Solids, 2nd ed. 1959; Adams & Williamson, J. Franklin Inst. 190 (1920) 597. Numbers derived.
REFERENCE = glass(kappa_m2_per_s=4.825e-7)
PATH_M = 6.35e-3
RATE_C_PER_H = 180.0


@pytest.mark.parametrize(
    ("form", "centre_mpa", "surface_mpa"),
    [(SLAB, 0.5625, 1.1250), (CYLINDER, 0.4219, 0.4219), (SPHERE, 0.2250, 0.2250)],
    ids=["slab", "cylinder", "sphere"],
)
def test_stress_of_glass_cooled_at_a_steady_rate(form: Form, centre_mpa: float, surface_mpa: float) -> None:
    centre = stress.centre_stress_pa(form, REFERENCE, PATH_M, RATE_C_PER_H) / 1e6
    surface = stress.surface_stress_pa(form, REFERENCE, PATH_M, RATE_C_PER_H) / 1e6

    assert centre == pytest.approx(centre_mpa, abs=5e-5)
    assert surface == pytest.approx(surface_mpa, abs=5e-5)


def test_a_12_mm_slab_on_a_shelf_without_ceilings() -> None:
    """Derived: 0.7 MPa kept, 7 MPa passing, E 70 GPa, ν 0.22, α 9e-6, κ 4.6e-7 give 59.8 and 299 °C/h."""
    slab = piece(Shape.PLATE_ON_SHELF, 12.0, kappa_m2_per_s=4.6e-7)

    assert annealing_limit(slab, NO_CEILINGS).rate_c_per_h == pytest.approx(59.8, abs=0.05)
    assert passing_limit(slab, NO_CEILINGS).rate_c_per_h == pytest.approx(299, abs=0.5)
    # Heating pulls the middle, which carries half of what the surface does: twice the rate.
    assert heating_limit(slab, NO_CEILINGS).rate_c_per_h == pytest.approx(598, abs=0.5)


@given(st.floats(1.0, 100.0))
def test_one_face_against_both(thickness_mm: float) -> None:
    shelf = annealing_limit(piece(Shape.PLATE_ON_SHELF, thickness_mm), NO_CEILINGS).rate_c_per_h
    free = annealing_limit(piece(Shape.PLATE_FREE, thickness_mm), NO_CEILINGS).rate_c_per_h
    half_as_thick = annealing_limit(piece(Shape.PLATE_ON_SHELF, thickness_mm / 2), NO_CEILINGS).rate_c_per_h

    assert free / shelf == pytest.approx(4, rel=1e-12)
    assert free == pytest.approx(half_as_thick, rel=1e-12)


@given(pieces())
def test_the_permitted_rate_gives_the_permitted_stress(drawn: Piece) -> None:
    path_m = drawn.half_or_full_path_m
    kept = annealing_limit(drawn, NO_CEILINGS).rate_c_per_h
    passing = passing_limit(drawn, NO_CEILINGS).rate_c_per_h

    assert stress.centre_stress_pa(drawn.form, drawn.glass, path_m, kept) == pytest.approx(0.7e6)
    assert stress.surface_stress_pa(drawn.form, drawn.glass, path_m, passing) == pytest.approx(7e6)


# Shand, Glass Engineering Handbook, 2nd ed., McGraw-Hill 1958 (from memory; the text was not found): R1 in
# °C/min, one face cooling, by expansion (1e-7 /K) and thickness (mm).
HANDBOOK_R1 = {
    (33, 3.175): 12, (33, 6.35): 3, (33, 12.7): 0.8,
    (50, 3.175): 8, (50, 6.35): 2, (50, 12.7): 0.5,
    (90, 3.175): 4, (90, 6.35): 1, (90, 12.7): 0.3,
}  # fmt: skip


def test_one_permitted_stress_reproduces_a_handbook_schedule() -> None:
    def kept_mpa_at(expansion: float, thickness_mm: float, rate_c_per_min: float) -> float:
        sample = glass(expansion_per_k=expansion * 1e-7, kappa_m2_per_s=4.825e-7)
        return stress.centre_stress_pa(SLAB, sample, thickness_mm / 1e3, rate_c_per_min * 60) / 1e6

    kept = [kept_mpa_at(*row, rate) for row, rate in HANDBOOK_R1.items()]

    # The rate is in proportion to the permitted stress, so the ratio of stresses is that of rates.
    fitted = median(kept)
    errors = [abs(fitted / each - 1) for each in kept]
    assert fitted == pytest.approx(0.21, abs=0.015)
    assert max(errors) < 0.25
    assert sum(error < 0.10 for error in errors) >= 7


def conduct(dimensions: int, times: list[float], cells: int = 40) -> list[tuple[float, float, float]]:
    """Surface temperature falling at 1, in units of L²/κ: (middle, mean, surface) at each time.

    By explicit steps over shells of a slab (1), a cylinder (2) or a sphere (3), each losing to the next.
    """
    width = 1 / cells
    faces = [(i * width) ** (dimensions - 1) for i in range(cells + 1)]
    volumes = [
        (((i + 1) * width) ** dimensions - (i * width) ** dimensions) / dimensions for i in range(cells)
    ]
    heat, now, step, answers = [0.0] * cells, 0.0, 0.2 * width**2, []
    for time in times:
        while now < time - step / 2:
            now += step
            inward = [0.0]
            inward += [faces[i] * (heat[i] - heat[i - 1]) / width for i in range(1, cells)]
            inward.append(faces[cells] * (-now - heat[-1]) / (width / 2))
            heat = [heat[i] + step * (inward[i + 1] - inward[i]) / volumes[i] for i in range(cells)]
        mean = sum(v * h for v, h in zip(volumes, heat, strict=True)) / sum(volumes)
        middle = heat[0] if dimensions > 1 else heat[0] + (heat[0] - heat[1]) / 8
        answers.append((middle, mean, -now))
    return answers


@pytest.mark.parametrize(
    ("dimensions", "form"), [(1, SLAB), (2, CYLINDER), (3, SPHERE)], ids=["slab", "cylinder", "sphere"]
)
def test_the_fractions_agree_with_conduction_calculated_in_small_steps(dimensions: int, form: Form) -> None:
    ((middle, mean, surface),) = conduct(dimensions, [2.5])

    assert middle - surface == pytest.approx(form.difference, rel=5e-3)
    assert mean - surface == pytest.approx(form.surface, rel=5e-3)
    # In a ball the middle is pulled from all sides: two thirds of its difference from the mean (Timoshenko).
    share = 2 / 3 if dimensions == 3 else 1
    assert share * (middle - mean) == pytest.approx(form.centre, rel=5e-3)


def test_the_gradient_of_a_slab_starts_up_at_the_first_mode() -> None:
    """Derived: with τ = 4L²/(π²κ), the difference at t/τ = 0.5, 1, 2, 3, 5 as a part of the steady one."""
    published = {0.5: 0.3745, 1: 0.6203, 2: 0.8603, 3: 0.9486, 5: 0.9930}
    tau = 1 / SLAB.decay
    assert tau == pytest.approx(4 / math.pi**2)

    states = conduct(1, [ratio * tau for ratio in published])

    for (middle, _, surface), part in zip(states, published.values(), strict=True):
        assert (middle - surface) / SLAB.difference == pytest.approx(part, abs=2e-3)


@pytest.mark.parametrize(
    ("dimensions", "form"), [(1, SLAB), (2, CYLINDER), (3, SPHERE)], ids=["slab", "cylinder", "sphere"]
)
def test_a_piece_evens_out_to_one_hundredth_in_the_time_stated(dimensions: int, form: Form) -> None:
    sample = glass()
    minutes = stress.equalise_min(form, sample, 0.01)
    dimensionless = minutes * 60 * sample.diffusivity_m2_per_s / 0.01**2

    # What is left to build up of a gradient dies away like what is left to even out: by the same first mode.
    start = 1 / form.decay
    states = conduct(dimensions, [start, start + dimensionless, 14 / form.decay], cells=24)

    before, after, steady = (middle - surface for middle, _, surface in states)
    assert (steady - after) / (steady - before) == pytest.approx(0.01, abs=0.0005)


def test_fusing_90_with_96_would_keep_about_13_mpa() -> None:
    """Derived: about 2.2 MPa for each 1e-7 of difference."""
    kept = stress.mismatch_stress_pa(glass(), glass(expansion_per_k=96e-7)) / 1e6

    assert kept == pytest.approx(13, abs=0.5)
    assert kept / 6 == pytest.approx(2.2, abs=0.05)


def test_round_glass_may_cool_faster_than_a_plate_of_its_radius() -> None:
    rates = {
        shape: annealing_limit(piece(shape, 20.0), NO_CEILINGS).rate_c_per_h
        for shape in (Shape.PLATE_FREE, Shape.CYLINDER, Shape.SPHERE, Shape.BEAD)
    }

    assert rates[Shape.CYLINDER] / rates[Shape.PLATE_FREE] == pytest.approx(8 / 6)
    assert rates[Shape.SPHERE] / rates[Shape.PLATE_FREE] == pytest.approx(15 / 6)
    assert rates[Shape.BEAD] == rates[Shape.CYLINDER]
