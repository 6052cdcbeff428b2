"""A place in every notation, with no more digits than are known."""

from __future__ import annotations

import math

from pathprofile.errors import LocationError
from pathprofile.places.degrees import write_degrees, write_minutes, write_seconds
from pathprofile.places.grids import to_mgrs, to_utm
from pathprofile.places.location import METRES_PER_DEGREE, Cell, Location
from pathprofile.places.locators import LOCATOR_LENGTHS, locator, locator_cell

__all__ = ["notations"]

_MOST_DECIMALS = 7  # a centimetre, in degrees
# An uncertainty read from digits must call for those same digits again, in spite of rounding.
_SLACK = 1.001


def notations(location: Location) -> dict[str, str]:
    """Write a place in every notation.

    Parameters
    ----------
    location
        The place; its uncertainty decides how many digits are written.

    Returns
    -------
    dict of str
        ``decimal degrees``, ``degrees and minutes``, ``degrees, minutes and seconds``, ``locator (6
        characters)`` and so on for each length that the uncertainty justifies (4 alone where it justifies no
        more), ``UTM`` and ``MGRS``. The two grids are left out near the poles, where they do not exist.

    Notes
    -----
    Each notation gets the fewest digits whose half step does not exceed the uncertainty. UTM, which has no
    shorter form for a vaguer place, is rounded to a power of ten of at most a tenth of the uncertainty and of
    1 km, so that it still lies there when it is read back as a point.

    The centre of a cell is no measured point: rounded like one it could land on the cell's edge. As far as
    each notation goes, it gets as many digits as keep it within a tenth of the cell's shorter side; in its
    own notation the cell comes back as itself.
    """
    latitude, longitude = location.latitude_deg, location.longitude_deg
    radius_m = location.uncertainty_m * _SLACK
    digits_m = radius_m if location.cell is None else _tenth_of_side_m(location.cell)
    written = {
        "decimal degrees": write_degrees(
            latitude, longitude, _decimals(METRES_PER_DEGREE, digits_m, _MOST_DECIMALS)
        ),
        "degrees and minutes": write_minutes(
            latitude, longitude, _decimals(METRES_PER_DEGREE / 60, digits_m, _MOST_DECIMALS - 2)
        ),
        "degrees, minutes and seconds": write_seconds(
            latitude, longitude, _decimals(METRES_PER_DEGREE / 3600, digits_m, _MOST_DECIMALS - 4)
        ),
    }
    if location.cell is None:
        lengths = _locator_lengths(latitude, longitude, radius_m)
    else:  # shorter ones have their centres elsewhere; half, as a locator's cell may be twice as wide as high
        own = location.notation == "locator"
        lengths = _locator_lengths(latitude, longitude, radius_m if own else digits_m / 2)[-1:]
    for length in lengths:
        written[f"locator ({length} characters)"] = locator(latitude, longitude, length)
    try:
        zone, band, easting, northing = to_utm(latitude, longitude)
    except LocationError:  # poleward of the grid
        return written
    step = _utm_step_m(min(radius_m, 10.0 * digits_m))
    written["UTM"] = f"{zone}{band} {round(easting / step) * step} {round(northing / step) * step}"
    grid_m = radius_m if location.notation == "MGRS" else digits_m
    written["MGRS"] = to_mgrs(latitude, longitude, _decimals(100_000.0, grid_m, 5))
    return written


def _tenth_of_side_m(cell: Cell) -> float:
    """Half a step in both axes that moves a point by at most a tenth of the cell's shorter side."""
    middle_deg = (cell.south_deg + cell.north_deg) / 2.0
    east_west_deg = (cell.east_deg - cell.west_deg) * math.cos(math.radians(middle_deg))
    return 0.1 * METRES_PER_DEGREE * min(cell.north_deg - cell.south_deg, east_west_deg) / math.sqrt(2.0)


def _decimals(unit_m: float, radius_m: float, most: int) -> int:
    """Decimals of a unit so that half a step of the last one is within the radius."""
    if radius_m <= 0.0:
        return most
    return min(most, max(0, math.ceil(math.log10(0.5 * unit_m / radius_m))))


def _utm_step_m(radius_m: float) -> int:
    """Power of ten that moves a point by less than a tenth of its uncertainty, from 1 m to 1 km.

    Half a diagonal of 1 km stays within what reading allows beyond a latitude band.
    """
    return int(10 ** min(3, max(0, math.floor(math.log10(max(radius_m, 1.0) / 10.0)))))


def _locator_lengths(latitude_deg: float, longitude_deg: float, radius_m: float) -> tuple[int, ...]:
    suitable = LOCATOR_LENGTHS[-1]
    for length in LOCATOR_LENGTHS:
        cell = locator_cell(locator(latitude_deg, longitude_deg, length))
        if 0.5 * (cell.north_deg - cell.south_deg) * METRES_PER_DEGREE <= radius_m:
            suitable = length
            break
    return (4,) if suitable == 4 else tuple(length for length in LOCATOR_LENGTHS if 6 <= length <= suitable)
