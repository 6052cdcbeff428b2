"""Bullington's slopes over a bare smooth Earth without scanning it: the extremes have closed forms.

Plain functions, to be compiled by :mod:`pathprofile.area.compiled`; they also run as they stand.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from pathprofile.propagation.bullington import BullingtonGeometry

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

__all__ = ["smooth_bullington"]


def smooth_bullington(
    along: Floats, step_km: float, n: int, from_m: float, to_m: float, bend: float, floor: float
) -> BullingtonGeometry:
    """Bullington geometry of equally spaced points at sea level, from antennas ``from_m`` and ``to_m`` high.

    Parameters
    ----------
    along : ndarray
        Distance of the points, ``step_km`` apart [km].
    step_km : float
        Spacing [km].
    n : int
        The receiver.
    from_m, to_m : float
        Effective antenna heights [m].
    bend : float
        Of the Earth [m/km²].
    floor : float
        In line of sight, an excess that is not larger need not be found, and this stands for it; −inf to find
        it in any case [m/km].

    Notes
    -----
    −h/x − bend · x is largest at x = √(h/bend); the Recommendation takes the maximum over profile points, so
    the points beside x are tried.
    """
    whole = along[n]
    sight = (to_m - from_m) / whole
    from_slope = _steepest(along, step_km, n, from_m, bend) + bend * whole
    if from_slope < sight:
        # √(d1 d2) ≤ d/2, and h1 √(d2/d1) + h2 √(d1/d2) ≥ 2 √(h1 h2)
        worst = 0.5 * bend * whole - 2.0 * math.sqrt(from_m * to_m) / whole
        worst = floor if worst <= floor else max(floor, _worst_excess(along, n, from_m, to_m, bend, sight))
        return BullingtonGeometry(whole, from_m, to_m, from_slope, 0.0, worst)
    # the ground is the same from the other end, point n − i at the distance of point i
    to_slope = _steepest(along, step_km, n, to_m, bend) + bend * whole
    return BullingtonGeometry(whole, from_m, to_m, from_slope, to_slope, 0.0)


def _steepest(along: Floats, step_km: float, n: int, height_m: float, bend: float) -> float:
    """Largest −h/x − bend · x over points 1 to n − 1 [m/km]."""
    near = min(max(int(math.sqrt(height_m / bend) / step_km), 1), n - 1)
    steepest = -math.inf
    for i in range(near, min(near + 1, n - 1) + 1):
        steepest = max(steepest, (0.0 - height_m) / along[i] - bend * along[i])
    return steepest


def _worst_excess(along: Floats, n: int, from_m: float, to_m: float, bend: float, sight: float) -> float:
    """Largest height over the sight line by √(d1 d2).

    With w = d1/d2 its derivative has the sign of bend d² w(1 − w) + (1 + w)²(h1 − h2 w), a cubic with one
    positive root (by Descartes' rule of signs): one summit, found by halving.
    """
    whole = along[n]
    bulge = bend * whole * whole
    low = 1
    high = n - 1
    while low < high:  # the last point where it still rises
        middle = (low + high + 1) // 2
        w = along[middle] / (whole - along[middle])
        if bulge * w * (1.0 - w) + (1.0 + w) * (1.0 + w) * (from_m - to_m * w) > 0.0:
            low = middle
        else:
            high = middle - 1
    direct = sight - bend * whole
    worst = -math.inf
    for i in range(max(low - 1, 1), min(low + 1, n - 1) + 1):
        slope = (0.0 - from_m) / along[i] - bend * along[i]
        worst = max(worst, (slope - direct) * math.sqrt(along[i] / (whole - along[i])))
    return worst
