"""What the fuzzer found, kept so that it stays fixed."""

from __future__ import annotations

import gzip
import http.server
import threading
import time
import warnings
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np
import pytest
import rasterio
from rasterio.transform import Affine

from fuzz.made import hgt_bytes, locked, tiff, written, zipped
from pathprofile.atmosphere import RefractivityMaps
from pathprofile.errors import LocationError, OutOfRangeError, StationError, TerrainError
from pathprofile.geodesy import inverse
from pathprofile.places import notations, parse_location
from pathprofile.terrain.store import TerrainStore
from pathprofile.trip import find_book
from pathprofile.trip.book import parse_book, read_book
from pathprofile.trip.importing import import_into
from pathprofile.trip.starter import write_starter

if TYPE_CHECKING:
    from pathlib import Path

ENDLESS = "9" * 5000


@pytest.mark.parametrize("text", ["48N 91E", "77N 125W", "-22.2 67.3", "OJ94nj", "59S 64W", "0.5 0.5"])
def test_utm_of_a_vague_place_is_read_back_within_its_uncertainty(text: str) -> None:
    place = parse_location(text)
    again = parse_location(notations(place)["UTM"])
    path = inverse(place.latitude_deg, place.longitude_deg, again.latitude_deg, again.longitude_deg)
    assert path.distance_m <= place.uncertainty_m


@pytest.mark.parametrize("text", [f"27T VM {'8' * 150} 0E", f"14W ME {'8' * 40} {'8' * 40} x", "1A" * 90])
def test_endless_digits_are_refused_at_once(text: str) -> None:
    started = time.process_time()
    with pytest.raises(LocationError, match="as a place"):
        parse_location(text)
    assert time.process_time() - started < 0.5  # it took longer than the Universe is old


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("k = 1\n" * 400_001, "more than 400000 lines, which no book has"),
        (f"notes = [{'1,' * 400_001}]", "more than 400000 commas, which no book has"),
        (f'notes = "{"x" * 5_000_000}"', "String should have at most 2000 characters"),
        (f"notes = '{'x' * 5_000_000}'", "String should have at most 2000 characters"),
        (f'notes = """{"x" * 5_000_000}""""', "String should have at most 2000 characters"),
    ],
    ids=["lines", "commas", "string", "plain string", "long string"],
)
def test_a_book_of_far_too_much_of_something(tmp_path: Path, content: str, words: str) -> None:
    (tmp_path / "a.toml").write_text(content, encoding="utf-8")
    started = time.process_time()
    with pytest.raises(StationError, match=words):
        read_book(tmp_path / "a.toml")
    assert time.process_time() - started < 5.0


@pytest.mark.parametrize("kind", ["text", "csv"])
def test_running_text_has_its_limit(tmp_path: Path, kind: str) -> None:
    write_starter(tmp_path / "trip.toml")
    (tmp_path / "a.txt").write_text("1 2 3 4 W N E 46 12 HN96\n" * 70_000, encoding="utf-8")
    with pytest.raises(StationError, match=r"1\.8 million characters of running text, more than 1\.2"):
        import_into(tmp_path / "trip.toml", tmp_path / "a.txt", kind=kind)


def test_maps_of_far_too_many_numbers(tmp_path: Path) -> None:
    (tmp_path / "DN50.TXT").write_text("1 " * 2_000_001, encoding="utf-8")
    with pytest.raises(OutOfRangeError, match=r"DN50\.TXT' is larger than 4 MB"):
        RefractivityMaps.read(tmp_path)


def test_a_book_with_an_endless_number_is_refused() -> None:
    with pytest.raises(StationError, match=r"a.toml: not TOML: Exceeds the limit \(4300 digits\)"):
        parse_book(f"[my_set_ups.a]\npower_w = {ENDLESS}\n", "a.toml")


def test_a_refusal_does_not_repeat_an_endless_key() -> None:
    with pytest.raises(StationError, match=r"a.toml, line 3: my_set_ups.a.x+…") as caught:
        parse_book(f"[my_set_ups.a]\nbands = ['2 m']\n{'x' * 5000} = 1\n", "a.toml")
    assert len(str(caught.value)) < 500


def test_a_file_with_an_endless_number_is_not_taken_for_a_book(tmp_path: Path) -> None:
    (tmp_path / "other.toml").write_text(f"trip = {ENDLESS}\n", encoding="utf-8")
    assert find_book(tmp_path) is None


@pytest.mark.parametrize("kind", ["[]", '["Feature"]', "{}"])
def test_geojson_of_no_type_is_refused(tmp_path: Path, kind: str) -> None:
    write_starter(tmp_path / "trip.toml")
    listed = tmp_path / "list.geojson"
    listed.write_text(f'{{"type": {kind}, "features": []}}', encoding="utf-8")
    with pytest.raises(StationError, match="not GeoJSON with features"):
        import_into(tmp_path / "trip.toml", listed)


