"""What a place is once read: a point, how well it is known, and how it was written."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from pathprofile.errors import LocationError

__all__ = ["METRES_PER_DEGREE", "Cell", "Location"]

# One degree of latitude on a sphere of the Earth's mean radius, 6371.0088 km (IUGG).
METRES_PER_DEGREE = 111_195.1


class Cell(NamedTuple):
    """The area a locator or grid square stands for [degrees]; `east_deg` may pass 180 at the date line."""

    south_deg: float
    west_deg: float
    north_deg: float
    east_deg: float


@dataclass(frozen=True, slots=True)
class Location:
    """A place on the WGS 84 ellipsoid.

    Attributes
    ----------
    latitude_deg, longitude_deg
        The point, or the centre of the cell [degrees].
    label
        What to call it.
    uncertainty_m
        Radius within which the place lies, from the digits typed [m]: half a step of the last digit of the
        coarser coordinate (two decimals of a degree are 556 m), or the way from a cell's centre to its
        farthest corner.
    cell
        Bounds of the locator or grid square, None for a point. Squares of a metric grid lie slightly
        askew; theirs is the box around the four corners.
    notation
        ``degrees``, ``locator``, ``UTM`` or ``MGRS``.
    text
        As typed.

    Raises
    ------
    LocationError
        For coordinates off the globe or an uncertainty that is no length.
    """

    latitude_deg: float
    longitude_deg: float
    label: str = ""
    uncertainty_m: float = 0.0
    cell: Cell | None = None
    notation: str = "degrees"
    text: str = ""

    def __post_init__(self) -> None:
        if not -90.0 <= self.latitude_deg <= 90.0:
            raise LocationError(f"latitude {self.latitude_deg!r} is impossible: give -90 to 90 degrees")
        if not -180.0 <= self.longitude_deg <= 180.0:
            raise LocationError(f"longitude {self.longitude_deg!r} is impossible: give -180 to 180 degrees")
        if not 0.0 <= self.uncertainty_m < float("inf"):
            raise LocationError(f"uncertainty {self.uncertainty_m!r} m is impossible: give 0 m or more")
