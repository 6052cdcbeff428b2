"""Water or plain that a ray in sight could be mirrored by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

__all__ = ["Mirror", "find_mirror"]

_STRETCH_SHARE = 0.1
_LEAST_POINTS = 5
_LEAST_HEIGHT_M = 1.0
_ROUGHEST_M = 5.0


@dataclass(frozen=True)
class Mirror:
    """A level stretch at the point where a reflected ray would touch the ground.

    Attributes
    ----------
    distance_m : float
        The point, from FROM.
    level_m : float
        Mean height of the stretch above sea level.
    roughness_m : float
        Standard deviation of its heights.
    from_height_m, to_height_m : float
        Antennas above that level.
    water : bool
        Every height of the stretch is exactly 0 m.
    """

    distance_m: float
    level_m: float
    roughness_m: float
    from_height_m: float
    to_height_m: float
    water: bool


def find_mirror(
    distance_m: Floats, ground_m: Floats, *, from_antenna_amsl_m: float, to_antenna_amsl_m: float
) -> Mirror | None:
    """Find the level stretch about the specular point, if there is one.

    Parameters
    ----------
    distance_m, ground_m : ndarray, shape (n,)
        Profile [m].
    from_antenna_amsl_m, to_antenna_amsl_m : float
        Antenna tips above sea level [m].

    Returns
    -------
    Mirror or None
        ``None`` where the ground about that point is rougher than 5 m or not below both antennas.

    Notes
    -----
    The point divides the path as the antennas' heights above the stretch (image method over a flat plane,
    textbook); both are found together in a few rounds. The stretch is a tenth of the path.
    """
    whole_m = float(distance_m[-1])
    half_m = 0.5 * _STRETCH_SHARE * whole_m
    at_m, level_m = 0.5 * whole_m, float(np.median(ground_m))
    for _ in range(8):
        heights = (from_antenna_amsl_m - level_m, to_antenna_amsl_m - level_m)
        if min(heights) < _LEAST_HEIGHT_M:
            return None
        at_m = whole_m * heights[0] / (heights[0] + heights[1])
        stretch = ground_m[np.abs(distance_m - at_m) <= half_m]
        if stretch.size < _LEAST_POINTS:
            return None
        level_m = float(stretch.mean())
    heights = (from_antenna_amsl_m - level_m, to_antenna_amsl_m - level_m)
    roughness_m = float(stretch.std())
    if roughness_m > _ROUGHEST_M or min(heights) < _LEAST_HEIGHT_M:
        return None
    return Mirror(at_m, level_m, roughness_m, heights[0], heights[1], bool((stretch == 0.0).all()))
