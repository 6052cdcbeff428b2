from __future__ import annotations

import numpy as np
import pytest

from pathprofile import geodesy
from pathprofile.area.grid import Grid
from pathprofile.area.landmarks import Landmark, against_skyline, landmarks, relief_of
from pathprofile.area.skyline import Skyline
from pathprofile.places import Location

RADIUS_M = 6_371_000.0 * 4.0 / 3.0


class Plane:
    """Ground from a formula of latitude and longitude."""

    def __init__(self, formula):
        self._formula = formula

    def elevation_m(self, latitude_deg, longitude_deg):
        assert np.abs(longitude_deg).max() <= 180.0
        return np.asarray(self._formula(np.asarray(latitude_deg), np.asarray(longitude_deg)), float)


def _skyline(elevation_deg: float, distance_m: float, reach_m: float = 160_000.0) -> Skyline:
    azimuth = np.arange(3600) / 10.0
    whole = np.ones(3600)
    return Skyline(
        Location(47.0, 8.0),
        500.0,
        RADIUS_M,
        azimuth,
        elevation_deg * whole,
        distance_m * whole,
        900.0 * whole,
        reach_m * whole,
        160_000.0,
        (),
    )


def test_places_are_found_by_distance_and_azimuth() -> None:
    site = Location(0.0, 10.0, label="here")
    found = landmarks(site, [Location(0.0, 11.0, label="east"), site, Location(-1.0, 10.0, label="south")])
    assert [place.name for place in found] == ["east", "south"]
    # a degree of the equator is 111 319.49 m; the meridian's first is 110 574.39 m (WGS 84, from tables)
    assert found[0].distance_m == pytest.approx(111_319.49, abs=0.02)
    assert found[1].distance_m == pytest.approx(110_574.39, abs=0.02)
    assert [round(place.azimuth_deg) for place in found] == [90, 180]


def test_a_station_stands_above_below_or_before_the_horizon() -> None:
    # horizon at +1° and 20 km; a mast as far as 60 km at 500 m appears at −d/2a: 60 km / (2 · 8494.7 km)
    skyline = _skyline(1.0, 20_000.0)
    low = against_skyline(skyline, Landmark("far", 60_000.0, 12.0), 500.0)
    assert low.elevation_deg == pytest.approx(-np.degrees(60.0 / (2 * 8494.667)), abs=1e-4)
    assert low.stands == "below"
    assert against_skyline(skyline, Landmark("high", 60_000.0, 12.0), 2500.0).stands == "above"
    assert against_skyline(skyline, Landmark("near", 5_000.0, 12.0), 500.0).stands == "before"
    assert low.horizon_deg == 1.0
    assert low.horizon_m == 20_000.0


def test_beyond_the_known_ground_only_a_hill_known_hides() -> None:
    skyline = _skyline(1.0, 20_000.0, reach_m=40_000.0)
    assert against_skyline(skyline, Landmark("low", 60_000.0, 0.0), 500.0).stands == "below"
    assert against_skyline(skyline, Landmark("high", 60_000.0, 0.0), 3000.0).stands == "unknown"
    nothing = _skyline(np.nan, np.nan, reach_m=0.0)
    assert against_skyline(nothing, Landmark("any", 60_000.0, 0.0), 3000.0).stands == "unknown"


def test_against_a_horizon_that_the_map_cuts_off() -> None:
    # the sea's horizon from 500 m dips 0.622° at 92 km (closed form); ground is known to 30 km, at −1.2°
    skyline = _skyline(-1.2, 20_000.0, reach_m=30_000.0)
    for distance_m, height_m, stands in (
        (10_000.0, 500.0, "above"),  # −0.03°
        (25_000.0, 200.0, "before"),  # −0.77°: over all ground known, under the true horizon
        (10_000.0, 200.0, "before"),  # −1.75°
        (25_000.0, 0.0, "below"),  # −1.23°, behind the ground at 20 km
        (60_000.0, 100.0, "unknown"),  # −0.58°
        (60_000.0, 0.0, "unknown"),  # −0.68°: under the sea's horizon, nearer than it
    ):
        found = against_skyline(skyline, Landmark("it", distance_m, 12.0), height_m)
        assert found.stands == stands, (distance_m, height_m)
        assert found.open_end
        assert found.horizon_deg == pytest.approx(-0.622, abs=1e-3)
        assert np.isnan(found.horizon_m)
    assert not against_skyline(_skyline(1.0, 2e4), Landmark("it", 1e4, 12.0), 500.0).open_end


def test_the_bearing_wraps_at_north() -> None:
    skyline = _skyline(0.0, 10_000.0)
    skyline.elevation_deg[0] = 5.0
    assert against_skyline(skyline, Landmark("n", 60_000.0, 359.99), 500.0).horizon_deg == 5.0


@pytest.mark.parametrize(
    "place", [(47.0, 8.0), (-33.0, 179.9), (0.0, -180.0), (78.0, 15.0), (-89.0, 0.0)], ids=str
)
def test_relief_is_the_ground_at_the_middle_of_its_squares(place: tuple[float, float]) -> None:
    grid = Grid(*place, 500.0, 320)

    def ground(latitude, longitude):
        turn = np.radians(longitude)
        return 30_000.0 * np.cos(np.radians(latitude)) * np.cos(turn) + 50.0 * latitude

    relief = relief_of(grid, Plane(ground), most=200)
    assert relief.shape == (200, 200)
    middle = (np.arange(200) + 0.5) * (641 / 200) - 0.5
    latitude, longitude = grid.places(middle[:, np.newaxis], middle)
    # 30 km of height a radian of the Earth: two metres of place are a centimetre
    np.testing.assert_allclose(relief, ground(latitude, longitude), atol=0.02)


def test_relief_is_north_up_and_its_places_are_geodesic() -> None:
    grid = Grid(47.0, 8.0, 1000.0, 100)
    relief = relief_of(grid, Plane(lambda latitude, _: latitude * 1000.0), most=1000)
    assert relief.shape == grid.shape  # no more points than cells
    north_deg, _ = geodesy.direct(47.0, 8.0, 0.0, 100_000.0)
    assert relief[0, 100] == pytest.approx(1000.0 * float(north_deg), abs=0.05)
    assert relief[100, 100] == pytest.approx(47_000.0, abs=0.05)


def test_relief_keeps_holes() -> None:
    grid = Grid(47.0, 8.0, 1000.0, 100)
    relief = relief_of(grid, Plane(lambda latitude, _: np.where(latitude > 47.2, np.nan, 5.0)))
    assert np.isnan(relief[0]).all()
    assert (relief[-1] == 5.0).all()
