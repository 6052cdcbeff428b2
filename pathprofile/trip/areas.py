"""A locator as an area: its bounds, the dry and gentle ground in it, and how far its direction spreads."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from pathprofile.errors import LocationError
from pathprofile.geodesy import EQUAL_ENDS_M, inverse
from pathprofile.places.location import METRES_PER_DEGREE, Cell

if TYPE_CHECKING:
    import numpy.typing as npt

    from pathprofile.places import Location
    from pathprofile.terrain.store import TerrainStore

    Floats = npt.NDArray[np.float64]

__all__ = ["DirectionSpan", "GroundPoints", "area_of", "direction_span", "dry_points", "too_vague"]

STEEPEST_DEG = 30.0
"""Nobody lives on steeper ground (common practice)."""
VAGUE_FROM_M = 15_000.0
"""Places known no better get an azimuth and no verdict; a locator of four characters is 110 km high."""
AREA_FROM_M = 500.0
"""Places in degrees known no better than this are areas too: two decimals are 556 m."""
_USUAL_CELL_M = 90.0
_FINEST_GRID = 48
_SMALL_M = 2_000.0
_EDGE_POINTS = 17


class GroundPoints(NamedTuple):
    """Points of an area on which somebody can live, arrays of shape (n,), and how many were left out.

    ``water`` lie in water, ``steep`` on slopes over 30°, ``unknown`` where the tiles have no height.
    """

    latitude_deg: Floats
    longitude_deg: Floats
    ground_m: Floats
    water: int
    steep: int
    unknown: int


@dataclass(frozen=True)
class DirectionSpan:
    """Between which distances and azimuths an area lies.

    Attributes
    ----------
    nearest_m, farthest_m : float
        Nearest is 0 from within [m].
    first_azimuth_deg, last_azimuth_deg : float
        Clockwise from the first to the last; 0 and 360 from within.
    width_deg : float
        From the first to the last.
    """

    nearest_m: float
    farthest_m: float
    first_azimuth_deg: float
    last_azimuth_deg: float
    width_deg: float

    @property
    def text(self) -> str:
        """Both spans in words."""
        if self.width_deg >= 360.0:
            return f"any azimuth, up to {self.farthest_m / 1000:.0f} km"
        return (
            f"{self.first_azimuth_deg:.0f} to {self.last_azimuth_deg:.0f}°, {self.nearest_m / 1000:.0f} to "
            f"{self.farthest_m / 1000:.0f} km"
        )


def area_of(location: Location) -> Cell | None:
    """Bounds within which a place lies, None for one that is as good as a point.

    Parameters
    ----------
    location : Location

    Returns
    -------
    Cell or None
        The cell of a locator or grid square; a box round degrees with few decimals.
    """
    if location.cell is not None:
        return location.cell
    if location.uncertainty_m < AREA_FROM_M:
        return None
    half_deg = location.uncertainty_m / METRES_PER_DEGREE
    east_deg = half_deg / max(math.cos(math.radians(location.latitude_deg)), 1e-3)
    return Cell(
        max(location.latitude_deg - half_deg, -90.0),
        location.longitude_deg - east_deg,
        min(location.latitude_deg + half_deg, 90.0),
        location.longitude_deg + east_deg,
    )


def too_vague(location: Location) -> str | None:
    """Why a place is known too poorly for a verdict, None where it serves."""
    cell = area_of(location)
    if cell is None or location.uncertainty_m <= VAGUE_FROM_M:
        return None
    high_m, wide_m = _sides_m(cell)
    size = f"{high_m / 1000:.0f} km by {wide_m / 1000:.0f} km"
    if location.notation == "locator":
        given = "".join(location.text.split())
        return (
            f"a locator of {len(given)} characters stands for {size}: it serves for azimuth and distance "
            "only; ask for six characters"
        )
    return f"known to {size} only: that serves for azimuth and distance, not for a verdict"


def dry_points(cell: Cell, terrain: TerrainStore, wanted: int) -> GroundPoints:
    """Evenly spread points of an area, without water and without slopes over 30°.

    Parameters
    ----------
    cell : Cell
    terrain : TerrainStore
    wanted : int
        Fewest points; the grid gets finer until they are found.

    Returns
    -------
    GroundPoints
        In rows from the south-west. Fewer than wanted where there is little dry ground, and in small areas:
        across less than 2 km points are no closer than every other cell of the tiles.

    Notes
    -----
    Water is ground of exactly 0 m with nothing but 0 m around it. Slopes are central differences over two
    cells of the tiles. Points without a height (no tile, or a hole) are left out as well.
    """
    cell_m = _terrain_cell_m(cell, terrain)
    most = tuple(
        max(1, math.floor(side_m / (2.0 * cell_m))) if side_m < _SMALL_M else _FINEST_GRID
        for side_m in _sides_m(cell)
    )
    side = max(1, math.ceil(math.sqrt(wanted) - 1e-9))
    while True:
        rows, cols = min(side, most[0]), min(side, most[1])
        found = _usable(cell, terrain, rows, cols, cell_m)
        enough = found.ground_m.size >= wanted
        if enough or (rows, cols) == most:
            return found
        side += 1 if found.ground_m.size > wanted // 2 else max(1, side // 3)


def direction_span(from_location: Location, to_location: Location) -> DirectionSpan | None:
    """Distances and azimuths between a place and an area, or two of either; None between two points.

    Parameters
    ----------
    from_location, to_location : Location

    Returns
    -------
    DirectionSpan or None
        Azimuths are those at ``from_location``.

    Notes
    -----
    From outside, the extremes lie on the edges, which are looked at in 17 points a side. Where both are
    areas, corners and middle of the first are tried.
    """
    start, goal = area_of(from_location), area_of(to_location)
    if start is None and goal is None:
        return None
    starts = [(from_location.latitude_deg, from_location.longitude_deg)]
    if start is not None:
        starts += _edge(start, 2)
    goals = [(to_location.latitude_deg, to_location.longitude_deg)]
    if goal is not None:
        goals += _edge(goal, _EDGE_POINTS)
    middle = inverse(*starts[0], *goals[0]).azimuth_deg if starts[0] != goals[0] else 0.0
    distances, turns = [], []
    for one in starts:
        for other in goals:
            try:
                leg = inverse(*one, *other)
            except LocationError:
                distances.append(EQUAL_ENDS_M)
                continue
            distances.append(leg.distance_m)
            turns.append((leg.azimuth_deg - middle + 180.0) % 360.0 - 180.0)
    if _meet(start, goal, from_location, to_location):
        return DirectionSpan(0.0, max(distances), 0.0, 360.0, 360.0)
    return DirectionSpan(
        min(distances),
        max(distances),
        (middle + min(turns)) % 360.0,
        (middle + max(turns)) % 360.0,
        max(turns) - min(turns),
    )


def _usable(cell: Cell, terrain: TerrainStore, rows: int, cols: int, cell_m: float) -> GroundPoints:
    up = (np.arange(rows) + 0.5) / rows
    across = (np.arange(cols) + 0.5) / cols
    latitude, longitude = (
        part.ravel()
        for part in np.meshgrid(
            cell.south_deg + up * (cell.north_deg - cell.south_deg),
            cell.west_deg + across * (cell.east_deg - cell.west_deg),
            indexing="ij",
        )
    )
    north_deg = cell_m / METRES_PER_DEGREE
    east_deg = north_deg / np.maximum(np.cos(np.radians(latitude)), 1e-3)
    steps_north = np.array([0.0, 1.0, -1.0, 0.0, 0.0])[:, np.newaxis] * north_deg
    steps_east = np.array([0.0, 0.0, 0.0, 1.0, -1.0])[:, np.newaxis] * east_deg
    heights = terrain.elevation_m(
        np.clip(latitude + steps_north, -90.0, 90.0), _wrapped(longitude + steps_east)
    )
    ground, north, south, east, west = heights
    slope = np.degrees(np.arctan(np.hypot(north - south, east - west) / (2.0 * cell_m)))
    around = np.nan_to_num(heights[1:], nan=0.0)
    unknown = np.isnan(ground)
    water = (ground == 0.0) & (around == 0.0).all(axis=0)
    steep = ~unknown & ~water & (np.nan_to_num(slope) > STEEPEST_DEG)
    keep = ~(unknown | water | steep)
    left_out = (int(each.sum()) for each in (water, steep, unknown))
    return GroundPoints(latitude[keep], _wrapped(longitude[keep]), ground[keep], *left_out)


def _terrain_cell_m(cell: Cell, terrain: TerrainStore) -> float:
    """Side of the finest cell of the tiles that cover the middle of an area."""
    latitude = (cell.south_deg + cell.north_deg) / 2.0
    longitude = float(_wrapped(np.array([(cell.west_deg + cell.east_deg) / 2.0]))[0])
    touched = terrain.tiles_touched(np.array([latitude]), np.array([longitude]))
    return min((touch.cell_m for touch in touched), default=_USUAL_CELL_M)


def _sides_m(cell: Cell) -> tuple[float, float]:
    middle = math.radians((cell.south_deg + cell.north_deg) / 2.0)
    return (
        METRES_PER_DEGREE * (cell.north_deg - cell.south_deg),
        METRES_PER_DEGREE * (cell.east_deg - cell.west_deg) * math.cos(middle),
    )


def _edge(cell: Cell, count: int) -> list[tuple[float, float]]:
    share = np.linspace(0.0, 1.0, count)
    latitudes = cell.south_deg + share * (cell.north_deg - cell.south_deg)
    longitudes = _wrapped(cell.west_deg + share * (cell.east_deg - cell.west_deg))
    return [
        *((float(lat), float(lon)) for lat in latitudes for lon in (longitudes[0], longitudes[-1])),
        *((float(lat), float(lon)) for lon in longitudes for lat in (latitudes[0], latitudes[-1])),
    ]


def _meet(start: Cell | None, goal: Cell | None, one: Location, other: Location) -> bool:
    """Whether the two areas, or an area and a point, have ground in common."""
    a = start or Cell(one.latitude_deg, one.longitude_deg, one.latitude_deg, one.longitude_deg)
    b = goal or Cell(other.latitude_deg, other.longitude_deg, other.latitude_deg, other.longitude_deg)
    if a.north_deg < b.south_deg or b.north_deg < a.south_deg:
        return False
    shift = 360.0 * round((a.west_deg + a.east_deg - b.west_deg - b.east_deg) / 720.0)
    return a.east_deg >= b.west_deg + shift and b.east_deg + shift >= a.west_deg


def _wrapped(longitude_deg: Floats) -> Floats:
    wrapped: Floats = (longitude_deg + 180.0) % 360.0 - 180.0
    return wrapped
