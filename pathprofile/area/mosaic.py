"""The ground of an area once in memory, sampled fast; and holes bridged along radials."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy.typing as npt

    from pathprofile.terrain.store import TerrainStore

    Floats = npt.NDArray[np.float64]
    Singles = npt.NDArray[np.float32]
    Ints = npt.NDArray[np.int64]

__all__ = ["Mosaic", "bridge", "mosaic", "sample"]

_METRES_PER_DEGREE = 111_320.0
_SIDE_AT_ONCE = 600
"""About half a tile of 3″: a square that touches few tiles is read faster than whole rows across many."""


@dataclass(frozen=True)
class Mosaic:
    """Ground on a regular grid of latitude and longitude.

    Attributes
    ----------
    height_m : ndarray of float32, shape (rows, columns)
        Ground at the nodes, row 0 northernmost [m]; NaN where there is none.
    north_deg, west_deg : float
        Node of row 0 and column 0; the longitude may leave -180 … 180.
    row_deg, column_deg : float
        Spacing, both positive.
    kernel : callable
        Compiled :func:`sample`.
    """

    height_m: Singles
    north_deg: float
    west_deg: float
    row_deg: float
    column_deg: float
    kernel: Callable[..., Any]

    def elevation_m(self, latitude_deg: npt.ArrayLike, longitude_deg: npt.ArrayLike, /) -> Floats:
        """Bilinear heights [m]; NaN outside and beside a node without ground.

        Parameters
        ----------
        latitude_deg, longitude_deg : array_like
            Places [degrees]; any shapes that broadcast.
        """
        latitude, longitude = np.broadcast_arrays(
            np.asarray(latitude_deg, np.float64), np.asarray(longitude_deg, np.float64)
        )
        found = np.empty(latitude.size)
        self.kernel(
            self.height_m,
            self.north_deg,
            self.west_deg,
            self.row_deg,
            self.column_deg,
            np.ascontiguousarray(latitude.ravel()),
            np.ascontiguousarray(longitude.ravel()),
            found,
        )
        return found.reshape(latitude.shape)


def mosaic(
    store: TerrainStore,
    latitude_deg: float,
    longitude_deg: float,
    radius_m: float,
    kernel: Callable[..., Any],
    *,
    sea_where_missing: bool = False,
    most_bytes: int = 160 * 2**20,
) -> Mosaic:
    """Read the ground around a place into one grid.

    Parameters
    ----------
    store : TerrainStore
        Where heights come from.
    latitude_deg, longitude_deg : float
        Middle [degrees].
    radius_m : float
        The grid holds everything within this distance [m].
    kernel : callable
        ``compiled(...).sample``.
    sea_where_missing : bool
        Take ground where there is no tile as sea at 0 m.
    most_bytes : int
        Most memory to take; where the tiles have more, nodes are left out.

    Returns
    -------
    Mosaic

    Notes
    -----
    Nodes are those of the finest tile in reach when it is in degrees; a sample is then that of the store but
    for single precision (0.0001 m). Otherwise they are as far apart as that tile's cells, and a sample is
    interpolated twice.
    """
    row_half = radius_m * 1.002 / _METRES_PER_DEGREE + 0.01
    widest = min(abs(latitude_deg) + row_half, 89.9)
    column_half = min(row_half / math.cos(math.radians(widest)), 180.0)
    turn = np.linspace(0.0, 2.0 * np.pi, 181)
    spokes = np.linspace(0.0, 1.0, 40)[:, np.newaxis]
    touched = store.tiles_touched(
        np.clip(latitude_deg + row_half * spokes * np.cos(turn), -90.0, 90.0).ravel(),
        (longitude_deg + column_half * spokes * np.sin(turn)).ravel(),
    )
    row_deg = column_deg = 100.0 / _METRES_PER_DEGREE
    row_at = column_at = 0.0
    if touched:
        tile = store.tiles[touched[0].index]
        if tile.cell_deg is not None:
            row_deg, column_deg = tile.cell_deg
            a, _, west, _, e, north = tile.transform
            row_at, column_at = north + 0.5 * e, west + 0.5 * a
        else:
            row_deg = tile.cell_m / _METRES_PER_DEGREE
            column_deg = row_deg / math.cos(math.radians(latitude_deg))
    thin = math.ceil(
        math.sqrt(4.0 * (2.0 * row_half / row_deg) * (2.0 * column_half / column_deg) / most_bytes)
    )
    row_deg *= max(thin, 1)
    column_deg *= max(thin, 1)
    north_deg = row_at + math.ceil((latitude_deg + row_half - row_at) / row_deg) * row_deg
    west_deg = column_at + math.floor((longitude_deg - column_half - column_at) / column_deg) * column_deg
    rows = math.ceil(2.0 * row_half / row_deg) + 2
    columns = math.ceil(2.0 * column_half / column_deg) + 2
    latitude = np.clip(north_deg - row_deg * np.arange(rows), -90.0, 90.0)
    longitude = west_deg + column_deg * np.arange(columns)
    heights = np.empty((rows, columns), np.float32)
    for top in range(0, rows, _SIDE_AT_ONCE):
        for left in range(0, columns, _SIDE_AT_ONCE):
            part = slice(top, top + _SIDE_AT_ONCE), slice(left, left + _SIDE_AT_ONCE)
            ground, source = store.sample(latitude[part[0], np.newaxis], longitude[np.newaxis, part[1]])
            if sea_where_missing:
                ground[source < 0] = 0.0
            heights[part] = ground
    return Mosaic(heights, north_deg, west_deg, row_deg, column_deg, kernel)


def sample(
    height: Singles,
    north_deg: float,
    west_deg: float,
    row_deg: float,
    column_deg: float,
    latitude: Floats,
    longitude: Floats,
    found: Floats,
) -> None:
    """Bilinear heights from a grid; to be compiled.

    Parameters
    ----------
    height : ndarray of float32, shape (rows, columns)
        Ground at the nodes [m].
    north_deg, west_deg, row_deg, column_deg : float
        As in `Mosaic`.
    latitude, longitude : ndarray, shape (n,)
        Places [degrees].
    found : ndarray, shape (n,)
        Filled [m]; NaN outside the grid and beside nodes without ground.
    """
    rows, columns = height.shape
    for i in range(latitude.size):
        row = (north_deg - latitude[i]) / row_deg
        column = (longitude[i] - west_deg) / column_deg
        if not (0.0 <= row <= rows - 1 and 0.0 <= column <= columns - 1):
            found[i] = math.nan
            continue
        r = min(int(row), rows - 2)
        c = min(int(column), columns - 2)
        down = row - r
        right = column - c
        upper = height[r, c] + right * (height[r, c + 1] - height[r, c])
        lower = height[r + 1, c] + right * (height[r + 1, c + 1] - height[r + 1, c])
        found[i] = upper + down * (lower - upper)


def bridge(ground: Floats, longest: int, known: Ints) -> int:
    """Fill short holes straight along each radial, and find how far its ground is known; to be compiled.

    Parameters
    ----------
    ground : ndarray, shape (r, n)
        Heights with NaN in holes [m]; short holes are filled in place.
    longest : int
        Most points without ground in a row that are filled.
    known : ndarray of int64, shape (r,)
        Filled with the number of points before the first hole that stays.

    Returns
    -------
    int
        How many points were filled.
    """
    filled = 0
    for r in range(ground.shape[0]):
        last = -1
        for i in range(ground.shape[1]):
            if math.isnan(ground[r, i]):
                continue
            hole = i - last - 1
            if hole > 0:
                if last < 0 or hole > longest:
                    break
                rise = (ground[r, i] - ground[r, last]) / (i - last)
                for j in range(last + 1, i):
                    ground[r, j] = ground[r, last] + rise * (j - last)
                filled += hole
            last = i
        known[r] = last + 1
    return filled
