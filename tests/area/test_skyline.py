"""Horizon against closed forms and against the sightline of single paths."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from pathprofile.area import Skyline
from pathprofile.area import skyline as skyline_function
from pathprofile.area.compiled import compiled
from pathprofile.area.mosaic import mosaic
from pathprofile.area.radials import places_along
from pathprofile.atmosphere import Atmosphere
from pathprofile.errors import OutOfRangeError, TerrainGapError
from pathprofile.places.location import Location
from pathprofile.sightline import sightline
from pathprofile.terrain.store import TerrainStore

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

SITE = Location(45.2, 9.7)


@pytest.fixture(scope="module")
def skyline(cache_dir: Path) -> Callable[..., Skyline]:
    return lambda site, store, **more: skyline_function(site, store, cache_dir=cache_dir, **more)


@pytest.mark.parametrize("height_m", [30.0, 400.0])
def test_the_sea_horizon(skyline: Callable[..., Skyline], ground: Any, height_m: float) -> None:
    """Distance √(2ah) and dip √(2h/a) of a smooth Earth (closed form)."""
    radius_m = Atmosphere.from_k(4.0 / 3.0).effective_radius_m
    found = skyline(
        SITE,
        ground(lambda lat, _lon: np.zeros(lat.shape)),
        antenna_agl_m=height_m,
        bearings=36,
        radius_m=120_000.0,
    )
    assert found.elevation_deg == pytest.approx(-math.degrees(math.sqrt(2.0 * height_m / radius_m)), abs=1e-4)
    assert found.distance_m == pytest.approx(math.sqrt(2.0 * radius_m * height_m), rel=0.01)
    assert found.ground_m == pytest.approx(0.0)
    assert found.azimuth_deg.tolist() == [10.0 * i for i in range(36)]


@pytest.mark.parametrize("ends", ["map", "radius"])
def test_the_end_of_the_map_over_the_sea_is_no_horizon(
    skyline: Callable[..., Skyline], ground: Any, ends: str
) -> None:
    """From h the sea horizon dips √(2h/a) at √(2ah) (closed form): 0.62° and 93 km from 506 m, k 4/3."""
    air = Atmosphere.from_k(4.0 / 3.0)
    south = SITE.latitude_deg - 0.3

    def sea_and_hill(lat: Any, lon: Any) -> Any:
        height = np.where(
            (lon > SITE.longitude_deg + 0.2) & (np.abs(lat - SITE.latitude_deg) < 0.02), 700.0, 0.0
        )
        return np.where((lat < south) & (ends == "map"), np.nan, height)

    found = skyline(
        SITE,
        ground(sea_and_hill),
        antenna_agl_m=506.0,
        bearings=8,
        radius_m=110_000.0 if ends == "map" else 30_000.0,
        atmosphere=air,
    )
    dip_deg = -math.degrees(math.sqrt(2.0 * 506.0 / air.effective_radius_m))
    assert found.sea_horizon_m == pytest.approx(math.sqrt(2.0 * 506.0 * air.effective_radius_m))
    assert found.elevation_deg[4] < dip_deg - 0.3
    open_end = [3, 4, 5] if ends == "map" else [0, 1, 3, 4, 5, 6, 7]
    assert np.flatnonzero(found.open_end).tolist() == open_end
    assert found.least_deg[open_end] == pytest.approx(dip_deg, abs=1e-4)
    others = np.setdiff1d(np.arange(8), open_end)  # the hill, and sea seen to its horizon
    assert found.least_deg[others].tolist() == found.elevation_deg[others].tolist()
    assert found.least_deg[2] > 0.0
    assert (found.looked_m - found.reach_m[4] < 90.0) == (ends == "radius")


def test_a_bound_where_the_ground_ends_beyond_the_sea_horizon() -> None:
    """A depression known past the horizon of the sea, 22.6 km from 30 m: sea counts from where it begins."""
    a = Atmosphere.from_k(4.0 / 3.0).effective_radius_m
    one = np.ones(8)
    found = Skyline(
        SITE, 30.0, a, 45.0 * np.arange(8), -1.0 * one, 4e4 * one, -500.0 * one, 4e4 * one, 5e4, ()
    )
    expected = -math.degrees(math.atan(30.0 / 4e4 + 4e4 / (2.0 * a)))  # P.1812-8 eq. 76 at 40 km, h 0
    assert found.open_end.all()
    assert found.least_deg == pytest.approx(expected)
    below = Skyline(SITE, -5.0, a, 45.0 * np.arange(8), -1.0 * one, one, one, 0.0 * one, 5e4, ())
    assert below.sea_horizon_m == 0.0
    assert np.isfinite(below.least_deg).all()


def test_a_wall_to_the_north(skyline: Callable[..., Skyline], ground: Any) -> None:
    wall = ground(lambda lat, _lon: np.where(np.abs(lat - SITE.latitude_deg - 0.18) < 0.002, 500.0, 0.0))
    found = skyline(SITE, wall, antenna_agl_m=20.0, bearings=8, radius_m=60_000.0)
    metres = 0.178 * 111_145.0  # WGS 84 meridian at 45.3°
    radius_m = Atmosphere().effective_radius_m
    expected = math.degrees(math.atan(480.0 / metres - metres / (2.0 * radius_m)))
    assert found.elevation_deg[0] == pytest.approx(expected, abs=0.01)
    assert found.distance_m[0] == pytest.approx(metres, abs=100.0)
    assert found.ground_m[0] == 500.0
    assert found.elevation_deg[4] < 0.0
    assert found.elevation_of_deg(metres, 500.0) == pytest.approx(expected)


def test_against_single_sightlines(
    skyline: Callable[..., Skyline], real_dem_dir: Path, cache_dir: Path
) -> None:
    site = Location(44.55, 5.55)
    with TerrainStore.open(real_dem_dir / "N44E005.hgt") as store:
        found = skyline(site, store, antenna_agl_m=10.0, bearings=72, radius_m=25_000.0)
        distance = np.arange(0.0, 25_001.0, 90.0)
        latitude, longitude = places_along(44.55, 5.55, found.azimuth_deg, distance)
        heights = store.elevation_m(latitude, longitude)
        stored = mosaic(store, 44.55, 5.55, 25_000.0, compiled(cache_dir).sample)
    in_memory = skyline(site, stored, antenna_agl_m=10.0, bearings=72, radius_m=25_000.0)
    assert in_memory.elevation_deg == pytest.approx(found.elevation_deg, abs=1e-6)
    checked = 0
    for ray in range(72):
        if np.isnan(heights[ray]).any():
            continue
        line = sightline(  # towards a target at sea level behind everything: the horizon hides it
            np.append(distance, 25_090.0),
            np.append(heights[ray], -3000.0),
            from_antenna_agl_m=10.0,
            to_antenna_agl_m=0.1,
            frequency_mhz=145.0,
            atmosphere=Atmosphere(),
        )
        assert line.verdict == "obstructed"
        assert found.elevation_deg[ray] == pytest.approx(line.from_takeoff_deg, abs=1e-9)
        assert found.distance_m[ray] == pytest.approx(line.from_horizon_m)
        checked += 1
    assert checked > 40


def test_no_ground(skyline: Callable[..., Skyline], ground: Any) -> None:
    north = ground(lambda lat, _lon: np.where(lat <= SITE.latitude_deg, 10.0, np.nan))
    found = skyline(SITE, north, antenna_agl_m=10.0, bearings=8, radius_m=20_000.0)
    assert np.isnan(found.elevation_deg[0])
    assert np.isnan(found.distance_m[0])
    assert np.isnan(found.least_deg[0])
    assert not found.open_end[0]
    assert np.isfinite(found.elevation_deg[4])
    assert found.reach_m[0] == 0.0
    assert any("tiles end 0.0 to 20.0 km" in note for note in found.notes)
    with pytest.raises(TerrainGapError, match="no ground known at the site"):
        skyline(Location(45.3, 9.7), north, antenna_agl_m=10.0)
    with pytest.raises(OutOfRangeError, match=r"antenna_agl_m -1: give 0.01 to 3000 m"):
        skyline(SITE, north, antenna_agl_m=-1)
