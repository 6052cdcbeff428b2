"""Better spots within a short walk, found by a sightline screen and judged by the whole path."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from pathprofile.errors import PathProfileError
from pathprofile.geodesy import direct, inverse
from pathprofile.reach import again, survey
from pathprofile.sightline import bulge_m, fresnel_radius_m

if TYPE_CHECKING:
    import numpy.typing as npt

    from pathprofile.reach import Reach
    from pathprofile.terrain.store import TerrainStore

    Floats = npt.NDArray[np.float64]

__all__ = ["NOT_CHECKED", "Spot", "better_spots"]

NOT_CHECKED = "terrain only; not checked for access, cliffs, snow, power lines"
_WITHIN_M = 200.0
_STEEPEST_DEG = 25.0
_SLOPE_REACH_M = 20.0
_MOST = 5
_SCREEN_POINTS = 400


@dataclass(frozen=True)
class Spot:
    """A place for the mast near the given one.

    Attributes
    ----------
    latitude_deg, longitude_deg : float
    distance_m, azimuth_deg : float
        From the given place; azimuth true.
    ground_m : float
    gain_db : float
        Path loss saved over the given place.
    reach : Reach
        The path from there.
    """

    latitude_deg: float
    longitude_deg: float
    distance_m: float
    azimuth_deg: float
    ground_m: float
    gain_db: float
    reach: Reach


def better_spots(reach: Reach, terrain: TerrainStore) -> tuple[tuple[Spot, ...], str | None]:
    """Up to five spots within 200 m of FROM with less path loss.

    Parameters
    ----------
    reach : Reach
        The path from the given place.
    terrain : TerrainStore

    Returns
    -------
    spots : tuple of Spot
        Largest gain first. Ground steeper than 25° within 20 m is left out.
    reason : str or None
        Why none is offered: the cells are too large for so short a move.

    Notes
    -----
    Moves shorter than two terrain cells mean nothing on that grid and are not offered. The screen compares
    the smallest clearance ratio over 400 points; the gain is that of the best estimate over the full profile.
    """
    cell_m = reach.profile.cell_m
    if 2.0 * cell_m > _WITHIN_M:
        return (), (
            f"no spots within {_WITHIN_M:.0f} m: the map's cells are {cell_m:.0f} m, and a move shorter than "
            "two of them cannot be seen"
        )
    home = reach.from_end.location
    steps = np.arange(1, int(_WITHIN_M / cell_m) + 1) * cell_m
    east, north = (part.ravel() for part in np.meshgrid(*[np.concatenate([-steps[::-1], [0.0], steps])] * 2))
    away_m = np.hypot(east, north)
    wanted = (away_m >= 2.0 * cell_m - 1e-6) & (away_m <= _WITHIN_M)
    away_m, azimuth_deg = away_m[wanted], np.degrees(np.arctan2(east[wanted], north[wanted]))
    latitude, longitude = direct(home.latitude_deg, home.longitude_deg, azimuth_deg, away_m)
    ground = terrain.elevation_m(latitude, longitude)
    usable = np.isfinite(ground)
    usable[usable] = _slope_deg(terrain, latitude[usable], longitude[usable]) <= _STEEPEST_DEG
    if not usable.any():
        return (), "no ground within 200 m is known and flat enough for a mast"
    latitude, longitude, ground, away_m, azimuth_deg = (
        part[usable] for part in (latitude, longitude, ground, away_m, azimuth_deg)
    )
    ratio = _screen(reach, terrain, latitude, longitude, ground)
    here = _screen(
        reach,
        terrain,
        np.array([home.latitude_deg]),
        np.array([home.longitude_deg]),
        np.array([reach.from_end.ground_m]),
    )[0]
    spots = []
    for index in np.argsort(-ratio)[:_MOST]:
        if not ratio[index] > here:
            break
        there = replace(home, latitude_deg=float(latitude[index]), longitude_deg=float(longitude[index]))
        try:
            options = replace(reach.survey.options, from_ground_m=None)
            found = survey(there, reach.to_end.location, terrain, date=reach.date, options=options)
            answer = again(reach, found=found)
        except PathProfileError:
            continue  # a spot beyond the tiles is no spot
        leg = inverse(home.latitude_deg, home.longitude_deg, there.latitude_deg, there.longitude_deg)
        spots.append(
            Spot(
                there.latitude_deg,
                there.longitude_deg,
                leg.distance_m,
                leg.azimuth_deg,
                answer.from_end.ground_m,
                reach.loss.loss_db - answer.loss.loss_db,
                answer,
            )
        )
    return tuple(sorted((spot for spot in spots if spot.gain_db > 0.0), key=lambda spot: -spot.gain_db)), None


def _slope_deg(terrain: TerrainStore, latitude: Floats, longitude: Floats) -> Floats:
    """Steepest way up or down from a spot, over 20 m in eight directions: crests and edges are steep too."""
    here = terrain.elevation_m(latitude, longitude)
    steepest = np.zeros(here.shape)
    for azimuth_deg in range(0, 360, 45):
        away = terrain.elevation_m(*direct(latitude, longitude, azimuth_deg, _SLOPE_REACH_M))
        steepest = np.fmax(steepest, np.nan_to_num(np.abs(away - here) / _SLOPE_REACH_M, nan=np.inf))
    slope: Floats = np.degrees(np.arctan(steepest))
    return slope


def _screen(
    reach: Reach, terrain: TerrainStore, latitude: Floats, longitude: Floats, ground: Floats
) -> Floats:
    """Smallest clearance ratio from each spot; straight lines on the map serve over so short a shift."""
    profile = reach.profile
    share = np.linspace(0.0, 1.0, _SCREEN_POINTS)
    along_latitude = np.interp(share * profile.distance_m[-1], profile.distance_m, profile.latitude_deg)
    along_longitude = np.interp(
        share * profile.distance_m[-1], profile.distance_m, np.unwrap(profile.longitude_deg, period=360.0)
    )
    shift = 1.0 - share  # the whole move at FROM, none at TO
    latitudes = along_latitude + np.outer(latitude - profile.latitude_deg[0], shift)
    longitudes = along_longitude + np.outer(longitude - profile.longitude_deg[0], shift)
    heights = terrain.elevation_m(latitudes, (longitudes + 180.0) % 360.0 - 180.0)
    distance_m = share * reach.leg.distance_m
    top = heights + bulge_m(distance_m, reach.atmosphere.effective_radius_m)
    start = (ground + reach.from_end.antenna_agl_m)[:, np.newaxis]
    stop = reach.to_end.ground_m + reach.to_end.antenna_agl_m
    line = start + (stop - start) * share
    radius = fresnel_radius_m(distance_m, reach.frequency_mhz)
    ratio = (line - top)[:, 1:-1] / radius[1:-1]
    least: Floats = np.nan_to_num(ratio, nan=np.inf).min(axis=1)
    return least
