"""Heights in the strip between two tiles that do not share a row or column of samples.

The strip is as wide as a cell (two half cells where the tiles differ in fineness). A point in it is
interpolated linearly between the nearest samples on both sides: first along the row, then across the rows,
which is what bilinear interpolation does inside a tile, and holds for any change of spacing between them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from pathprofile.terrain.frames import Placement

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Sampler = Callable[[Placement, Floats, Floats], Floats]

__all__ = ["across_seam", "at_corner"]

# Widest strip [cells of the coarser tile]: one, and half a cell for tiles that were cut carelessly.
_WIDEST_CELLS = 1.5


def across_seam(
    placements: Sequence[Placement], sample: Sampler, x: Floats, y: Floats
) -> tuple[Floats, NDArray[np.bool_]]:
    """Heights of points between tiles.

    Parameters
    ----------
    placements : sequence of Placement
        Tiles of one frame near the points, finest first.
    sample : callable
        Gives the heights of points that lie within one placement.
    x, y : ndarray, shape (n,)
        Points within none of the placements, in coordinates of the frame.

    Returns
    -------
    height_m : ndarray, shape (n,)
        NaN where a void is met, or where `between` is false.
    between : ndarray of bool, shape (n,)
        Whether there are tiles on both sides.
    """
    height, between = _along_row(placements, sample, x, y)
    rest = np.flatnonzero(~between)
    if rest.size:
        height[rest], between[rest] = _across_rows(placements, sample, x[rest], y[rest])
    rest = np.flatnonzero(~between)
    if rest.size:
        # Where two tiles end side by side on a third that runs on, it is columns that lead across.
        origin = {_turned(p): p for p in placements}

        def sample_turned(p: Placement, x: Floats, y: Floats) -> Floats:
            return sample(origin[p], y, x)

        height[rest], between[rest] = _across_rows(list(origin), sample_turned, y[rest], x[rest])
    return height, between


def _turned(p: Placement) -> Placement:
    """Return a placement with its two axes exchanged."""
    return Placement(p.index, p.cols, p.rows, p.y0, p.x0, p.dy, p.dx)


def at_corner(
    placements: Sequence[Placement], sample: Sampler, x: Floats, y: Floats
) -> tuple[Floats, NDArray[np.bool_]]:
    """Heights where three or more tiles of different fineness meet and no row leads across.

    Takes the plane that fits the nearest sample position of each tile, the nearer the better, so that there
    is no step at the edge of any of them.

    Parameters and returns as `across_seam`.
    """
    count = np.zeros(x.shape, np.int64)
    on_raster = np.zeros(x.shape, np.bool_)
    moments = np.zeros((*x.shape, 3, 3))
    right = np.zeros((*x.shape, 3))
    size_x, size_y = max(p.cell_x for p in placements), max(p.cell_y for p in placements)
    for p in placements:
        on_raster |= p.holds(x, y, margin=0.5 + 1e-7)
        pick = np.flatnonzero(p.holds(x, y, margin=_WIDEST_CELLS))
        if pick.size == 0:
            continue
        near_x, near_y = np.clip(x[pick], p.west, p.east), np.clip(y[pick], p.south, p.north)
        east, north = (near_x - x[pick]) / size_x, (near_y - y[pick]) / size_y
        weight = 1.0 / (east**2 + north**2 + 1e-12)
        row = np.stack((np.ones(pick.shape), east, north), axis=-1)
        moments[pick] += weight[:, np.newaxis, np.newaxis] * row[:, :, np.newaxis] * row[:, np.newaxis, :]
        right[pick] += (weight * sample(p, near_x, near_y))[:, np.newaxis] * row
        count[pick] += 1
    between = on_raster & (count >= 3)
    height = np.full(x.shape, np.nan)
    pick = np.flatnonzero(between)
    if pick.size:
        # Three sample positions on one line leave the slope across it open; then it is taken as none.
        inverse = np.linalg.pinv(moments[pick], rcond=1e-9, hermitian=True)
        height[pick] = (inverse[:, 0, :] * right[pick]).sum(axis=1)
    return height, between


def _across_rows(
    placements: Sequence[Placement], sample: Sampler, x: Floats, y: Floats
) -> tuple[Floats, NDArray[np.bool_]]:
    """Between the last row to the south and the first row to the north."""
    south, south_cell = np.full(x.shape, -np.inf), np.zeros(x.shape)
    north, north_cell = np.full(x.shape, np.inf), np.zeros(x.shape)
    # Tiles straight above and below first; near a corner there may be none, then those beside.
    for aside in (1e-7, _WIDEST_CELLS):
        south_open, north_open = np.isinf(south), np.isinf(north)
        for p in placements:
            over = (x >= p.west - aside * p.cell_x) & (x <= p.east + aside * p.cell_x)
            better = over & south_open & (p.north <= y) & (p.north > south)
            south[better], south_cell[better] = p.north, p.cell_y
            better = over & north_open & (p.south >= y) & (p.south < north)
            north[better], north_cell[better] = p.south, p.cell_y
    between = north - south <= _WIDEST_CELLS * np.maximum(south_cell, north_cell)
    height = np.full(x.shape, np.nan)
    pick = np.flatnonzero(between)
    if pick.size == 0:
        return height, between
    x, y, south, north = x[pick], y[pick], south[pick], north[pick]
    lower, found_lower = _on_row(placements, sample, x, south)
    upper, found_upper = _on_row(placements, sample, x, north)
    height[pick] = _between(y, south, north, lower, upper)
    between[pick] = found_lower & found_upper
    return height, between


def _on_row(
    placements: Sequence[Placement], sample: Sampler, x: Floats, y: Floats
) -> tuple[Floats, NDArray[np.bool_]]:
    """On the edge row of a tile, or between two edge rows that end side by side."""
    height, found = np.full(x.shape, np.nan), np.zeros(x.shape, np.bool_)
    for p in placements:
        pick = np.flatnonzero(~found & p.holds(x, y))
        if pick.size:
            height[pick], found[pick] = sample(p, x[pick], y[pick]), True
    rest = np.flatnonzero(~found)
    if rest.size:
        height[rest], found[rest] = _along_row(placements, sample, x[rest], y[rest])
    return height, found


def _along_row(
    placements: Sequence[Placement], sample: Sampler, x: Floats, y: Floats
) -> tuple[Floats, NDArray[np.bool_]]:
    """Between the last column to the west and the first column to the east."""
    west, west_by = np.full(x.shape, -np.inf), np.full(x.shape, -1)
    east, east_by = np.full(x.shape, np.inf), np.full(x.shape, -1)
    for i, p in enumerate(placements):
        level = (y >= p.south - 1e-7 * p.cell_y) & (y <= p.north + 1e-7 * p.cell_y)
        better = level & (p.east <= x) & (p.east > west)
        west[better], west_by[better] = p.east, i
        better = level & (p.west >= x) & (p.west < east)
        east[better], east_by[better] = p.west, i
    cells = np.array([p.cell_x for p in placements])
    between = (west_by >= 0) & (east_by >= 0)
    between &= east - west <= _WIDEST_CELLS * np.maximum(cells[west_by], cells[east_by])
    height = np.full(x.shape, np.nan)
    pick = np.flatnonzero(between)
    if pick.size == 0:
        return height, between
    x, y, west, east = x[pick], y[pick], west[pick], east[pick]
    left, right = np.empty(pick.shape), np.empty(pick.shape)
    for i, p in enumerate(placements):
        by = west_by[pick] == i
        left[by] = sample(p, west[by], y[by])
        by = east_by[pick] == i
        right[by] = sample(p, east[by], y[by])
    height[pick] = _between(x, west, east, left, right)
    return height, between


def _between(at: Floats, low: Floats, high: Floats, at_low: Floats, at_high: Floats) -> Floats:
    """Linear interpolation; a point on one side does not ask for the other, which may be void."""
    width = high - low
    share = np.divide(at - low, width, out=np.zeros_like(at), where=width > 0)
    both = at_low + share * (at_high - at_low)
    return np.where(share <= 0.0, at_low, np.where(share >= 1.0, at_high, both))
