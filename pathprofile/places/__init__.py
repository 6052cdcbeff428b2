"""Places: what operators type for them, and every notation they are written in."""

from __future__ import annotations

from pathprofile.places.grids import Utm, from_utm, to_mgrs, to_utm
from pathprofile.places.location import Cell, Location
from pathprofile.places.locators import locator, locator_cell
from pathprofile.places.reading import ACCEPTED_FORMS, parse_location
from pathprofile.places.writing import notations

__all__ = [
    "ACCEPTED_FORMS",
    "Cell",
    "Location",
    "Utm",
    "from_utm",
    "locator",
    "locator_cell",
    "notations",
    "parse_location",
    "to_mgrs",
    "to_utm",
]
