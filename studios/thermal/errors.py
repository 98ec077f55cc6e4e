"""What the thermal model refuses, each with a sentence a glass technician can act on."""

from __future__ import annotations

import math

from studios.errors import LehrbookError
from studios.said import marked


class ThermalError(LehrbookError):
    code = "thermal"
    template = marked("No firing can be planned from this.")


class OutOfRange(ThermalError):
    code = "out-of-range"
    template = marked("{field} must lie between {low:g} and {high:g}; {value:g} does not. Check its unit.")


class AbsurdThickness(OutOfRange):
    code = "absurd-thickness"
    template = marked("A glass thickness must lie between {low:g} and {high:g} mm; {value:g} mm does not.")


class PointsOutOfOrder(ThermalError):
    code = "points-out-of-order"
    template = marked(
        "{glass}: the strain point ({strain_c:g} °C) must lie below the annealing point ({annealing_c:g} °C) "
        "and that below the softening point ({softening_c:g} °C)."
    )


class WorkingPointTooLow(ThermalError):
    code = "working-point-too-low"
    template = marked(
        "{glass}: the working point ({working_c:g} °C) must lie above "
        "the softening point ({softening_c:g} °C)."
    )


class IsokomsOutOfOrder(ThermalError):
    code = "isokoms-out-of-order"
    template = marked(
        "No viscosity curve goes through {points}: a glass gets thinner as it gets hotter, "
        "and more slowly the hotter it is. Check the three points."
    )


class UnknownGlass(ThermalError):
    code = "unknown-glass"
    template = marked("No glass is called “{value}”. Known: {known}.")


class OnlyVesselsHaveAFoot(ThermalError):
    code = "only-vessels-have-a-foot"
    template = marked("Only a vessel has a foot; give the thickness of this {shape} instead.")


class CeilingsOutOfOrder(ThermalError):
    code = "ceilings-out-of-order"
    template = marked(
        "{field}: list each thickness once, thinnest first, all positive, "
        "and never a faster rate for thicker glass."
    )


class MixedExpansion(ThermalError):
    code = "mixed-expansion"
    template = marked(
        "{first} ({first_per_k:.3g} /K) and {second} ({second_per_k:.3g} /K) expand differently: fused in "
        "one piece they would keep about {stress_mpa:.1f} MPa and crack. Use glasses of one expansion."
    )


class AnnealingPointsDiffer(ThermalError):
    code = "annealing-points-differ"
    template = marked(
        "{first} anneals at {first_c:g} °C and {second} at {second_c:g} °C: more than {tolerance_k:g} K "
        "apart, they cannot share a firing. Fire them separately."
    )


class NothingToFire(ThermalError):
    code = "nothing-to-fire"
    template = marked("A firing needs at least one piece of glass.")


class RecipeTooCool(ThermalError):
    code = "recipe-too-cool"
    template = marked(
        "{glass} needs at least {needed_c:.0f} °C for {recipe}, and the program goes to {process_c:g} °C. "
        "Choose a softer glass or another program."
    )


class SqueezeTooHot(ThermalError):
    code = "squeeze-too-hot"
    template = marked(
        "The bubble squeeze ({squeeze_c:g} °C) must lie between 300 °C "
        "and the process temperature ({process_c:g} °C)."
    )


class AboveCeiling(ThermalError):
    code = "above-ceiling"
    template = marked(
        "{target_c:g} °C is out of reach: at full power this equipment settles at {ceiling_c:g} °C."
    )


class CeilingBelowAmbient(ThermalError):
    code = "ceiling-below-ambient"
    template = marked(
        "The ceiling ({ceiling_c:g} °C) must lie above the ambient temperature ({ambient_c:g} °C)."
    )


class NeverCools(ThermalError):
    code = "never-cools"
    template = marked(
        "Nothing cools to {target_c:g} °C in a room of {ambient_c:g} °C. Name a warmer temperature."
    )


class DoorBelowAmbient(NeverCools):
    code = "door-below-ambient"
    template = marked(
        "The door temperature ({target_c:g} °C) must lie above the ambient temperature ({ambient_c:g} °C): "
        "it would never be reached."
    )


class DoorTooHot(ThermalError):
    code = "door-too-hot"
    template = marked("A door is never opened above {limit_c:g} °C; {door_c:g} °C is too hot.")


class TooHotToLoad(ThermalError):
    code = "too-hot-to-load"
    template = marked("At {start_c:g} °C nobody loads a kiln: wait until it is below {limit_c:g} °C.")


class NoCoolingStage(ThermalError):
    code = "no-cooling-stage"
    template = marked(
        "The program ends at {ends_c:g} °C, above the strain point ({strain_c:g} °C), with no cooling stage: "
        "the glass would keep its stress and crack. End it with a fall through the annealing range."
    )


class TooFewSegments(ThermalError):
    code = "too-few-segments"
    template = marked(
        "This program needs at least {needed} segments and the controller takes {most}. "
        "Use another controller, or a program with fewer holds."
    )


class NoHold(ThermalError):
    code = "no-hold"
    template = marked(
        "Working hours with the door in use belong to an annealer that is held hot; "
        "a {recipe} program has none. Leave them out."
    )


class EmptyProgram(ThermalError):
    code = "empty-program"
    template = marked("A program needs at least one segment.")


class EmptyCurve(ThermalError):
    code = "empty-curve"
    template = marked("A curve of no length has no temperature.")


def require_range(field: str, value: float, low: float, high: float) -> None:
    """Refuse a value outside [low, high]; what is not a number is outside every range."""
    if not (math.isfinite(value) and low <= value <= high):
        raise OutOfRange(field=field, value=value, low=low, high=high)