@pytest.mark.parametrize("blank", ["\f", "\u00a0", '""', "\u3000;"])
def test_a_row_of_other_blanks_is_no_row(tmp_path: Path, blank: str) -> None:
    write_starter(tmp_path / "trip.toml")
    listed = tmp_path / "list.csv"
    listed.write_text(f"{blank}\nAlder;46.5012 -21.2200\n", encoding="utf-8")
    report = import_into(tmp_path / "trip.toml", listed, kind="csv")
    assert [added.name for added in report.added] == ["Alder"]


# --- elevation files


def _plane(folder: Path, name: str, driver: str, **options: Any) -> Path:
    (sample,) = [each for each in [written(folder, name, driver, "int16", **options)] if each is not None]
    (folder / name).write_bytes(sample.content)
    for beside, content in sample.beside.items():
        (folder / beside).write_bytes(content)
    return folder / name


def _refused(path: Path, words: str) -> None:
    with pytest.raises(TerrainError, match=words) as caught, TerrainStore.open(path) as store:
        store.elevation_m(46.5, -20.5)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(("name", "driver"), [("a.img", "ENVI"), ("a.bil", "EHdr")])
@pytest.mark.parametrize("kept", [0.5, 0.999])
def test_missing_samples_are_not_read_as_sea(tmp_path: Path, name: str, driver: str, kept: float) -> None:
    path = _plane(tmp_path, name, driver)
    whole = path.read_bytes()
    with TerrainStore.open(path) as store:
        assert store.elevation_m(46.5, -20.5) == pytest.approx(100 + 30 * 7 + 30 * 3)
    path.write_bytes(whole[: int(len(whole) * kept)])
    _refused(path, "is truncated")


@pytest.mark.parametrize(
    ("width", "height", "options", "words"),
    [
        (2**31 - 1, 2**31 - 1, {}, "more than the globe at one arc-second"),
        (2**31 - 1, 2, {}, "stored in pieces of 4295 MB"),
        (100_000, 100_000, {"tile": 65_520}, "stored in pieces of 8586 MB"),
    ],
)
def test_declared_sizes_are_not_believed(
    tmp_path: Path, width: int, height: int, options: dict[str, Any], words: str
) -> None:
    (tmp_path / "a.tif").write_bytes(tiff(width, height, **options))
    _refused(tmp_path / "a.tif", words)


def test_an_archive_is_unpacked_only_as_far_as_its_raster_goes(tmp_path: Path) -> None:
    plain = _plane(tmp_path, "a.tif", "GTiff").read_bytes()
    (tmp_path / "a.zip").write_bytes(zipped({"a.tif": plain + bytes(40 * 2**20)}))
    _refused(tmp_path / "a.zip", "unpacks to more than 17 MB, far more than its 61 by 61 samples")
    (tmp_path / "b.tif.gz").write_bytes(gzip.compress(plain + bytes(40 * 2**20)))
    _refused(tmp_path / "b.tif.gz", "unpacks to more than 17 MB")


def test_a_locked_archive(tmp_path: Path) -> None:
    (tmp_path / "a.zip").write_bytes(locked(zipped({"N46W021.hgt": hgt_bytes()})))
    _refused(tmp_path / "a.zip", "locked with a password; unpack it first")


def test_an_archive_of_too_many_rasters(tmp_path: Path) -> None:
    (tmp_path / "a.zip").write_bytes(zipped({f"{number}/N46W021.hgt": b"" for number in range(2001)}))
    _refused(tmp_path / "a.zip", "holds 2001 rasters, more than 2000")


@pytest.mark.parametrize("crs", ["IAU_2015:49900", "IAU_2015:30100"])
def test_ground_of_another_world(tmp_path: Path, crs: str) -> None:
    _tif(tmp_path / "a.tif", crs=crs)
    _refused(tmp_path / "a.tif", "no latitude and longitude on Earth follow")


@pytest.mark.parametrize(
    ("transform", "words"),
    [
        ((1 / 60, 0, 1e8, 0, -1 / 60, 47), "lies outside what its coordinate reference system can describe"),
        ((1 / 60, 0, -21, 0, -1 / 60, 470), "lies outside what its coordinate reference system can describe"),
        ((float("nan"), 0, -21, 0, -1 / 60, 47), "does not say how large its cells are"),
        ((1e300, 0, -21, 0, -1e300, 47), "does not say how large its cells are"),
    ],
)
def test_ground_off_the_globe(tmp_path: Path, transform: tuple[float, ...], words: str) -> None:
    _tif(tmp_path / "a.tif", transform=transform)
    _refused(tmp_path / "a.tif", words)


