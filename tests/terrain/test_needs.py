"""Which squares a trip needs, and what there is of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from rasterio.transform import Affine

from pathprofile.terrain.needs import needed_tiles, tile_report
from pathprofile.terrain.store import TerrainStore

from .conftest import RasterFactory, plane

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.parametrize(
    ("line", "names"),
    [
        ([(46.5, -20.5)], ("N46W021",)),
        ([(46.2, -20.9), (46.8, -20.1)], ("N46W021",)),
        ([(46.5, -21.5), (46.5, -19.5)], ("N46W022", "N46W021", "N46W020")),
        # On the chart the first line crosses 46 degrees at -21.001, the second -21 degrees at 45.9985: each
        # cuts off a corner by less than one look ahead (0.001 degree of longitude is 77 m).
        ([(45.9, -21.101), (46.101, -20.9)], ("N45W022", "N46W022", "N46W021")),
        ([(45.9, -21.0985), (46.0985, -20.9)], ("N45W022", "N45W021", "N46W021")),
        ([(-16.5, 179.5), (-16.5, -179.5)], ("S17W180", "S17E179")),
        ([(-0.5, -0.5), (0.5, 0.6)], ("S01W001", "S01E000", "N00E000")),
        ([(46.5, -20.5), (46.5, -20.5)], ("N46W021",)),
        ([(46.5, -20.5), (47.5, -20.5), (47.5, -19.5)], ("N46W021", "N47W021", "N47W020")),
    ],
)
def test_needed_tiles(line: list[tuple[float, float]], names: tuple[str, ...]) -> None:
    assert needed_tiles([line]) == names


def test_report(rasters: RasterFactory) -> None:
    heights = np.full((101, 101), 300, np.int16)
    heights[40:61, 50] = -32768
    rasters.write("N46W021.tif", heights, Affine(0.01, 0, -21.005, 0, -0.01, 47.005), nodata=-32768)
    rasters.square(46, -20, plane, name="Copernicus_DSM_COG_10_N46_00_W020_00_DEM.tif")
    store = TerrainStore.open(rasters.folder)
    report = tile_report(store, [[(46.5, -20.9), (46.5, -19.5)], [(46.5, -20.9), (46.5, -21.5)]])
    west, middle, east = report
    assert [square.name for square in report] == ["N46W022", "N46W021", "N46W020"]
    assert (west.present, west.holes, west.covered_share < 0.05) == (False, 0, True)
    assert (middle.present, middle.holes, middle.covered_share) == (True, 21, 1.0)
    # The column of voids at longitude -20.5 makes two cells of 766 m void on the path at 46.5.
    assert 1 <= middle.holes_on_paths <= 4
    assert middle.files == (str(rasters.folder / "N46W021.tif"),)
    assert (middle.vertical_datums, middle.model_kinds) == ((), ("unknown",))
    assert (east.present, east.holes, east.holes_on_paths) == (True, 0, 0)
    assert (east.vertical_datums, east.model_kinds) == (("EGM2008",), ("surface",))
    assert middle.cell_m == pytest.approx(766, abs=3)


def test_report_of_nothing(rasters: RasterFactory) -> None:
    rasters.square(46, -21, plane)
    store = TerrainStore.open(rasters.folder)
    assert tile_report(store, []) == ()
    (square,) = tile_report(store, [[(10.2, 10.2), (10.3, 10.3)]])
    assert (square.name, square.present, square.files, square.cell_m) == ("N10E010", False, (), None)


def test_real_report(real_dem_dir: Path) -> None:
    report = tile_report(TerrainStore.open(real_dem_dir), [[(42.667, 1.398), (41.25, 1.9)]])
    # Numbers of voids from the tiles' own description.
    assert [(s.name, s.present, s.holes) for s in report] == [("N41E001", True, 134), ("N42E001", True, 7652)]
    assert report[1].holes_on_paths > 0
