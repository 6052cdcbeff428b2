"""What can be seen along radials: the steepest ground, and the cells of a map that show above it.

Plain loops over arrays, to be compiled by :mod:`pathprofile.area.compiled`; they also run as they stand.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Singles = npt.NDArray[np.float32]
    Ints = npt.NDArray[np.int64]
    Flags = npt.NDArray[np.uint8]

__all__ = ["horizons", "sights", "steepest_before"]


def horizons(
    along: Floats, ground: Floats, known: Ints, eye_m: float, bend: float, slope: Floats, at: Ints
) -> None:
    """Steepest ground along each radial.

    Parameters
    ----------
    along : ndarray, shape (n,)
        Distance [km].
    ground : ndarray, shape (r, n)
        Ground above sea level [m].
    known : ndarray of int64, shape (r,)
        How many points of each radial have ground.
    eye_m : float
        Antenna above sea level [m].
    bend : float
        500 / effective radius [m/km²].
    slope : ndarray, shape (r,)
        Filled with (h − eye)/d − bend · d at its largest [m/km]; NaN where no ground is known.
    at : ndarray of int64, shape (r,)
        Filled with its index, the first of equals.
    """
    for r in range(ground.shape[0]):
        best = -math.inf
        index = 0
        for i in range(1, known[r]):
            here = (ground[r, i] - eye_m) / along[i] - bend * along[i]
            if here > best:
                best = here
                index = i
        slope[r] = best if index else math.nan
        at[r] = index


def steepest_before(
    along: Floats, ground: Floats, known: Ints, eye_m: float, bend: float, steepest: Singles
) -> None:
    """Steepest ground up to each point of each radial.

    Parameters
    ----------
    along, ground, known, eye_m, bend
        As in :func:`horizons`.
    steepest : ndarray of float32, shape (r, n)
        Filled with the largest (h − eye)/d − bend · d of points 1 to i [m/km]: −inf at entry 0, NaN where no
        ground is known.
    """
    for r in range(ground.shape[0]):
        steepest[r, :] = math.nan
        best = -math.inf
        steepest[r, 0] = best
        for i in range(1, known[r]):
            best = max(best, (ground[r, i] - eye_m) / along[i] - bend * along[i])
            steepest[r, i] = best


def sights(
    steepest: Singles,
    step_m: float,
    cell_m: float,
    first_row: int,
    half: int,
    ground: Floats,
    eye_m: float,
    target_agl_m: float,
    bend: float,
    seen: Flags,
) -> None:
    """Fill rows of a map with what is in sight.

    Parameters
    ----------
    steepest : ndarray of float32, shape (r, n)
        From :func:`steepest_before`, r rays clockwise from north and n rings.
    step_m, cell_m : float
        Ring spacing and cell side [m].
    first_row, half : int
        Row of the whole map that this begins with; the whole map has 2 half + 1 rows and columns.
    ground : ndarray, shape (rows, 2 half + 1)
        Ground in the middle of each cell [m].
    eye_m, target_agl_m, bend
        Antenna above sea level, height above ground to be seen [m], 500 / effective radius [m/km²].
    seen : ndarray of uint8, shape (rows, 2 half + 1)
        Filled with 1 in sight, 0 hidden, 255 not known.

    Notes
    -----
    The cell's own ground at its own distance is held against the horizon before it, taken between the two
    rays beside it. Against lines traced to each cell that makes half as many errors as asking the nearest
    point of the nearest ray.
    """
    rays, rings = steepest.shape
    rays_a_radian = rays / (2.0 * math.pi)
    for row in range(seen.shape[0]):
        y = (half - first_row - row) * cell_m
        for column in range(seen.shape[1]):
            x = (column - half) * cell_m
            away_m = math.sqrt(x * x + y * y)
            if away_m == 0.0:
                seen[row, column] = 1
                continue
            ring = max(math.ceil(away_m / step_m - 1e-9) - 1, 0)  # the last ring nearer than the cell
            bearing = math.atan2(x, y) * rays_a_radian
            left = math.floor(bearing)
            share = bearing - left
            before = steepest[left % rays, ring] if ring < rings else math.nan
            beside = steepest[(left + 1) % rays, ring] if ring < rings else math.nan
            horizon = before if ring == 0 else before + share * (beside - before)
            if math.isnan(horizon) or math.isnan(ground[row, column]):
                seen[row, column] = 255
                continue
            away_km = away_m / 1000.0
            slope = (ground[row, column] + target_agl_m - eye_m) / away_km - bend * away_km
            seen[row, column] = slope >= horizon
