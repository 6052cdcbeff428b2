from __future__ import annotations

import errno
import json
import os
import subprocess
import sys
import warnings
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from geographiclib.geodesic import Geodesic
from rasterio.warp import transform as warp

from pathprofile.area.coverage import OUTSIDE, PREDICTED, Coverage
from pathprofile.area.grid import Grid
from pathprofile.area.in_sight import HIDDEN, IN_SIGHT, UNKNOWN, InSight
from pathprofile.area.verdicts import Needs, VerdictTable
from pathprofile.atmosphere import Atmosphere
from pathprofile.errors import OutOfRangeError, OutputError
from pathprofile.export.geotiff import NODATA, write_coverage_geotiff, write_in_sight_geotiff
from pathprofile.places import Location

NEEDS = Needs(150.3, 157.7, 8.0)
SITE = Location(47.74833, -21.00083, label="Gull Tor & Söhne\n<b>")


def cover(half: int = 700, site: Location = SITE, cell_m: float = 90.0) -> Coverage:
    """Loss of hills and noise within a circle."""
    grid = Grid(site.latitude_deg, site.longitude_deg, cell_m, half)
    along = np.arange(-half, half + 1.0)
    away = np.hypot(along[:, np.newaxis], along)
    loss = 100.0 + 60.0 * away / half + 10.0 * np.sin(along[:, np.newaxis] / 9.0) * np.cos(along / 13.0)
    loss += np.random.default_rng(4).normal(0.0, 1.0, grid.shape)
    loss[away > half] = np.nan
    return Coverage(
        site=site,
        site_ground_m=500.0,
        frequency_mhz=144.3,
        time_percent=50.0,
        antenna_agl_m=6.0,
        receiver_agl_m=10.0,
        polarization="vertical",
        atmosphere=Atmosphere(),
        azimuth_deg=np.arange(720) / 2.0,
        distance_m=np.arange(half + 1) * cell_m,
        loss_db=np.empty((0, 0)),
        reach_m=np.full(720, half * cell_m),
        grid=grid,
        map_loss_db=loss.astype(np.float32),
        map_status=np.where(np.isnan(loss), OUTSIDE, PREDICTED).astype(np.uint8),
        radius_m=half * cell_m,
        resolution_m=550.0,
        bridged_share=0.0,
        notes=("one note", "another"),
    )


def sight(coverage: Coverage) -> InSight:
    seen = np.where(np.isnan(coverage.map_loss_db), UNKNOWN, HIDDEN).astype(np.uint8)
    seen[coverage.map_loss_db < 120.0] = IN_SIGHT
    return InSight(coverage.site, 506.0, 10.0, 8.5e6, coverage.grid, seen, 90.0, coverage.reach_m, ())


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Coverage, InSight]:
    path = tmp_path_factory.mktemp("cog") / "map.tif"
    coverage = cover()
    write_coverage_geotiff(
        path,
        coverage,
        verdicts=VerdictTable(NEEDS),
        seen=sight(coverage),
        tiles={"N47W022.tif": "ab12", "N47W021.tif": "cd34"},
        remarks={"mode": "ssb", "power_w": 10.0},
    )
    return path, coverage, sight(coverage)


