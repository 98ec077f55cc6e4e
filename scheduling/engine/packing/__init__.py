"""Pieces on kiln shelves: where each stands, how few shelves do, and how many there must be at least. Pure."""

from scheduling.engine.packing.pack import pack
from scheduling.engine.packing.shapes import Footprint, Packing, Placed, Shelf, TooLarge

__all__ = ["Footprint", "Packing", "Placed", "Shelf", "TooLarge", "pack"]
