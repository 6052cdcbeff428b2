"""Which one-degree tiles a set of paths needs, and what there is of them."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pathprofile.geodesy import inverse, points_along
from pathprofile.terrain.names import ModelKind, square_name
from pathprofile.terrain.store import NO_TILE

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from pathprofile.terrain.store import TerrainStore
    from pathprofile.terrain.tiles import Tile

    Line = Sequence[tuple[float, float]]

__all__ = ["SquareReport", "needed_tiles", "tile_report"]

# Points of a path are looked at this far apart [m]; between two of them it is straight.
_STEP_M = 500.0
# However fine the tiles are, holes on paths are looked for no closer than this [m].
_FINEST_STEP_M = 5.0


@dataclass(frozen=True)
class SquareReport:
    """What there is for one square of one degree that paths come through.

    Attributes
    ----------
    name : str
        Customary name, of the south-west corner (``N46W021``).
    present : bool
        Whether there is a tile for every part of the paths in this square.
    covered_share : float
        Share of the paths' points in this square that lie on a tile, 0 to 1.
    files : tuple of str
        Tiles used there, finest first.
    cell_m : float or None
        Shorter ground side of the finest cell [m].
    holes : int
        Samples without height in those tiles, counted through.
    holes_on_paths : int
        Points of the paths in this square that meet one (points `step_m` apart).
    step_m : float
        Longest distance between those points [m].
    vertical_datums : tuple of str
        Known ones.
    model_kinds : tuple of {"surface", "bare", "unknown"}
    """

    name: str
    present: bool
    covered_share: float
    files: tuple[str, ...]
    cell_m: float | None
    holes: int
    holes_on_paths: int
    step_m: float
    vertical_datums: tuple[str, ...]
    model_kinds: tuple[ModelKind, ...]


def needed_tiles(lines: Iterable[Line]) -> tuple[str, ...]:
    """Customary names of the one-degree squares that paths come through.

    Parameters
    ----------
    lines : iterable of sequences of (latitude_deg, longitude_deg)
        Each a path of two places, or a line of more with a geodesic between neighbours; a single place
        counts as itself.

    Returns
    -------
    tuple of str
        Sorted from south to north, then from west to east. Points on the edge between two squares belong
        to the one north or east.
    """
    codes: set[int] = set()
    for line in lines:
        latitude, longitude = _points(line, _STEP_M)
        codes |= set(_codes(latitude, longitude).tolist())
        codes |= _clipped(latitude, longitude)
    return tuple(_name(code) for code in sorted(codes))


def tile_report(store: TerrainStore, lines: Iterable[Line]) -> tuple[SquareReport, ...]:
    """Say for every square that paths come through what tiles there are, and how good they are.

    Parameters
    ----------
    store : TerrainStore
    lines : iterable of sequences of (latitude_deg, longitude_deg)
        As `needed_tiles`.

    Returns
    -------
    tuple of SquareReport
        In the order of `needed_tiles`, without squares that a path only cuts a cell's width off.

    Notes
    -----
    Reads the tiles it reports on from end to end to count their holes.
    """
    lines = [tuple(line) for line in lines]
    touched = [touch.cell_m for line in lines for touch in store.tiles_touched(*_points(line, _STEP_M))]
    step_m = min(_STEP_M, max(_FINEST_STEP_M, min(touched, default=_STEP_M)))
    points = [_points(line, step_m) for line in lines]
    latitude = np.concatenate([part[0] for part in points]) if points else np.empty(0)
    longitude = np.concatenate([part[1] for part in points]) if points else np.empty(0)
    height, source = store.sample(latitude, longitude)
    codes = _codes(latitude, longitude)
    holes: dict[int, int] = {}
    reports = []
    for code in np.unique(codes).tolist():
        here = codes == code
        on_tile = source[here] != NO_TILE
        used = [i for i in sorted(set(source[here][on_tile].tolist())) if _lies_in(code, store.tiles[i])]
        for index in used:
            if index not in holes:
                holes[index] = store.count_voids(store.tiles[index])
        tiles = [store.tiles[index] for index in used]
        reports.append(
            SquareReport(
                name=_name(code),
                present=bool(on_tile.all()),
                covered_share=float(on_tile.mean()),
                files=tuple(tile.path for tile in tiles),
                cell_m=min((tile.cell_m for tile in tiles), default=None),
                holes=sum(holes[index] for index in used),
                holes_on_paths=int((np.isnan(height[here]) & on_tile).sum()),
                step_m=step_m,
                vertical_datums=tuple(dict.fromkeys(t.vertical_datum for t in tiles if t.vertical_datum)),
                model_kinds=tuple(dict.fromkeys(t.model_kind for t in tiles)),
            )
        )
    return tuple(reports)


def _points(line: Line, step_m: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Points along a line, geodesic between its places, no farther apart than a step."""
    latitudes, longitudes = [np.array([line[0][0]])], [np.array([line[0][1]])]
    for start, stop in itertools.pairwise(line):
        if start == stop:
            continue
        count = math.ceil(inverse(*start, *stop).distance_m / step_m) + 1
        leg = points_along(*start, *stop, max(count, 2))
        latitudes.append(leg.latitude_deg[1:])
        longitudes.append(leg.longitude_deg[1:])
    return np.concatenate(latitudes), np.concatenate(longitudes)


def _codes(latitude_deg: NDArray[np.float64], longitude_deg: NDArray[np.float64]) -> NDArray[np.int64]:
    """One number for the square of each point, growing from south to north, then from west to east."""
    south = np.minimum(np.floor(latitude_deg), 89).astype(np.int64)
    west = np.floor(np.remainder(longitude_deg + 180.0, 360.0)).astype(np.int64)
    return (south + 90) * 360 + west


def _name(code: int) -> str:
    return square_name(code // 360 - 90 + 0.5, code % 360 - 180 + 0.5)


def _lies_in(code: int, tile: Tile) -> bool:
    """Whether a tile reaches into a square by more than the row it may share with its neighbour."""
    row_deg, col_deg = tile.cell_deg or (tile.cell_m / 111_000.0, tile.cell_m / 111_000.0)
    south, west = code // 360 - 90, code % 360 - 180
    middle = tile.west_deg + ((tile.east_deg - tile.west_deg) % 360.0 or 360.0) / 2
    half = ((tile.east_deg - tile.west_deg) % 360.0 or 360.0) / 2
    apart = abs(math.remainder(middle - (west + 0.5), 360.0))
    tall = min(tile.north_deg, south + 1) - max(tile.south_deg, south)
    return tall > 1.5 * row_deg and half + 0.5 - apart > 1.5 * col_deg


def _clipped(latitude_deg: NDArray[np.float64], longitude_deg: NDArray[np.float64]) -> set[int]:
    """Squares whose corner a line cuts off between two of its points."""
    codes = _codes(latitude_deg, longitude_deg)
    row, col = codes // 360, codes % 360
    found = set()
    for i in np.flatnonzero((np.diff(row) != 0) & (np.diff(col) != 0)).tolist():
        rise = float(latitude_deg[i + 1] - latitude_deg[i])
        run = math.remainder(float(longitude_deg[i + 1] - longitude_deg[i]), 360.0)
        # Which edge is met first: the parallel or the meridian?
        to_parallel = (max(row[i], row[i + 1]) - 90 - latitude_deg[i]) / rise
        meridian = float(col[i + 1] if run > 0 else col[i]) - 180.0
        to_meridian = math.remainder(meridian - float(longitude_deg[i]), 360.0) / run
        found.add(int(row[i + 1] * 360 + col[i] if to_parallel < to_meridian else row[i] * 360 + col[i + 1]))
    return found