@pytest.mark.parametrize("scale", [0.0, float("inf"), 1e300])
def test_heights_scaled_to_nothing(tmp_path: Path, scale: float) -> None:
    _tif(tmp_path / "a.tif")
    with rasterio.open(tmp_path / "a.tif", "r+") as dataset:
        dataset.scales = (scale,)
    _refused(tmp_path / "a.tif", "states that its heights are to be multiplied by")


def test_a_datum_stated_with_control_characters_is_shown_plainly(tmp_path: Path) -> None:
    _tif(tmp_path / "a.tif")
    with rasterio.open(tmp_path / "a.tif", "r+") as dataset:
        dataset.update_tags(VERTICAL_DATUM="\x1b[31mEGM96\nand more")
    with TerrainStore.open(tmp_path / "a.tif") as store:
        assert store.tiles[0].vertical_datum == "[31mEGM96 and more"


def test_text_that_is_not_text(tmp_path: Path) -> None:
    vrt = b'<VRTDataset rasterXSize="9" rasterYSize="9"><SRS>\xc9\xff</SRS></VRTDataset>'
    (tmp_path / "a.vrt").write_bytes(vrt)
    _refused(tmp_path / "a.vrt", "only names other files; give the folder")


class _Listener(http.server.BaseHTTPRequestHandler):
    asked: ClassVar[list[str]] = []

    def do_GET(self) -> None:
        self.asked.append(self.path)
        self.send_error(404)

    do_HEAD = do_GET  # noqa: N815 - the server calls it so

    def log_message(self, *_: object) -> None:
        """Keep quiet."""


_WMS = (
    '<GDAL_WMS><Service name="TMS"><ServerUrl>{url}/${{z}}.png</ServerUrl></Service>'
    "<DataWindow><UpperLeftX>-21</UpperLeftX><UpperLeftY>47</UpperLeftY><LowerRightX>-20</LowerRightX>"
    "<LowerRightY>46</LowerRightY><SizeX>256</SizeX><SizeY>256</SizeY><TileLevel>1</TileLevel></DataWindow>"
    "<Projection>EPSG:4326</Projection><BandsCount>1</BandsCount></GDAL_WMS>"
)
_WCS = "<WCS_GDAL><ServiceURL>{url}/wcs?</ServiceURL><CoverageName>a</CoverageName></WCS_GDAL>"
_VRT = (
    '<VRTDataset rasterXSize="61" rasterYSize="61"><SRS>EPSG:4326</SRS>'
    "<GeoTransform>-21,0.0167,0,47,0,-0.0167</GeoTransform>"
    '<VRTRasterBand dataType="Int16" band="1"><SimpleSource><SourceFilename relativeToVRT="{near}">{source}'
    "</SourceFilename><SourceBand>1</SourceBand></SimpleSource></VRTRasterBand></VRTDataset>"
)


@pytest.mark.parametrize("name", ["a.tif", "wcs.tif", "far.vrt", "near.vrt"])
def test_no_file_makes_the_library_ask_a_server(tmp_path: Path, name: str) -> None:
    with http.server.HTTPServer(("127.0.0.1", 0), _Listener) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        url = f"http://127.0.0.1:{server.server_port}"
        texts = {
            "a.tif": _WMS.format(url=url),
            "wcs.tif": _WCS.format(url=url),
            "far.vrt": _VRT.format(near=0, source=f"/vsicurl/{url}/a.tif"),
            "near.vrt": _VRT.format(near=1, source="a.tif"),
        }
        for each, text in texts.items():
            (tmp_path / each).write_text(text, encoding="utf-8")
        _Listener.asked.clear()
        _refused(tmp_path / name, "elevation file")
        server.shutdown()
    assert _Listener.asked == []


@pytest.mark.parametrize("at", range(0, 900, 97))
def test_a_flipped_bit_in_the_index_changes_nothing(tmp_path: Path, at: int) -> None:
    path = _plane(tmp_path, "a.tif", "GTiff")
    TerrainStore.open(path, index_dir=tmp_path / "index").close()
    index = tmp_path / "index" / "terrain-index.json"
    raw = bytearray(index.read_bytes())
    raw[at % len(raw)] ^= 2
    index.write_bytes(raw)
    with TerrainStore.open(path, index_dir=tmp_path / "index") as store:
        assert store.elevation_m(46.5, -20.5) == pytest.approx(400.0)


def _tif(path: Path, *, crs: str = "EPSG:4326", transform: tuple[float, ...] | None = None) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with rasterio.open(
            path, "w", driver="GTiff", width=60, height=60, count=1, dtype="int16", crs=crs,
            transform=Affine(*(transform or (1 / 60, 0, -21, 0, -1 / 60, 47))),
        ) as dataset:  # fmt: skip
            dataset.write(np.full((60, 60), 7, "int16"), 1)
