"""Pieces on kiln shelves: where each stands, and how many shelves there must be at least. Pure."""

from scheduling.engine.packing.beside import fits_beside
from scheduling.engine.packing.pack import pack
from scheduling.engine.packing.shapes import Footprint, Packing, Placed, Shelf, TooLarge

__all__ = ["Footprint", "Packing", "Placed", "Shelf", "TooLarge", "fits_beside", "pack"]
