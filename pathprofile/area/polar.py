"""From rays and rings to a square map: each cell takes the value of its nearest ray and ring.

Plain loops over arrays, to be compiled by :mod:`pathprofile.area.compiled`; they also run as they stand.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Ints = npt.NDArray[np.int64]

__all__ = ["to_grid"]


def to_grid(
    polar: npt.NDArray[np.float64] | npt.NDArray[np.uint8],
    step_m: float,
    cell_m: float,
    first_row: int,
    half: int,
    outside: float,
    grid: npt.NDArray[np.float32] | npt.NDArray[np.uint8],
) -> None:
    """Fill rows of a map centred on the site, north up.

    Parameters
    ----------
    polar : ndarray, shape (r, n)
        Values on r rays clockwise from north, on rings ``step_m`` apart from 0 on.
    step_m, cell_m : float
        Ring spacing and cell side [m].
    first_row : int
        Row of the whole map that ``grid`` begins with.
    half : int
        The whole map has 2 half + 1 rows and columns; the site is in the middle of the middle cell.
    outside : float
        Value beyond the last ring.
    grid : ndarray, shape (rows, 2 half + 1)
        Filled.
    """
    rays, rings = polar.shape
    rays_a_radian = rays / (2.0 * math.pi)
    for row in range(grid.shape[0]):
        y = (half - first_row - row) * cell_m
        for column in range(grid.shape[1]):
            x = (column - half) * cell_m
            ring = int(math.sqrt(x * x + y * y) / step_m + 0.5)
            if ring >= rings:
                grid[row, column] = outside
                continue
            ray = math.floor(math.atan2(x, y) * rays_a_radian + 0.5) % rays
            grid[row, column] = polar[ray, ring]
