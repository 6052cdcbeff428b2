"""Where to point: beam positions, the Sun through the day, and landmarks."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pathprofile.atmosphere import Atmosphere
from pathprofile.errors import PathProfileError
from pathprofile.geodesy import inverse, magnetic_azimuth_deg, sun_azimuth_deg
from pathprofile.reach import survey
from pathprofile.sightline import sightline
from pathprofile.trip.sheet_hours import local_midnight

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from pathprofile.places import Location
    from pathprofile.terrain.store import TerrainStore
    from pathprofile.trip.sheet_calls import Call

__all__ = [
    "Beam",
    "LandmarkBearing",
    "SunBearing",
    "beams",
    "landmark_bearings",
    "landmarks_in_sight",
    "sun_bearings",
]

_HALF_HOUR = dt.timedelta(minutes=30)
_HALF_HOURS_A_DAY = 48
_EYE_M = 1.7
_LIGHT_MHZ = 3000.0  # eyes need sight, whatever the Fresnel zone
_LIGHT_REFRACTION = 0.13
_STRAIGHT_DELTA_N = 157.0  # lapse [N/km] of a ray as curved as the Earth: 1/6371 km


@dataclass(frozen=True, slots=True)
class Beam:
    """One position of the beam, good for all calls named.

    ``within_deg`` is how far it may be off before any of them loses more than 1 dB.
    """

    azimuth_deg: float
    magnetic_azimuth_deg: float
    within_deg: float
    polarization: str
    keys: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class SunBearing:
    """Where the Sun stands at a half hour, local and UTC."""

    local: dt.datetime
    utc: dt.datetime
    azimuth_deg: float
    magnetic_azimuth_deg: float
    elevation_deg: float


@dataclass(frozen=True, slots=True)
class LandmarkBearing:
    """Something to aim by."""

    name: str
    latitude_deg: float
    longitude_deg: float
    azimuth_deg: float
    magnetic_azimuth_deg: float
    distance_m: float


def beams(calls: Sequence[Call], declination_deg: float) -> tuple[Beam, ...]:
    """Beam positions for the calls that need aiming.

    Parameters
    ----------
    calls : sequence of Call
        In the order to call; those with an antenna alike all round are left out.
    declination_deg : float
        At the site, east positive [degrees].

    Returns
    -------
    tuple of Beam
        In the order of their first call. Calls of one polarization share a position while together they
        span no more than the narrowest of their tolerances, which leaves at least half of it.
    """
    found = []
    for polarization in dict.fromkeys(call.polarization for call in calls):
        group = [call for call in calls if call.polarization == polarization and call.good_within_deg]
        group.sort(key=lambda call: (call.azimuth_deg, call.good_within_deg))
        for members in _together(group):
            start = members[0].azimuth_deg
            span = (members[-1].azimuth_deg - start) % 360.0
            azimuth = (start + span / 2.0) % 360.0
            narrowest = min(call.good_within_deg or 0.0 for call in members)
            found.append(
                Beam(
                    azimuth,
                    magnetic_azimuth_deg(azimuth, declination_deg),
                    narrowest - span / 2.0,
                    polarization,
                    tuple(call.key for call in calls if call in members),
                )
            )
    places = {call.key: number for number, call in enumerate(calls)}
    return tuple(sorted(found, key=lambda beam: places[beam.keys[0]]))


def _together(group: list[Call]) -> list[list[Call]]:
    """Cut a circle of azimuths, beginning behind its widest gap.

    Of equal azimuths the narrowest tolerance stands first, so that what the first joins the others join too.
    """
    if not group:
        return []
    gaps = [(call.azimuth_deg - group[i - 1].azimuth_deg) % 360.0 for i, call in enumerate(group)]
    begin = gaps.index(max(gaps))
    parts: list[list[Call]] = []
    for call in group[begin:] + group[:begin]:
        if parts:
            span = (call.azimuth_deg - parts[-1][0].azimuth_deg) % 360.0
            if span <= min(each.good_within_deg or 0.0 for each in (*parts[-1], call)):
                parts[-1].append(call)
                continue
        parts.append([call])
    return parts


def sun_bearings(
    latitude_deg: float, longitude_deg: float, date: dt.date, zone: dt.tzinfo, declination_deg: float
) -> tuple[SunBearing, ...]:
    """Azimuth of the Sun at each half hour of a local day at which its centre is up.

    Parameters
    ----------
    latitude_deg, longitude_deg : float
        Site [degrees].
    date : datetime.date
        Local date.
    zone : datetime.tzinfo
    declination_deg : float
        East positive [degrees].
    """
    start = local_midnight(date, zone).astimezone(dt.UTC)
    found = []
    for count in range(_HALF_HOURS_A_DAY):
        utc = start + count * _HALF_HOUR
        azimuth, elevation = sun_azimuth_deg(latitude_deg, longitude_deg, utc)
        if elevation >= 0.0:
            magnetic = magnetic_azimuth_deg(azimuth, declination_deg)
            found.append(SunBearing(utc.astimezone(zone), utc, azimuth, magnetic, elevation))
    return tuple(found)


def landmark_bearings(
    site: Location, landmarks: Iterable[Location], declination_deg: float
) -> tuple[LandmarkBearing, ...]:
    """Directions of landmarks, nearest first; one at the site itself is left out."""
    found = []
    for place in landmarks:
        try:
            leg = inverse(site.latitude_deg, site.longitude_deg, place.latitude_deg, place.longitude_deg)
        except PathProfileError:
            continue
        found.append(
            LandmarkBearing(
                place.label,
                place.latitude_deg,
                place.longitude_deg,
                leg.azimuth_deg,
                magnetic_azimuth_deg(leg.azimuth_deg, declination_deg),
                leg.distance_m,
            )
        )
    return tuple(sorted(found, key=lambda landmark: landmark.distance_m))


def landmarks_in_sight(
    site: Location,
    landmarks: Iterable[Location],
    terrain: TerrainStore,
    *,
    date: dt.date,
    longest_m: float = 40_000.0,
) -> tuple[Location, ...]:
    """Those landmarks whose top can be seen by someone standing at the site.

    Parameters
    ----------
    site : Location
    landmarks : iterable of Location
        Such as those of the book.
    terrain : TerrainStore
    date : datetime.date
    longest_m : float
        Beyond it haze hides most tops (common practice) [m].

    References
    ----------
    .. [1] Refraction of light over land: the surveyors' coefficient 0.13, after Gauss (surveying handbooks).
    """
    seen = []
    for place in landmarks:
        try:
            leg = inverse(site.latitude_deg, site.longitude_deg, place.latitude_deg, place.longitude_deg)
            if leg.distance_m > longest_m:
                continue
            ground = survey(site, place, terrain, date=date).cluttered
        except PathProfileError:
            continue  # beyond the tiles, or at the site itself: nothing to aim by
        line = sightline(
            ground.distance_m,
            ground.ground_m,
            from_antenna_agl_m=_EYE_M,
            to_antenna_agl_m=_EYE_M,
            frequency_mhz=_LIGHT_MHZ,
            atmosphere=Atmosphere(delta_n=_LIGHT_REFRACTION * _STRAIGHT_DELTA_N),
            clutter_m=ground.clutter_m,
        )
        if line.in_sight:
            seen.append(place)
    return tuple(seen)
