"""The other norths: magnetic (World Magnetic Model) and grid (UTM)."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from importlib import import_module

from pathprofile.errors import LocationError, OutOfRangeError
from pathprofile.geodesy._angles import check_point, full_circle

__all__ = [
    "Declination",
    "declination",
    "grid_azimuth_deg",
    "grid_convergence_deg",
    "magnetic_azimuth_deg",
    "utm_zone",
]

# First year of each World Magnetic Model on board; a model holds for five years. The 2015 model is its 2018
# out-of-cycle issue, which replaced it.
_MAGNETIC_MODELS = {2010: "WMM_2010", 2015: "WMM_2015v2", 2020: "WMM_2020", 2025: "WMM_2025"}
_MODEL_YEARS = 5
# Horizontal intensity below which a compass is useless or doubtful [nT] (WMM2025 report, section 1.9).
_BLACKOUT_NT = 2000.0
_CAUTION_NT = 6000.0


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
    check_point(latitude_deg, longitude_deg)
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
    return full_circle(azimuth_deg - declination_deg)


def grid_azimuth_deg(azimuth_deg: float, convergence_deg: float) -> float:
    """Direction on the map grid of a true azimuth: true - convergence (east positive), 0 to 360 degrees."""
    return full_circle(azimuth_deg - convergence_deg)


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
    check_point(latitude_deg, longitude_deg)
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
