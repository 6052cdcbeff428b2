"""Sightline, obstacles and losses over surveyed ground; and both steps in one for one path."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from pathprofile.atmosphere import Atmosphere
from pathprofile.errors import OutOfRangeError
from pathprofile.geodesy import magnetic_azimuth_deg
from pathprofile.ground.mirror import Mirror, find_mirror
from pathprofile.ground.obstacles import Obstacles, find_obstacles
from pathprofile.propagation import spherical_earth as smooth_sphere
from pathprofile.propagation.methods import Surroundings, all_methods
from pathprofile.propagation.two_ray import TwoRay, two_ray
from pathprofile.reach.result import PathEnd, Reach
from pathprofile.sightline import Sightline, sightline

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from pathprofile.ground.clutter import ClutteredProfile
    from pathprofile.reach.surveying import Survey
    from pathprofile.terrain.profile import TerrainProfile

__all__ = ["assess", "check_inputs"]

FREQUENCY_MHZ = (30.0, 3000.0)
MOST_ANTENNA_M = 3000.0
POLARIZATIONS = ("vertical", "horizontal")
_SEA = (smooth_sphere.SEA_PERMITTIVITY, smooth_sphere.SEA_CONDUCTIVITY_S_PER_M)
_LAND = (smooth_sphere.LAND_PERMITTIVITY, smooth_sphere.LAND_CONDUCTIVITY_S_PER_M)


def assess(
    found: Survey,
    *,
    frequency_mhz: float,
    from_antenna_agl_m: float,
    to_antenna_agl_m: float,
    polarization: str = "vertical",
    atmosphere: Atmosphere | None = None,
    surroundings: Surroundings | None = None,
    mast_limit_m: float = 100.0,
    deciding_only: bool = False,
    odds_only: bool = False,
) -> Reach:
    """Sightline, obstacles and losses over ground that was surveyed before.

    Parameters are those of `reach`. ``deciding_only`` leaves out the methods beside the best estimate and the
    second opinion, for questions asked many times; ``odds_only`` the obstacles too: nothing is then said of
    what stands in the way.

    Raises
    ------
    OutOfRangeError
        For a frequency outside 30 MHz to 3 GHz, an antenna height that is not above 0 m and below 3000 m, or
        a polarization that is neither vertical nor horizontal.
    """
    check_inputs(frequency_mhz, from_antenna_agl_m, to_antenna_agl_m, polarization)
    atmosphere = atmosphere or Atmosphere()
    profile, cluttered = found.profile, found.cluttered
    seen = sightline(
        cluttered.distance_m,
        cluttered.ground_m,
        from_antenna_agl_m=from_antenna_agl_m,
        to_antenna_agl_m=to_antenna_agl_m,
        frequency_mhz=frequency_mhz,
        atmosphere=atmosphere,
        clutter_m=cluttered.clutter_m,
        mast_limit_m=mast_limit_m,
    )
    tips_amsl_m = (
        float(cluttered.ground_m[0]) + from_antenna_agl_m,
        float(cluttered.ground_m[-1]) + to_antenna_agl_m,
    )
    deciding_only = deciding_only or odds_only
    if odds_only:
        whole_m = float(cluttered.distance_m[-1])
        obstacles = Obstacles((), 0, None, whole_m, *tips_amsl_m, atmosphere.effective_radius_m)
    else:
        obstacles = find_obstacles(
            cluttered.distance_m,
            cluttered.ground_m + cluttered.clutter_m,
            from_antenna_amsl_m=tips_amsl_m[0],
            to_antenna_amsl_m=tips_amsl_m[1],
            effective_radius_m=atmosphere.effective_radius_m,
            frequency_mhz=frequency_mhz,
        )
    loss = all_methods(
        cluttered,
        obstacles,
        found.zones,
        frequency_mhz=frequency_mhz,
        from_antenna_agl_m=from_antenna_agl_m,
        to_antenna_agl_m=to_antenna_agl_m,
        polarization=polarization,
        atmosphere=atmosphere,
        latitude_deg=_middle(profile.latitude_deg),
        surroundings=surroundings or Surroundings(),
        deciding_only=deciding_only,
    )
    mirror = lobes = None
    if seen.verdict == "clear" and not deciding_only:
        mirror, lobes = _lobes(
            cluttered, frequency_mhz, (from_antenna_agl_m, to_antenna_agl_m), polarization, atmosphere
        )
    ends = [
        PathEnd(
            location=location,
            ground_m=float(ground_m),
            antenna_agl_m=antenna_agl_m,
            declination_deg=north.declination_deg,
            azimuth_deg=azimuth_deg,
            magnetic_azimuth_deg=magnetic_azimuth_deg(azimuth_deg, north.declination_deg),
        )
        for location, ground_m, antenna_agl_m, north, azimuth_deg in (
            (
                found.from_location,
                profile.ground_m[0],
                from_antenna_agl_m,
                found.from_declination,
                found.leg.azimuth_deg,
            ),
            (
                found.to_location,
                profile.ground_m[-1],
                to_antenna_agl_m,
                found.to_declination,
                found.leg.back_azimuth_deg,
            ),
        )
    ]
    return Reach(
        from_end=ends[0],
        to_end=ends[1],
        frequency_mhz=frequency_mhz,
        polarization=polarization,
        date=found.date,
        atmosphere=atmosphere,
        leg=found.leg,
        profile=profile,
        sightline=seen,
        obstacles=obstacles,
        loss=loss,
        zones=found.zones,
        surroundings=surroundings or Surroundings(),
        mirror=mirror,
        two_ray=lobes,
        warnings=(*found.warnings, *_bridge_warnings(profile, seen, cluttered)),
        survey=found,
    )


def check_inputs(
    frequency_mhz: float, from_antenna_agl_m: float, to_antenna_agl_m: float, polarization: str
) -> None:
    """Refuse a frequency, an antenna height or a polarization that no method takes."""
    if polarization not in POLARIZATIONS:
        raise OutOfRangeError(f"polarization {polarization!r}: give {' or '.join(map(repr, POLARIZATIONS))}")
    low, high = FREQUENCY_MHZ
    if not low <= frequency_mhz <= high:
        raise OutOfRangeError(
            f"frequency {frequency_mhz!r} MHz: give {low:.0f} to {high:.0f} MHz, or a band such as 2m"
        )
    for end, height_m in (("FROM", from_antenna_agl_m), ("TO", to_antenna_agl_m)):
        if not (math.isfinite(height_m) and 0.0 < height_m <= MOST_ANTENNA_M):
            raise OutOfRangeError(
                f"antenna height {height_m!r} m at {end}: give a height above ground, more than 0 and up to "
                f"{MOST_ANTENNA_M:.0f} m"
            )


def _middle(values: npt.NDArray[np.float64]) -> float:
    """Middle value, that of both neighbours where there is none, so that it is the same from either end."""
    return 0.5 * float(values[(values.size - 1) // 2] + values[values.size // 2])


def _lobes(
    cluttered: ClutteredProfile,
    frequency_mhz: float,
    antennas_agl_m: tuple[float, float],
    polarization: str,
    atmosphere: Atmosphere,
) -> tuple[Mirror | None, TwoRay | None]:
    """Water or plain under a clear path, and the range that its reflection puts round the loss."""
    tips_m = [
        float(cluttered.ground_m[end]) + agl_m for end, agl_m in zip((0, -1), antennas_agl_m, strict=True)
    ]
    mirror = find_mirror(
        cluttered.distance_m, cluttered.ground_m, from_antenna_amsl_m=tips_m[0], to_antenna_amsl_m=tips_m[1]
    )
    if mirror is None or cluttered.clutter_m.any():
        return None, None
    permittivity, conductivity = _SEA if mirror.water else _LAND
    try:
        return mirror, two_ray(
            float(cluttered.distance_m[-1]),
            mirror.from_height_m,
            mirror.to_height_m,
            frequency_mhz=frequency_mhz,
            effective_radius_m=atmosphere.effective_radius_m,
            polarization=polarization,
            relative_permittivity=permittivity,
            conductivity_s_per_m=conductivity,
            roughness_m=mirror.roughness_m,
        )
    except OutOfRangeError:  # too near the surface: diffraction, no sum of two rays
        return None, None


def _bridge_warnings(profile: TerrainProfile, seen: Sightline, cluttered: ClutteredProfile) -> list[str]:
    """Ground that was filled in counts for little where it decides the answer."""
    found = []
    near_limit_m = cluttered.distance_m[1:-1][
        seen.fresnel_ratio[1:-1] <= seen.minimum_fresnel_ratio + 0.1 * abs(seen.minimum_fresnel_ratio)
    ]
    horizons_m = [seen.from_horizon_m, float(profile.distance_m[-1]) - seen.to_horizon_m]
    for bridge in profile.bridges:
        inside = (near_limit_m >= bridge.start_m) & (near_limit_m <= bridge.stop_m)
        at_horizon = not seen.in_sight and any(bridge.start_m <= at <= bridge.stop_m for at in horizons_m)
        if at_horizon or inside.any():
            found.append(
                f"DOUBTFUL: the ground that decides this path, {bridge.start_m / 1000:.1f} to "
                f"{bridge.stop_m / 1000:.1f} km, is a hole in the map that was filled in; "
                "check it on a paper map"
            )
    return found
