"""Clutter (trees, roofs) on a profile, with a stated clear distance round each antenna."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from pathprofile.errors import OutOfRangeError

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

__all__ = ["CLEAR_ROUND_ANTENNA_M", "ClutteredProfile", "UserObstacle", "add_clutter", "add_obstacles"]

CLEAR_ROUND_ANTENNA_M = 50.0
"""Default distance from an antenna within which nothing stands (common practice for a chosen site)."""
MOST_CLUTTER_M = 300.0


class ClutteredProfile(NamedTuple):
    """Profile with what stands on it; arrays of shape ``(m,)``, ``m`` at least that of the input."""

    distance_m: Floats
    ground_m: Floats
    clutter_m: Floats


class UserObstacle(NamedTuple):
    """Something that the terrain model does not hold: where along the path, how high above its ground [m]."""

    distance_m: float
    height_m: float


def add_clutter(
    distance_m: Floats,
    ground_m: Floats,
    clutter_m: float | Floats,
    *,
    clear_round_antenna_m: float = CLEAR_ROUND_ANTENNA_M,
) -> ClutteredProfile:
    """Put clutter on a profile, none within a stated distance of either antenna.

    Parameters
    ----------
    distance_m, ground_m : ndarray, shape (n,)
        Profile [m].
    clutter_m : float or ndarray, shape (n,)
        Height of clutter above ground, for the whole path or for each point [m].
    clear_round_antenna_m : float
        Radius round each antenna that is free of it [m].

    Returns
    -------
    ClutteredProfile
        With a point inserted where clutter begins at either end, so that its distance from the antenna
        does not depend on the sampling.

    Raises
    ------
    OutOfRangeError
        For clutter that is negative, not a number, above 300 m or of another length than the profile, and
        for a clear distance that is negative or not a number.

    Notes
    -----
    ITU-R P.1812-8 eq. 1 takes bare ground at both end points, so clutter on the next sample stands one
    step from the antenna: without a stated distance, halving the step moves the loss by several dB.

    References
    ----------
    .. [1] ITU-R P.1812-8, §3.2.1 and §4.3.
    """
    heights = np.broadcast_to(
        np.asarray(clutter_m, dtype=np.float64), np.shape(clutter_m) or distance_m.shape
    )
    if heights.shape != distance_m.shape:
        raise OutOfRangeError(
            f"clutter has {heights.size} values for a profile of {distance_m.size} points: "
            "give one value, or one a point"
        )
    if not (np.isfinite(heights).all() and heights.min() >= 0.0 and heights.max() <= MOST_CLUTTER_M):
        raise OutOfRangeError(
            f"clutter of {heights.min():g} to {heights.max():g} m: "
            f"give heights from 0 to {MOST_CLUTTER_M:.0f} m"
        )
    if not (math.isfinite(clear_round_antenna_m) and clear_round_antenna_m >= 0.0):
        raise OutOfRangeError(
            f"clear distance of {clear_round_antenna_m!r} m round an antenna: give 0 or more"
        )
    whole_m = float(distance_m[-1])
    if not heights.any() or 2.0 * clear_round_antenna_m >= whole_m:
        return ClutteredProfile(distance_m, ground_m, np.zeros_like(distance_m))
    first_m, last_m = clear_round_antenna_m, whole_m - clear_round_antenna_m
    inside = (distance_m >= first_m) & (distance_m <= last_m)
    # the clutter that begins at the clear distance is that of the nearest sample beyond it
    covered = np.flatnonzero(inside)
    at_first, at_last = (
        (heights[covered[0]], heights[covered[-1]]) if covered.size else (heights[0], heights[-1])
    )
    bare = ClutteredProfile(distance_m, ground_m, np.where(inside, heights, 0.0))
    for at_m, height_m in ((first_m, float(at_first)), (last_m, float(at_last))):
        bare = _with_point(bare, at_m, height_m)
    bare.clutter_m[0] = bare.clutter_m[-1] = 0.0
    return bare


def add_obstacles(profile: ClutteredProfile, obstacles: tuple[UserObstacle, ...]) -> ClutteredProfile:
    """Put single objects on a profile, each as a point of its own.

    Raises
    ------
    OutOfRangeError
        For an obstacle off the path, at an antenna, or with an impossible height.
    """
    whole_m = float(profile.distance_m[-1])
    for obstacle in obstacles:
        if not 0.0 < obstacle.distance_m < whole_m:
            raise OutOfRangeError(
                f"obstacle at {obstacle.distance_m / 1000:g} km: the path runs from 0 to "
                f"{whole_m / 1000:.3f} km, and the ends themselves are the antennas"
            )
        if not 0.0 < obstacle.height_m <= 1000.0:
            raise OutOfRangeError(
                f"obstacle of {obstacle.height_m!r} m: give a height above ground up to 1000 m"
            )
        profile = _with_point(profile, obstacle.distance_m, obstacle.height_m)
    return profile


def _with_point(profile: ClutteredProfile, at_m: float, height_m: float) -> ClutteredProfile:
    distance, ground, clutter = profile
    index = int(np.searchsorted(distance, at_m))
    if distance[index] == at_m:
        clutter = clutter.copy()
        clutter[index] = max(float(clutter[index]), height_m)
        return ClutteredProfile(distance, ground, clutter)
    here_m = float(np.interp(at_m, distance, ground))
    return ClutteredProfile(
        np.insert(distance, index, at_m),
        np.insert(ground, index, here_m),
        np.insert(clutter, index, height_m),
    )
