"""One door for every notation: from what an operator types to a `Location`."""

from __future__ import annotations

import math
import re
import unicodedata

from pathprofile.errors import LocationError
from pathprofile.places.degrees import read_degrees
from pathprofile.places.grids import from_mgrs, from_utm
from pathprofile.places.location import METRES_PER_DEGREE, Cell, Location
from pathprofile.places.locators import locator_cell

__all__ = ["ACCEPTED_FORMS", "parse_location"]

ACCEPTED_FORMS = (
    "give latitude and longitude (46.2057 -21.3126, or 46°12.34'N 21°18.76'W, or 46°12'20\"N 21°18'45\"W),"
    " a locator (HN96ie), UTM (27T 475885 5116950) or MGRS (27T VM 75884 16950)"
)
_LONGEST_TEXT = 200
_SHOWN = 48
_MINUSES = "\u2010\u2011\u2012\u2013\u2014\u2212\ufe63\uff0d"
_LOOKALIKES = {
    **dict.fromkeys(map(ord, _MINUSES), "-"),
    **dict.fromkeys(map(ord, "º˚ᵒ"), "°"),
    **dict.fromkeys(map(ord, "′‘’‛ʹʼ´`"), "'"),
    **dict.fromkeys(map(ord, "″“”‟ʺ"), '"'),
    **dict.fromkeys(map(ord, "\u200b\u200c\u200d\u200e\u200f\u2060\ufeff"), None),
}
_LOCATOR_SHAPE = re.compile(r"[A-Z]{2}[0-9]{2}[A-Z0-9]*")
_MGRS_SHAPE = re.compile(r"([0-9]{1,2} ?[A-Z] ?[A-Z] ?[A-Z])((?: ?[0-9]+(?: [0-9]+)*)?)")
_UTM_SHAPE = re.compile(
    r"(?:UTM )?([0-9]{1,2}) ?([A-Z]|NORTH|SOUTH) ([0-9]{5,7})(\.[0-9]+)? ?(?:M?E)?[ ,;] ?"
    r"([0-9]{1,8})(\.[0-9]+)? ?(?:M?N)?"
)


def parse_location(text: str, *, label: str | None = None) -> Location:
    """Read a place in any of the notations an operator meets.

    Parameters
    ----------
    text
        Decimal degrees (signed or with hemisphere letters), degrees-minutes, degrees-minutes-seconds, a
        locator of 4 to 10 characters, UTM with zone and band, or MGRS. The latitude comes before the
        longitude unless letters tell.
    label
        What to call the place; the text itself when None.

    Returns
    -------
    Location
        With the uncertainty the digits leave open: half a step of the last digit of the coarser coordinate
        (two decimals of a degree: 556 m), or, for locators and MGRS, half the diagonal of the cell, whose
        centre is the point.

    Raises
    ------
    LocationError
        One line with the text, the reason, and the accepted forms.

    Notes
    -----
    Typographic minus signs, primes, quotes, no-break spaces and the digits of other scripts are taken as
    their plain selves. Trailing zeros count as digits: ``46.20`` is known ten times better than ``46.2``. The
    letter after a UTM zone is the latitude band, never the hemisphere.
    """
    if len(text) > _LONGEST_TEXT:
        raise _unreadable(text, f"it is {len(text)} characters long")
    cleaned = _clean(text)
    if not any(character.isdigit() for character in cleaned):
        raise _unreadable(text, "it holds no numbers" if cleaned else "it is empty")
    name = cleaned if label is None else label
    try:
        return _read(cleaned, name, text)
    except LocationError as reason:
        raise _unreadable(text, str(reason)) from None


def _read(cleaned: str, label: str, text: str) -> Location:
    capitals = cleaned.upper()
    compact = capitals.replace(" ", "")
    if _LOCATOR_SHAPE.fullmatch(compact):
        cell = locator_cell(compact)
        latitude = (cell.south_deg + cell.north_deg) / 2.0
        longitude = (cell.west_deg + cell.east_deg) / 2.0
        return Location(latitude, longitude, label, _radius_m(cell), cell, "locator", text)
    if mgrs := _MGRS_SHAPE.fullmatch(capitals):
        groups = mgrs[2].split()
        if len(groups) > 2 or (len(groups) == 2 and len(groups[0]) != len(groups[1])):
            raise LocationError("MGRS digits come in one group, or in two of equal length")
        square = from_mgrs(compact)
        return Location(
            square.latitude_deg,
            square.longitude_deg,
            label,
            _radius_m(square.cell),
            square.cell,
            "MGRS",
            text,
        )
    if utm := _UTM_SHAPE.fullmatch(capitals):
        zone, band, easting, east_decimals, northing, north_decimals = utm.groups(default="")
        band = band.lower() if len(band) > 1 else band
        latitude, longitude = from_utm(
            int(zone), band, float(easting + east_decimals), float(northing + north_decimals)
        )
        decimals = min(len(part.removeprefix(".")) for part in (east_decimals, north_decimals))
        return Location(latitude, longitude, label, 0.5 * 10.0**-decimals, None, "UTM", text)
    point = read_degrees(cleaned)
    return Location(*point[:2], label, point.uncertainty_m, None, "degrees", text)


def _clean(text: str) -> str:
    """Plain digits, signs and single spaces, whatever keyboard or web page the text came from."""
    plain = []
    for character in text.translate(_LOOKALIKES):
        if unicodedata.decimal(character, None) is not None:
            plain.append(str(unicodedata.decimal(character)))
        elif "\uff01" <= character <= "\uff5e":
            plain.append(chr(ord(character) - 0xFEE0))  # full-width forms sit at a fixed distance from ASCII
        else:
            plain.append(character)
    return " ".join("".join(plain).replace("''", '"').split())


def _radius_m(cell: Cell) -> float:
    """From the centre to the farthest corner, on the side nearer the equator."""
    widest_deg = (
        0.0 if cell.south_deg < 0.0 < cell.north_deg else min(abs(cell.south_deg), abs(cell.north_deg))
    )
    half_height = (cell.north_deg - cell.south_deg) / 2.0
    half_width = (cell.east_deg - cell.west_deg) / 2.0 * math.cos(math.radians(widest_deg))
    return METRES_PER_DEGREE * math.hypot(half_height, half_width)


def _unreadable(text: str, reason: str) -> LocationError:
    shown = text if len(text) <= _SHOWN else text[:_SHOWN] + "…"
    return LocationError(f"cannot read {shown!r} as a place: {reason}; {ACCEPTED_FORMS}")
