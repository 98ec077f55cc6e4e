"""From glass, thickness, mounting and equipment to the program, the real curve and the hours. Pure Python."""

from studios.thermal.body import Body
from studios.thermal.curve import Curve, CurvePiece, PhaseSpan
from studios.thermal.energy import energy_kwh, holding_kw
from studios.thermal.errors import ThermalError
from studios.thermal.firing import FiringPlan, governing_piece, plan_firing
from studios.thermal.glass import Glass
from studios.thermal.limits import Rule
from studios.thermal.motion import cool_down_curve, heat_up_curve, reheat_min
from studios.thermal.phases import Phase
from studios.thermal.piece import Piece, Shape
from studios.thermal.policy import Policy, compatible
from studios.thermal.program import Segment
from studios.thermal.recipe import Recipe

__all__ = [
    "Body",
    "Curve",
    "CurvePiece",
    "FiringPlan",
    "Glass",
    "Phase",
    "PhaseSpan",
    "Piece",
    "Policy",
    "Recipe",
    "Rule",
    "Segment",
    "Shape",
    "ThermalError",
    "compatible",
    "cool_down_curve",
    "energy_kwh",
    "governing_piece",
    "heat_up_curve",
    "holding_kw",
    "plan_firing",
    "reheat_min",
]
