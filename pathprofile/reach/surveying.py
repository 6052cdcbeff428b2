"""The ground between two places, read once: profile, clutter, zones, where north is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pathprofile.geodesy import declination, inverse
from pathprofile.ground.clutter import (
    CLEAR_ROUND_ANTENNA_M,
    ClutteredProfile,
    UserObstacle,
    add_clutter,
    add_obstacles,
)
from pathprofile.ground.zones import Zones, inland, zones_from_stretches, zones_from_terrain
from pathprofile.terrain.profile import TerrainProfile, extract_profile

if TYPE_CHECKING:
    import datetime as dt

    import numpy.typing as npt

    from pathprofile.geodesy import Declination, Leg
    from pathprofile.places import Location
    from pathprofile.terrain.store import TerrainStore

    Floats = npt.NDArray[np.float64]

__all__ = ["HOME_SURROUNDINGS_M", "GroundOptions", "Survey", "interpolated_longitude", "survey"]

HOME_SURROUNDINGS_M = 500.0
"""How far roofs or trees round a home reach along the path (common practice)."""


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


def survey(
    a: Location,
    b: Location,
    terrain: TerrainStore,
    *,
    date: dt.date,
    options: GroundOptions | None = None,
    norths: tuple[Declination, Declination] | None = None,
) -> Survey:
    """Sample the ground between two places and find out where north is.

    ``norths`` states the declination at both ends where it is known already, as all over a small area.

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
            interpolated_longitude(cluttered.distance_m, profile),
        )
    else:
        zones = inland(cluttered.distance_m.size)
    from_declination, to_declination = norths or (
        declination(a.latitude_deg, a.longitude_deg, date),
        declination(b.latitude_deg, b.longitude_deg, date),
    )
    warnings += {found.warning for found in (from_declination, to_declination) if found.warning}
    return Survey(
        a, b, leg, date, from_declination, to_declination, profile, cluttered, zones, options, tuple(warnings)
    )


def interpolated_longitude(distance_m: Floats, profile: TerrainProfile) -> Floats:
    """Longitude at distances between the profile's points, across the date line too."""
    unwrapped = np.unwrap(profile.longitude_deg, period=360.0)
    longitude: Floats = (np.interp(distance_m, profile.distance_m, unwrapped) + 180.0) % 360.0 - 180.0
    return longitude


def _clutter_m(distance_m: Floats, options: GroundOptions) -> Floats:
    """Clutter of the path, and of the homes round each end."""
    clutter = np.full(distance_m.shape, options.clutter_m)
    near_from = distance_m <= HOME_SURROUNDINGS_M
    near_to = distance_m >= distance_m[-1] - HOME_SURROUNDINGS_M
    clutter[near_from] = np.maximum(clutter[near_from], options.from_clutter_m)
    clutter[near_to] = np.maximum(clutter[near_to], options.to_clutter_m)
    return clutter
