"""The one list of phases an occupancy is made of."""

from __future__ import annotations

from enum import StrEnum


class Phase(StrEnum):
    """What a piece of equipment is doing. The values are stored and shown: they are never renamed lightly."""

    DRYING = "drying"
    LOADING = "loading"
    PURGE = "purge"
    HEAT_UP = "heat-up"
    HOLDING = "holding"
    WORKING = "working"
    SOAK = "soak"
    ANNEALING = "annealing"
    COOLING = "cooling"
    WAITING = "waiting"
    UNLOADING = "unloading"
    CHARGING = "charging"
    FINING = "fining"
    OUTAGE = "outage"
