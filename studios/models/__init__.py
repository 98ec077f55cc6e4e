"""Places, equipment, supplies, glass and people."""

from studios.models.calibration import Calibration, Ranges
from studios.models.equipment import Draw, Equipment, EquipmentKind, Supply, SupplyKind, ThermalRecord
from studios.models.glass import GlassType
from studios.models.moulds import Mould
from studios.models.people import (
    EndedRole,
    Language,
    Membership,
    Person,
    Qualification,
    Role,
    SignUp,
    Units,
)
from studios.models.places import BenchHours, Closure, StaffedHours, Studio, Travel, Weekday
from studios.models.pots import Pot
from studios.models.rooms import OwnProcess, Season
from studios.models.terms import Acknowledgement, SafetyText, Term

__all__ = [
    "Acknowledgement",
    "BenchHours",
    "Calibration",
    "Closure",
    "Draw",
    "EndedRole",
    "Equipment",
    "EquipmentKind",
    "GlassType",
    "Language",
    "Membership",
    "Mould",
    "OwnProcess",
    "Person",
    "Pot",
    "Qualification",
    "Ranges",
    "Role",
    "SafetyText",
    "Season",
    "SignUp",
    "StaffedHours",
    "Studio",
    "Supply",
    "SupplyKind",
    "Term",
    "ThermalRecord",
    "Travel",
    "Units",
    "Weekday",
]
