"""Pieces on kiln shelves: where each stands, and how many shelves there must be at least. Pure.

`pack` is in a module of its own, which brings OR-Tools with it.
"""

from scheduling.engine.packing.beside import fits_beside
from scheduling.engine.packing.shapes import Footprint, Packing, Placed, Shelf, TooLarge

__all__ = ["Footprint", "Packing", "Placed", "Shelf", "TooLarge", "fits_beside"]
