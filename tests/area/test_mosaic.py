"""Ground in memory against the store it came from, and holes along rays."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from pathprofile.area.mosaic import Mosaic, bridge, mosaic
from pathprofile.terrain.store import TerrainStore

if TYPE_CHECKING:
    from pathlib import Path

    from pathprofile.area.compiled import Kernels


@pytest.fixture
def plane(kernels: Kernels) -> Mosaic:
    row, column = np.mgrid[0:21, 0:31]
    heights = (300.0 + 4.0 * column - 7.0 * row).astype(np.float32)
    heights[10, 10] = np.nan
    return Mosaic(heights, 46.0, 178.0, 0.1, 0.1, kernels.sample)


def test_a_tilted_plane_is_exact(plane: Mosaic) -> None:
    rng = np.random.default_rng(0)
    latitude, longitude = rng.uniform(44.1, 44.8, 50), rng.uniform(178.1, 180.9, 50)
    expected = 300.0 + 40.0 * (longitude - 178.0) - 70.0 * (46.0 - latitude)
    assert plane.elevation_m(latitude, longitude) == pytest.approx(expected, abs=1e-3)


def test_outside_and_beside_holes_is_nan(plane: Mosaic) -> None:
    assert np.isnan(plane.elevation_m([43.99, 46.01, 45.0, 45.0], [179.0, 179.0, 177.99, 181.01])).all()
    assert np.isnan(plane.elevation_m(45.03, 179.04))
    assert np.isnan(plane.elevation_m(np.nan, 179.0))
    assert plane.elevation_m([[44.0], [46.0]], [178.0, 181.0]).shape == (2, 2)


def test_equals_the_store_on_real_tiles(real_dem_dir: Path, kernels: Kernels) -> None:
    rng = np.random.default_rng(1)
    with TerrainStore.open([real_dem_dir / "N41E001.hgt.zip", real_dem_dir / "N42E001.hgt.zip"]) as store:
        found = mosaic(store, 42.0, 1.5, 30_000.0, kernels.sample)
        latitude, longitude = rng.uniform(41.8, 42.2, 4000), rng.uniform(1.2, 1.8, 4000)
        there = store.elevation_m(latitude, longitude)
    here = found.elevation_m(latitude, longitude)
    both = ~np.isnan(here) & ~np.isnan(there)
    assert both.mean() > 0.99
    assert np.abs(here - there)[both].max() < 1e-3


def test_memory_is_bounded(real_dem_dir: Path, kernels: Kernels) -> None:
    with TerrainStore.open(real_dem_dir / "N42E001.hgt.zip") as store:
        coarse = mosaic(store, 42.5, 1.5, 40_000.0, kernels.sample, most_bytes=200_000)
    assert coarse.height_m.nbytes < 260_000
    assert np.isfinite(coarse.height_m).any()


class TestBridge:
    def test_short_holes_are_straight(self) -> None:
        ground = np.array([[5.0, np.nan, np.nan, 8.0, np.nan, 10.0]])
        known = np.zeros(1, np.int64)
        assert bridge(ground, 2, known) == 3
        assert ground[0].tolist() == pytest.approx([5.0, 6.0, 7.0, 8.0, 9.0, 10.0])
        assert known[0] == 6

    def test_wide_holes_end_the_ray(self) -> None:
        ground = np.array([[5.0, 6.0, np.nan, np.nan, np.nan, 10.0, 11.0]])
        known = np.zeros(1, np.int64)
        assert bridge(ground, 2, known) == 0
        assert known[0] == 2

    def test_the_end_of_the_tiles_is_no_hole(self) -> None:
        ground = np.array([[5.0, 6.0, np.nan], [1.0, 2.0, 3.0], [np.nan, 2.0, 3.0]])
        known = np.zeros(3, np.int64)
        assert bridge(ground, 5, known) == 0
        assert known.tolist() == [2, 3, 0]