def test_reopening_gives_the_values_back(made: tuple[Path, Coverage, InSight]) -> None:
    path, coverage, seen = made
    table = VerdictTable(NEEDS)
    with rasterio.open(path) as raster:
        assert raster.descriptions == ("loss_db", "margin_out_db", "margin_back_db", "verdict", "in_sight")
        assert raster.units[:3] == ("dB", "dB", "dB")
        assert set(raster.nodatavals) == {NODATA}
        loss, out, back, verdict, visible = raster.read(masked=True)
    hole = np.isnan(coverage.map_loss_db)
    assert hole.any()
    for band in (loss, out, back, verdict):
        np.testing.assert_array_equal(np.ma.getmaskarray(band), hole)
    np.testing.assert_array_equal(np.ma.getmaskarray(visible), seen.map_seen == UNKNOWN)
    exact = coverage.map_loss_db[~hole].astype(float)
    step = 1.0 / 128.0 + 2e-5  # half of the stated 1/64 dB, and single precision
    np.testing.assert_allclose(loss.compressed(), exact, atol=step)
    np.testing.assert_allclose(out.compressed(), 150.3 - exact, atol=step)
    np.testing.assert_allclose(back.compressed(), 157.7 - exact, atol=step)
    np.testing.assert_array_equal(verdict.compressed(), table.verdict(coverage.map_loss_db)[~hole])
    np.testing.assert_array_equal(visible.compressed(), seen.map_seen[seen.map_seen != UNKNOWN])


@pytest.mark.parametrize(
    "site", [SITE, Location(-33.0, 179.99), Location(78.2, 15.6), Location(0.0, 0.0)], ids=lambda s: s.text
)
def test_georeference_is_that_of_the_geodesic(tmp_path: Path, site: Location) -> None:
    coverage = cover(half=300, site=site, cell_m=500.0)
    write_coverage_geotiff(tmp_path / "map.tif", coverage)
    with rasterio.open(tmp_path / "map.tif") as raster:
        assert raster.crs.is_projected
        assert raster.crs.linear_units == "metre"
        assert raster.tags()["AREA_OR_POINT"] == "Area"
        (x,), (y,) = warp("EPSG:4326", raster.crs, [site.longitude_deg], [site.latitude_deg])
        assert raster.index(x, y) == (300, 300)
        assert abs(x) < 1e-3
        assert abs(y) < 1e-3
        for azimuth_deg, away_m in (
            (0.0, 140e3),
            (37.0, 100e3),
            (123.0, 60e3),
            (200.0, 149e3),
            (301.0, 25e3),
        ):
            # GeographicLib: where a geodesic of that azimuth and length ends
            end = Geodesic.WGS84.Direct(site.latitude_deg, site.longitude_deg, azimuth_deg, away_m)
            (x,), (y,) = warp("EPSG:4326", raster.crs, [end["lon2"]], [end["lat2"]])
            turn = np.radians(azimuth_deg)
            assert x == pytest.approx(away_m * np.sin(turn), abs=0.01)
            assert y == pytest.approx(away_m * np.cos(turn), abs=0.01)
            row, column = raster.index(x, y)
            assert row == 300 - round(away_m * np.cos(turn) / 500.0)
            assert column == 300 + round(away_m * np.sin(turn) / 500.0)
        np.testing.assert_allclose(
            raster.read(1, masked=True)[row, column], coverage.map_loss_db[row, column], atol=0.01
        )


def _directories(path: Path) -> list[tuple[int, dict[int, tuple[int, int, int]]]]:
    """Image file directories in the order of the chain: offset, and entries (type, count, value) by tag.

    TIFF 6.0 specification (Adobe, 1992), section 2; classic little-endian files only.
    """
    content = path.read_bytes()
    assert content[:4] == b"II*\x00"
    found = []
    at = int.from_bytes(content[4:8], "little")
    while at:
        entries = {}
        for i in range(int.from_bytes(content[at : at + 2], "little")):
            part = content[at + 2 + 12 * i : at + 14 + 12 * i]
            tag, kind = int.from_bytes(part[:2], "little"), int.from_bytes(part[2:4], "little")
            count, value = int.from_bytes(part[4:8], "little"), int.from_bytes(part[8:12], "little")
            entries[tag] = (kind, count, value)
        found.append((at, entries))
        after = at + 2 + 12 * len(entries)
        at = int.from_bytes(content[after : after + 4], "little")
    return found


