"""Sampling: exact on planes across every kind of seam, voids never sea, any raster."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pyproj
import pytest
import rasterio
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from rasterio.transform import Affine
from scipy.interpolate import RegularGridInterpolator

from pathprofile.errors import OutOfRangeError, TerrainError
from pathprofile.terrain.store import NO_TILE, TerrainStore

from .conftest import RasterFactory, plane

if TYPE_CHECKING:
    from pathlib import Path

# Bilinear interpolation reproduces a plane exactly; what remains is rounding of coordinates near 50 degrees.
EXACT_M = 1e-6


def _points(south: float, north: float, west: float, east: float, count: int = 4000) -> tuple:
    rng = np.random.default_rng(5)
    return rng.uniform(south, north, count), rng.uniform(west, east, count)


def _assert_plane(store: TerrainStore, latitude: np.ndarray, longitude: np.ndarray) -> None:
    np.testing.assert_allclose(
        store.elevation_m(latitude, longitude), plane(latitude, longitude), rtol=0, atol=EXACT_M
    )


@pytest.mark.parametrize("shared_edge", [True, False])
@pytest.mark.parametrize("south_up", [True, False])
def test_plane_across_four_tiles(rasters: RasterFactory, shared_edge: bool, south_up: bool) -> None:
    for south in (45, 46):
        for west in (-22, -21):
            rasters.square(south, west, plane, shared_edge=shared_edge, south_up=south_up)
    store = TerrainStore.open(rasters.folder)
    assert [tile.name for tile in store.tiles].count("N46W021") == 1
    low = 0.0 if shared_edge else 1 / 60
    _assert_plane(store, *_points(45 + low, 47, -22, -20 - low))
    # the corner of the four, in a grid finer than a cell, and the seams themselves
    around = np.linspace(-1.2 / 60, 1.2 / 60, 49)
    _assert_plane(store, *np.meshgrid(46.0 + around, -21.0 + around))


@pytest.mark.parametrize("shared_edge", [True, False])
@pytest.mark.parametrize("seed", range(3))
def test_rough_ground_cut_into_tiles_is_as_if_uncut(
    rasters: RasterFactory, shared_edge: bool, seed: int
) -> None:
    # Reference: scipy's interpolation of the whole, uncut grid (RegularGridInterpolator, linear).
    rng = np.random.default_rng(seed)
    whole = rng.uniform(0, 1000, (121, 121))
    for i, south in enumerate((46, 45)):
        for j, west in enumerate((-22, -21)):
            size = 61 if shared_edge else 60
            part = whole[60 * i : 60 * i + size, 60 * j : 60 * j + size]
            cell = 1 / 60
            transform = Affine(cell, 0, west - cell / 2, 0, -cell, south + 1 + cell / 2)
            rasters.write(f"{south}{west}.tif", part, transform)
    uncut = RegularGridInterpolator((np.linspace(47, 45, 121)[::-1], np.linspace(-22, -20, 121)), whole[::-1])
    store = TerrainStore.open(rasters.folder)
    around = np.linspace(-1.3 / 60, 1.3 / 60, 61)
    for latitude, longitude in (
        _points(45.0167, 47, -22, -20.0167, 20_000),
        tuple(np.meshgrid(46.0 + around, -21.0 + around)),
    ):
        expected = uncut(np.stack((latitude, longitude), axis=-1))
        np.testing.assert_allclose(store.elevation_m(latitude, longitude), expected, rtol=0, atol=1e-6)


@pytest.mark.parametrize("shared_edge", [True, False])
def test_plane_across_a_change_of_longitude_spacing(rasters: RasterFactory, shared_edge: bool) -> None:
    for west in (-22, -21):
        rasters.square(49, west, plane, cells=60, lon_cells=60, shared_edge=shared_edge)
        rasters.square(50, west, plane, cells=60, lon_cells=40, shared_edge=shared_edge)
    store = TerrainStore.open(rasters.folder)
    around = np.linspace(-1.6 / 60, 1.6 / 60, 65)
    _assert_plane(store, *np.meshgrid(50.0 + around, -21.0 + around))
    _assert_plane(store, *_points(49.98, 50.05, -22.0, -20.03))


def test_plane_where_fine_meets_coarse_without_a_shared_row(rasters: RasterFactory) -> None:
    # Cells abut at longitude -21 and latitude 46: a half fine and a half coarse cell lie between the samples.
    coarse, fine = 1 / 20, 1 / 60
    for name, west, north, cell, count in (
        ("fine_nw", -22.0, 47.0, fine, 60),
        ("coarse_ne", -21.0, 47.0, coarse, 20),
        ("coarse_sw", -22.0, 46.0, coarse, 20),
        ("fine_se", -21.0, 46.0, fine, 60),
    ):
        rasters.nodes(
            f"{name}.tif",
            plane,
            west=west + cell / 2,
            north=north - cell / 2,
            dx=cell,
            dy=cell,
            shape=(count, count),
        )
    store = TerrainStore.open(rasters.folder)
    around = np.linspace(-0.06, 0.06, 81)
    _assert_plane(store, *np.meshgrid(46.0 + around, -21.0 + around))


def test_finest_wins_and_coarse_takes_over_at_its_edge(rasters: RasterFactory) -> None:
    rasters.square(46, -21, plane, cells=30)
    rasters.nodes(
        "detail.tif",
        lambda y, x: plane(y, x) + 10.0,
        west=-20.6,
        north=46.7,
        dx=0.002,
        dy=0.002,
        shape=(101, 101),
    )
    store = TerrainStore.open(rasters.folder)
    assert store.tiles[0].name == "detail"
    height, source = store.sample([46.6, 46.6, 46.6], [-20.5, -20.3999, -20.61])
    np.testing.assert_allclose(
        height - plane(46.6, np.array([-20.5, -20.3999, -20.61])), [10.0, 0.0, 0.0], atol=1e-9
    )
    assert source.tolist() == [0, 1, 1]
    assert np.isfinite(store.elevation_m(*_points(46, 47, -21, -20))).all()


@pytest.mark.parametrize("south", range(40, 50))
def test_of_equally_fine_tiles_the_first_named_wins(rasters: RasterFactory, south: int) -> None:
    nodes = rasters.square(south, -21, lambda y, x: 1.0 + 0 * x * y, name="a/t.tif")
    cells = rasters.square(south, -21, lambda y, x: 2.0 + 0 * x * y, name="b/t.tif", shared_edge=False)
    for paths, expected in (([nodes, cells], 1.0), ([cells, nodes], 2.0)):
        assert TerrainStore.open(paths).elevation_m(south + 0.5, -20.5) == expected


def test_coarse_fills_voids_of_fine(rasters: RasterFactory) -> None:
    rasters.square(46, -21, lambda y, x: 100.0 + 0 * x + 0 * y, cells=30)
    hole = np.full((101, 101), 200.0, np.float32)
    hole[40:60, 40:60] = -9999.0
    rasters.write("detail.tif", hole, Affine(0.002, 0, -20.6, 0, -0.002, 46.7), nodata=-9999.0)
    store = TerrainStore.open(rasters.folder)
    height, source = store.sample([46.6, 46.65], [-20.5, -20.55])
    assert height.tolist() == [100.0, 200.0]
    assert source.tolist() == [1, 0]


@pytest.mark.parametrize("kind", ["scalar", "zero_d", "one_d", "two_d", "mixed"])
def test_shapes(rasters: RasterFactory, kind: str) -> None:
    rasters.square(46, -21, plane)
    store = TerrainStore.open(rasters.folder)
    latitude, longitude = {
        "scalar": (46.5, -20.5),
        "zero_d": (np.array(46.5), np.array(-20.5)),
        "one_d": (np.full(3, 46.5), [-20.5, -20.4, -20.3]),
        "two_d": (np.full((2, 3), 46.5), np.full((2, 3), -20.5)),
        "mixed": (np.array([[46.5], [46.6]]), np.array([-20.5, -20.4, -20.3])),
    }[kind]
    height = store.elevation_m(latitude, longitude)
    assert height.shape == np.broadcast(np.asarray(latitude), np.asarray(longitude)).shape
    np.testing.assert_allclose(height, plane(np.asarray(latitude), np.asarray(longitude)), atol=EXACT_M)


def test_empty_nan_and_outside(rasters: RasterFactory) -> None:
    rasters.square(46, -21, lambda y, x: 0 * x + 0 * y + 7.0)
    store = TerrainStore.open(rasters.folder)
    assert store.elevation_m([], []).shape == (0,)
    height, source = store.sample([np.nan, 46.5, 48.0, 46.5, 91.0], [-20.5, np.nan, -20.5, -25.0, -20.5])
    assert np.isnan(height).all()
    assert (source == NO_TILE).all()


@pytest.mark.parametrize(
    ("dtype", "nodata"),
    [
        ("int16", -32768),
        ("int16", -32767),
        ("int16", 32767),
        ("int16", 0),
        ("int32", -2147483648),
        ("uint16", 65535),
        ("uint8", 255),
        ("float32", np.nan),
        ("float32", -9999.0),
        ("float32", -3.4028234663852886e38),
        ("float64", -32767.0),
        ("float64", 0.0),
    ],
)
def test_holes_are_never_sea(rasters: RasterFactory, dtype: str, nodata: float) -> None:
    heights = np.full((61, 61), 200, dtype)
    heights[20:31, 20:31] = nodata
    heights[50, 50] = 7
    rasters.write("a.tif", heights, Affine(0.01, 0, 5, 0, -0.01, 45), nodata=nodata)
    store = TerrainStore.open(rasters.folder)
    row, col = np.mgrid[0:60:0.25, 0:60:0.25]
    height, source = store.sample(45 - (row + 0.5) * 0.01, 5 + (col + 0.5) * 0.01)
    touched = (row > 19) & (row < 31) & (col > 19) & (col < 31)
    assert np.isnan(height[touched]).all()
    assert (source[touched] == 0).all()
    # On the rim itself and beyond, whole samples count and the void beside them does not.
    assert np.isfinite(height[~touched]).all()
    assert height[~touched].min() == pytest.approx(7.0, abs=1e-6)
    assert store.count_voids(store.tiles[0]) == 121


@pytest.mark.parametrize("fill", [-32768, -32767, 32767, -9999])
def test_fill_values_that_the_file_does_not_state(rasters: RasterFactory, fill: int) -> None:
    heights = np.full((61, 61), 200, np.int16)
    heights[20:31, 20:31] = fill
    rasters.write("a.tif", heights, Affine(0.01, 0, 5, 0, -0.01, 45))
    store = TerrainStore.open(rasters.folder)
    assert np.isnan(store.elevation_m(45 - 0.255, 5.255))
    assert store.elevation_m(45 - 0.1, 5.1) == pytest.approx(200.0)


def test_a_mask_inside_the_file(rasters: RasterFactory) -> None:
    path = rasters.write("a.tif", np.full((61, 61), 200, np.int16), Affine(0.01, 0, 5, 0, -0.01, 45))
    mask = np.full((61, 61), 255, np.uint8)
    mask[20:31, 20:31] = 0
    with rasterio.Env(GDAL_TIFF_INTERNAL_MASK=True), rasterio.open(path, "r+") as dataset:
        dataset.write_mask(mask)
    store = TerrainStore.open(path)
    assert np.isnan(store.elevation_m(45 - 0.255, 5.255))
    assert store.elevation_m(45 - 0.1, 5.1) == pytest.approx(200.0)


def test_heights_of_16_bits_do_not_wrap(rasters: RasterFactory) -> None:
    # 8000 - (-11000) and products of it overflow 16 bits; halfway between is -1500.
    heights = np.tile(np.array([8000, -11000], np.int16), (40, 20))
    rasters.write("a.tif", heights, Affine(0.01, 0, 5, 0, -0.01, 45))
    store = TerrainStore.open(rasters.folder)
    assert store.elevation_m(44.9, 5.01) == pytest.approx(-1500.0, abs=1e-6)


def test_hgt_samples_lie_on_the_degree_lines(rasters: RasterFactory) -> None:
    heights = np.add.outer(1200 - np.arange(1201), 2 * np.arange(1201))
    rasters.hgt("N46W021.hgt", heights)
    store = TerrainStore.open(rasters.folder)
    tile = store.tiles[0]
    assert (tile.name, tile.vertical_datum, tile.model_kind) == ("N46W021", "EGM96", "surface")
    corners = store.elevation_m([46.0, 46.0, 47.0, 47.0], [-21.0, -20.0, -21.0, -20.0])
    np.testing.assert_allclose(corners, [0.0, 2400.0, 1200.0, 3600.0], atol=EXACT_M)
    assert store.elevation_m(46.0 + 100.25 / 1200, -21.0 + 7.5 / 1200) == pytest.approx(115.25, abs=EXACT_M)


def test_area_and_point_registration_agree(rasters: RasterFactory) -> None:
    # The same ground written twice: corner of the first cell stated, and first sample stated.
    area = rasters.nodes("area.tif", plane, west=-21, north=47, dx=0.01, dy=0.01, shape=(101, 101))
    point = rasters.nodes("point.tif", plane, west=-21, north=47, dx=0.01, dy=0.01, shape=(101, 101))
    with rasterio.open(point, "r+") as dataset:
        dataset.update_tags(AREA_OR_POINT="Point")
    latitude, longitude = _points(46.01, 46.99, -20.99, -20.01)
    for path in (area, point):
        _assert_plane(TerrainStore.open(path), latitude, longitude)


@pytest.mark.parametrize("epsg", ["EPSG:32626", "EPSG:3857", "EPSG:3995"])
def test_plane_in_a_projected_system(rasters: RasterFactory, epsg: str) -> None:
    project = pyproj.Transformer.from_crs("EPSG:4326", epsg, always_xy=True)
    x0, y0 = project.transform(-25.0, 46.0)

    def tilted(y: np.ndarray, x: np.ndarray) -> np.ndarray:
        return 500.0 + 0.01 * (x - x0) - 0.02 * (y - y0)

    # Two national-style tiles that abut without a shared column.
    for name, shift in (("a", 0), ("b", 6000)):
        rasters.nodes(
            f"{name}.tif",
            tilted,
            west=x0 + 15 + shift,
            north=y0 + 3000,
            dx=30,
            dy=30,
            shape=(200, 200),
            crs=epsg,
        )
    store = TerrainStore.open(rasters.folder)
    x, y = _points(x0 + 20, x0 + 11900, y0 - 2900, y0 + 2900)
    longitude, latitude = project.transform(x, y, direction="INVERSE")
    np.testing.assert_allclose(store.elevation_m(latitude, longitude), tilted(y, x), rtol=0, atol=EXACT_M)


def test_plane_in_degrees_of_another_datum(rasters: RasterFactory) -> None:
    # ED50 lies some 130 m from WGS 84 in Spain; the plane is tilted in its own degrees.
    rasters.square(
        40, -4, lambda y, x: 100.0 + 1000.0 * (y - 40) + 500.0 * (x + 4), cells=100, crs="EPSG:4230"
    )
    store = TerrainStore.open(rasters.folder)
    assert store.tiles[0].crs_kind == "degrees"
    longitude, latitude = pyproj.Transformer.from_crs("EPSG:4230", "EPSG:4326", always_xy=True).transform(
        -3.5, 40.5
    )
    assert abs(latitude - 40.5) + abs(longitude + 3.5) > 1e-3
    assert store.elevation_m(latitude, longitude) == pytest.approx(850.0, abs=1e-4)


@pytest.mark.parametrize(
    "crs", ["EPSG:4326", "EPSG:4979", "EPSG:4258", "EPSG:4269", "EPSG:4326+5773", "OGC:CRS84"]
)
def test_degrees_as_good_as_wgs84(rasters: RasterFactory, crs: str) -> None:
    rasters.square(46, -21, plane, crs=crs)
    store = TerrainStore.open(rasters.folder)
    assert store.tiles[0].crs_kind == "wgs84"
    assert store.tiles[0].vertical_datum == {"EPSG:4979": "ellipsoid", "EPSG:4326+5773": "EGM96"}.get(crs)
    _assert_plane(store, *_points(46, 47, -21, -20))


def test_many_small_tiles(rasters: RasterFactory) -> None:
    # More files than are kept open, cells abutting, in a projected system; a slanting line over all of them.
    def tilted(y: np.ndarray, x: np.ndarray) -> np.ndarray:
        return 0.02 * (x - 500_000) + 0.01 * (y - 5_000_000)

    for i in range(7):
        for j in range(7):
            rasters.nodes(
                f"t{i}{j}.tif", tilted, west=500_005 + 500 * i, north=5_003_495 - 500 * j, dx=10, dy=10,
                shape=(50, 50), crs="EPSG:32626",
            )  # fmt: skip
    store = TerrainStore.open(rasters.folder, cache_bytes=2**20)
    project = pyproj.Transformer.from_crs("EPSG:32626", "EPSG:4326", always_xy=True)
    x, y = np.linspace(500_010, 503_490, 3000), np.linspace(5_000_010, 5_003_490, 3000)
    longitude, latitude = project.transform(x, y)
    np.testing.assert_allclose(store.elevation_m(latitude, longitude), tilted(y, x), rtol=0, atol=EXACT_M)
    touched = store.tiles_touched(latitude[::100], longitude[::100])
    assert {touch.frame.placements[0].cell_x for touch in touched} == {10.0}
    assert {store.tiles[touch.index].name for touch in touched} >= {f"t{i}{6 - i}" for i in range(7)}
    x, y = _points(500_010, 503_490, 5_000_010, 5_003_490, 20_000)
    longitude, latitude = project.transform(x, y)
    np.testing.assert_allclose(store.elevation_m(latitude, longitude), tilted(y, x), rtol=0, atol=EXACT_M)


def test_plane_in_a_turned_raster(rasters: RasterFactory) -> None:
    c, s = 0.01 * np.cos(np.radians(30)), 0.01 * np.sin(np.radians(30))

    def place(col: np.ndarray, row: np.ndarray) -> tuple:
        return -21 + c * col + s * row, 46 + s * col - c * row

    x, y = place(*np.meshgrid(np.arange(80) + 0.5, np.arange(60) + 0.5))
    path = rasters.write("turned.tif", plane(y, x), Affine(c, s, -21, s, -c, 46))
    store = TerrainStore.open(path)
    rng = np.random.default_rng(1)
    x, y = place(rng.uniform(0.5, 79.5, 2000), rng.uniform(0.5, 59.5, 2000))
    _assert_plane(store, y, x)
    x, y = place(np.array(-1.0), np.array(30.0))
    assert np.isnan(store.elevation_m(y, x))
    # A cell of 0.01 degree turned by 30 degrees is still 0.01 degree, of latitude and longitude mixed.
    assert 700 < store.tiles[0].cell_m < 1112


def test_longitudes_wrap_round(rasters: RasterFactory) -> None:
    def bump(y: np.ndarray, x: np.ndarray) -> np.ndarray:
        return 100.0 + 50.0 * (y + 17) + 80.0 * (np.remainder(x, 360.0) - 180.0)

    rasters.square(-17, 179, bump, shared_edge=False)
    rasters.square(-17, -180, bump, shared_edge=False)
    store = TerrainStore.open(rasters.folder)
    east = np.linspace(179.95, 180.05, 41)
    expected = bump(-16.5, east)
    for longitude in (east, east - 360.0, np.where(east > 180.0, east - 360.0, east), east + 360.0):
        np.testing.assert_allclose(store.elevation_m(-16.5, longitude), expected, atol=EXACT_M)


@pytest.mark.parametrize("west", [179.5, -180.5, 0.0])
def test_rasters_across_the_180th_meridian_and_round_the_globe(rasters: RasterFactory, west: float) -> None:
    width = 360 if west == 0.0 else 10
    rasters.nodes(
        "a.tif",
        lambda y, x: 50.0 + 10.0 * y + 0 * x,
        west=west + 0.05,
        north=0.95,
        dx=0.1,
        dy=0.1,
        shape=(10, width * 10),
    )
    store = TerrainStore.open(rasters.folder)
    longitude = np.array([179.7, 179.9999, 180.0, -180.0, -179.9999, -179.7])
    np.testing.assert_allclose(store.elevation_m(0.5, longitude), 55.0, atol=EXACT_M)


def test_edge_samples_hold_in_the_outer_half_cell_and_not_beyond(rasters: RasterFactory) -> None:
    rasters.nodes("a.tif", lambda y, x: 90.0 + 0 * x * y, west=5, north=45, dx=0.1, dy=0.1, shape=(5, 5))
    store = TerrainStore.open(rasters.folder)
    assert store.elevation_m(45.049, 5.2) == pytest.approx(90.0)
    assert store.elevation_m(44.551, 4.951) == pytest.approx(90.0)
    assert np.isnan(store.elevation_m(45.051, 5.2))


def test_a_void_on_one_side_of_a_seam_is_not_bridged_by_the_other(rasters: RasterFactory) -> None:
    rasters.square(45, -21, lambda y, x: 100.0 + 0 * x * y, shared_edge=False, dtype="int16")
    rasters.square(
        46,
        -21,
        lambda y, x: np.where(y < 46.1, -32768.0, 100.0) + 0 * x,
        shared_edge=False,
        dtype="int16",
        nodata=-32768,
    )
    store = TerrainStore.open(rasters.folder)
    # The last row of the northern tile is at 46 + 1/60, the first of the southern one at 46.
    height = store.elevation_m([45.999, 46.0, 46.005, 46.05, 46.5], -20.5)
    np.testing.assert_array_equal(height, [100.0, 100.0, np.nan, np.nan, 100.0])


@pytest.mark.parametrize(
    ("options", "factor"),
    [
        ({"units": ("ft",)}, 0.3048),
        ({"scales": (0.1,), "offsets": (5.0,)}, None),
        ({"crs": "EPSG:4326+6360"}, 1200 / 3937),
    ],
)
def test_units_scale_and_offset(rasters: RasterFactory, options: dict, factor: float | None) -> None:
    crs = options.pop("crs", "EPSG:4326")
    path = rasters.write(
        "a.tif", np.full((20, 20), 1000, np.int16), Affine(0.01, 0, 5, 0, -0.01, 45), crs=crs
    )
    with rasterio.open(path, "r+") as dataset:
        for key, value in options.items():
            setattr(dataset, key, value)
    # The international foot is 0.3048 m, the US survey foot 1200/3937 m (NIST Handbook 44, appendix C).
    expected = 1000 * factor if factor else 105.0
    assert TerrainStore.open(path).elevation_m(44.9, 5.1) == pytest.approx(expected, rel=1e-7)


@pytest.mark.parametrize(
    "options",
    [
        {"tiled": True, "blockxsize": 512, "blockysize": 512},
        {"tiled": True, "blockxsize": 128, "blockysize": 64},
        {"tiled": True, "blockxsize": 112, "blockysize": 304},
        {"blockysize": 1},
        {"blockysize": 700, "compress": "deflate"},
    ],
)
@pytest.mark.parametrize("cache_bytes", [1, 2**20, 2**28])
def test_any_blocks_and_any_cache(rasters: RasterFactory, options: dict, cache_bytes: int) -> None:
    path = rasters.nodes(
        "a.tif", plane, west=-21, north=47, dx=0.001, dy=0.001, shape=(700, 900), dtype="float64", **options
    )
    store = TerrainStore.open(path, cache_bytes=cache_bytes)
    latitude, longitude = _points(46.301, 47, -21, -20.101, 3000)
    for _ in range(2):
        _assert_plane(store, latitude, longitude)
    assert store.cached_bytes <= max(cache_bytes, 4 * 256 * 256 * 8)


def test_only_touched_blocks_are_decoded(rasters: RasterFactory) -> None:
    path = rasters.nodes(
        "a.tif", plane, west=-21, north=47, dx=0.0005, dy=0.0005, shape=(2048, 2048), dtype="float32",
        tiled=True, blockxsize=256, blockysize=256,
    )  # fmt: skip
    store = TerrainStore.open(path)
    assert store.decoded_blocks == 0
    store.elevation_m(np.linspace(46.95, 46.99, 50), -20.99)
    assert store.decoded_blocks == 1
    store.elevation_m(np.linspace(46.95, 46.01, 5000), -20.99)
    assert store.decoded_blocks == 8


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    order=st.permutations(range(4)),
    latitude=st.floats(45.02, 46.98),
    longitude=st.floats(-21.98, -20.02),
)
def test_the_order_of_files_does_not_matter(
    tmp_path_factory: pytest.TempPathFactory, order: list[int], latitude: float, longitude: float
) -> None:
    folder = tmp_path_factory.getbasetemp() / "order"
    rasters = RasterFactory(folder)
    squares = [(45, -22), (45, -21), (46, -22), (46, -21)]
    if not folder.exists():
        for south, west in squares:
            rasters.square(south, west, lambda y, x: np.sin(9 * y) * np.cos(7 * x) * 300, shared_edge=False)
    names = [f"N{south}W{-west:03d}.tif" for south, west in squares]
    straight = TerrainStore.open([folder / name for name in names])
    shuffled = TerrainStore.open([folder / names[i] for i in order])
    here = straight.elevation_m(latitude, longitude)
    assert shuffled.elevation_m(latitude, longitude) == pytest.approx(float(here), abs=1e-9)
    # Between samples nothing exceeds them, and nothing jumps: 1e-6 degree is 0.1 m of ground.
    assert abs(here) <= 300.0
    assert abs(straight.elevation_m(latitude + 1e-6, longitude + 1e-6) - here) < 0.02


def test_highest_within(rasters: RasterFactory) -> None:
    # One peak on a sample, 0.004 degree north of the place; how far that is says pyproj's geodesic.
    def peak(y: np.ndarray, x: np.ndarray) -> np.ndarray:
        return 200.0 + np.where((np.abs(y - 46.404) < 1e-6) & (np.abs(x + 20.5) < 1e-6), 84.0, 0.0)

    rasters.nodes("a.tif", peak, west=-21, north=47, dx=0.002, dy=0.002, shape=(501, 501))
    store = TerrainStore.open(rasters.folder)
    high = store.highest_within(46.4, -20.5, 600.0)
    assert high is not None
    assert (high.ground_m, high.rise_m) == pytest.approx((284.0, 84.0), abs=1e-6)
    _, _, expected_m = pyproj.Geod(ellps="WGS84").inv(-20.5, 46.4, -20.5, 46.404)
    assert high.distance_m == pytest.approx(expected_m, abs=0.01)
    assert (high.latitude_deg, high.longitude_deg) == pytest.approx((46.404, -20.5), abs=1e-9)
    near = store.highest_within(46.4, -20.5, 300.0)
    assert near is not None
    assert near.rise_m == pytest.approx(0.0, abs=1e-6)
    assert store.highest_within(10.0, 10.0, 300.0) is None
    with pytest.raises(OutOfRangeError, match=r"radius -1 m is out of range"):
        store.highest_within(46.4, -20.5, -1)


def test_closing_releases_the_files(rasters: RasterFactory) -> None:
    rasters.square(46, -21, plane)
    with TerrainStore.open(rasters.folder) as store:
        store.elevation_m(46.5, -20.5)
    assert store.cached_bytes == 0


def test_a_file_cut_short_after_its_header(rasters: RasterFactory) -> None:
    path = rasters.square(46, -21, plane, cells=600, tiled=True, blockxsize=256, blockysize=256)
    store = TerrainStore.open(path)
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 2])
    with pytest.raises(
        TerrainError, match=r"N46W021.tif' is truncated or damaged: its rows .* fetch it again"
    ):
        store.elevation_m(*_points(46, 47, -21, -20))


def test_real_seam_row_equals_both_tiles(real_dem_dir: Path) -> None:
    files = [real_dem_dir / "N42E001.hgt.zip", real_dem_dir / "N41E001.hgt.zip"]
    store = TerrainStore.open(files)
    longitude = 1 + np.arange(1201) / 1200
    height = store.elevation_m(42.0, longitude)
    for file, row in zip(files, (-1, 0), strict=True):
        with rasterio.open(f"/vsizip/{file}/{file.stem}") as dataset:
            np.testing.assert_allclose(height, dataset.read(1)[row], rtol=0, atol=EXACT_M)


def test_real_projected_tile_agrees_with_geographic_one(real_dem_dir: Path) -> None:
    # At the samples of the projected tile; half a cell off makes it 16.9 m (the tiles' own description).
    path = real_dem_dir / "N44E005_UTM.tif"
    with rasterio.open(path) as dataset:
        heights = dataset.read(1, masked=True).astype(float).filled(np.nan)
        col, row = np.meshgrid(np.arange(dataset.width) + 0.5, np.arange(dataset.height) + 0.5)
        x = dataset.transform.c + dataset.transform.a * col
        y = dataset.transform.f + dataset.transform.e * row
    to_degrees = pyproj.Transformer.from_crs("EPSG:32631", "EPSG:4326", always_xy=True)
    longitude, latitude = to_degrees.transform(x, y)
    geographic = TerrainStore.open(real_dem_dir / "N44E005.hgt").elevation_m(latitude, longitude)
    projected = TerrainStore.open(path).elevation_m(latitude, longitude)
    assert np.isfinite(geographic - heights).mean() > 0.8
    assert np.sqrt(np.nanmean((geographic - heights) ** 2)) <= 2.0
    # And our sampling of the projected tile gives back its own samples.
    same = np.isfinite(heights) & np.isfinite(projected)
    assert same.sum() > 0.99 * np.isfinite(heights).sum()
    np.testing.assert_allclose(projected[same], heights[same], atol=1e-3)


def test_real_holes_stay_holes(real_dem_dir: Path) -> None:
    path = real_dem_dir / "N44E005.hgt"
    with rasterio.open(path) as dataset:
        void = dataset.read(1) == -32768
    store = TerrainStore.open(path)
    row, col = np.nonzero(void)
    assert np.isnan(store.elevation_m(45 - row / 1200, 5 + col / 1200)).all()
    assert store.count_voids(store.tiles[0]) == 4822  # the tiles' own description
