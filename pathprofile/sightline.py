"""Line of sight over a curved Earth: bulge, Fresnel clearance, horizons, verdict and what limits."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from pathprofile.errors import OutOfRangeError

if TYPE_CHECKING:
    import numpy.typing as npt

    from pathprofile.atmosphere import Atmosphere

    Floats = npt.NDArray[np.float64]

__all__ = [
    "CLEAR_SHARE",
    "SPEED_OF_LIGHT_M_PER_S",
    "LeastHeights",
    "Sightline",
    "bulge_m",
    "fresnel_radius_m",
    "sightline",
]

SPEED_OF_LIGHT_M_PER_S = 299_792_458.0
CLEAR_SHARE = 0.6
"""Share of the first Fresnel radius that must be free for an unobstructed path (ITU-R P.530-18 §2.2.2)."""
_FOREGROUND_SHARE = 0.1
_FOREGROUND_MOST_M = 5000.0
_ROUNDING_M = 1e-6  # a least height, used as given, must pass

Verdict = Literal["clear", "partial", "obstructed"]
Region = Literal["from_foreground", "mid_path", "to_foreground"]


@dataclass(frozen=True)
class LeastHeights:
    """Least antenna heights above ground that reach a stated clearance.

    Attributes
    ----------
    from_m, to_m : float or None
        For this end alone, the other as it is [m]. ``None``: not below the mast limit, see the reason.
    both_m : float or None
        The same height above ground at both ends [m].
    from_reason, to_reason, both_reason : str or None
        Why there is no figure.
    """

    from_m: float | None
    to_m: float | None
    both_m: float | None
    from_reason: str | None = None
    to_reason: str | None = None
    both_reason: str | None = None


@dataclass(frozen=True)
class Sightline:
    """What stands between two antennas. Arrays have the shape ``(n,)`` of the profile.

    Attributes
    ----------
    verdict : {"clear", "partial", "obstructed"}
        ``clear``: 0.6 of the first Fresnel radius free at every interior point; ``partial``: in sight, but
        with less than that somewhere; ``obstructed``: ground above the line.
    ground_with_bulge_m, line_m, clearance_m, fresnel_m, fresnel_ratio : ndarray
        Ground (and clutter) on the curved Earth, the straight line between the antennas, line minus ground
        (positive above the ground), first Fresnel radius, clearance over radius (NaN at both ends).
    limiting_index : int
        Interior point with the smallest ratio.
    from_takeoff_deg, to_takeoff_deg : float
        Elevation angle of the horizon, or of the other antenna when it is in sight.
    from_horizon_m, to_horizon_m : float
        Distance from each end to that horizon (the whole path when in sight).
    """

    verdict: Verdict
    k_factor: float
    ground_with_bulge_m: Floats
    line_m: Floats
    clearance_m: Floats
    fresnel_m: Floats
    fresnel_ratio: Floats
    minimum_clearance_m: float
    minimum_fresnel_ratio: float
    limiting_index: int
    limiting_distance_m: float
    limiting_clearance_m: float
    limiting_region: Region
    from_takeoff_deg: float
    to_takeoff_deg: float
    from_horizon_m: float
    to_horizon_m: float
    height_for_sight_m: LeastHeights
    height_for_fresnel_m: LeastHeights

    @property
    def in_sight(self) -> bool:
        """Whether no ground rises above the line."""
        return self.verdict != "obstructed"


def bulge_m(distance_m: Floats, effective_radius_m: float) -> Floats:
    """Height of the curved Earth above the chord between the two ends [m].

    Parameters
    ----------
    distance_m : ndarray, shape (n,)
        Distances from one end; the last is the whole path [m].
    effective_radius_m : float
        Effective Earth radius [m].

    References
    ----------
    .. [1] ITU-R P.530-18, §2.2.2.1 (``d1 d2 / 12.74 k`` in km and m).
    """
    bulge: Floats = distance_m * (distance_m[-1] - distance_m) / (2.0 * effective_radius_m)
    return bulge


def fresnel_radius_m(distance_m: Floats, frequency_mhz: float, zone: int = 1) -> Floats:
    """Radius of a Fresnel zone along a path [m]; zero at both ends.

    References
    ----------
    .. [1] ITU-R P.526-16, §2.
    """
    wavelength_m = SPEED_OF_LIGHT_M_PER_S / (frequency_mhz * 1e6)
    whole_m = float(distance_m[-1])
    radius_m: Floats = np.sqrt(zone * wavelength_m / whole_m * distance_m * (whole_m - distance_m))
    return radius_m


def sightline(
    distance_m: Floats,
    ground_m: Floats,
    *,
    from_antenna_agl_m: float,
    to_antenna_agl_m: float,
    frequency_mhz: float,
    atmosphere: Atmosphere,
    clutter_m: Floats | None = None,
    mast_limit_m: float = 100.0,
) -> Sightline:
    """Sightline between two antennas over a terrain profile.

    Parameters
    ----------
    distance_m, ground_m : ndarray, shape (n,)
        Profile with at least three points, ends included [m].
    from_antenna_agl_m, to_antenna_agl_m : float
        Antenna heights above ground [m].
    frequency_mhz : float
        Frequency [MHz].
    atmosphere : Atmosphere
        Gives the effective Earth radius.
    clutter_m : ndarray, shape (n,), optional
        Height of what stands on the ground at interior points [m].
    mast_limit_m : float
        Highest mast for which least heights are given [m].

    Returns
    -------
    Sightline

    Raises
    ------
    OutOfRangeError
        If the profile has fewer than three points or ground that is not a number.

    References
    ----------
    .. [1] ITU-R P.530-18, §2.2.2 (clearance); P.526-16, §2 (Fresnel zones).
    """
    if distance_m.size < 3 or not np.isfinite(ground_m).all():
        raise OutOfRangeError(
            f"sightline over {distance_m.size} points, {int(np.isnan(ground_m).sum())} without ground: "
            "give at least 3 points, all with a height"
        )
    radius_m = atmosphere.effective_radius_m
    whole_m = float(distance_m[-1])
    share = distance_m / whole_m
    top_m = ground_m + bulge_m(distance_m, radius_m)
    if clutter_m is not None:
        top_m[1:-1] += clutter_m[1:-1]
    from_amsl_m = float(ground_m[0]) + from_antenna_agl_m
    to_amsl_m = float(ground_m[-1]) + to_antenna_agl_m
    line_m = from_amsl_m + (to_amsl_m - from_amsl_m) * share
    clearance_m = line_m - top_m
    fresnel_m = fresnel_radius_m(distance_m, frequency_mhz)
    ratio = np.full(distance_m.shape, np.nan)
    np.divide(clearance_m[1:-1], fresnel_m[1:-1], out=ratio[1:-1])
    limiting = int(np.argmin(ratio[1:-1])) + 1
    least_clearance_m = float(clearance_m[1:-1].min())
    least_ratio = float(ratio[limiting])
    if least_clearance_m < 0.0:
        verdict: Verdict = "obstructed"
    elif least_ratio < CLEAR_SHARE:
        verdict = "partial"
    else:
        verdict = "clear"

    from_angle, from_horizon_m = _horizon(clearance_m, distance_m, verdict)
    to_angle, to_horizon_m = _horizon(clearance_m[::-1], whole_m - distance_m[::-1], verdict)
    slope = (to_amsl_m - from_amsl_m) / whole_m
    droop = whole_m / (2.0 * radius_m)
    heights = {
        needed: _least_heights(
            share, top_m + needed * fresnel_m, ground_m, (from_amsl_m, to_amsl_m), mast_limit_m
        )
        for needed in (0.0, CLEAR_SHARE)
    }
    return Sightline(
        verdict=verdict,
        k_factor=atmosphere.k_factor,
        ground_with_bulge_m=top_m,
        line_m=line_m,
        clearance_m=clearance_m,
        fresnel_m=fresnel_m,
        fresnel_ratio=ratio,
        minimum_clearance_m=least_clearance_m,
        minimum_fresnel_ratio=least_ratio,
        limiting_index=limiting,
        limiting_distance_m=float(distance_m[limiting]),
        limiting_clearance_m=float(clearance_m[limiting]),
        limiting_region=_region(float(distance_m[limiting]), whole_m),
        from_takeoff_deg=math.degrees(math.atan(slope - droop + from_angle)),
        to_takeoff_deg=math.degrees(math.atan(-slope - droop + to_angle)),
        from_horizon_m=from_horizon_m,
        to_horizon_m=to_horizon_m,
        height_for_sight_m=heights[0.0],
        height_for_fresnel_m=heights[CLEAR_SHARE],
    )


def _horizon(clearance_m: Floats, distance_m: Floats, verdict: Verdict) -> tuple[float, float]:
    """Slope of the horizon above the direct line, and its distance; the other end itself when in sight."""
    if verdict != "obstructed":
        return 0.0, float(distance_m[-1])
    above = -clearance_m[1:-1] / distance_m[1:-1]
    highest = int(np.argmax(above))
    return float(above[highest]), float(distance_m[1 + highest])


def _region(distance_m: float, whole_m: float) -> Region:
    foreground_m = min(_FOREGROUND_SHARE * whole_m, _FOREGROUND_MOST_M)
    if distance_m <= foreground_m:
        return "from_foreground"
    if distance_m >= whole_m - foreground_m:
        return "to_foreground"
    return "mid_path"


def _least_heights(
    share: Floats,
    wanted_m: Floats,
    ground_m: Floats,
    antennas_amsl_m: tuple[float, float],
    limit_m: float,
) -> LeastHeights:
    """Every interior point bounds the line from below, linearly in either antenna's height."""
    near, far = 1.0 - share[1:-1], share[1:-1]
    wanted = wanted_m[1:-1]
    bounds = {
        "from": ((wanted - far * antennas_amsl_m[1]) / near - ground_m[0], 1),
        "to": ((wanted - near * antennas_amsl_m[0]) / far - ground_m[-1], 0),
        "both": (wanted - near * ground_m[0] - far * ground_m[-1], None),
    }
    found: dict[str, float | None] = {}
    reasons: dict[str, str | None] = {}
    for name, (bound, far_end) in bounds.items():
        where = int(np.argmax(bound))
        height_m = max(0.0, float(bound[where]) + _ROUNDING_M)
        found[name] = height_m if height_m <= limit_m else None
        reasons[name] = None
        if height_m > limit_m:
            beside_other_end = far_end is not None and (far[where] if far_end else near[where]) > 0.9
            reasons[name] = f"{height_m:.0f} m would be needed, above the mast limit of {limit_m:.0f} m" + (
                "; the limit lies close to the other end, raise that one" if beside_other_end else ""
            )
    return LeastHeights(
        found["from"], found["to"], found["both"], reasons["from"], reasons["to"], reasons["both"]
    )
