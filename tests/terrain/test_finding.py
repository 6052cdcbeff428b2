"""Finding rasters: formats, archives, names, the index, and every kind of bad input."""

from __future__ import annotations

import gzip
import hashlib
import os
import shutil
import stat
import subprocess
import sys
import zipfile
from typing import TYPE_CHECKING

import numpy as np
import pytest
import rasterio
from rasterio.transform import Affine

from pathprofile import __version__
from pathprofile.errors import TerrainError
from pathprofile.terrain import finding
from pathprofile.terrain.names import datum_from_name, kind_from_name, square_name
from pathprofile.terrain.store import TerrainStore

from .conftest import RasterFactory, plane

if TYPE_CHECKING:
    from pathlib import Path

RAMP = np.add.outer(1200 - np.arange(1201), 2 * np.arange(1201))


def test_zipped_and_gzipped_hgt(rasters: RasterFactory, tmp_path: Path) -> None:
    plain = rasters.hgt("N46W021.hgt", RAMP)
    zipped, gzipped = tmp_path / "N46W021.hgt.zip", tmp_path / "N46W021.hgt.gz"
    with zipfile.ZipFile(zipped, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.write(plain, "N46W021.hgt")
        archive.writestr("readme.txt", "no heights")
    gzipped.write_bytes(gzip.compress(plain.read_bytes()))
    for path in (plain, zipped, gzipped):
        with TerrainStore.open(path) as store:
            (tile,) = store.tiles
            assert (tile.name, tile.model_kind, tile.vertical_datum) == ("N46W021", "surface", "EGM96")
            assert tile.path == str(path)
            assert store.elevation_m(46.5, -20.25) == pytest.approx(600 + 1800, abs=1e-6)


@pytest.mark.parametrize(
    ("suffix", "driver", "dtype"),
    [
        ("asc", "AAIGrid", "int16"),
        ("bil", "EHdr", "int16"),
        ("img", "HFA", "float32"),
        ("flt", "EHdr", "float32"),
    ],
)
def test_other_formats(rasters: RasterFactory, suffix: str, driver: str, dtype: str) -> None:
    source = rasters.nodes(
        "a.tif", lambda y, x: np.rint(plane(y, x)), west=-20.995, north=46.995, dx=0.01, dy=0.01,
        shape=(100, 100), dtype=dtype,
    )  # fmt: skip
    target = rasters.folder / "other" / f"a.{suffix}"
    target.parent.mkdir()
    with rasterio.open(source) as dataset:
        heights, profile = dataset.read(1), dataset.profile
    for key in ("tiled", "blockxsize", "blockysize", "compress", "interleave"):
        profile.pop(key, None)
    memory = rasterio.io.MemoryFile()
    with memory.open(**profile | {"driver": "GTiff"}) as dataset:
        dataset.write(heights, 1)
    from rasterio.shutil import copy

    with memory.open() as dataset:
        copy(dataset, target, driver=driver)
    store = TerrainStore.open(target.parent)
    assert store.elevation_m(46.495, -20.505) == pytest.approx(np.rint(plane(46.495, -20.505)), abs=1e-3)


def test_folders_are_searched_to_the_bottom_and_companions_left_out(rasters: RasterFactory) -> None:
    rasters.square(46, -21, plane, name="deep/er/Copernicus_DSM_COG_10_N46_00_W021_00_DEM.tif")
    rasters.square(
        46, -21, lambda y, x: 5.0 + 0 * x * y, name="deep/er/Copernicus_DSM_COG_10_N46_00_W021_00_HEM.tif"
    )
    rasters.square(46, -21, lambda y, x: 5.0 + 0 * x * y, name="deep/.hidden.tif")
    (rasters.folder / "README.txt").write_text("nothing")
    store = TerrainStore.open(rasters.folder)
    (tile,) = store.tiles
    assert (tile.name, tile.model_kind, tile.vertical_datum) == ("N46W021", "surface", "EGM2008")
    assert store.warnings == ()


def test_header_facts(rasters: RasterFactory) -> None:
    rasters.square(46, -21, plane, cells=1200, dtype="float32", nodata=-9999)
    (tile,) = TerrainStore.open(rasters.folder).tiles
    assert (tile.height, tile.width, tile.dtype, tile.nodata) == (1201, 1201, "float32", -9999.0)
    half = 0.5 / 1200
    assert (tile.south_deg, tile.west_deg) == pytest.approx((46 - half, -21 - half))
    assert (tile.north_deg, tile.east_deg) == pytest.approx((47 + half, -20 + half))
    assert tile.cell_deg == pytest.approx((1 / 1200, 1 / 1200))
    # A degree at 46.5 degrees north: 111.16 km of latitude and 76.77 km of longitude (pyproj geodesic).
    assert tile.cell_sides_m == pytest.approx((76_771 / 1200, 111_160 / 1200), rel=1e-3)
    assert tile.cell_m == min(tile.cell_sides_m)


@pytest.mark.parametrize(
    ("place", "name"),
    [
        ((46.5, -20.5), "N46W021"),
        ((46.0, -21.0), "N46W021"),
        ((-0.5, 0.5), "S01E000"),
        ((0.0, 0.0), "N00E000"),
        ((-33.2, 151.7), "S34E151"),
        ((-16.5, -179.5), "S17W180"),
        ((-16.5, 180.0), "S17W180"),
        ((90.0, 10.0), "N89E010"),
    ],
)
def test_square_names(place: tuple[float, float], name: str) -> None:
    assert square_name(*place) == name


@pytest.mark.parametrize(
    ("file_name", "kind", "datum"),
    [
        ("Copernicus_DSM_COG_10_N46_00_W021_00_DEM.tif", "surface", "EGM2008"),
        ("N46W021.hgt", "surface", "EGM96"),
        ("N46W021.SRTMGL1.hgt", "surface", "EGM96"),
        ("ALPSMLC30_N046W021_DSM.tif", "surface", "EGM96"),
        ("USGS_13_n47w021_20200101.tif", "bare", "NAVD88"),
        ("nx1020_DTM_1m.tif", "bare", None),
        ("dgm1_32_500_5400_1_xx.tif", "bare", None),
        ("N46W021_dtm.hgt", "bare", None),
        ("hill.tif", "unknown", None),
    ],
)
def test_what_names_tell(file_name: str, kind: str, datum: str | None) -> None:
    # Naming patterns of public programmes, from memory.
    assert kind_from_name(file_name) == kind
    assert datum_from_name(file_name) == datum


def test_vertical_datum_of_the_file_beats_its_name(rasters: RasterFactory) -> None:
    rasters.square(46, -21, plane, name="srtm_N46W021.tif", crs="EPSG:4326+3855")
    assert TerrainStore.open(rasters.folder).tiles[0].vertical_datum == "EGM2008"


def test_a_tag_states_the_kind_where_the_name_does_not(rasters: RasterFactory) -> None:
    rasters.square(46, -21, plane, name="hill.tif")
    with rasterio.open(rasters.folder / "hill.tif", "r+") as dataset:
        dataset.update_tags(MODEL_KIND="bare")
    assert TerrainStore.open(rasters.folder).tiles[0].model_kind == "bare"


class TestIndex:
    def test_unchanged_files_are_not_opened_again(
        self, rasters: RasterFactory, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        rasters.square(46, -21, plane)
        rasters.hgt("N46W022.hgt", RAMP)
        with TerrainStore.open(rasters.folder, index_dir=tmp_path / "index") as store:
            first = store.tiles

        def fail(*_: object) -> None:
            raise AssertionError("a header was read again")

        monkeypatch.setattr(finding, "read_tile", fail)
        with TerrainStore.open(rasters.folder, index_dir=tmp_path / "index") as store:
            assert store.tiles == first
            assert store.elevation_m(46.5, -20.5) == pytest.approx(plane(46.5, -20.5))

    def test_changed_and_added_files_are(self, rasters: RasterFactory, tmp_path: Path) -> None:
        path = rasters.square(46, -21, plane)
        index = tmp_path / "index"
        TerrainStore.open(rasters.folder, index_dir=index).close()
        rasters.square(46, -21, lambda y, x: 5.0 + 0 * x * y, cells=120)
        rasters.square(46, -22, plane)
        os.utime(path, ns=(1, 1))
        store = TerrainStore.open(rasters.folder, index_dir=index)
        assert len(store.tiles) == 2
        assert store.elevation_m(46.5, -20.5) == pytest.approx(5.0)
        path.unlink()
        assert [tile.name for tile in TerrainStore.open(rasters.folder, index_dir=index).tiles] == ["N46W022"]

    @pytest.mark.parametrize(
        "content",
        [
            "",
            "{",
            "[]",
            '{"made_by": 1}',
            '{"made_by": "VERSION", "files": {"FILE": 3}}',
            '{"made_by": "0.0.0", "files": {}}',
        ],
    )
    def test_a_damaged_index_is_rebuilt(self, rasters: RasterFactory, tmp_path: Path, content: str) -> None:
        path = rasters.square(46, -21, plane)
        TerrainStore.open(path, index_dir=tmp_path / "index").close()
        (tmp_path / "index" / "terrain-index.json").write_text(
            content.replace("FILE", str(path)).replace("VERSION", __version__)
        )
        for _ in range(2):
            with TerrainStore.open(rasters.folder, index_dir=tmp_path / "index") as store:
                assert store.tiles[0].name == "N46W021"

    def test_a_place_that_cannot_be_written_is_no_error(self, rasters: RasterFactory, tmp_path: Path) -> None:
        rasters.square(46, -21, plane)
        (tmp_path / "file").write_text("in the way")
        with TerrainStore.open(rasters.folder, index_dir=tmp_path / "file" / "index") as store:
            assert len(store.tiles) == 1

    def test_nan_as_nodata_survives(self, rasters: RasterFactory, tmp_path: Path) -> None:
        rasters.square(46, -21, plane, nodata=np.nan)
        for _ in range(2):
            with TerrainStore.open(rasters.folder, index_dir=tmp_path / "index") as store:
                assert np.isnan(store.tiles[0].nodata)

    def test_checksums(self, rasters: RasterFactory, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        path = rasters.square(46, -21, plane)
        expected = hashlib.sha256(path.read_bytes()).hexdigest()
        with TerrainStore.open(path, index_dir=tmp_path / "index") as store:
            assert store.checksums() == {str(path): expected}
        monkeypatch.setattr(hashlib, "file_digest", None)  # now it must come from the index
        with TerrainStore.open(path, index_dir=tmp_path / "index") as store:
            assert store.checksum(store.tiles[0]) == expected
        monkeypatch.undo()
        rasters.square(46, -21, lambda y, x: 5.0 + 0 * x * y, cells=30)
        with TerrainStore.open(path, index_dir=tmp_path / "index") as store:
            assert store.checksum(store.tiles[0]) == hashlib.sha256(path.read_bytes()).hexdigest() != expected


class TestBadInput:
    def test_a_missing_path(self, tmp_path: Path) -> None:
        with pytest.raises(TerrainError, match=r"no file or folder '.*nowhere'; check the name, or fetch"):
            TerrainStore.open(tmp_path / "nowhere")

    def test_no_paths(self) -> None:
        with pytest.raises(TerrainError, match=r"no elevation files given; name files or folders"):
            TerrainStore.open([])

    def test_an_empty_folder(self, tmp_path: Path) -> None:
        (tmp_path / "note.txt").write_text("x")
        with pytest.raises(TerrainError, match=r"no elevation rasters in '.*'; put tiles there \(\.hgt"):
            TerrainStore.open(tmp_path)

    @pytest.mark.parametrize(
        ("name", "content", "why"),
        [
            (
                "N46W021.hgt",
                b"this is a letter\n" * 9,
                r"holds text, not heights; remove it or fetch it again",
            ),
            (
                "N46W021.hgt",
                b"\x00\x80" * 700_000,
                r"truncated or damaged: 1400000 bytes, where an \.hgt has 2884802",
            ),
            ("N46W021.hgt", b"", r"is empty; remove it or fetch it again"),
            (
                "hill.hgt",
                bytes(2 * 1201 * 1201),
                r"does not carry its place in its name; name an \.hgt after",
            ),
            (
                "a.tif",
                b"II*\x00\x08\x00\x00\x00\xff\xfe",
                r"is not a raster that can be read, or is truncated",
            ),
            ("a.zip", b"PK\x03\x04 cut", r"is truncated or is no zip archive"),
        ],
    )
    def test_files_that_are_no_rasters(self, tmp_path: Path, name: str, content: bytes, why: str) -> None:
        (tmp_path / name).write_bytes(content)
        for given in (tmp_path / name, tmp_path):
            with pytest.raises(TerrainError, match=f"{name}.*{why}") as caught:
                TerrainStore.open(given)
            assert "\n" not in str(caught.value)

    def test_a_zip_without_heights(self, tmp_path: Path) -> None:
        with zipfile.ZipFile(tmp_path / "a.zip", "w") as archive:
            archive.writestr("x.txt", "x")
        with pytest.raises(TerrainError, match=r"archive '.*a\.zip' holds no elevation raster"):
            TerrainStore.open(tmp_path / "a.zip")

    @pytest.mark.parametrize("suffix", ["zip", "gz"])
    def test_a_damaged_archive_is_not_read_as_holes(
        self, rasters: RasterFactory, tmp_path: Path, suffix: str
    ) -> None:
        plain = rasters.hgt("N46W021.hgt", RAMP + np.random.default_rng(0).integers(0, 50, RAMP.shape))
        path = tmp_path / f"N46W021.hgt.{suffix}"
        if suffix == "zip":
            with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
                archive.write(plain, plain.name)
        else:
            path.write_bytes(gzip.compress(plain.read_bytes()))
        content = bytearray(path.read_bytes())
        middle = len(content) // 2
        content[middle : middle + 200] = bytes(200)
        path.write_bytes(content)
        with (
            pytest.raises(TerrainError, match=r"N46W021\.hgt\.(zip|gz)'.*truncated"),
            TerrainStore.open(path) as store,
        ):
            store.elevation_m(46.5, -20.5)

    def test_a_tile_without_a_coordinate_system(self, rasters: RasterFactory) -> None:
        path = rasters.square(46, -21, plane, crs=None)
        for given in (path, rasters.folder):
            with pytest.raises(TerrainError, match=r"N46W021\.tif' has no coordinate reference system"):
                TerrainStore.open(given)

    def test_a_picture(self, tmp_path: Path) -> None:
        with rasterio.open(
            tmp_path / "a.tif", "w", driver="GTiff", width=9, height=9, count=3, dtype="uint8",
            crs="EPSG:4326", transform=Affine(1, 0, 0, 0, -1, 9), photometric="rgb",
        ) as dataset:  # fmt: skip
            dataset.write(np.zeros((3, 9, 9), np.uint8))
        with pytest.raises(TerrainError, match=r"holds 3 bands of uint8, not heights"):
            TerrainStore.open(tmp_path / "a.tif")

    def test_bad_files_among_good_ones_are_skipped_and_listed(self, rasters: RasterFactory) -> None:
        rasters.square(46, -21, plane)
        rasters.square(46, -22, plane, crs=None)
        (rasters.folder / "N46W023.hgt").write_text("a letter")
        store = TerrainStore.open(rasters.folder)
        assert [tile.name for tile in store.tiles] == ["N46W021"]
        assert len(store.warnings) == 2
        assert "N46W022.tif' has no coordinate reference system" in store.warnings[0]
        assert "N46W023.hgt' holds text" in store.warnings[1]
        with pytest.raises(TerrainError, match=r"N46W023\.hgt' holds text"):
            TerrainStore.open([rasters.folder, rasters.folder / "N46W023.hgt"])

    @pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
    def test_a_file_that_may_not_be_read(self, rasters: RasterFactory) -> None:
        path = rasters.square(46, -21, plane)
        path.chmod(0)
        try:
            with pytest.raises(TerrainError, match=r"Permission denied; check its name and permissions"):
                TerrainStore.open(path)
        finally:
            path.chmod(stat.S_IRUSR | stat.S_IWUSR)

    def test_a_file_that_goes_away(self, rasters: RasterFactory) -> None:
        path = rasters.square(46, -21, plane)
        store = TerrainStore.open(path)
        path.unlink()
        with pytest.raises(TerrainError, match=r"cannot read elevation file '.*N46W021\.tif' any more"):
            store.elevation_m(46.5, -20.5)
        with pytest.raises(TerrainError, match=r"cannot read elevation file '.*N46W021\.tif': No such file"):
            store.checksum(store.tiles[0])


def test_importing_the_room_is_quick_work() -> None:
    code = "import sys, pathprofile.terrain.profile, pathprofile.terrain.needs; print(*sorted(sys.modules))"
    loaded = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    ).stdout.split()
    assert not {"rasterio", "scipy", "pyproj", "zipfile", "matplotlib", "pydantic"} & set(loaded)


def test_real_folder(real_dem_dir: Path, tmp_path: Path) -> None:
    shutil.copy(real_dem_dir / "N44E005.hgt", tmp_path)
    for folder, count in ((real_dem_dir, 4), (tmp_path, 1)):
        store = TerrainStore.open(folder)
        assert len(store.tiles) == count
        assert store.warnings == ()
    tile = next(tile for tile in TerrainStore.open(real_dem_dir).tiles if tile.name == "N44E005_UTM")
    assert (tile.crs_kind, tile.cell_deg) == ("projected", None)
    assert tile.cell_m == pytest.approx(
        90.0, abs=0.05
    )  # the scale of UTM 2.9 degrees from its meridian is near 1
