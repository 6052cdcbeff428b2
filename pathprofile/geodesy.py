"""Distances and directions on the WGS 84 ellipsoid, magnetic and grid north, and the Sun.

Bare floats and arrays, latitude before longitude, azimuths clockwise from true north. Nothing here
knows what the points are for.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from pathprofile.errors import LocationError, OutOfRangeError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray
    from pyproj import Geod

__all__ = [
    "EQUAL_ENDS_M",
    "LONGEST_PATH_M",
    "Declination",
    "Leg",
    "PathPoints",
    "SunPosition",
    "declination",
    "direct",
    "grid_azimuth_deg",
    "grid_convergence_deg",
    "inverse",
    "magnetic_azimuth_deg",
    "points_along",
    "sun_azimuth_deg",
    "sunrise_utc",
    "sunset_utc",
    "utm_zone",
]

# Below this the azimuth means nothing.
EQUAL_ENDS_M = 0.01
# The ellipsoid is nowhere more curved than 1/b^2 (on the equator), so shortest paths are unique up to pi b,
# 19 970 km (Klingenberg's estimate); 70 km are kept in hand because the azimuth swings wildly just before.
LONGEST_PATH_M = 19_900_000.0
# First year of each World Magnetic Model on board; a model holds for five years. The 2015 model is its 2018
# out-of-cycle issue, which replaced it.
_MAGNETIC_MODELS = {2010: "WMM_2010", 2015: "WMM_2015v2", 2020: "WMM_2020", 2025: "WMM_2025"}
_MODEL_YEARS = 5
# Horizontal intensity below which a compass is useless or doubtful [nT] (WMM2025 report, section 1.9).
_BLACKOUT_NT = 2000.0
_CAUTION_NT = 6000.0
# Geometric elevation of the Sun's centre when its upper edge appears on a level horizon: 34' of refraction
# and 16' of radius (Astronomical Almanac, section A).
_SUNRISE_ELEVATION_DEG = -50.0 / 60.0


class Leg(NamedTuple):
    """The shortest way from one point to another.

    Attributes
    ----------
    distance_m
        Length of the geodesic [m].
    azimuth_deg
        Direction at FROM towards TO [degrees clockwise from true north, 0 to 360].
    back_azimuth_deg
        Direction at TO looking back to FROM [same].
    """

    distance_m: float
    azimuth_deg: float
    back_azimuth_deg: float


class PathPoints(NamedTuple):
    """Equally spaced points of a geodesic, both ends included: three arrays of shape (n,)."""

    distance_m: NDArray[np.float64]
    latitude_deg: NDArray[np.float64]
    longitude_deg: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Declination:
    """How far magnetic north lies from true north, and how good that figure is.

    Attributes
    ----------
    declination_deg
        East positive [degrees]: magnetic azimuth = true azimuth - declination.
    inclination_deg
        Dip of the field, down positive [degrees].
    horizontal_nt
        Horizontal intensity, what turns a compass needle [nT].
    model
        Name of the World Magnetic Model used.
    valid_from, valid_to
        The dates between which that model holds.
    warning
        One sentence when the figure deserves doubt, else None.
    """

    declination_deg: float
    inclination_deg: float
    horizontal_nt: float
    model: str
    valid_from: dt.date
    valid_to: dt.date
    warning: str | None


class SunPosition(NamedTuple):
    """Where the Sun's centre stands: azimuth from true north and geometric elevation [degrees]."""

    azimuth_deg: float
    elevation_deg: float


