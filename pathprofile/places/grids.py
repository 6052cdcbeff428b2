"""UTM coordinates and the military grid reference (MGRS) written on top of them."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, NamedTuple

from pathprofile.errors import LocationError
from pathprofile.geodesy import utm_zone
from pathprofile.places.location import Cell

if TYPE_CHECKING:
    from pyproj import Proj

__all__ = ["GridSquare", "Utm", "band_bounds_deg", "from_mgrs", "from_utm", "to_mgrs", "to_utm"]

BAND_LETTERS = "CDEFGHJKLMNPQRSTUVWX"
# The 100 km squares: columns in three sets of eight by zone, rows in a cycle of twenty that starts at A in
# odd zones and five letters on, at F, in even ones (NGA.SIG.0012, lettering of the 100 000 m squares).
_COLUMNS = ("ABCDEFGH", "JKLMNPQR", "STUVWXYZ")
_ROWS = "ABCDEFGHJKLMNPQRSTUV"
_SQUARE_M = 100_000.0
_FALSE_NORTHING_M = 10_000_000.0
_MGRS = re.compile(r"([0-9]{1,2})([A-Z])([A-Z])([A-Z])([0-9]*)")
# Binary rounding must not push a point on a grid line into the square below it [m].
_NUDGE_M = 1e-6
# How far a typed UTM point may overstep its latitude band before the letter is called wrong [degrees].
_BAND_SLACK_DEG = 0.01


class Utm(NamedTuple):
    """A point on the Universal Transverse Mercator grid; `band` is the latitude band, C to X."""

    zone: int
    band: str
    easting_m: float
    northing_m: float


class GridSquare(NamedTuple):
    """Centre and bounds of an MGRS square [degrees]; the bounds are the box around its corners."""

    latitude_deg: float
    longitude_deg: float
    cell: Cell


def to_utm(latitude_deg: float, longitude_deg: float) -> Utm:
    """UTM coordinates of a point, in the zone where it lies.

    Parameters
    ----------
    latitude_deg, longitude_deg
        Point [degrees], 80 S to 84 N.

    Returns
    -------
    Utm
        Zones as `pathprofile.geodesy.utm_zone`, Norway and Svalbard included; northings south of the equator
        count from 10 000 000 m.

    Raises
    ------
    LocationError
        Poleward of the grid.

    References
    ----------
    .. [1] NGA.SIG.0012_2.0.0_UTMUPS (2014).
    """
    zone = utm_zone(latitude_deg, longitude_deg)
    easting, northing = _projection(zone)(longitude_deg, latitude_deg)
    if latitude_deg < 0.0:
        # A point a hair south of the equator must not round up to 10 000 km, the equator itself.
        northing = min(northing + _FALSE_NORTHING_M, math.nextafter(_FALSE_NORTHING_M, 0.0))
    return Utm(zone, _band(latitude_deg), float(easting), float(northing))


def from_utm(zone: int, band: str, easting_m: float, northing_m: float) -> tuple[float, float]:
    """Latitude and longitude of UTM coordinates.

    Parameters
    ----------
    zone
        1 to 60.
    band
        Latitude band letter C to X, or ``north`` or ``south`` for the hemisphere.
    easting_m, northing_m
        Coordinates [m].

    Returns
    -------
    latitude_deg, longitude_deg

    Raises
    ------
    LocationError
        For an impossible zone, band or coordinate, and for a band letter that the northing contradicts, which
        happens when N or S is meant as a hemisphere.

    References
    ----------
    .. [1] NGA.SIG.0012_2.0.0_UTMUPS (2014).
    """
    _check_zone_and_band(zone, band)
    if not (100_000.0 <= easting_m <= 900_000.0 and 0.0 <= northing_m <= _FALSE_NORTHING_M):
        raise LocationError(
            f"easting {easting_m:.0f} and northing {northing_m:.0f} are not UTM: give an easting of 100000 to"
            " 900000 m, then a northing of 0 to 10000000 m"
        )
    is_north = band == "north" or (band != "south" and band >= "N")
    latitude, longitude = _unproject(
        zone, easting_m, northing_m if is_north else northing_m - _FALSE_NORTHING_M
    )
    if not -80.0 - _BAND_SLACK_DEG <= latitude <= 84.0 + _BAND_SLACK_DEG:
        raise LocationError(f"northing {northing_m:.0f} is outside the UTM grid, which spans 80 S to 84 N")
    if band in BAND_LETTERS:
        south, north = band_bounds_deg(band)
        if not south - _BAND_SLACK_DEG <= latitude <= north + _BAND_SLACK_DEG:
            raise LocationError(_wrong_band(zone, band, northing_m))
    return latitude, longitude


def to_mgrs(latitude_deg: float, longitude_deg: float, digits: int = 5) -> str:
    """MGRS reference of the square in which a point lies, such as ``31T DF 12345 67890``.

    Parameters
    ----------
    latitude_deg, longitude_deg
        Point [degrees], 80 S to 84 N.
    digits
        Digits for each coordinate: 0 (100 km square) to 5 (1 m).

    Returns
    -------
    str

    Raises
    ------
    LocationError
        Poleward of the grid, or for an impossible number of digits.

    References
    ----------
    .. [1] NGA.SIG.0012_2.0.0_UTMUPS (2014), sections on MGRS.
    """
    if digits not in range(6):
        raise LocationError(f"{digits!r} digits do not exist in MGRS: use 0 (100 km) to 5 (1 m)")
    zone, band, easting_m, northing_m = to_utm(latitude_deg, longitude_deg)
    column, east_rest = divmod(easting_m + _NUDGE_M, _SQUARE_M)
    ceiling = _FALSE_NORTHING_M - _NUDGE_M if latitude_deg < 0.0 else math.inf
    row, north_rest = divmod(min(northing_m + _NUDGE_M, ceiling), _SQUARE_M)
    square = _COLUMNS[(zone - 1) % 3][int(column) - 1] + _ROWS[(int(row) + _row_shift(zone)) % 20]
    if digits == 0:
        return f"{zone}{band} {square}"
    unit = 10.0 ** (5 - digits)
    return f"{zone}{band} {square} {int(east_rest / unit):0{digits}d} {int(north_rest / unit):0{digits}d}"


def from_mgrs(text: str) -> GridSquare:
    """Centre and bounds of an MGRS square.

    Parameters
    ----------
    text
        Reference without spaces: zone, band, two letters, and an even number of digits, at most ten.

    Returns
    -------
    GridSquare
        The full square, also where a zone's border cuts it.

    Raises
    ------
    LocationError
        When it is no MGRS reference, or one of a square that does not exist.

    References
    ----------
    .. [1] NGA.SIG.0012_2.0.0_UTMUPS (2014), sections on MGRS.
    """
    match = _MGRS.fullmatch(text.upper())
    if match is None or len(match[5]) % 2 or len(match[5]) > 10:
        raise LocationError(
            f"{text!r} is not an MGRS reference such as 31TDF1234567890 (0 to 5 digits each way)"
        )
    zone, band, column, row, rest = int(match[1]), match[2], match[3], match[4], match[5]
    _check_zone_and_band(zone, band)
    columns = _COLUMNS[(zone - 1) % 3]
    if column not in columns or row not in _ROWS:
        raise LocationError(
            f"square {column + row} does not exist in zone {zone}: its first letter is one of {columns}, its"
            f" second one of {_ROWS}"
        )
    half = len(rest) // 2
    side_m = 10.0 ** (5 - half)
    west_m = (columns.index(column) + 1) * _SQUARE_M + int(rest[:half] or 0) * side_m
    row_m = (_ROWS.index(row) - _row_shift(zone)) % 20 * _SQUARE_M
    # Row letters repeat every 2000 km: of these the one nearest the middle of the band is meant.
    south_m = _nearest_cycle(row_m, zone, band) + int(rest[half:] or 0) * side_m
    corners = [
        _unproject(zone, west_m + east, south_m + north) for east in (0.0, side_m) for north in (0.0, side_m)
    ]
    latitude, longitude = _unproject(zone, west_m + side_m / 2, south_m + side_m / 2)
    cell = _box(corners, longitude)
    _check_square_exists(text, zone, band, cell)
    return GridSquare(latitude, longitude, cell)


def band_bounds_deg(band: str) -> tuple[float, float]:
    """South and north bound of a latitude band C to X [degrees]."""
    south = -80.0 + 8.0 * BAND_LETTERS.index(band)
    return south, (84.0 if band == "X" else south + 8.0)


def _projection(zone: int) -> Proj:
    from pyproj import Proj

    return Proj(proj="utm", zone=zone, ellps="WGS84")


def _unproject(zone: int, easting_m: float, northing_m: float) -> tuple[float, float]:
    """Latitude and longitude; the northing counts from the equator, negative to the south."""
    longitude, latitude = _projection(zone)(easting_m, northing_m, inverse=True)
    return float(latitude), float(longitude)


def _band(latitude_deg: float) -> str:
    # The top band is four degrees taller; a hair south of the equator the sum rounds up to the equator.
    highest = BAND_LETTERS.index("M" if latitude_deg < 0.0 else "X")
    return BAND_LETTERS[min(int((latitude_deg + 80.0) // 8.0), highest)]


def _row_shift(zone: int) -> int:
    return 0 if zone % 2 else 5


def _nearest_cycle(row_m: float, zone: int, band: str) -> float:
    middle_deg = sum(band_bounds_deg(band)) / 2.0
    _, middle_m = _projection(zone)(6.0 * zone - 183.0, middle_deg)
    cycle_m = len(_ROWS) * _SQUARE_M
    return float(row_m + cycle_m * round((middle_m - row_m - _SQUARE_M / 2.0) / cycle_m))


def _box(corners: list[tuple[float, float]], centre_longitude_deg: float) -> Cell:
    latitudes = [latitude for latitude, _ in corners]
    offsets = [(longitude - centre_longitude_deg + 180.0) % 360.0 - 180.0 for _, longitude in corners]
    return Cell(
        min(latitudes),
        centre_longitude_deg + min(offsets),
        max(latitudes),
        centre_longitude_deg + max(offsets),
    )


def _check_zone_and_band(zone: int, band: str) -> None:
    if not 1 <= zone <= 60:
        raise LocationError(f"zone {zone!r} does not exist: UTM zones are 1 to 60")
    if band in {"A", "B", "Y", "Z"}:
        raise LocationError(f"band {band} belongs to the polar grid (UPS), not supported: use degrees")
    if band not in {*BAND_LETTERS, "north", "south"}:
        raise LocationError(f"band {band!r} does not exist: latitude bands are C to X without I and O")
    if band == "X" and zone in {32, 34, 36}:
        raise LocationError(f"zone {zone}X does not exist: round Svalbard the zones are 31, 33, 35 and 37")


def _wrong_band(zone: int, band: str, northing_m: float) -> str:
    south, north = band_bounds_deg(band)
    bounds = " to ".join(f"{abs(edge):.0f} {'S' if edge < 0 else 'N'}" for edge in (south, north))
    line = f"{zone}{band} is latitude band {band} ({bounds}), where northing {northing_m:.0f} does not occur"
    if band in {"N", "S"}:
        word = "north" if band == "N" else "south"
        line += f"; the letter is a band, not a hemisphere: for that write {zone} {word}"
    return line


def _check_square_exists(text: str, zone: int, band: str, cell: Cell) -> None:
    """Refuse a square that does not touch the part of the globe its zone and band cover."""
    south, north = band_bounds_deg(band)
    west, east = _zone_bounds_deg(zone, band)
    turn = 360.0 * round((west - cell.west_deg) / 360.0)  # the date line
    is_inside = (
        cell.south_deg <= north + _NUDGE_M
        and cell.north_deg >= south - _NUDGE_M
        and cell.west_deg + turn <= east + _NUDGE_M
        and cell.east_deg + turn >= west - _NUDGE_M
    )
    if not is_inside:
        raise LocationError(f"{text!r} names a square outside zone {zone}{band}: check the letters")


def _zone_bounds_deg(zone: int, band: str) -> tuple[float, float]:
    widened = {(31, "V"): (0, 3), (32, "V"): (3, 12), (31, "X"): (0, 9), (33, "X"): (9, 21)}
    widened |= {(35, "X"): (21, 33), (37, "X"): (33, 42)}
    return widened.get((zone, band), (6 * zone - 186, 6 * zone - 180))
