"""Doubts about positions: a locator in disguise, two places in one line, distances made elsewhere."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, NamedTuple

from pathprofile.errors import LocationError
from pathprofile.geodesy import inverse
from pathprofile.places import locator, locator_cell, parse_location
from pathprofile.trip.importing.entry import UnclearError
from pathprofile.trip.names import is_plain_text

if TYPE_CHECKING:
    from pathprofile.places import Location
    from pathprofile.trip.importing.entry import Claim

__all__ = ["Disguise", "agreed", "disagreement", "exchanged", "locator_in_disguise", "read_place", "too_far"]

# Height of a cell [degrees] by length; the coarsest match is the likeliest origin, so it is tried first.
_CELL_HEIGHT_DEG = {4: 1.0, 6: 1.0 / 24.0, 8: 1.0 / 240.0}
_CORNERS_OF = (4, 6)
_EXACT_DEG = 1e-9
# A rounded coordinate may match by chance; one step of its last digit must be small against the cell.
_STEPS_PER_CELL = 40.0
_DECIMALS = re.compile(r"[+-]?\d+(?:\.(\d*))?")
_NEAR_M = 2000.0
_NEAR_SHARE = 0.03
_NEAR_DEG = 5.0
_LIKELY_M = 500_000.0
_HEMISPHERE = re.compile(r"[NSEW]", re.IGNORECASE)
_FAR_M = 1_000_000.0  # beyond what VHF reaches over the ground on any day


class Disguise(NamedTuple):
    """A locator that was written as coordinates."""

    locator: str
    where: str  # "centre" or "corner"


def read_place(text: str) -> Location:
    """Location of a text in any notation; `UnclearError` with the reason alone otherwise."""
    try:
        return parse_location("".join(character for character in text if is_plain_text(character)))
    except LocationError as error:
        raise UnclearError(str(error).partition("; give latitude and")[0]) from None


def locator_in_disguise(location: Location) -> Disguise | None:
    """Locator whose centre or corner a point is, exactly or to the digits written.

    Parameters
    ----------
    location : Location
        A point in degrees; others are never in disguise.

    Returns
    -------
    Disguise or None
        Centres of cells of 4, 6 and 8 characters and corners of those of 4 and 6 are tried, coarse ones
        first. A corner stands for the cell north and east of it.

    Notes
    -----
    Lists made by machine often hold such points where nobody measured any. The last digit may be rounded or
    cut off; such a match counts only if one step of it is at most a fortieth of the cell's height (three
    decimals for six characters), so that chance makes one in a few hundred at most.
    """
    if location.cell is not None or location.notation != "degrees":
        return None
    latitude, longitude = location.latitude_deg, location.longitude_deg
    steps = _last_digit_steps_deg(location)
    for length, height in _CELL_HEIGHT_DEG.items():
        for where, shift in (("centre", 0.5), ("corner", 0.0)):
            if where == "corner" and length not in _CORNERS_OF:
                continue
            north = (latitude + 90.0) / height - shift
            east = (longitude + 180.0) / (2.0 * height) - shift
            off = (abs(north - round(north)) * height, abs(east - round(east)) * 2.0 * height)
            if all(_matches(o, step, height) for o, step in zip(off, steps, strict=True)):
                # The middle of the cell meant, so that rounding cannot push a corner into its neighbour.
                middle_north = (round(north) + 0.5) * height - 90.0
                middle_east = (round(east) + 0.5) * 2.0 * height - 180.0
                if abs(middle_north) > 90.0 or abs(middle_east) > 180.0:
                    return None
                return Disguise(locator(middle_north, middle_east, length), where)
    return None


def agreed(point: Location, cell_text: str) -> str | None:
    """Complaint where a point lies outside the locator that stands beside it; None where they agree."""
    try:
        cell = locator_cell(cell_text.strip())
    except LocationError as error:
        return f"left out: {error}"
    slack = point.uncertainty_m / 111_000.0 + 1e-6
    slack_east = slack / max(0.01, math.cos(math.radians(point.latitude_deg)))
    inside = cell.south_deg - slack <= point.latitude_deg <= cell.north_deg + slack
    # Where the date line runs through, a turn is added or taken.
    inside_east = any(
        cell.west_deg - slack_east <= point.longitude_deg + turn <= cell.east_deg + slack_east
        for turn in (-360.0, 0.0, 360.0)
    )
    if inside and inside_east:
        return None
    return f"the coordinates {point.text} lie outside the locator {cell_text.strip()} beside them"


def disagreement(claim: Claim, start: Location, end: Location) -> str | None:
    """Both figures, where a list's distance or azimuth is not what it is from here.

    Parameters
    ----------
    claim : Claim
        What the list says.
    start, end : Location
        From here, and the station as it goes into the book.

    Returns
    -------
    str or None
        None where they agree: within 2 km, 3 %, or what the positions leave open; azimuths within 5°, or
        what the positions leave open.
    """
    if not claim.stated:
        return None
    try:
        leg = inverse(start.latitude_deg, start.longitude_deg, end.latitude_deg, end.longitude_deg)
        distance_m, azimuth_deg = leg.distance_m, leg.azimuth_deg
    except LocationError:  # one and the same place
        distance_m, azimuth_deg = 0.0, None
    open_m = start.uncertainty_m + end.uncertainty_m
    said, here = [], []
    if claim.distance_m is not None:
        factors = (1.0,) if claim.has_unit else (1.0, 1.609344)
        slack_m = max(_NEAR_M, _NEAR_SHARE * distance_m, open_m)
        if all(abs(claim.distance_m * factor - distance_m) > slack_m for factor in factors):
            said.append(claim.distance_text + ("" if claim.has_unit else " (no unit)"))
            here.append(f"{distance_m / 1000.0:.0f} km")
    if claim.azimuth_deg is not None and azimuth_deg is not None and open_m < distance_m:
        slack_deg = max(_NEAR_DEG, math.degrees(math.asin(open_m / distance_m)))
        if abs((claim.azimuth_deg - azimuth_deg + 180.0) % 360.0 - 180.0) > slack_deg:
            said.append(f"azimuth {claim.azimuth_deg:03.0f}")
            here.append(f"{azimuth_deg:03.0f} true")
    if not said:
        return None
    return (
        f"list says {' and '.join(said)}, from here it is {' and '.join(here)}: the list was made elsewhere"
    )


def too_far(start: Location, end: Location) -> str | None:
    """Complaint about a station so far away that its position is hardly meant; None otherwise."""
    try:
        distance_m = inverse(
            start.latitude_deg, start.longitude_deg, end.latitude_deg, end.longitude_deg
        ).distance_m
    except LocationError:  # one and the same place, or its antipode
        return None
    if distance_m - end.uncertainty_m <= _FAR_M:
        return None
    return f"{distance_m / 1000.0:.0f} km from here: is the position right?"


def exchanged(start: Location, end: Location) -> str | None:
    """Complaint about a station that lies near only with its coordinates exchanged; None otherwise.

    Parameters
    ----------
    start, end : Location
        From here, and the station as it was read.

    Returns
    -------
    str or None
        Where it is more than 500 km away as given, and at most so exchanged. Coordinates with letters for
        the hemisphere, locators and grids are never in doubt.
    """
    if end.notation != "degrees" or _HEMISPHERE.search(end.text) or abs(end.longitude_deg) > 90.0:
        return None
    given_m = _distance_m(start, end.latitude_deg, end.longitude_deg)
    swapped_m = _distance_m(start, end.longitude_deg, end.latitude_deg)
    if given_m <= _LIKELY_M or swapped_m > _LIKELY_M:
        return None
    return (
        f"{given_m / 1000.0:.0f} km from here; swapped it would be {swapped_m / 1000.0:.0f} km:"
        " latitude and longitude exchanged?"
    )


def _distance_m(start: Location, latitude_deg: float, longitude_deg: float) -> float:
    try:
        return inverse(start.latitude_deg, start.longitude_deg, latitude_deg, longitude_deg).distance_m
    except LocationError:  # one and the same place, or its antipode
        return 0.0 if abs(start.latitude_deg - latitude_deg) < 1.0 else 2.0e7


def _matches(off_deg: float, step_deg: float | None, height_deg: float) -> bool:
    if off_deg <= _EXACT_DEG:
        return True
    return step_deg is not None and step_deg <= height_deg / _STEPS_PER_CELL and off_deg <= step_deg


def _last_digit_steps_deg(location: Location) -> tuple[float | None, float | None]:
    """Step of the last digit of either coordinate, None where the text does not plainly tell."""
    numbers = _DECIMALS.findall(location.text)
    if len(numbers) == 2:
        return tuple(10.0 ** -len(decimals) for decimals in numbers)  # type: ignore[return-value]
    # Minutes and seconds: the uncertainty is half a step of the coarser one.
    step = 2.0 * location.uncertainty_m / 111_195.1
    return step, step