def inverse(latitude1_deg: float, longitude1_deg: float, latitude2_deg: float, longitude2_deg: float) -> Leg:
    """Distance and azimuths of the geodesic between two points.

    Parameters
    ----------
    latitude1_deg, longitude1_deg
        FROM [degrees, north and east positive].
    latitude2_deg, longitude2_deg
        TO [same].

    Returns
    -------
    Leg

    Raises
    ------
    LocationError
        For an impossible coordinate, for ends closer than `EQUAL_ENDS_M`, and for ends so nearly
        opposite on the globe (farther than `LONGEST_PATH_M`) that several ways are equally short.

    References
    ----------
    .. [1] C. F. F. Karney, "Algorithms for geodesics", J. Geodesy 87, 43-55 (2013).
    """
    _check_point(latitude1_deg, longitude1_deg)
    _check_point(latitude2_deg, longitude2_deg)
    azimuth, back_azimuth, distance = _wgs84().inv(
        longitude1_deg, latitude1_deg, longitude2_deg, latitude2_deg
    )
    ends = f"{latitude1_deg:.6f} {longitude1_deg:.6f} and {latitude2_deg:.6f} {longitude2_deg:.6f}"
    if distance < EQUAL_ENDS_M:
        raise LocationError(f"both ends are the same place ({ends}); give two different places")
    if distance > LONGEST_PATH_M:
        raise LocationError(
            f"the ends {ends} are antipodal or nearly so ({distance / 1000:.0f} km apart): there is no single"
            f" shortest path; choose ends less than {LONGEST_PATH_M / 1000:.0f} km apart"
        )
    return Leg(float(distance), _full_circle(azimuth), _full_circle(back_azimuth))


