"""The Maidenhead locator system: pairs of letters and digits, each dividing the cell before it."""

from __future__ import annotations

import math
import re

from pathprofile.errors import LocationError
from pathprofile.places.location import Cell

__all__ = ["LOCATOR_LENGTHS", "locator", "locator_cell", "looks_like_locator"]

LOCATOR_LENGTHS = (4, 6, 8, 10)
# Divisions by each pair: field, square, subsquare, and two more by the same alternation.
_DIVISIONS = (18, 10, 24, 10, 24)
_PATTERN = re.compile(r"[A-R]{2}[0-9]{2}(?:[A-X]{2}(?:[0-9]{2}(?:[A-X]{2})?)?)?")
# A border belongs to the cell north and east of it; borders are rarely exact in binary, so positions are
# moved by a millionth of the smallest cell (20 micrometres) before they are cut.
_NUDGE = 1e-6


def looks_like_locator(text: str) -> bool:
    """Whether upper-case text without spaces is a locator of 4 to 10 characters."""
    return _PATTERN.fullmatch(text) is not None


def locator(latitude_deg: float, longitude_deg: float, length: int = 6) -> str:
    """Locator of the cell in which a point lies.

    Parameters
    ----------
    latitude_deg, longitude_deg
        Point [degrees].
    length
        4, 6, 8 or 10 characters.

    Returns
    -------
    str
        Letters of the third pair in lower case, all others upper case, as is customary on the air.

    Raises
    ------
    LocationError
        For an impossible coordinate or length.

    Notes
    -----
    A point on a border belongs to the cell north and east of it. The North Pole belongs to the last cell
    south of it, and 180 E, being 180 W, to the first field.

    References
    ----------
    .. [1] IARU Region 1, VHF Managers Handbook, section on the locator system.
    """
    if length not in LOCATOR_LENGTHS:
        raise LocationError(f"a locator of {length!r} characters does not exist here: use 4, 6, 8 or 10")
    if not (-90.0 <= latitude_deg <= 90.0 and -180.0 <= longitude_deg <= 180.0):
        raise LocationError(f"no locator for latitude {latitude_deg!r} and longitude {longitude_deg!r}")
    cells = math.prod(_DIVISIONS)
    northward = min(math.floor((latitude_deg + 90.0) / 180.0 * cells + _NUDGE), cells - 1)
    eastward = min(math.floor((longitude_deg + 180.0) / 360.0 * cells + _NUDGE), cells - 1)
    if longitude_deg == 180.0:
        eastward = 0
    pairs: list[str] = []
    for place, divisions in reversed(list(enumerate(_DIVISIONS))):
        northward, north_digit = divmod(northward, divisions)
        eastward, east_digit = divmod(eastward, divisions)
        pairs.append(_symbol(east_digit, place) + _symbol(north_digit, place))
    return "".join(reversed(pairs))[:length]


def locator_cell(text: str) -> Cell:
    """Bounds of a locator's cell.

    Parameters
    ----------
    text
        4, 6, 8 or 10 characters, letters in either case.

    Returns
    -------
    Cell

    Raises
    ------
    LocationError
        When it is no locator.
    """
    characters = text.upper()
    if not looks_like_locator(characters):
        raise LocationError(
            f"{text!r} is not a locator: it has two letters A to R, two digits, then pairs of letters A to X"
            " and of digits"
        )
    eastward = northward = 0
    cells = 1
    for place in range(len(characters) // 2):
        divisions = _DIVISIONS[place]
        cells *= divisions
        eastward = eastward * divisions + _value(characters[2 * place])
        northward = northward * divisions + _value(characters[2 * place + 1])
    return Cell(
        south_deg=northward * 180.0 / cells - 90.0,
        west_deg=eastward * 360.0 / cells - 180.0,
        north_deg=(northward + 1) * 180.0 / cells - 90.0,
        east_deg=(eastward + 1) * 360.0 / cells - 180.0,
    )


def _symbol(value: int, place: int) -> str:
    if _DIVISIONS[place] == 10:
        return str(value)
    letter = chr(ord("A") + value)
    return letter.lower() if place == 2 else letter


def _value(character: str) -> int:
    return int(character) if character.isdigit() else ord(character) - ord("A")
