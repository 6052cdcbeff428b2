"""Magnetic declination against the published test values, grid convergence against geometry."""

from __future__ import annotations

import datetime as dt
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Transformer

from pathprofile.errors import LocationError, OutOfRangeError
from pathprofile.geodesy import (
    declination,
    direct,
    grid_azimuth_deg,
    grid_convergence_deg,
    magnetic_azimuth_deg,
    utm_zone,
)

NEW_YEAR_2025 = dt.date(2025, 1, 1)

# World Magnetic Model test values: date, height [km], latitude, longitude, declination, inclination
# [degrees], horizontal intensity [nT] (None where not remembered). WMM2025 and WMM2020 reports, table of test
# values for software; from memory. 240 E is written 120 W here.
WMM_VALUES = [
    (dt.date(2025, 1, 1), 0, 80, 0, 1.28, 83.21, 6523.2),
    (dt.date(2025, 1, 1), 0, 0, 120, -0.16, -14.93, 39677.9),
    (dt.date(2025, 1, 1), 0, -80, -120, 68.78, -72.00, 16898.1),
    (dt.date(2025, 1, 1), 100, 80, 0, 0.85, None, None),
    (dt.date(2025, 1, 1), 100, 0, 120, -0.15, None, None),
    (dt.date(2025, 1, 1), 100, -80, -120, 68.21, -72.19, None),
    (dt.date(2027, 7, 2), 0, 80, 0, 2.59, None, None),
    (dt.date(2027, 7, 2), 0, -80, -120, 68.49, None, None),
    (dt.date(2027, 7, 2), 100, 80, 0, 2.16, None, None),
    (dt.date(2027, 7, 2), 100, -80, -120, 67.93, None, None),
    (dt.date(2020, 1, 1), 0, 80, 0, -1.28, 83.14, 6572.0),
    (dt.date(2020, 1, 1), 0, 0, 120, 0.16, -15.42, 39624.3),
    (dt.date(2020, 1, 1), 0, -80, -120, 69.36, -72.20, 16854.0),
    (dt.date(2020, 1, 1), 100, 80, 0, -1.70, None, None),
    (dt.date(2020, 1, 1), 100, -80, -120, 68.78, None, None),
]


@pytest.mark.parametrize(("when", "height_km", "lat", "lon", "d", "i", "h"), WMM_VALUES)
def test_published_values(
    when: dt.date, height_km: float, lat: float, lon: float, d: float, i: float | None, h: float | None
) -> None:
    field = declination(lat, lon, when, height_km * 1000.0)
    # Half a unit of the last digit printed, and the day that 2027.5 falls between.
    assert field.declination_deg == pytest.approx(d, abs=0.006)
    if i is not None:
        assert field.inclination_deg == pytest.approx(i, abs=0.006)
    if h is not None:
        assert field.horizontal_nt == pytest.approx(h, abs=0.5)
    assert field.warning is None


@pytest.mark.parametrize(
    ("when", "model"),
    [
        (dt.date(2012, 6, 1), "WMM-2010"),
        (dt.date(2016, 6, 1), "WMM-2015v2"),
        (dt.date(2024, 12, 31), "WMM-2020"),
        (dt.date(2025, 1, 1), "WMM-2025"),
        (dt.date(2030, 1, 1), "WMM-2025"),
    ],
)
def test_the_model_of_the_date_is_used(when: dt.date, model: str) -> None:
    field = declination(46.0, -21.0, when)
    assert field.model == model
    assert field.valid_from <= when <= field.valid_to
    assert field.warning is None


def test_models_meet_at_their_borders() -> None:
    # The step in declination from one model to the next is within their published uncertainty, 0.4 degree.
    before = declination(46.0, -21.0, dt.date(2024, 12, 31)).declination_deg
    after = declination(46.0, -21.0, dt.date(2025, 1, 1)).declination_deg
    assert before == pytest.approx(after, abs=0.4)


