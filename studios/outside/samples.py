"""The glasses and equipment that the published questions are about."""

from __future__ import annotations

from studios.thermal import Body, Glass, Piece, Policy, Shape

NO_CEILINGS = Policy(heating_ceilings=None, cooling_ceilings=None)


def soda_lime(
    *,
    expansion_1e7: float = 90.0,
    kappa_m2_per_s: float = 4.6e-7,
    annealing_c: float = 510.0,
    strain_c: float = 480.0,
) -> Glass:
    """E 70 GPa, ν 0.22 and the diffusivity asked for."""
    density, heat_capacity = 2500.0, 1170.0
    return Glass(
        name="the glass of the check",
        expansion_per_k=expansion_1e7 * 1e-7,
        annealing_c=annealing_c,
        strain_c=strain_c,
        softening_c=690.0,
        youngs_pa=70e9,
        poisson=0.22,
        conductivity_w_per_m_k=kappa_m2_per_s * density * heat_capacity,
        density_kg_per_m3=density,
        heat_capacity_j_per_kg_k=heat_capacity,
    )


def slab(thickness_mm: float, shape: Shape = Shape.PLATE_ON_SHELF, *, glass: Glass | None = None) -> Piece:
    return Piece(glass=glass or soda_lime(), shape=shape, thickness_mm=thickness_mm)


def kiln(tau_h: float, *, ambient_c: float = 22.0, door_c: float | None = None) -> Body:
    return Body(tau_h=tau_h, ceiling_c=1100.0, power_kw=4.0, ambient_c=ambient_c, door_c=door_c)