def test_the_layout_is_that_of_a_cloud_optimized_geotiff(made: tuple[Path, Coverage, InSight]) -> None:
    # OGC 21-026 (Cloud Optimized GeoTIFF): tiled, reduced-resolution images, directories before all data;
    # data of the overviews before that of the full image is GDAL's recommendation
    path, _, _ = made
    width, height, tile_width, offsets, compression = 256, 257, 322, 324, 259
    directories = _directories(path)
    sizes = [entries[width][2] for _, entries in directories]
    assert sizes == [1401, 701, 351]
    assert [entries[height][2] for _, entries in directories] == sizes
    content = path.read_bytes()
    firsts = []
    for _, entries in directories:
        assert entries[tile_width][2] == 512
        assert entries[compression][2] == 8  # Adobe deflate
        _, count, value = entries[offsets]
        table = np.frombuffer(content[value : value + 4 * count], "<u4") if count > 1 else np.array([value])
        firsts.append(int(table[table > 0].min()))
    places = [place for place, _ in directories]
    assert places == sorted(places)
    assert max(places) < min(firsts), "all directories come before the data"
    assert firsts == sorted(firsts, reverse=True), "overviews come before the full image"
    with rasterio.open(path) as raster:
        assert raster.tags(ns="IMAGE_STRUCTURE")["LAYOUT"] == "COG"
        assert raster.overviews(1) == [2, 4]
        assert raster.block_shapes[0] == (512, 512)


def test_overviews_hold_cells_not_means(made: tuple[Path, Coverage, InSight]) -> None:
    path, _, _ = made
    with rasterio.open(path, overview_level=0) as raster:
        assert set(np.unique(raster.read(4, masked=True).compressed())) <= {1.0, 2.0, 3.0, 4.0}


def test_a_small_map_needs_no_overviews(tmp_path: Path) -> None:
    write_coverage_geotiff(tmp_path / "map.tiff", cover(half=60))
    with rasterio.open(tmp_path / "map.tiff") as raster:
        assert raster.overviews(1) == []
        assert raster.count == 1
        assert raster.shape == (121, 121)


def test_tags_say_what_made_it(made: tuple[Path, Coverage, InSight]) -> None:
    path, coverage, _ = made
    with rasterio.open(path) as raster:
        tags = raster.tags()
        meanings = [raster.tags(i)["MEANING"] for i in raster.indexes]
    assert tags["TIFFTAG_SOFTWARE"].startswith("pathprofile ")
    assert tags["TIFFTAG_IMAGEDESCRIPTION"].startswith("Coverage from Gull Tor")
    assert tags["SITE"] == "Gull Tor & Söhne <b>"
    assert float(tags["SITE_LATITUDE_DEG"]) == coverage.site.latitude_deg
    assert float(tags["FREQUENCY_MHZ"]) == 144.3
    assert float(tags["RADIUS_ASKED_M"]) == coverage.radius_m
    assert float(tags["GREATEST_LOSS_OUT_DB"]) == 150.3
    assert json.loads(tags["ELEVATION_FILES"]) == {"N47W022.tif": "ab12", "N47W021.tif": "cd34"}
    assert tags["MODE"] == "ssb"
    assert tags["POWER_W"] == "10.0"
    assert "not a safety line" in tags["CAUTION"]
    assert tags["NOTES"] == "one note; another"
    assert tags["METHOD"] == "ITU-R P.1812-8"
    assert "1 unlikely, 2 marginal, 3 workable, 4 solid" in meanings[3]
    assert "them → you" in meanings[2]
    assert "1 in sight, 0 hidden" in meanings[4]


def test_one_way_links_have_one_margin(tmp_path: Path) -> None:
    table = VerdictTable(Needs(None, 150.0, 8.0))
    write_coverage_geotiff(tmp_path / "map.tif", cover(half=60), verdicts=table)
    with rasterio.open(tmp_path / "map.tif") as raster:
        assert raster.descriptions == ("loss_db", "margin_back_db", "verdict")


