"""Heights, distances and frequencies as an operator types them."""

from __future__ import annotations

import re
import unicodedata
from typing import NamedTuple

from pathprofile.errors import OutOfRangeError

__all__ = [
    "BANDS",
    "HIGHEST_FREQUENCY_MHZ",
    "LOWEST_FREQUENCY_MHZ",
    "Band",
    "band_of",
    "parse_distance_m",
    "parse_frequency_mhz",
    "parse_height_m",
]

LOWEST_FREQUENCY_MHZ = 30.0
HIGHEST_FREQUENCY_MHZ = 3000.0
_HIGHEST_HEIGHT_M = 10_000.0
_LONGEST_DISTANCE_M = 20_004_000.0  # from pole to pole, as far apart as two places can be
_LONGEST_TEXT = 40
_QUANTITY = re.compile(r"([+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+))\s*([a-z']*)")
_FOOT_M = 0.3048  # international foot and mile, exact by definition
_MILE_M = 1609.344
_HEIGHT_UNITS = {"": 1.0, "m": 1.0, "ft": _FOOT_M, "feet": _FOOT_M, "'": _FOOT_M}
_DISTANCE_UNITS = {"m": 1.0, "km": 1000.0, "mi": _MILE_M, "ft": _FOOT_M, "nmi": 1852.0}
_FREQUENCY_UNITS = {"": 1.0, "mhz": 1.0, "ghz": 1000.0, "khz": 1e-3, "hz": 1e-6}


class Band(NamedTuple):
    """An amateur band: its widest limits anywhere, and a frequency to calculate with [MHz]."""

    lowest_mhz: float
    highest_mhz: float
    typical_mhz: float


# Limits: the widest of the three regions in the ITU Radio Regulations, Article 5; 4 m by national permission
# only. Typical frequencies: narrow-band activity centres, common practice; regions differ by a few per mille.
BANDS = {
    "6m": Band(50.0, 54.0, 50.15),
    "4m": Band(69.9, 70.5, 70.2),
    "2m": Band(144.0, 148.0, 144.3),
    "1.25m": Band(219.0, 225.0, 222.1),
    "70cm": Band(420.0, 450.0, 432.2),
    "33cm": Band(902.0, 928.0, 902.1),
    "23cm": Band(1240.0, 1300.0, 1296.2),
    "13cm": Band(2300.0, 2450.0, 2320.2),
}


def parse_height_m(text: str, *, lowest_m: float = 0.0) -> float:
    """Read a height.

    Parameters
    ----------
    text
        A number of metres, or with a unit: ``6``, ``6m``, ``20ft``. A decimal comma will do.
    lowest_m
        Least height accepted [m]: 0 for an antenna above the ground, lower for ground below the sea.

    Returns
    -------
    float
        Height [m].

    Raises
    ------
    OutOfRangeError
        When the text is no height, or one below `lowest_m` or above 10 km.
    """
    accepted = f"give {lowest_m:g} to {_HIGHEST_HEIGHT_M:g} m, such as 6, 6m or 20ft"
    height_m = _read(text, "height", _HEIGHT_UNITS, accepted)
    if not lowest_m <= height_m <= _HIGHEST_HEIGHT_M:
        raise OutOfRangeError(f"height {text!r} is out of range: {accepted}")
    return height_m


def parse_distance_m(text: str, *, zero: bool = False) -> float:
    """Read a distance, always with its unit.

    Parameters
    ----------
    text
        Such as ``12.4km``, ``3mi``, ``500m``, ``300ft`` or ``2nmi``.
    zero
        Whether no distance at all will do.

    Returns
    -------
    float
        Distance [m].

    Raises
    ------
    OutOfRangeError
        When the text is no distance, has no unit, or is not above zero (or zero, where that will do) and at
        most half the globe.
    """
    least = "at least 0" if zero else "more than 0"
    accepted = f"give {least} and at most 20004 km with its unit, such as 12.4km, 3mi or 500m"
    distance_m = _read(text, "distance", _DISTANCE_UNITS, accepted)
    if not 0.0 <= distance_m <= _LONGEST_DISTANCE_M or (distance_m == 0.0 and not zero):
        raise OutOfRangeError(f"distance {text!r} is out of range: {accepted}")
    return distance_m


def parse_frequency_mhz(text: str) -> float:
    """Read a frequency or the name of an amateur band.

    Parameters
    ----------
    text
        A number of MHz, a number with a unit (``146.52``, ``146.52MHz``, ``1.296GHz``), or a key of `BANDS`
        (``2m``, ``70cm``), which stands for that band's typical frequency.

    Returns
    -------
    float
        Frequency [MHz].

    Raises
    ------
    OutOfRangeError
        When the text is no frequency, or one outside 30 MHz to 3 GHz.
    """
    accepted = f"give 30 MHz to 3 GHz, such as 146.52 or 1.296GHz, or a band: {', '.join(BANDS)}"
    band = BANDS.get("".join(_plain(text).split()).replace(",", "."))
    if band is not None:
        return band.typical_mhz
    frequency_mhz = _read(text, "frequency", _FREQUENCY_UNITS, accepted)
    if not _covered(frequency_mhz):
        in_khz_or_hz = (mhz for mhz in (frequency_mhz / 1e3, frequency_mhz / 1e6) if _covered(mhz))
        meant = "".join(f"did you mean {mhz:.9g} (MHz)? " for mhz in in_khz_or_hz)
        raise OutOfRangeError(f"frequency {text!r} is out of range: {meant}{accepted}")
    return frequency_mhz


def _covered(frequency_mhz: float) -> bool:
    return LOWEST_FREQUENCY_MHZ <= frequency_mhz <= HIGHEST_FREQUENCY_MHZ


def band_of(frequency_mhz: float) -> str | None:
    """Name of the amateur band that holds a frequency somewhere in the world, None when there is none."""
    for name, band in BANDS.items():
        if band.lowest_mhz <= frequency_mhz <= band.highest_mhz:
            return name
    return None


def _plain(text: str) -> str:
    """Small letters, plain digits and a plain minus."""
    return unicodedata.normalize("NFKC", text[: _LONGEST_TEXT + 1]).replace("\u2212", "-").strip().casefold()


def _read(text: str, what: str, units: dict[str, float], accepted: str) -> float:
    match = _QUANTITY.fullmatch(_plain(text))
    shown = text if len(text) <= _LONGEST_TEXT else text[:_LONGEST_TEXT] + "…"
    if match is None or len(text) > _LONGEST_TEXT:
        raise OutOfRangeError(f"{shown!r} is not a {what}: {accepted}")
    if match[2] not in units:
        reason = f"has the unknown unit {match[2]!r}" if match[2] else "has no unit"
        raise OutOfRangeError(f"{what} {shown!r} {reason}: {accepted}")
    return float(match[1].replace(",", ".")) * units[match[2]]
