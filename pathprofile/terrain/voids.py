"""Heights across holes in the elevation data."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from pathprofile.terrain.frames import metres_per_degree

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from pathprofile.terrain.store import TerrainStore

__all__ = ["Bridge", "from_surroundings", "membrane", "runs_of"]

# Most samples a side of the ground looked at around a hole; a larger window is looked at more coarsely.
_MOST_A_SIDE = 161
# Convergence of the membrane [m], and far more steps than a window of that size ever takes.
_CLOSE_ENOUGH_M = 1e-4
_MOST_STEPS = 5_000


@dataclass(frozen=True)
class Bridge:
    """A stretch of path over a hole in the data, with made-up heights.

    Attributes
    ----------
    start_m, stop_m : float
        Last and next point with a height from the data [m from FROM]; the end of the path if there is none.
    how : {"along the path", "from its surroundings"}
        Straight between both sides, or as a sheet stretched over the whole hole.
    tile : str
        Name of the tile with the hole.
    """

    start_m: float
    stop_m: float
    how: Literal["along the path", "from its surroundings"]
    tile: str

    @property
    def length_m(self) -> float:
        """Length of the stretch [m]."""
        return self.stop_m - self.start_m


def runs_of(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last index of every unbroken run of true values."""
    steps = np.diff(np.concatenate(([0], mask.astype(np.int8), [0])))
    return list(
        zip(np.flatnonzero(steps == 1).tolist(), (np.flatnonzero(steps == -1) - 1).tolist(), strict=True)
    )


def from_surroundings(
    store: TerrainStore, latitude_deg: NDArray[np.float64], longitude_deg: NDArray[np.float64], cell_m: float
) -> NDArray[np.float64]:
    """Heights over a hole from the ground all round it.

    Parameters
    ----------
    store : TerrainStore
    latitude_deg, longitude_deg : ndarray, shape (n,)
        Points over the hole, within a few kilometres of each other [degrees].
    cell_m : float
        Ground side of a cell of the data [m].

    Returns
    -------
    ndarray, shape (n,)
        Heights [m]; NaN if no ground is known within the window.

    Notes
    -----
    The window reaches as far beyond the points as they are apart. Where the hole runs out of it, the sheet
    ends level there.
    """
    middle_latitude, middle_longitude = (
        float(latitude_deg.mean()),
        float(longitude_deg[latitude_deg.size // 2]),
    )
    north_m, _ = metres_per_degree(middle_latitude)
    north = (latitude_deg - middle_latitude) * north_m
    _, east_m = metres_per_degree(latitude_deg)
    east = (np.remainder(longitude_deg - middle_longitude + 180.0, 360.0) - 180.0) * east_m
    extent = max(float(np.ptp(north)), float(np.ptp(east)))
    margin = max(extent, 10.0 * cell_m)
    step_m = max(cell_m, (extent + 2 * margin) / (_MOST_A_SIDE - 1))
    rows = north.min() - margin + step_m * np.arange(int(np.ptp(north) + 2 * margin) // step_m + 2)
    cols = east.min() - margin + step_m * np.arange(int(np.ptp(east) + 2 * margin) // step_m + 2)
    row_latitude = np.clip(middle_latitude + rows / north_m, -90.0, 90.0)
    _, row_east_m = metres_per_degree(row_latitude)
    heights = store.elevation_m(
        row_latitude[:, np.newaxis], middle_longitude + cols / np.maximum(row_east_m, 1.0)[:, np.newaxis]
    )
    if np.isnan(heights).all():
        return np.full(latitude_deg.shape, np.nan)
    filled = membrane(heights)
    row, col = (north - rows[0]) / step_m, (east - cols[0]) / step_m
    r, c = row.astype(np.int64), col.astype(np.int64)
    lower = filled[r, c] + (col - c) * (filled[r, c + 1] - filled[r, c])
    upper = filled[r + 1, c] + (col - c) * (filled[r + 1, c + 1] - filled[r + 1, c])
    heights_m: NDArray[np.float64] = lower + (row - r) * (upper - lower)
    return heights_m


def membrane(heights_m: NDArray[np.float64]) -> NDArray[np.float64]:
    """Fill holes of a square grid as a thin sheet stretched from their rims would lie.

    Parameters
    ----------
    heights_m : ndarray, shape (rows, cols)
        Heights on equally spaced points [m], NaN in the holes; at least one is known.

    Returns
    -------
    ndarray, shape (rows, cols)
        The same with every hole filled; known heights are unchanged.

    Notes
    -----
    Every filled height is the mean of its neighbours (Laplace's equation), so it lies between the lowest
    and the highest point of the rim, and a hole in a tilted plane is filled exactly. At the border of the
    grid there are fewer neighbours: the sheet meets it level. Solved by conjugate gradients.

    References
    ----------
    .. [1] M. R. Hestenes and E. Stiefel, "Methods of conjugate gradients for solving linear systems",
       J. Res. Natl. Bur. Stand. 49, 409-436 (1952).
    """
    unknown = np.isnan(heights_m)
    base = float(heights_m[~unknown].mean())
    sheet = np.where(unknown, 0.0, heights_m - base)
    neighbours = _sum_beside(np.ones_like(sheet))
    residual = np.where(unknown, _sum_beside(sheet), 0.0)
    search = residual.copy()
    strength = float((residual**2).sum())
    for _ in range(_MOST_STEPS):
        if float(np.abs(residual).max()) < _CLOSE_ENOUGH_M * 1e-3:
            break
        image = np.where(unknown, neighbours * search - _sum_beside(search), 0.0)
        length = strength / float((search * image).sum())
        sheet += length * search
        residual -= length * image
        before, strength = strength, float((residual**2).sum())
        search = residual + strength / before * search
    return np.where(unknown, sheet + base, heights_m)


def _sum_beside(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Sum of the up to four neighbours of every point of a grid."""
    total = np.zeros_like(values)
    total[1:] += values[:-1]
    total[:-1] += values[1:]
    total[:, 1:] += values[:, :-1]
    total[:, :-1] += values[:, 1:]
    return total
