"""Shortest paths against published lines and against the PyPI package geographiclib."""

from __future__ import annotations

import math

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import assume, given
from hypothesis import strategies as st

from pathprofile.errors import LocationError
from pathprofile.geodesy import LONGEST_PATH_M, direct, inverse, points_along

latitudes = st.floats(-90.0, 90.0)
longitudes = st.floats(-180.0, 180.0)
RIDGE, COAST = (42.667, 1.398), (41.250, 1.900)


def _dms(degrees: float, minutes: float, seconds: float) -> float:
    return degrees + minutes / 60.0 + seconds / 3600.0


def _turn_between(a_deg: float, b_deg: float) -> float:
    return abs((a_deg - b_deg + 180.0) % 360.0 - 180.0)


def test_published_survey_line() -> None:
    # ICSM, Geocentric Datum of Australia Technical Manual, chapter 4, Flinders Peak to Buninyong (from
    # memory); on GRS 80, whose polar axis is 0.1 mm shorter than that of WGS 84.
    leg = inverse(
        -_dms(37, 57, 3.72030), _dms(144, 25, 29.52440), -_dms(37, 39, 10.15610), _dms(143, 55, 35.38390)
    )
    assert leg.distance_m == pytest.approx(54972.271, abs=0.001)
    assert leg.azimuth_deg == pytest.approx(_dms(306, 52, 5.37), abs=0.01 / 3600)
    assert leg.back_azimuth_deg == pytest.approx(_dms(127, 10, 25.07), abs=0.01 / 3600)


def test_degree_of_the_equator_and_quarter_of_a_meridian() -> None:
    # Closed forms: a * pi / 180 with a = 6378137 m; quarter meridian of WGS 84, NGA.STND.0036 (from memory).
    equator = inverse(0.0, 10.0, 0.0, 11.0)
    assert equator.distance_m == pytest.approx(6378137.0 * math.pi / 180.0, abs=1e-6)
    assert (equator.azimuth_deg, equator.back_azimuth_deg) == (90.0, 270.0)
    assert inverse(0.0, 33.0, 90.0, 33.0).distance_m == pytest.approx(10_001_965.7293, abs=1e-3)


@given(latitudes, longitudes, latitudes, longitudes)
def test_inverse_agrees_with_geographiclib(lat1: float, lon1: float, lat2: float, lon2: float) -> None:
    expected = Geodesic.WGS84.Inverse(lat1, lon1, lat2, lon2)
    assume(1.0 < expected["s12"] < LONGEST_PATH_M)
    leg = inverse(lat1, lon1, lat2, lon2)
    assert leg.distance_m == pytest.approx(expected["s12"], abs=1e-6)
    # A micrometre of position turns the azimuth of a short leg, and of one nearly round the globe, this much.
    tolerance = math.degrees(1e-6) / max(1e-6, math.sin(min(leg.distance_m, 1.99e7) / 6.371e6)) + 1e-9
    assert _turn_between(leg.azimuth_deg, expected["azi1"]) < tolerance
    assert _turn_between(leg.back_azimuth_deg, expected["azi2"] + 180.0) < tolerance
    assert 0.0 <= leg.azimuth_deg < 360.0
    assert 0.0 <= leg.back_azimuth_deg < 360.0


@given(st.floats(-89.0, 89.0), longitudes, st.floats(0.0, 360.0), st.floats(1.0, 800_000.0))
def test_direct_agrees_with_geographiclib_and_undoes_inverse(
    lat: float, lon: float, azimuth: float, distance: float
) -> None:
    expected = Geodesic.WGS84.Direct(lat, lon, azimuth, distance)
    end_lat, end_lon = direct(lat, lon, azimuth, distance)
    assert float(end_lat) == pytest.approx(expected["lat2"], abs=1e-11)
    assert _turn_between(float(end_lon), expected["lon2"]) * math.cos(math.radians(float(end_lat))) < 1e-11
    assert inverse(lat, lon, float(end_lat), float(end_lon)).distance_m == pytest.approx(distance, abs=1e-6)


