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
    assert np.isfinite(found.elevation_deg[4])
    assert found.reach_m[0] == 0.0
    assert any("tiles end 0.0 to 20.0 km" in note for note in found.notes)
    with pytest.raises(TerrainGapError, match="no ground known at the site"):
        skyline(Location(45.3, 9.7), north, antenna_agl_m=10.0)
    with pytest.raises(OutOfRangeError, match=r"antenna_agl_m -1: give 0.01 to 3000 m"):
        skyline(SITE, north, antenna_agl_m=-1)