def direct(
    latitude_deg: ArrayLike, longitude_deg: ArrayLike, azimuth_deg: ArrayLike, distance_m: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Points reached from a start on an azimuth after a distance.

    Parameters
    ----------
    latitude_deg, longitude_deg
        Start [degrees]; scalars or arrays that broadcast with the others.
    azimuth_deg
        Direction at the start [degrees clockwise from true north].
    distance_m
        Distance along the geodesic [m].

    Returns
    -------
    latitude_deg, longitude_deg
        Arrays of the broadcast shape [degrees, longitude -180 to 180]; NaN in gives NaN out.

    References
    ----------
    .. [1] C. F. F. Karney, "Algorithms for geodesics", J. Geodesy 87, 43-55 (2013).
    """
    latitude, longitude, azimuth, distance = (
        np.array(part, dtype=np.float64)
        for part in np.broadcast_arrays(latitude_deg, longitude_deg, azimuth_deg, distance_m)
    )
    shape = distance.shape
    end_longitude, end_latitude, _ = _wgs84().fwd(
        longitude.ravel(), latitude.ravel(), azimuth.ravel(), distance.ravel(), return_back_azimuth=False
    )
    return np.reshape(end_latitude, shape), np.reshape(end_longitude, shape)


def points_along(
    latitude1_deg: float, longitude1_deg: float, latitude2_deg: float, longitude2_deg: float, count: int
) -> PathPoints:
    """Equally spaced points of the geodesic between two points, ends exactly as given.

    Parameters
    ----------
    latitude1_deg, longitude1_deg, latitude2_deg, longitude2_deg
        The ends [degrees].
    count
        How many points, both ends included, at least 2.

    Returns
    -------
    PathPoints
        Arrays of shape (count,); ``distance_m`` starts at 0 and ends at the length of the path.

    Raises
    ------
    LocationError
        As `inverse`.
    ValueError
        When `count` is below 2.

    References
    ----------
    .. [1] C. F. F. Karney, "Algorithms for geodesics", J. Geodesy 87, 43-55 (2013).
    """
    if count < 2:
        raise ValueError(f"a path has at least 2 points, not {count!r}")
    leg = inverse(latitude1_deg, longitude1_deg, latitude2_deg, longitude2_deg)
    # One geodesic line evaluated many times: twice as fast as as many separate direct problems.
    line = _wgs84().inv_intermediate(
        longitude1_deg,
        latitude1_deg,
        longitude2_deg,
        latitude2_deg,
        npts=count,
        initial_idx=0,
        terminus_idx=0,
        return_back_azimuth=False,
    )
    latitude = np.asarray(line.lats, dtype=np.float64)
    longitude = np.asarray(line.lons, dtype=np.float64)
    latitude[0], longitude[0] = latitude1_deg, longitude1_deg
    latitude[-1], longitude[-1] = latitude2_deg, longitude2_deg
    return PathPoints(np.linspace(0.0, leg.distance_m, count), latitude, longitude)


def declination(
    latitude_deg: float, longitude_deg: float, when: dt.date, height_m: float = 0.0
) -> Declination:
    """Magnetic declination from the World Magnetic Model that holds on a date.

    Parameters
    ----------
    latitude_deg, longitude_deg
        Place [degrees].
    when
        Date; the models of 2010 to 2025 are on board.
    height_m
        Height above the ellipsoid or the sea, which differ by nothing that matters here [m].

    Returns
    -------
    Declination
        Its ``warning`` is set outside the dates of the models and near the magnetic poles.

    Raises
    ------
    LocationError
        For an impossible coordinate.
    OutOfRangeError
        For a height outside -1 to 850 km, the range of the model.

    Notes
    -----
    **Validity**: each model holds for five years from its first January; before 2010 and from 2030 the
    nearest one is extrapolated and a warning says so. The model leaves out local rock and iron: its published
    uncertainty is about 0.4 degree at middle latitudes, and single places are off by several degrees.

    References
    ----------
    .. [1] NOAA NCEI and British Geological Survey, "The US/UK World Magnetic Model for 2025-2030",
       Technical Report (2024).
    """
    _check_point(latitude_deg, longitude_deg)
    if not -1000.0 <= height_m <= 850_000.0:
        raise OutOfRangeError(f"height {height_m!r} m is outside the magnetic model: give -1000 to 850000 m")
    from pygeomag import GeoMag

    first_year = max((year for year in _MAGNETIC_MODELS if year <= when.year), default=min(_MAGNETIC_MODELS))
    name = _MAGNETIC_MODELS[first_year]
    coefficients = getattr(import_module(f"pygeomag.wmm.{name.lower()}"), name)
    field = GeoMag(coefficients_data=coefficients).calculate(
        latitude_deg, longitude_deg, height_m / 1000.0, _decimal_year(when), allow_date_outside_lifespan=True
    )
    valid_from = dt.date(first_year, 1, 1)
    valid_to = dt.date(first_year + _MODEL_YEARS, 1, 1)
    model = str(coefficients[0][1])
    return Declination(
        declination_deg=float(field.d),
        inclination_deg=float(field.i),
        horizontal_nt=float(field.h),
        model=model,
        valid_from=valid_from,
        valid_to=valid_to,
        warning=_magnetic_warning(field.h, when, model, valid_from, valid_to),
    )


def magnetic_azimuth_deg(azimuth_deg: float, declination_deg: float) -> float:
    """Compass direction of a true azimuth: true - declination (east positive), 0 to 360 degrees."""
    return _full_circle(azimuth_deg - declination_deg)


def grid_azimuth_deg(azimuth_deg: float, convergence_deg: float) -> float:
    """Direction on the map grid of a true azimuth: true - convergence (east positive), 0 to 360 degrees."""
    return _full_circle(azimuth_deg - convergence_deg)


def utm_zone(latitude_deg: float, longitude_deg: float) -> int:
    """Zone (1 to 60) of the Universal Transverse Mercator grid.

    Parameters
    ----------
    latitude_deg, longitude_deg
        Place [degrees].

    Returns
    -------
    int

    Raises
    ------
    LocationError
        Poleward of 84 N and 80 S, where the grid ends.

    Notes
    -----
    Six degrees wide, but for south-west Norway (zone 32 widened west to 3 E between 56 and 64 N) and Svalbard
    (zones 31, 33, 35, 37 only, 72 to 84 N). A boundary belongs to the zone east of it; 180 E to zone 1.

    References
    ----------
    .. [1] NGA.SIG.0012_2.0.0_UTMUPS, "The Universal Grids and the Transverse Mercator and Polar Stereographic
       Map Projections" (2014), section 7.
    """
    _check_point(latitude_deg, longitude_deg)
    if not -80.0 <= latitude_deg <= 84.0:
        raise LocationError(
            f"latitude {latitude_deg:.4f} is outside the UTM grid, which spans 80 S to 84 N (the polar grid"
            " UPS is not supported): use degrees or a locator"
        )
    if 56.0 <= latitude_deg < 64.0 and 3.0 <= longitude_deg < 12.0:
        return 32
    if latitude_deg >= 72.0 and 0.0 <= longitude_deg < 42.0:
        return 31 + 2 * int((longitude_deg + 3.0) // 12.0)
    return int((longitude_deg + 180.0) // 6.0) % 60 + 1


def grid_convergence_deg(latitude_deg: float, longitude_deg: float) -> float:
    """Direction of UTM grid north from true north, east positive.

    Parameters
    ----------
    latitude_deg, longitude_deg
        Place [degrees]; the zone is the one it lies in, see `utm_zone`.

    Returns
    -------
    float
        [degrees]: grid azimuth = true azimuth - convergence.

    Raises
    ------
    LocationError
        Poleward of 84 N and 80 S, where the grid ends.

    References
    ----------
    .. [1] NGA.SIG.0012_2.0.0_UTMUPS (2014), section 2 (definition of convergence).
    """
    from pyproj import Proj

    zone = utm_zone(latitude_deg, longitude_deg)
    factors = Proj(proj="utm", zone=zone, ellps="WGS84").get_factors(longitude_deg, latitude_deg)
    return float(factors.meridian_convergence)


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
    _check_point(latitude_deg, longitude_deg)
    right_ascension, declination_, sidereal = _sun_equatorial(_days_since_2000(when_utc))
    hour_angle = math.radians(sidereal + longitude_deg - right_ascension)
    latitude, delta = math.radians(latitude_deg), math.radians(declination_)
    elevation = math.asin(
        math.sin(latitude) * math.sin(delta) + math.cos(latitude) * math.cos(delta) * math.cos(hour_angle)
    )
    azimuth = math.atan2(
        -math.cos(delta) * math.sin(hour_angle),
        math.sin(delta) * math.cos(latitude) - math.cos(delta) * math.cos(hour_angle) * math.sin(latitude),
    )
    return SunPosition(_full_circle(math.degrees(azimuth)), math.degrees(elevation))


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


def _wgs84() -> Geod:
    from pyproj import Geod

    return Geod(ellps="WGS84")


def _full_circle(azimuth_deg: float) -> float:
    turned = float(azimuth_deg) % 360.0
    return 0.0 if turned == 360.0 else turned  # a tiny negative number rounds up to 360


def _check_point(latitude_deg: float, longitude_deg: float) -> None:
    if not (math.isfinite(latitude_deg) and abs(latitude_deg) <= 90.0):
        raise LocationError(f"latitude {latitude_deg!r} is impossible: give -90 to 90 degrees")
    if not (math.isfinite(longitude_deg) and abs(longitude_deg) <= 180.0):
        raise LocationError(f"longitude {longitude_deg!r} is impossible: give -180 to 180 degrees")


def _decimal_year(day: dt.date) -> float:
    start, end = dt.date(day.year, 1, 1), dt.date(day.year, 12, 31)
    return day.year + (day.toordinal() - start.toordinal()) / (end.toordinal() - start.toordinal() + 1)


def _magnetic_warning(
    horizontal_nt: float, when: dt.date, model: str, valid_from: dt.date, valid_to: dt.date
) -> str | None:
    if horizontal_nt < _BLACKOUT_NT:
        return "a compass is useless here, so near a magnetic pole: take bearings from the Sun or a landmark"
    if horizontal_nt < _CAUTION_NT:
        return (
            "a compass is unreliable here, so near a magnetic pole: check bearings by the Sun or a landmark"
        )
    # "when" may be a datetime, which does not compare with a date.
    day = dt.date(when.year, when.month, when.day)
    if not valid_from <= day <= valid_to:
        side = "before" if day < valid_from else "after"
        return (
            f"declination for {day.isoformat()} comes from {model}, extrapolated: the date is {side} its"
            f" validity ({valid_from.year} to {valid_to.year}), so check it against a current chart"
        )
    return None


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