@pytest.mark.parametrize("shape", [(), (1,), (4,), (2, 3)])
def test_direct_keeps_the_shape(shape: tuple[int, ...]) -> None:
    end_lat, end_lon = direct(np.full(shape, 46.0), -21.0, 90.0, np.full(shape, 1000.0))
    assert end_lat.shape == end_lon.shape == shape


def test_direct_passes_nan_and_empty_through() -> None:
    end_lat, _ = direct(46.0, -21.0, [90.0, math.nan], 1000.0)
    assert np.isfinite(end_lat[0])
    assert np.isnan(end_lat[1])
    assert direct(46.0, -21.0, 90.0, [])[0].shape == (0,)


@pytest.mark.parametrize("count", [2, 3, 33, 5300])
@pytest.mark.parametrize(
    ("start", "end"), [(RIDGE, COAST), ((46.2, 179.9), (46.3, -179.8)), ((89.5, 0.0), (89.5, 170.0))]
)
def test_points_along_lie_on_the_line(
    start: tuple[float, float], end: tuple[float, float], count: int
) -> None:
    points = points_along(*start, *end, count)
    assert points.distance_m.shape == points.latitude_deg.shape == points.longitude_deg.shape == (count,)
    assert (points.latitude_deg[0], points.longitude_deg[0]) == start
    assert (points.latitude_deg[-1], points.longitude_deg[-1]) == end
    line = Geodesic.WGS84.InverseLine(*start, *end)
    assert points.distance_m[-1] == pytest.approx(line.s13, abs=1e-6)
    for index in {0, 1, count // 3, count // 2, count - 1}:
        expected = line.Position(line.s13 * index / (count - 1))
        assert points.distance_m[index] == pytest.approx(expected["s12"], abs=1e-6)
        assert points.latitude_deg[index] == pytest.approx(expected["lat2"], abs=1e-11)
        assert _turn_between(points.longitude_deg[index], expected["lon2"]) < 1e-8


def test_points_along_reversed_are_the_same_points() -> None:
    out = points_along(*RIDGE, *COAST, 101)
    back = points_along(*COAST, *RIDGE, 101)
    np.testing.assert_allclose(out.latitude_deg, back.latitude_deg[::-1], atol=1e-12)
    np.testing.assert_allclose(out.longitude_deg, back.longitude_deg[::-1], atol=1e-12)


def test_equal_ends_are_refused() -> None:
    with pytest.raises(LocationError, match="both ends are the same place"):
        inverse(46.0, -21.0, 46.0, -21.0)
    with pytest.raises(LocationError, match="both ends are the same place"):
        inverse(46.0, -180.0, 46.0, 180.0)
    with pytest.raises(LocationError, match="both ends are the same place"):
        inverse(90.0, 0.0, 90.0, 90.0)


@pytest.mark.parametrize("end", [(-46.0, 159.0), (-46.0, 159.3), (-45.8, 158.9)])
def test_antipodal_ends_are_refused(end: tuple[float, float]) -> None:
    with pytest.raises(LocationError, match="no single shortest path"):
        inverse(46.0, -21.0, *end)


def test_refusal_starts_before_shortest_paths_stop_being_unique() -> None:
    # Closed form: on the equator two ways of equal length exist from pi * b on, b = 6356752.3142 m.
    assert math.pi * 6356752.3142 - 100_000.0 < LONGEST_PATH_M < math.pi * 6356752.3142


@pytest.mark.parametrize(
    ("point", "match"),
    [
        ((91.0, 0.0), "latitude 91.0 is impossible"),
        ((math.nan, 0.0), "latitude nan is impossible"),
        ((0.0, 180.5), "longitude 180.5 is impossible"),
        ((0.0, math.inf), "longitude inf is impossible"),
    ],
)
def test_impossible_coordinates_are_refused(point: tuple[float, float], match: str) -> None:
    with pytest.raises(LocationError, match=match):
        inverse(*point, 1.0, 1.0)
    with pytest.raises(LocationError, match=match):
        points_along(1.0, 1.0, *point, 10)


def test_one_point_is_no_path() -> None:
    with pytest.raises(ValueError, match="at least 2 points, not 1"):
        points_along(*RIDGE, *COAST, 1)
