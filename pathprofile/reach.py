"""The main job for one path: two places in, everything an operator asks about the path out."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from pathprofile.atmosphere import Atmosphere
from pathprofile.errors import OutOfRangeError
from pathprofile.geodesy import Leg, declination, inverse, magnetic_azimuth_deg
from pathprofile.ground.clutter import (
    CLEAR_ROUND_ANTENNA_M,
    ClutteredProfile,
    UserObstacle,
    add_clutter,
    add_obstacles,
)
from pathprofile.ground.mirror import Mirror, find_mirror
from pathprofile.ground.obstacles import Obstacle, Obstacles, find_obstacles
from pathprofile.ground.zones import Zones, inland, zones_from_stretches, zones_from_terrain
from pathprofile.propagation import spherical_earth as smooth_sphere
from pathprofile.propagation.methods import PathLoss, Surroundings, all_methods
from pathprofile.propagation.two_ray import TwoRay, two_ray
from pathprofile.sightline import Sightline, sightline
from pathprofile.terrain.profile import TerrainProfile, extract_profile

if TYPE_CHECKING:
    import datetime as dt

    import numpy.typing as npt

    from pathprofile.geodesy import Declination
    from pathprofile.places import Location
    from pathprofile.terrain.store import TerrainStore

    Floats = npt.NDArray[np.float64]

__all__ = [
    "GroundOptions",
    "PathEnd",
    "Place",
    "Reach",
    "Survey",
    "assess",
    "doubtful_places",
    "reach",
    "survey",
]

FREQUENCY_MHZ = (30.0, 3000.0)
MOST_ANTENNA_M = 3000.0
_SEA = (smooth_sphere.SEA_PERMITTIVITY, smooth_sphere.SEA_CONDUCTIVITY_S_PER_M)
_LAND = (smooth_sphere.LAND_PERMITTIVITY, smooth_sphere.LAND_CONDUCTIVITY_S_PER_M)
HOME_SURROUNDINGS_M = 500.0
"""How far roofs or trees round a home reach along the path (common practice)."""
_LOOK_ROUND_MOST_M = 2000.0
_HIGHER_BY_M = 10.0


@dataclass(frozen=True)
class GroundOptions:
    """How the ground between two places is read; the defaults suit a hilltop and good tiles.

    Attributes
    ----------
    step_m : float or None
        Sampling step; ``None``: the finest cell touched.
    strict_holes, sea_where_missing, sea_where_hole, accept_mixed_datums : bool
        See `pathprofile.terrain.profile.extract_profile`.
    from_ground_m, to_ground_m : float or None
        Stated ground heights that override the model at the ends [m].
    clutter_m : float
        Height of trees or roofs along the path [m].
    from_clutter_m, to_clutter_m : float
        Height of the roofs or trees round either end, within `HOME_SURROUNDINGS_M` of it [m].
    clear_round_antenna_m : float
        Distance round each antenna that is free of clutter [m].
    obstacles : tuple of UserObstacle
        Single objects that the model does not hold.
    sea_m : tuple of (float, float)
        Stretches of sea, from and to, in metres from FROM.
    sea_from_terrain : bool
        Look for sea and coast in the tiles.
    """

    step_m: float | None = None
    strict_holes: bool = False
    sea_where_missing: bool = False
    sea_where_hole: bool = False
    accept_mixed_datums: bool = False
    from_ground_m: float | None = None
    to_ground_m: float | None = None
    clutter_m: float = 0.0
    from_clutter_m: float = 0.0
    to_clutter_m: float = 0.0
    clear_round_antenna_m: float = CLEAR_ROUND_ANTENNA_M
    obstacles: tuple[UserObstacle, ...] = ()
    sea_m: tuple[tuple[float, float], ...] = ()
    sea_from_terrain: bool = False


@dataclass(frozen=True)
class Survey:
    """What depends on the two places and the day alone: read once, assessed many times.

    Attributes
    ----------
    cluttered : ClutteredProfile
        The profile with clutter and user obstacles.
    zones : Zones
        Of ``cluttered``.
    """

    from_location: Location
    to_location: Location
    leg: Leg
    date: dt.date
    from_declination: Declination
    to_declination: Declination
    profile: TerrainProfile
    cluttered: ClutteredProfile
    zones: Zones
    options: GroundOptions
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class PathEnd:
    """One end of a path: where it is, how high its ground and its antenna are, which way north is there.

    Attributes
    ----------
    location : Location
    ground_m : float
        Ground above sea level, as used [m].
    antenna_agl_m : float
        Antenna above that ground [m].
    declination_deg : float
        Magnetic declination, east positive.
    azimuth_deg, magnetic_azimuth_deg : float
        Direction of the other end, true and magnetic.
    """

    location: Location
    ground_m: float
    antenna_agl_m: float
    declination_deg: float
    azimuth_deg: float
    magnetic_azimuth_deg: float


class Place(NamedTuple):
    """A point of the profile."""

    latitude_deg: float
    longitude_deg: float
    ground_m: float


@dataclass(frozen=True)
class Reach:
    """Everything found out about one path; see the fields' own classes for shapes and units."""

    from_end: PathEnd
    to_end: PathEnd
    frequency_mhz: float
    polarization: str
    date: dt.date
    atmosphere: Atmosphere
    leg: Leg
    profile: TerrainProfile
    sightline: Sightline
    obstacles: Obstacles
    loss: PathLoss
    zones: Zones
    mirror: Mirror | None
    two_ray: TwoRay | None
    warnings: tuple[str, ...]
    survey: Survey = field(repr=False)

    def place_at(self, distance_m: float) -> Place:
        """Place and bare ground at a distance from FROM, between the profile's points if need be."""
        profile = self.profile
        at = np.array([distance_m])
        return Place(
            float(np.interp(distance_m, profile.distance_m, profile.latitude_deg)),
            float(_interpolated_longitude(at, profile)[0]),
            float(np.interp(distance_m, profile.distance_m, profile.ground_m)),
        )

    def crest_index(self, obstacle: Obstacle) -> int:
        """Point of the surveyed ground that stands highest against the line within an obstacle.

        The edge that stands for a rounded obstacle in a loss method may hover above the ground.
        """
        distance_m = self.survey.cluttered.distance_m
        first = min(max(int(np.searchsorted(distance_m, obstacle.start_m)), 1), distance_m.size - 2)
        past = max(int(np.searchsorted(distance_m, obstacle.stop_m, side="right")), first + 1)
        return first + int(np.argmin(self.sightline.clearance_m[first:past]))

    def limiting_place(self) -> Place:
        """Where the smallest clearance ratio is."""
        return self.place_at(self.sightline.limiting_distance_m)


