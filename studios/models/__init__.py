"""Places, equipment, supplies, glass and people."""

from studios.models.equipment import Draw, Equipment, EquipmentKind, Supply, SupplyKind, ThermalRecord
from studios.models.glass import GlassType
from studios.models.people import Membership, Person, Qualification, Role
from studios.models.places import BenchHours, Closure, StaffedHours, Studio, Travel, Weekday

__all__ = [
    "BenchHours",
    "Closure",
    "Draw",
    "Equipment",
    "EquipmentKind",
    "GlassType",
    "Membership",
    "Person",
    "Qualification",
    "Role",
    "StaffedHours",
    "Studio",
    "Supply",
    "SupplyKind",
    "ThermalRecord",
    "Travel",
    "Weekday",
]
