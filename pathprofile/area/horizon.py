"""What can be seen along radials: the steepest ground, and the points where a target shows above it.

Plain loops over arrays, to be compiled by :mod:`pathprofile.area.compiled`; they also run as they stand.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Ints = npt.NDArray[np.int64]
    Flags = npt.NDArray[np.uint8]

__all__ = ["horizons", "sights"]


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


def sights(
    along: Floats, ground: Floats, known: Ints, eye_m: float, target_agl_m: float, bend: float, seen: Flags
) -> None:
    """Which points of each radial are in sight of the antenna.

    Parameters
    ----------
    along, ground, known, eye_m, bend
        As in :func:`horizons`.
    target_agl_m : float
        Height above the ground that is to be seen [m].
    seen : ndarray of uint8, shape (r, n)
        Filled with 1 where no ground between rises above the line, else 0.
    """
    for r in range(ground.shape[0]):
        seen[r, :] = 0
        steepest = -math.inf
        for i in range(known[r]):
            if i == 0:
                seen[r, 0] = 1
                continue
            above = ground[r, i] - eye_m
            droop = bend * along[i]
            seen[r, i] = (above + target_agl_m) / along[i] - droop >= steepest
            steepest = max(steepest, above / along[i] - droop)
