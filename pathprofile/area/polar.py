"""From rays and rings to a square map: each cell takes the value of its nearest ray and ring.

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
    Codes = npt.NDArray[np.uint8]

__all__ = ["NO_GROUND", "OUTSIDE", "PREDICTED", "TOO_NEAR", "to_grid"]

OUTSIDE = 0
PREDICTED = 1
TOO_NEAR = 2
NO_GROUND = 3


def to_grid(
    polar: Floats,
    known: Ints,
    step_m: float,
    cell_m: float,
    first_row: int,
    half: int,
    grid: Singles,
    status: Codes,
) -> None:
    """Fill rows of a map centred on the site, north up.

    Parameters
    ----------
    polar : ndarray, shape (r, n)
        Values on r rays clockwise from north, on rings ``step_m`` apart from 0 on; NaN where there is none.
    known : ndarray of int64, shape (r,)
        How many points of each ray have ground.
    step_m, cell_m : float
        Ring spacing and cell side [m].
    first_row, half : int
        Row of the whole map that this begins with. The whole map has 2 half + 1 rows and columns; the site is
        in the middle of the middle cell.
    grid : ndarray of float32, shape (rows, 2 half + 1)
        Filled with values, NaN where there is none.
    status : ndarray of uint8, shape (rows, 2 half + 1)
        Filled with ``PREDICTED`` or why there is none: ``OUTSIDE`` the last ring, ``NO_GROUND`` known there,
        ``TOO_NEAR``.
    """
    rays, rings = polar.shape
    rays_a_radian = rays / (2.0 * math.pi)
    for row in range(grid.shape[0]):
        y = (half - first_row - row) * cell_m
        for column in range(grid.shape[1]):
            x = (column - half) * cell_m
            ring = int(math.sqrt(x * x + y * y) / step_m + 0.5)
            grid[row, column] = math.nan
            if ring >= rings:
                status[row, column] = OUTSIDE
                continue
            ray = math.floor(math.atan2(x, y) * rays_a_radian + 0.5) % rays
            value = polar[ray, ring]
            if not math.isnan(value):
                grid[row, column] = value
                status[row, column] = PREDICTED
            else:
                status[row, column] = NO_GROUND if ring >= known[ray] else TOO_NEAR
