"""From glass, thickness, mounting and equipment to the program, the real curve and the hours. Pure Python."""

from studios.thermal.body import Body
from studios.thermal.curve import Curve, CurvePiece, PhaseSpan, whole_minutes_up
from studios.thermal.energy import Power, energy_kwh, holding_kw, holding_kwh, power
from studios.thermal.errors import ThermalError
from studios.thermal.examine import Examined, SoakLine, examine_program
from studios.thermal.families import FAMILIES, Family, family
from studios.thermal.firing import FiringPlan, governing_piece, plan_firing
from studios.thermal.glass import Glass
from studios.thermal.limits import Rule
from studios.thermal.moments import Moments
from studios.thermal.motion import cool_down_curve, heat_up_curve, reheat_limits, reheat_min
from studios.thermal.phases import Phase
from studios.thermal.piece import Piece, Shape
from studios.thermal.policy import Policy, compatible
from studios.thermal.program import Lag, Segment
from studios.thermal.recipe import PROCESSES, Process, Recipe
from studios.thermal.report import StressLine
from studios.thermal.viscosity import Viscosity

__all__ = [
    "FAMILIES",
    "PROCESSES",
    "Body",
    "Curve",
    "CurvePiece",
    "Examined",
    "Family",
    "FiringPlan",
    "Glass",
    "Lag",
    "Moments",
    "Phase",
    "PhaseSpan",
    "Piece",
    "Policy",
    "Power",
    "Process",
    "Recipe",
    "Rule",
    "Segment",
    "Shape",
    "SoakLine",
    "StressLine",
    "ThermalError",
    "Viscosity",
    "compatible",
    "cool_down_curve",
    "energy_kwh",
    "examine_program",
    "family",
    "governing_piece",
    "heat_up_curve",
    "holding_kw",
    "holding_kwh",
    "plan_firing",
    "power",
    "reheat_limits",
    "reheat_min",
    "whole_minutes_up",
]