def test_what_is_in_sight_alone(tmp_path: Path) -> None:
    seen = sight(cover(half=100))
    write_in_sight_geotiff(tmp_path / "seen.tif", seen, tiles={"a": "1"})
    with rasterio.open(tmp_path / "seen.tif") as raster:
        band = raster.read(1)
        assert raster.tags()["TIFFTAG_IMAGEDESCRIPTION"].startswith("In sight from Gull Tor")
        assert float(raster.tags()["SEEN_TARGET_AGL_M"]) == 10.0
        assert raster.transform[:6] == seen.grid.transform
    np.testing.assert_array_equal(band, np.where(seen.map_seen == UNKNOWN, NODATA, seen.map_seen))


def test_equal_maps_give_equal_files(tmp_path: Path) -> None:
    for name in "ab":
        write_coverage_geotiff(tmp_path / f"{name}.tif", cover(half=60), threads=1 if name == "a" else 2)
    assert (tmp_path / "a.tif").read_bytes() == (tmp_path / "b.tif").read_bytes()


def test_no_warning_and_no_file_beside(tmp_path: Path) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        write_coverage_geotiff(tmp_path / "map.tif", cover(half=60), verdicts=VerdictTable(NEEDS))
    assert [file.name for file in tmp_path.iterdir()] == ["map.tif"]


def test_refusals(tmp_path: Path) -> None:
    coverage = cover(half=60)
    with pytest.raises(OutputError, match=r"cannot write GeoTIFF into .*ends in .tif or .tiff"):
        write_coverage_geotiff(tmp_path / "map.png", coverage)
    with pytest.raises(OutputError, match="there is no folder"):
        write_coverage_geotiff(tmp_path / "none" / "map.tif", coverage)
    (tmp_path / "old.tif").write_bytes(b"kept")
    with pytest.raises(OutputError, match="exists already"):
        write_coverage_geotiff(tmp_path / "old.tif", coverage, overwrite=False)
    other = replace(sight(coverage), grid=Grid(47.0, 8.0, 90.0, 60))
    with pytest.raises(OutOfRangeError, match="ask both for the same site"):
        write_coverage_geotiff(tmp_path / "map.tif", coverage, seen=other)
    assert (tmp_path / "old.tif").read_bytes() == b"kept"


def test_a_full_disk_leaves_what_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "map.tif"
    target.write_bytes(b"kept")

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OutputError, match="the disk is full"):
        write_coverage_geotiff(target, cover(half=60))
    assert target.read_bytes() == b"kept"
    assert [file.name for file in tmp_path.iterdir()] == ["map.tif"]


_LIMITED = """
import resource, signal, sys
sys.path.insert(0, {tests!r})
from test_geotiff import cover, write_coverage_geotiff
from pathprofile.errors import OutputError
made = cover(half=700)
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, ({limit}, {limit}))
try:
    write_coverage_geotiff({target!r}, made)
except OutputError as error:
    print(error)
else:
    print("written")
"""


@pytest.mark.skipif(sys.platform == "win32", reason="limits of file size are POSIX")
@pytest.mark.parametrize("limit", [200_000, 9_000_000])
def test_a_full_temporary_disk_is_said_and_leaves_nothing(tmp_path: Path, limit: int) -> None:
    # 7.9 MB are staged for a band and 2.6 MB for its overviews
    target, room = tmp_path / "out" / "map.tif", tmp_path / "room"
    target.parent.mkdir()
    room.mkdir()
    script = _LIMITED.format(tests=str(Path(__file__).parent), limit=limit, target=str(target))
    environment: dict[str, Any] = {**os.environ, "TMPDIR": str(room)}
    ran = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=False, env=environment
    )
    assert ran.returncode == 0, ran.stderr
    assert "make room or set TMPDIR" in ran.stdout
    assert ran.stdout.count("\n") == 1
    assert list(target.parent.iterdir()) == []
    assert list(room.iterdir()) == []