def survey(
    a: Location, b: Location, terrain: TerrainStore, *, date: dt.date, options: GroundOptions | None = None
) -> Survey:
    """Sample the ground between two places and find out where north is.

    Raises
    ------
    LocationError
        For ends that are equal or (nearly) antipodal.
    TerrainGapError, TerrainError
        Where the tiles do not serve.
    OutOfRangeError
        For clutter, obstacles or sea that cannot be.
    """
    options = options or GroundOptions()
    leg = inverse(a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg)
    profile = extract_profile(
        terrain,
        a.latitude_deg,
        a.longitude_deg,
        b.latitude_deg,
        b.longitude_deg,
        step_m=options.step_m,
        strict_holes=options.strict_holes,
        sea_where_missing=options.sea_where_missing,
        sea_where_hole=options.sea_where_hole,
        accept_mixed_datums=options.accept_mixed_datums,
        from_ground_m=options.from_ground_m,
        to_ground_m=options.to_ground_m,
    )
    warnings = list(profile.warnings)
    cluttered = add_clutter(
        profile.distance_m,
        profile.ground_m,
        _clutter_m(profile.distance_m, options),
        clear_round_antenna_m=options.clear_round_antenna_m,
    )
    cluttered = add_obstacles(cluttered, options.obstacles)
    if options.clutter_m and "surface" in profile.model_kinds:
        warnings.append(
            f"{options.clutter_m:g} m of clutter were added to a surface model, "
            "which holds trees and roofs already"
        )
    if options.sea_m:
        zones = zones_from_stretches(cluttered.distance_m, cluttered.ground_m, options.sea_m)
    elif options.sea_from_terrain:
        zones = zones_from_terrain(
            terrain,
            cluttered.distance_m,
            cluttered.ground_m,
            np.interp(cluttered.distance_m, profile.distance_m, profile.latitude_deg),
            _interpolated_longitude(cluttered.distance_m, profile),
        )
    else:
        zones = inland(cluttered.distance_m.size)
    from_declination = declination(a.latitude_deg, a.longitude_deg, date)
    to_declination = declination(b.latitude_deg, b.longitude_deg, date)
    warnings += {found.warning for found in (from_declination, to_declination) if found.warning}
    return Survey(
        a, b, leg, date, from_declination, to_declination, profile, cluttered, zones, options, tuple(warnings)
    )


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
) -> Reach:
    """Sightline, obstacles and losses over ground that was surveyed before.

    Parameters are those of `reach`. ``deciding_only`` leaves out the methods beside the best estimate and the
    second opinion, for questions asked many times.

    Raises
    ------
    OutOfRangeError
        For a frequency outside 30 MHz to 3 GHz or an antenna height that is not above 0 m and below 3000 m.
    """
    _check(frequency_mhz, from_antenna_agl_m, to_antenna_agl_m)
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
    obstacles = find_obstacles(
        cluttered.distance_m,
        cluttered.ground_m + cluttered.clutter_m,
        from_antenna_amsl_m=float(cluttered.ground_m[0]) + from_antenna_agl_m,
        to_antenna_amsl_m=float(cluttered.ground_m[-1]) + to_antenna_agl_m,
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
        latitude_deg=float(profile.latitude_deg[profile.latitude_deg.size // 2]),
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
        mirror=mirror,
        two_ray=lobes,
        warnings=(*found.warnings, *_bridge_warnings(profile, seen, cluttered)),
        survey=found,
    )


def reach(
    a: Location,
    b: Location,
    terrain: TerrainStore,
    *,
    date: dt.date,
    frequency_mhz: float,
    from_antenna_agl_m: float,
    to_antenna_agl_m: float,
    polarization: str = "vertical",
    atmosphere: Atmosphere | None = None,
    surroundings: Surroundings | None = None,
    options: GroundOptions | None = None,
    mast_limit_m: float = 100.0,
) -> Reach:
    """Everything about the path from one place to another.

    Parameters
    ----------
    a, b : Location
        FROM and TO.
    terrain : TerrainStore
        Elevation tiles that cover both ends and what lies between.
    date : datetime.date
        Day of the contact, for magnetic north.
    frequency_mhz : float
        30 to 3000 [MHz].
    from_antenna_agl_m, to_antenna_agl_m : float
        Antenna heights above ground [m].
    polarization : {"vertical", "horizontal"}
    atmosphere : Atmosphere, optional
        Default: k = 4/3.
    surroundings : Surroundings, optional
        Ground constants and climate for the loss methods.
    options : GroundOptions, optional
        How the ground is read.
    mast_limit_m : float
        Highest mast for which least heights are given [m].

    Returns
    -------
    Reach

    Raises
    ------
    LocationError, OutOfRangeError, TerrainError, TerrainGapError
        One line each: what was given, what is accepted, what to do.
    """
    _check(frequency_mhz, from_antenna_agl_m, to_antenna_agl_m)
    answer = assess(
        survey(a, b, terrain, date=date, options=options),
        frequency_mhz=frequency_mhz,
        from_antenna_agl_m=from_antenna_agl_m,
        to_antenna_agl_m=to_antenna_agl_m,
        polarization=polarization,
        atmosphere=atmosphere,
        surroundings=surroundings,
        mast_limit_m=mast_limit_m,
    )
    return replace(answer, warnings=(*answer.warnings, *doubtful_places(answer, terrain)))


def doubtful_places(answer: Reach, terrain: TerrainStore) -> tuple[str, ...]:
    """Warnings about ends typed too coarsely for the answer: higher ground within the digits typed."""
    found = (_higher_ground_warning(answer, terrain, at_from=at_from) for at_from in (True, False))
    return tuple(text for text in found if text is not None)


def _check(frequency_mhz: float, from_antenna_agl_m: float, to_antenna_agl_m: float) -> None:
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


def _clutter_m(distance_m: Floats, options: GroundOptions) -> Floats:
    """Clutter of the path, and of the homes round each end."""
    clutter = np.full(distance_m.shape, options.clutter_m)
    near_from = distance_m <= HOME_SURROUNDINGS_M
    near_to = distance_m >= distance_m[-1] - HOME_SURROUNDINGS_M
    clutter[near_from] = np.maximum(clutter[near_from], options.from_clutter_m)
    clutter[near_to] = np.maximum(clutter[near_to], options.to_clutter_m)
    return clutter


def _interpolated_longitude(distance_m: Floats, profile: TerrainProfile) -> Floats:
    unwrapped = np.unwrap(profile.longitude_deg, period=360.0)
    longitude: Floats = (np.interp(distance_m, profile.distance_m, unwrapped) + 180.0) % 360.0 - 180.0
    return longitude


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


def _higher_ground_warning(answer: Reach, terrain: TerrainStore, *, at_from: bool) -> str | None:
    """Whether higher ground within the digits typed would change the path."""
    end = answer.from_end if at_from else answer.to_end
    location = end.location
    stated = answer.survey.options.from_ground_m if at_from else answer.survey.options.to_ground_m
    if stated is not None or location.uncertainty_m < answer.profile.cell_m / 2.0:
        return None
    if location.uncertainty_m > _LOOK_ROUND_MOST_M:
        return (
            f"{location.label}: good to ±{location.uncertainty_m / 1000:.0f} km only, too vague for a "
            "verdict; distance and azimuth are those of its centre"
        )
    top = terrain.highest_within(location.latitude_deg, location.longitude_deg, location.uncertainty_m)
    if top is None or top.ground_m - end.ground_m < _HIGHER_BY_M:
        return None
    moved = replace(location, latitude_deg=top.latitude_deg, longitude_deg=top.longitude_deg)
    ends = (moved, answer.to_end.location) if at_from else (answer.from_end.location, moved)
    there = assess(
        survey(*ends, terrain, date=answer.date, options=answer.survey.options),
        frequency_mhz=answer.frequency_mhz,
        from_antenna_agl_m=answer.from_end.antenna_agl_m,
        to_antenna_agl_m=answer.to_end.antenna_agl_m,
        polarization=answer.polarization,
        atmosphere=answer.atmosphere,
        deciding_only=True,
    )
    gain_db = answer.loss.loss_db - there.loss.loss_db
    if there.sightline.verdict == answer.sightline.verdict and abs(gain_db) < 3.0:
        return None
    away_m = inverse(
        location.latitude_deg, location.longitude_deg, top.latitude_deg, top.longitude_deg
    ).distance_m
    return (
        f"{location.label}: typed to ±{location.uncertainty_m:.0f} m; higher ground {away_m:.0f} m away, "
        f"{top.ground_m - end.ground_m:.0f} m more, would change the path by {gain_db:.0f} dB "
        f"({there.sightline.verdict} from there); did you mean that?"
    )
