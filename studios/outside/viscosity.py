"""The fixed points of a glass by its viscosity, and the curve through three of them."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from studios.outside.check import About, Check, Seen
from studios.thermal import FAMILIES, Viscosity
from studios.thermal.viscosity import ANNEALING, SOFTENING, STRAIN, WORKING

FLUEGEL = (
    "NIST SRM certificates as tabulated by Fluegel, Glass Technol. A 48 (2007) 13-30, table 12; second-hand"
)
POINTS = "ISO 7884-1:1987; ASTM C336, C338, C598"

LOG_10_DPA_S = (2.5, SOFTENING, ANNEALING)
ISOKOMS_C = {
    "SRM 710a": (1319.0, 731.0, 545.0),
    "SRM 717a": (1388.0, 719.0, 514.0),
    "SRM 711": (1185.0, 614.0, 443.0),
    "SRM 710": (1293.0, 725.0, 556.0),
    "DGG I": (1301.0, 721.0, 539.0),
}
QUOTED_710 = Viscosity(a=-1.626, b=4239.0, t0_c=265.7)
MEASURED_STRAIN_710_C = 504.0


def through(material: str) -> Viscosity:
    """The curve through the three tabulated isokoms of a reference glass."""
    first, second, third = zip(LOG_10_DPA_S, ISOKOMS_C[material], strict=True)
    return Viscosity.through(first, second, third)


def point_rows() -> Iterator[Check]:
    named = (("annealing", ANNEALING, 13.0), ("strain", STRAIN, 14.5), ("softening", SOFTENING, 7.6))
    for name, log, published in named:
        yield Check(
            what=f"{name} point, viscosity as log10",
            unit="dPa·s",
            published=About(value=published, within=0.0),
            seen=Seen.FOUND,
            source=POINTS,
            computed=partial(float, log),
        )
    yield Check(
        what="elongation rate at the strain point over that at the annealing point",
        published=About(value=0.0316, within=0.00005),
        seen=Seen.FOUND,
        source="ASTM C336; 10^-1.5",
        computed=lambda: float(10 ** (ANNEALING - STRAIN)),
    )


def isokom_rows() -> Iterator[Check]:
    """A fit through three points gives the three back."""
    for material, isokoms in ISOKOMS_C.items():
        for log, published in zip(LOG_10_DPA_S, isokoms, strict=True):
            yield Check(
                what=f"{material}, 10^{log:g} dPa·s, by the curve through its three isokoms",
                unit="°C",
                published=About(value=published, within=0.001),
                seen=Seen.FOUND,
                source=FLUEGEL,
                computed=partial(_isokom_c, material, log),
            )


def _isokom_c(material: str, log: float) -> float:
    return through(material).temperature_c(log)


def quoted_rows() -> Iterator[Check]:
    for log, published in zip(LOG_10_DPA_S, ISOKOMS_C["SRM 710"], strict=True):
        yield Check(
            what=f"SRM 710, 10^{log:g} dPa·s, by the quoted coefficients −1.626, 4239, 265.7",
            unit="°C",
            published=About(value=published, within=1.0),
            seen=Seen.MEMORY,
            source="coefficients from memory; isokoms " + FLUEGEL,
            computed=partial(QUOTED_710.temperature_c, log),
        )
    yield _working_710("the quoted coefficients", QUOTED_710, 1.0)
    yield _working_710("the curve through its other three isokoms", through("SRM 710"), 2.0)


def _working_710(by: str, curve: Viscosity, within: float) -> Check:
    """The working point took no part in either fit."""
    return Check(
        what=f"SRM 710, 10^{WORKING:g} dPa·s, not among the fitted points, by {by}",
        unit="°C",
        published=About(value=1019.0, within=within),
        seen=Seen.MEMORY,
        source="NIST SRM 710 certificate",
        computed=partial(curve.temperature_c, WORKING),
    )


def strain_rows() -> Iterator[Check]:
    """Why a strain point is stored and never computed from a viscosity fit."""
    source = "NIST SRM 710 certificate; viscosity at 10^14.5 dPa·s"
    yield Check(
        what="SRM 710, strain point by the viscosity curve (never used: too high)",
        unit="°C",
        published=About(value=529.0, within=1.0),
        seen=Seen.MEMORY,
        source=source,
        computed=partial(QUOTED_710.temperature_c, STRAIN),
    )
    yield Check(
        what="SRM 710, how far that lies above the measured strain point",
        unit="K",
        published=About(value=25.0, within=1.0),
        seen=Seen.MEMORY,
        source=source,
        computed=lambda: QUOTED_710.temperature_c(STRAIN) - MEASURED_STRAIN_710_C,
    )
    yield Check(
        what="strain point stored for float, against that measured on SRM 710",
        unit="°C",
        published=About(value=MEASURED_STRAIN_710_C, within=5.0),
        seen=Seen.MEMORY,
        source=source,
        computed=lambda: FAMILIES["float"].glass.strain_c,
    )


ROWS = (*point_rows(), *isokom_rows(), *quoted_rows(), *strain_rows())
