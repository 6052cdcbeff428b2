"""Where the Sun stands, when it rises and sets."""

from __future__ import annotations

import datetime as dt
import math
from typing import NamedTuple

from pathprofile.geodesy._angles import check_point, full_circle

__all__ = ["SunPosition", "sun_azimuth_deg", "sunrise_utc", "sunset_utc"]

# Geometric elevation of the Sun's centre when its upper edge appears on a level horizon: 34' of refraction
# and 16' of radius (Astronomical Almanac, section A).
_SUNRISE_ELEVATION_DEG = -50.0 / 60.0


class SunPosition(NamedTuple):
    """Where the Sun's centre stands: azimuth from true north and geometric elevation [degrees]."""

    azimuth_deg: float
    elevation_deg: float


def sun_azimuth_deg(latitude_deg: float, longitude_deg: float, when_utc: dt.datetime) -> SunPosition:
    """Direction of the Sun, for setting a compass or an antenna rotator without magnetism.

    Parameters
    ----------
    latitude_deg, longitude_deg
        Place [degrees].
    when_utc
        Time; without a time zone it is taken as UTC.

    Returns
    -------
    SunPosition
        Elevation of the Sun's centre without refraction, which lifts it by half a degree at the horizon and
        leaves the azimuth alone.

    Raises
    ------
    LocationError
        For an impossible coordinate.

    Notes
    -----
    **Validity**: 1950 to 2050, within 0.01 degree of declination and right ascension; drifts slowly after.

    References
    ----------
    .. [1] The Astronomical Almanac, section C, "Low precision formulas for the Sun's coordinates".
    .. [2] J. Meeus, "Astronomical Algorithms", 2nd ed., equations 12.4 (sidereal time), 13.5 and 13.6.
    """
    check_point(latitude_deg, longitude_deg)
    right_ascension, declination_, sidereal = _sun_equatorial(_days_since_2000(when_utc))
    hour_angle = math.radians(sidereal + longitude_deg - right_ascension)
    latitude, delta = math.radians(latitude_deg), math.radians(declination_)
    upward = math.sin(latitude) * math.sin(delta) + math.cos(latitude) * math.cos(delta) * math.cos(
        hour_angle
    )
    elevation = math.asin(max(-1.0, min(1.0, upward)))  # rounding can pass 1 under the zenith Sun
    azimuth = math.atan2(
        -math.cos(delta) * math.sin(hour_angle),
        math.sin(delta) * math.cos(latitude) - math.cos(delta) * math.cos(hour_angle) * math.sin(latitude),
    )
    return SunPosition(full_circle(math.degrees(azimuth)), math.degrees(elevation))


def sunrise_utc(latitude_deg: float, longitude_deg: float, day: dt.date) -> dt.datetime | None:
    """When the Sun's upper edge rises over a level horizon, in UTC.

    Parameters
    ----------
    latitude_deg, longitude_deg
        Place [degrees].
    day
        Local date, by the mean Sun: the answer lies in the half day before that date's solar noon, and in
        UTC may carry a neighbouring date.

    Returns
    -------
    datetime or None
        None when the Sun does not rise that day.

    Raises
    ------
    LocationError
        For an impossible coordinate.

    Notes
    -----
    Good to about a minute at middle latitudes; hills, height and weather move it more than that.

    References
    ----------
    .. [1] The Astronomical Almanac, section C (Sun) and section A (34' of refraction, 16' of radius).
    """
    return _crossing_utc(latitude_deg, longitude_deg, day, half_day=-0.5)


def sunset_utc(latitude_deg: float, longitude_deg: float, day: dt.date) -> dt.datetime | None:
    """When the Sun's upper edge sets under a level horizon, in UTC; see `sunrise_utc`."""
    return _crossing_utc(latitude_deg, longitude_deg, day, half_day=0.5)


def _days_since_2000(when_utc: dt.datetime) -> float:
    """Days from 2000 January 1, 12 h UTC."""
    moment = when_utc if when_utc.tzinfo else when_utc.replace(tzinfo=dt.UTC)
    return (moment - dt.datetime(2000, 1, 1, 12, tzinfo=dt.UTC)) / dt.timedelta(days=1)


def _sun_equatorial(days: float) -> tuple[float, float, float]:
    """Right ascension and declination of the Sun, and sidereal time at Greenwich [degrees]."""
    mean_longitude = 280.460 + 0.9856474 * days
    anomaly = math.radians(357.528 + 0.9856003 * days)
    longitude = math.radians(mean_longitude + 1.915 * math.sin(anomaly) + 0.020 * math.sin(2.0 * anomaly))
    obliquity = math.radians(23.439 - 0.0000004 * days)
    right_ascension = math.atan2(math.cos(obliquity) * math.sin(longitude), math.cos(longitude))
    delta = math.asin(math.sin(obliquity) * math.sin(longitude))
    sidereal = (280.46061837 + 360.98564736629 * days) % 360.0
    return math.degrees(right_ascension), math.degrees(delta), sidereal


def _crossing_utc(
    latitude_deg: float, longitude_deg: float, day: dt.date, half_day: float
) -> dt.datetime | None:
    """Bisect for sunrise or sunset between solar noon and the solar midnight `half_day` away."""
    mean_noon = dt.datetime(day.year, day.month, day.day, 12, tzinfo=dt.UTC)
    mean_noon -= dt.timedelta(days=longitude_deg / 360.0)
    right_ascension, _, sidereal = _sun_equatorial(_days_since_2000(mean_noon))
    hour_angle = (sidereal + longitude_deg - right_ascension + 180.0) % 360.0 - 180.0
    lit = mean_noon - dt.timedelta(days=hour_angle / 360.0)
    dark = lit + dt.timedelta(days=half_day)

    def is_up(moment: dt.datetime) -> bool:
        return sun_azimuth_deg(latitude_deg, longitude_deg, moment).elevation_deg >= _SUNRISE_ELEVATION_DEG

    if not is_up(lit) or is_up(dark):
        return None
    while abs(dark - lit) > dt.timedelta(seconds=1):
        middle = lit + (dark - lit) / 2
        lit, dark = (middle, dark) if is_up(middle) else (lit, middle)
    return lit
