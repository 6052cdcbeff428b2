"""The ground along a path: points, holes, gaps, sources, what the user is told."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pyproj
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from rasterio.transform import Affine

from pathprofile.errors import LocationError, OutOfRangeError, TerrainError, TerrainGapError
from pathprofile.terrain.profile import extract_profile
from pathprofile.terrain.store import TerrainStore

from .conftest import RasterFactory, plane

if TYPE_CHECKING:
    from pathlib import Path

# Geodesic lengths come from pyproj's own solution of the inverse problem, not from the package.
WGS84 = pyproj.Geod(ellps="WGS84")


def _length_m(path: tuple[float, float, float, float]) -> float:
    lat1, lon1, lat2, lon2 = path
    return float(WGS84.inv(lon1, lat1, lon2, lat2)[2])


def _holed(rasters: RasterFactory, where: tuple[slice, slice], **options: object) -> TerrainStore:
    """Twenty kilometres of a tilted plane in 0.001-degree samples (111 m by 77 m), with a hole."""
    y = 46.2 - 0.001 * np.arange(201)[:, np.newaxis]
    x = -21.0 + 0.001 * np.arange(301)[np.newaxis, :]
    heights = plane(y, x)
    heights[where] = np.nan
    rasters.write(
        "N46W021.tif", heights, Affine(0.001, 0, -21.0005, 0, -0.001, 46.2005), nodata=np.nan, **options
    )
    return TerrainStore.open(rasters.folder)


def test_points_are_equal_steps_of_the_geodesic(rasters: RasterFactory) -> None:
    for south, west in ((46, -21), (46, -22)):
        rasters.square(south, west, plane, cells=1200, dtype="float32")
    path = (46.2, -21.6, 46.8, -20.3)
    profile = extract_profile(TerrainStore.open(rasters.folder), *path)
    length = _length_m(path)
    assert profile.distance_m[[0, -1]] == pytest.approx([0.0, length], abs=1e-6)
    np.testing.assert_allclose(np.diff(profile.distance_m), profile.step_m, rtol=1e-9)
    # The shorter side of a 3 arc-second cell is that along the parallel, and shortest at the northern end.
    degree = _length_m((46.8, -21.0, 46.8, -20.999)) * 1000
    assert profile.cell_m == pytest.approx(degree / 1200, rel=2e-4)
    assert 2 * profile.step_m <= profile.cell_m < 2 * profile.step_m * 1.01  # half a coarse cell
    assert profile.count == profile.distance_m.size
    assert (profile.latitude_deg[0], profile.longitude_deg[0]) == path[:2]
    assert (profile.latitude_deg[-1], profile.longitude_deg[-1]) == path[2:]
    np.testing.assert_allclose(
        profile.ground_m, plane(profile.latitude_deg, profile.longitude_deg), atol=1e-3
    )  # single precision
    assert profile.sources == ("N46W022", "N46W021")
    assert [profile.tiles[i].name for i in profile.source_index[[0, -1]]] == ["N46W022", "N46W021"]
    assert profile.void_points == profile.sea_points == 0
    assert not profile.ground_m.flags.writeable


def test_short_paths_have_at_least_33_points(rasters: RasterFactory) -> None:
    rasters.square(46, -21, plane)
    profile = extract_profile(TerrainStore.open(rasters.folder), 46.5, -20.5, 46.5002, -20.5)
    assert profile.count == 33
    assert profile.step_m == pytest.approx(_length_m((46.5, -20.5, 46.5002, -20.5)) / 32)


def test_steps_follow_the_finest_tile_touched_and_no_other(rasters: RasterFactory) -> None:
    rasters.square(46, -21, plane, cells=300)
    detail = {"dx": 0.0005, "dy": 0.0005, "shape": (101, 101)}
    rasters.nodes("on.tif", plane, west=-20.6, north=46.52, **detail)
    rasters.nodes("off.tif", plane, west=-20.6, north=46.9, dx=0.0001, dy=0.0001, shape=(101, 101))
    store = TerrainStore.open(rasters.folder)
    profile = extract_profile(store, 46.5, -20.9, 46.5, -20.1)
    assert profile.cell_m == pytest.approx(_length_m((46.502, -20.6, 46.502, -20.5995)), rel=1e-3)
    assert profile.step_m <= profile.cell_m
    elsewhere = extract_profile(store, 46.2, -20.9, 46.2, -20.1)
    assert elsewhere.cell_m == pytest.approx(_length_m((46.2, -20.6, 46.2, -20.6 + 1 / 300)), rel=1e-3)


def test_a_stated_step(rasters: RasterFactory) -> None:
    rasters.square(46, -21, plane, cells=300)
    store = TerrainStore.open(rasters.folder)
    fine = extract_profile(store, 46.5, -20.9, 46.5, -20.1, step_m=100)
    assert 99 < fine.step_m <= 100
    assert not any("ridges" in line for line in fine.warnings)
    coarse = extract_profile(store, 46.5, -20.9, 46.5, -20.1, step_m=500)
    assert any("longer than the 256 m cells" in line for line in coarse.warnings)
    many = extract_profile(store, 46.5, -20.9, 46.5, -20.1, step_m=0.1)
    assert many.count == 200_000
    assert any("to keep to 200000 points" in line for line in many.warnings)
    with pytest.raises(OutOfRangeError, match=r"step -5 m is impossible: give a length above 0"):
        extract_profile(store, 46.5, -20.9, 46.5, -20.1, step_m=-5)


def test_a_small_hole_is_bridged_along_the_path(rasters: RasterFactory) -> None:
    store = _holed(rasters, (slice(99, 102), slice(150, 151)))
    profile = extract_profile(store, 46.1, -20.98, 46.1, -20.72)
    (bridge,) = profile.bridges
    assert bridge.how == "along the path"
    assert bridge.tile == "N46W021"
    # One void column makes two cells void: the stretch is between 2 and 4 steps of 77 m.
    assert 2 * 76 < bridge.length_m < 300
    assert profile.bridged_m == bridge.length_m
    assert 1 <= profile.void_points == profile.void_mask.sum() <= 6
    assert profile.sea_points == 0
    np.testing.assert_allclose(
        profile.ground_m, plane(profile.latitude_deg, profile.longitude_deg), atol=0.01
    )
    (warning,) = [line for line in profile.warnings if "hole" in line]
    assert "1 hole in the elevation data bridged" in warning


def test_a_larger_hole_is_bridged_from_its_surroundings(rasters: RasterFactory) -> None:
    store = _holed(rasters, (slice(90, 110), slice(140, 160)))
    profile = extract_profile(store, 46.1, -20.98, 46.1, -20.72)
    (bridge,) = profile.bridges
    assert bridge.how == "from its surroundings"
    assert 20 * 77 < bridge.length_m < 23 * 77
    # A plane is its own membrane: a hole in it is filled as if it were not there.
    np.testing.assert_allclose(
        profile.ground_m, plane(profile.latitude_deg, profile.longitude_deg), atol=0.05
    )
    assert profile.ground_m.min() > 700.0


def test_the_surroundings_count_and_not_only_the_path(rasters: RasterFactory) -> None:
    # A ridge crosses the path inside the hole; beside the hole it is known. Along the path nothing shows it.
    y = 46.2 - 0.001 * np.arange(201)[:, np.newaxis]
    x = -21.0 + 0.001 * np.arange(301)[np.newaxis, :]
    heights = 100.0 + 400.0 * np.exp(-(((x + 20.85) / 0.004) ** 2)) + 0 * y
    heights[96:105, 138:163] = np.nan
    rasters.write("N46W021.tif", heights, Affine(0.001, 0, -21.0005, 0, -0.001, 46.2005), nodata=np.nan)
    profile = extract_profile(TerrainStore.open(rasters.folder), 46.1, -20.98, 46.1, -20.72)
    top = profile.ground_m[profile.void_mask].max()
    # The sheet sags between the flanks, but stands far above the straight bridge at 100 m.
    assert 200.0 < top < 500.0


def test_strict_holes_and_sea_where_hole(rasters: RasterFactory) -> None:
    store = _holed(rasters, (slice(90, 110), slice(140, 160)))
    path = (46.1, -20.98, 46.1, -20.72)
    with pytest.raises(
        TerrainGapError, match=r"tile N46W021 has a hole on the path from 9\.2 to 10\.8 km, holes are refused"
    ):
        extract_profile(store, *path, strict_holes=True)
    profile = extract_profile(store, *path, strict_holes=True, sea_where_hole=True)
    assert (profile.ground_m[profile.void_mask] == 0.0).all()
    assert profile.sea_points == profile.void_points > 0
    assert profile.bridges == ()
    assert any("taken as sea at 0 m" in line and "8" in line for line in profile.warnings)
    # Without strict holes it can be bridged, and is.
    assert extract_profile(store, *path, sea_where_hole=True).sea_points == 0


def test_a_hole_too_wide_is_refused(rasters: RasterFactory) -> None:
    store = _holed(rasters, (slice(60, 140), slice(100, 160)))
    path = (46.1, -20.98, 46.1, -20.72)
    with pytest.raises(TerrainGapError, match=r"hole on the path from 6\.1 to 10\.8 km, too wide to bridge"):
        extract_profile(store, *path)
    profile = extract_profile(store, *path, sea_where_hole=True)
    assert profile.sea_points == profile.void_points > 50
    assert any("stands at up to" in line for line in profile.warnings)


def test_a_hole_at_an_end(rasters: RasterFactory) -> None:
    store = _holed(rasters, (slice(95, 106), slice(15, 26)))
    path = (46.1, -20.98, 46.1, -20.72)
    profile = extract_profile(store, *path)
    assert profile.void_mask[0]
    assert profile.bridges[0].start_m == 0.0
    assert profile.bridges[0].how == "from its surroundings"
    assert profile.ground_m[0] == pytest.approx(plane(46.1, -20.98), abs=0.1)
    stated = extract_profile(store, *path, from_ground_m=700.0)
    assert stated.ground_m[0] == 700.0
    assert not stated.void_mask[0]


def test_stated_ground_overrides_and_a_difference_is_reported(rasters: RasterFactory) -> None:
    rasters.square(46, -21, lambda y, x: 100.0 + 0 * x * y)
    store = TerrainStore.open(rasters.folder)
    path = (46.5, -20.9, 46.5, -20.1)
    near = extract_profile(store, *path, from_ground_m=115.0)
    assert (near.ground_m[0], near.ground_m[1]) == (115.0, pytest.approx(100.0))
    assert near.from_ground_stated
    assert not near.to_ground_stated
    assert not any("stated" in line for line in near.warnings)
    far = extract_profile(store, *path, to_ground_m=116.0)
    assert far.ground_m[-1] == 116.0
    (line,) = [line for line in far.warnings if "stated" in line]
    assert line.startswith(
        "ground at TO is taken as stated, 116 m; the elevation data have 100 m there, 16 m less"
    )
    with pytest.raises(OutOfRangeError, match=r"ground nan m at FROM is not on Earth: give -500 to 9000"):
        extract_profile(store, *path, from_ground_m=float("nan"))


def test_missing_tiles_are_named(rasters: RasterFactory) -> None:
    for west in (-23, -21):
        rasters.square(46, west, plane)
    store = TerrainStore.open(rasters.folder)
    with pytest.raises(
        TerrainGapError, match=r"^missing elevation tile N46W022 at 3\d\.\d to 11\d\.\d km of the path"
    ):
        extract_profile(store, 46.5, -22.5, 46.5, -20.5)
    with pytest.raises(
        TerrainGapError, match=r"^FROM \(46\.50000 -21\.50000\) lies outside .* put tile N46W022 with"
    ):
        extract_profile(store, 46.5, -21.5, 46.5, -20.5)
    with pytest.raises(
        TerrainGapError, match=r"^TO \(46\.50000 -21\.50000\) lies outside .* put tile N46W022 with"
    ):
        extract_profile(store, 46.5, -22.5, 46.5, -21.5)
    with pytest.raises(
        TerrainGapError, match=r"^FROM .* put tile S03E010 \(the path also lacks others: S03E010, S03E011"
    ):
        extract_profile(store, -2.5, 10.5, -2.5, 11.5)
    profile = extract_profile(store, 46.5, -22.5, 46.5, -20.5, sea_where_missing=True)
    assert (profile.ground_m[profile.sea_mask] == 0.0).all()
    assert profile.sea_points == profile.sea_mask.sum() > 30
    assert profile.void_points == 0
    assert (profile.source_index[profile.sea_mask] == -1).all()
    assert any("taken as sea at 0 m as asked (N46W022)" in line for line in profile.warnings)


def test_a_damaged_tile_that_is_needed_is_named(rasters: RasterFactory) -> None:
    rasters.square(46, -21, plane)
    (rasters.folder / "N46W022.hgt").write_bytes(b"\x00\x01" * 1000)
    store = TerrainStore.open(rasters.folder)
    assert len(store.warnings) == 1
    assert extract_profile(store, 46.5, -20.9, 46.5, -20.5).count >= 33
    with pytest.raises(
        TerrainGapError, match=r"needs N46W022 .*N46W022.hgt' is truncated or damaged: 2000 bytes"
    ):
        extract_profile(store, 46.5, -21.5, 46.5, -20.5)


def test_mixed_vertical_datums(rasters: RasterFactory) -> None:
    rasters.square(46, -22, plane, crs="EPSG:4326+5773")
    rasters.square(46, -21, plane, crs="EPSG:4326+3855")
    store = TerrainStore.open(rasters.folder)
    path = (46.5, -21.5, 46.5, -20.5)
    with pytest.raises(
        TerrainError,
        match=r"different vertical datums meet on the path: EGM96 \(N46W022\) and EGM2008 \(N46W021\)",
    ):
        extract_profile(store, *path)
    profile = extract_profile(store, *path, accept_mixed_datums=True)
    assert profile.vertical_datums == ("EGM96", "EGM2008")
    assert any("mixed, as accepted" in line for line in profile.warnings)
    one = extract_profile(store, 46.5, -21.5, 46.5, -21.2)
    assert one.vertical_datums == ("EGM96",)
    assert one.warnings == ()


def test_an_unknown_datum_warns_once(rasters: RasterFactory) -> None:
    for west in (-22, -21):
        rasters.square(46, west, plane)
    profile = extract_profile(TerrainStore.open(rasters.folder), 46.5, -21.5, 46.5, -20.5)
    assert profile.vertical_datums == ()
    assert profile.warnings == (
        "vertical datum of N46W022 and 1 more tile unknown; heights taken as above sea level",
    )


def test_a_path_across_the_180th_meridian(rasters: RasterFactory) -> None:
    for west in (179, -180):
        rasters.square(-17, west, lambda y, x: 60.0 + 5.0 * (y + 17) + 0 * x, shared_edge=False)
    profile = extract_profile(TerrainStore.open(rasters.folder), -16.5, 179.7, -16.4, -179.6)
    np.testing.assert_allclose(profile.ground_m, 60.0 + 5.0 * (profile.latitude_deg + 17), atol=1e-6)
    assert profile.sources == ("S17E179", "S17W180")
    assert profile.distance_m[-1] == pytest.approx(_length_m((-16.5, 179.7, -16.4, -179.6)))


def test_impossible_ends(rasters: RasterFactory) -> None:
    rasters.square(46, -21, plane)
    store = TerrainStore.open(rasters.folder)
    with pytest.raises(LocationError, match=r"same place"):
        extract_profile(store, 46.5, -20.5, 46.5, -20.5)
    with pytest.raises(LocationError, match=r"antipodal"):
        extract_profile(store, 46.5, -20.5, -46.5, 159.5)
    with pytest.raises(LocationError, match=r"latitude nan is impossible"):
        extract_profile(store, float("nan"), -20.5, -46.5, 159.5)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(ends=st.tuples(*[st.floats(46.02, 46.98), st.floats(-21.98, -20.02)] * 2))
def test_the_way_back_is_the_way_out_reversed(
    tmp_path_factory: pytest.TempPathFactory, ends: tuple[float, float, float, float]
) -> None:
    folder = tmp_path_factory.getbasetemp() / "back"
    if not folder.exists():
        for west in (-22, -21):
            RasterFactory(folder).square(
                46, west, lambda y, x: 300 * np.sin(9 * y) * np.cos(7 * x), shared_edge=False
            )
    store = TerrainStore.open(folder)
    if _length_m(ends) < 1.0:
        return
    out = extract_profile(store, *ends)
    back = extract_profile(store, *ends[2:], *ends[:2])
    assert out.count == back.count
    np.testing.assert_allclose(back.ground_m[::-1], out.ground_m, atol=1e-5)
    assert out.step_m <= out.cell_m * (1 + 1e-9)


def test_real_path_over_a_hole_and_a_seam(real_dem_dir: Path) -> None:
    store = TerrainStore.open(real_dem_dir)
    path = (42.667, 1.398, 41.250, 1.900)
    profile = extract_profile(store, *path)
    assert profile.distance_m[-1] == pytest.approx(_length_m(path))
    assert profile.sources == ("N42E001", "N41E001")
    assert profile.step_m <= 70
    # From the main ridge, near 3000 m, down to the coast; nothing at or below the sea by accident.
    assert profile.ground_m[0] > 2800
    assert 0 < profile.ground_m[-1] < 30
    assert np.isfinite(profile.ground_m).all()
    assert profile.ground_m[profile.void_mask].min() > 500
    for bridge in profile.bridges:
        assert bridge.length_m <= 3000
