"""Lines over which elevation tiles are needed for all pairs of a book."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pathprofile.errors import LocationError, StationError
from pathprofile.geodesy import inverse, points_along

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from pathprofile.places import Location
    from pathprofile.trip.book import Book

__all__ = ["BookPaths", "PairPath", "tiles_for"]

_STEP_M = 1000.0  # between two points a geodesic strays from the straight line by centimetres
# A cell of four characters is 110 km high: nothing about the ground follows from it.
_LARGEST_CELL_DEG = 0.1


@dataclass(frozen=True)
class PairPath:
    """A line from a site to a station, or to a corner of the station's cell.

    Attributes
    ----------
    site, station : str
        Their names.
    latitude_deg, longitude_deg : ndarray, shape (n,)
        Points no more than 1 km apart [degrees], both ends included.
    """

    site: str
    station: str
    latitude_deg: NDArray[np.float64]
    longitude_deg: NDArray[np.float64]


@dataclass(frozen=True)
class BookPaths:
    """Lines of all pairs, and the pairs for which there is none, each with its reason."""

    paths: tuple[PairPath, ...]
    left_out: tuple[tuple[str, str, str], ...]


def tiles_for(book: Book) -> BookPaths:
    """Lines between every site and every station of a book, to ask which tiles they come over.

    Parameters
    ----------
    book : Book
        At least one site and one station.

    Returns
    -------
    BookPaths
        For a station known by a cell (a locator or grid square), lines to the four corners as well as to the
        centre, since the ground of the whole cell is asked for. ``left_out`` holds (site, station, reason)
        for stations known only by four characters of a locator, and for pairs at one and the same place.

    Raises
    ------
    StationError
        For a book without a site or without a station.
    """
    if not book.sites or not book.stations:
        lacking = "site" if not book.sites else "station"
        raise StationError(f"the book has no {lacking}: add one under [[{lacking}s]], then ask again")
    paths: list[PairPath] = []
    left_out: list[tuple[str, str, str]] = []
    stations = [(station.name, station.location()) for station in book.stations]
    for site in book.sites:
        start = site.location()
        for name, end in stations:
            if end.cell is not None and end.cell.north_deg - end.cell.south_deg > _LARGEST_CELL_DEG:
                left_out.append(
                    (site.name, name, f"{end.text} is too large a cell to say anything of its ground")
                )
                continue
            try:
                paths.extend(PairPath(site.name, name, *_line(start, point)) for point in _ends(end))
            except LocationError as error:
                left_out.append((site.name, name, str(error)))
    return BookPaths(tuple(paths), tuple(left_out))


def _ends(location: Location) -> list[tuple[float, float]]:
    ends = [(location.latitude_deg, location.longitude_deg)]
    if location.cell is not None:
        cell = location.cell
        longitudes = [(edge + 180.0) % 360.0 - 180.0 for edge in (cell.west_deg, cell.east_deg)]
        ends += [
            (latitude, longitude) for latitude in (cell.south_deg, cell.north_deg) for longitude in longitudes
        ]
    return ends


def _line(start: Location, end: tuple[float, float]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    here = (start.latitude_deg, start.longitude_deg)
    count = max(2, math.ceil(inverse(*here, *end).distance_m / _STEP_M) + 1)
    points = points_along(*here, *end, count)
    return points.latitude_deg, points.longitude_deg
