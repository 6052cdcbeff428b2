"""The profile of a path, thinned to what a sheet can show: picked points, never averaged ones."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    from pathprofile.reach import Reach

    Floats = npt.NDArray[np.float64]

__all__ = ["Peak", "SheetProfile", "sheet_profile"]

_COLUMNS = 300
_MOST_PEAKS = 3


@dataclass(frozen=True, slots=True)
class Peak:
    """An obstacle worth a label: where, how high, and the straight line less its top."""

    distance_m: float
    top_m: float
    clearance_m: float


@dataclass(frozen=True)
class SheetProfile:
    """Points of a path; arrays of shape (n,) [m].

    Attributes
    ----------
    distance_m, ground_m : ndarray
        Ground with what stands on it, above sea level.
    raised_m, line_m : ndarray
        The same on the curved Earth, and the straight line between the antennas.
    clearance_m, fresnel_m : ndarray
        Line less ground, and the first Fresnel radius.
    filled : ndarray of bool
        Points over a hole in the map.
    limiting : int
        Index of the point with the smallest clearance ratio.
    verdict : {"clear", "partial", "obstructed"}
    minimum_fresnel_ratio : float
    from_antenna_m, to_antenna_m : float
        Above the ground.
    peaks : tuple of Peak
        Largest ν first.
    """

    distance_m: Floats
    ground_m: Floats
    raised_m: Floats
    line_m: Floats
    clearance_m: Floats
    fresnel_m: Floats
    filled: npt.NDArray[np.bool_]
    limiting: int
    verdict: str
    minimum_fresnel_ratio: float
    from_antenna_m: float
    to_antenna_m: float
    peaks: tuple[Peak, ...]


def sheet_profile(reach: Reach) -> SheetProfile:
    """Pick the points of a path that a sheet shows: both ends, and of each stretch its tightest point.

    Notes
    -----
    Every figure is one of the path's own points. What is left out between two of them lies lower against the
    line, so no ridge is lost.
    """
    seen, ground = reach.sightline, reach.survey.cluttered
    clearance = seen.clearance_m
    count = clearance.size
    edges = np.linspace(0, count, min(_COLUMNS, count) + 1).astype(int)
    picked = [start + int(np.argmin(clearance[start:stop])) for start, stop in pairwise(edges)]
    kept = np.unique([0, *picked, seen.limiting_index, count - 1])
    profile = reach.profile
    filled = np.interp(ground.distance_m[kept], profile.distance_m, profile.void_mask.astype(float)) > 0.5
    peaks = sorted(reach.obstacles.kept, key=lambda obstacle: -obstacle.nu)
    return SheetProfile(
        distance_m=ground.distance_m[kept],
        ground_m=(ground.ground_m + ground.clutter_m)[kept],
        raised_m=seen.ground_with_bulge_m[kept],
        line_m=seen.line_m[kept],
        clearance_m=clearance[kept],
        fresnel_m=seen.fresnel_m[kept],
        filled=filled,
        limiting=int(np.searchsorted(kept, seen.limiting_index)),
        verdict=seen.verdict,
        minimum_fresnel_ratio=seen.minimum_fresnel_ratio,
        from_antenna_m=reach.from_end.antenna_agl_m,
        to_antenna_m=reach.to_end.antenna_agl_m,
        peaks=tuple(Peak(o.distance_m, o.top_m, o.clearance_m) for o in peaks[:_MOST_PEAKS]),
    )
