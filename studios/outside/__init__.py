"""Every value that the model is held against and that nobody in the project wrote. Pure Python."""

from collections.abc import Mapping
from types import MappingProxyType

from studios.outside import handbook, newton, practice, properties, reference, relaxation, stresses, viscosity
from studios.outside.check import About, Between, Check, Seen

THEMES: Mapping[str, tuple[Check, ...]] = MappingProxyType(
    {
        "Fixed points and viscosity": viscosity.ROWS,
        "Relaxation": relaxation.ROWS,
        "Properties": properties.ROWS,
        "Gradient, stress and rates": stresses.ROWS,
        "A handbook's schedule": handbook.ROWS,
        "Cooling of equipment": (*newton.ROWS, *reference.ROWS),
        "Practice": practice.ROWS,
    }
)
CHECKS = tuple(check for rows in THEMES.values() for check in rows)

__all__ = ["CHECKS", "THEMES", "About", "Between", "Check", "Seen"]