@pytest.mark.parametrize(
    ("when", "side"), [(dt.date(2009, 5, 1), "before"), (dt.datetime(2031, 5, 1, 12, tzinfo=dt.UTC), "after")]
)
def test_outside_its_validity_it_warns(when: dt.date, side: str) -> None:
    warning = declination(46.0, -21.0, when).warning
    assert warning is not None
    assert f"the date is {side} its validity" in warning


def test_near_a_magnetic_pole_it_warns() -> None:
    assert "useless" in str(declination(86.0, 140.0, NEW_YEAR_2025).warning)
    assert "unreliable" in str(declination(78.0, -110.0, NEW_YEAR_2025).warning)


def test_a_height_outside_the_model_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match=r"height 900000\.0 m is outside the magnetic model"):
        declination(46.0, -21.0, NEW_YEAR_2025, 900_000.0)


def test_magnetic_is_true_minus_declination() -> None:
    # Common practice: variation east, magnetic least.
    assert magnetic_azimuth_deg(100.0, 10.0) == 90.0
    assert magnetic_azimuth_deg(5.0, 10.0) == 355.0
    assert magnetic_azimuth_deg(355.0, -10.0) == 5.0
    assert grid_azimuth_deg(1.0, 2.0) == 359.0


@pytest.mark.parametrize(
    ("lat", "lon", "zone"),
    [
        (46.0, -21.0, 27),
        (0.0, -180.0, 1),
        (0.0, 180.0, 1),
        (0.0, 179.99, 60),
        (46.0, 6.0, 32),
        # Norway and Svalbard: NGA.SIG.0012, section 7 (from memory).
        (60.0, 3.0, 32),
        (60.0, 2.99, 31),
        (55.99, 4.0, 31),
        (64.0, 4.0, 31),
        (78.0, 8.99, 31),
        (78.0, 9.0, 33),
        (78.0, 20.99, 33),
        (78.0, 21.0, 35),
        (78.0, 33.0, 37),
        (84.0, 41.99, 37),
        (78.0, 42.0, 38),
        (71.99, 10.0, 32),
    ],
)
def test_zones(lat: float, lon: float, zone: int) -> None:
    assert utm_zone(lat, lon) == zone


@pytest.mark.parametrize("lat", [84.001, -80.001, 90.0])
def test_there_is_no_zone_near_the_poles(lat: float) -> None:
    with pytest.raises(LocationError, match="outside the UTM grid"):
        utm_zone(lat, 0.0)


@given(st.floats(-79.9, 83.9), st.floats(-179.9, 179.9))
def test_convergence_is_the_turn_between_the_grid_and_the_meridian(lat: float, lon: float) -> None:
    # Walk 10 m true north and see which way that points on the grid: grid azimuth = 0 - convergence.
    zone = utm_zone(lat, lon)
    grid = Transformer.from_crs("EPSG:4326", f"EPSG:{32600 + zone}", always_xy=True)
    north_lat, north_lon = direct(lat, lon, 0.0, 10.0)
    east1, north1 = grid.transform(lon, lat)
    east2, north2 = grid.transform(float(north_lon), float(north_lat))
    seen = math.degrees(math.atan2(east2 - east1, north2 - north1))
    error = grid_azimuth_deg(0.0, grid_convergence_deg(lat, lon)) - seen
    assert (error + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=1e-4)


def test_convergence_is_close_to_that_of_a_sphere() -> None:
    # Spherical transverse Mercator: tan(convergence) = tan(longitude difference) sin(latitude);
    # J. P. Snyder, Map Projections: a Working Manual, USGS PP 1395 (1987), section 8.
    expected = math.degrees(math.atan(math.tan(math.radians(2.0)) * math.sin(math.radians(46.0))))
    assert grid_convergence_deg(46.0, -19.0) == pytest.approx(expected, abs=0.001)
    assert grid_convergence_deg(46.0, -23.0) == pytest.approx(-expected, abs=0.001)
    assert grid_convergence_deg(-46.0, -19.0) == pytest.approx(-expected, abs=0.001)
