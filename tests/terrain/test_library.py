"""Elevation files that would have the raster library write, ask a server, or run their code."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from http.server import BaseHTTPRequestHandler, HTTPServer
from typing import TYPE_CHECKING, ClassVar

import numpy as np
import pytest
import rasterio
from rasterio.transform import Affine

from pathprofile.errors import TerrainError
from pathprofile.terrain.store import TerrainStore

if TYPE_CHECKING:
    from pathlib import Path

# A caching format: it copies the samples of Source into DataFile while it is read.
CACHING = (
    "<MRF_META><CachedSource><Source>{source}</Source></CachedSource>"
    '<Raster><Size x="64" y="64" c="1"/><PageSize x="64" y="64" c="1"/><DataType>Int16</DataType>'
    "<DataFile>{target}</DataFile><IndexFile>{target}.index</IndexFile><Compression>NONE</Compression></Raster>"
    '<GeoTags><BoundingBox minx="-21" miny="46" maxx="-20" maxy="47"/>'
    "<Projection>EPSG:4326</Projection></GeoTags></MRF_META>"
)
LINKING = (
    '<VRTDataset rasterXSize="64" rasterYSize="64"><SRS>EPSG:4326</SRS>'
    "<GeoTransform>-21,0.015625,0,47,0,-0.015625</GeoTransform>"
    '<VRTRasterBand dataType="Int16" band="1"{kind}>{inside}<SimpleSource>'
    "<SourceFilename>{source}</SourceFilename><SourceBand>1</SourceBand></SimpleSource></VRTRasterBand></VRTDataset>"
)
PYTHON = (
    "<PixelFunctionType>f</PixelFunctionType><PixelFunctionLanguage>Python</PixelFunctionLanguage>"
    "<PixelFunctionCode>def f(*a, **k):\n  open({target!r}, 'w').write('ran')</PixelFunctionCode>"
)
# As a user of the command line has it: the library is started by our settings, not by this test's rasterio.
READ = """
import sys
from pathprofile.errors import TerrainError
from pathprofile.terrain.store import TerrainStore
for name in sys.argv[1:]:
    try:
        with TerrainStore.open(name) as store:
            print(float(store.elevation_m(46.5, -20.5)))
    except TerrainError as error:
        print("refused:", error)
"""


def plain(path: Path) -> Path:
    with rasterio.open(
        path, "w", driver="GTiff", width=64, height=64, count=1, dtype="int16", crs="EPSG:4326",
        transform=Affine(1 / 64, 0, -21, 0, -1 / 64, 47),
    ) as dataset:  # fmt: skip
        dataset.write(np.full((64, 64), 7, "int16"), 1)
    return path


def read(*paths: Path, **environment: str) -> str:
    ran = subprocess.run(
        [sys.executable, "-c", READ, *map(str, paths)],
        capture_output=True, text=True, check=True, timeout=60, env=os.environ | environment,
    )  # fmt: skip
    assert ran.stderr == ""
    return ran.stdout.strip()


@pytest.fixture
def target(tmp_path: Path) -> Path:
    (tmp_path / "home").mkdir()
    return tmp_path / "home" / "profile"


@pytest.mark.parametrize("name", ["a.tif", "N46W021.hgt", "a.vrt", "a.img"])
def test_no_elevation_file_writes(tmp_path: Path, target: Path, name: str) -> None:
    source = plain(tmp_path / ".source.tif")
    (tmp_path / name).write_text(CACHING.format(source=source, target=target), encoding="ascii")
    assert read(tmp_path / name).startswith("refused: elevation file")
    with pytest.raises(TerrainError), TerrainStore.open(tmp_path / name):
        pass  # where rasterio was in use before, too
    assert list(target.parent.iterdir()) == []


@pytest.mark.parametrize("suffix", [".msk", ".ovr"])
def test_nor_does_a_file_beside_one(tmp_path: Path, target: Path, suffix: str) -> None:
    source = plain(tmp_path / ".source.tif")
    tile = plain(tmp_path / "a.tif")
    (tmp_path / f"a.tif{suffix}").write_text(CACHING.format(source=source, target=target), encoding="ascii")
    assert read(tile) == "7.0"
    assert list(target.parent.iterdir()) == []


def test_no_code_in_a_file_is_run(tmp_path: Path, target: Path) -> None:
    source = plain(tmp_path / ".source.tif")
    kind, inside = ' subClass="VRTDerivedRasterBand"', PYTHON.format(target=str(target))
    text = LINKING.format(kind=kind, inside=inside, source=source)
    for name in ("a.tif", "a.vrt"):
        (tmp_path / name).write_text(text, encoding="ascii")
        assert "only names other files" in read(tmp_path / name, GDAL_VRT_ENABLE_PYTHON="YES")
    tile = plain(tmp_path / "b.tif")
    (tmp_path / "b.tif.msk").write_text(text, encoding="ascii")
    assert read(tile, GDAL_VRT_ENABLE_PYTHON="YES") == "7.0"
    assert list(target.parent.iterdir()) == []


class _Listener(BaseHTTPRequestHandler):
    asked: ClassVar[list[str]] = []

    def do_GET(self) -> None:
        self.asked.append(self.path)
        self.send_error(404)

    do_HEAD = do_GET  # noqa: N815 - the server calls it so

    def log_message(self, *_: object) -> None:
        """Keep quiet."""


def test_no_server_is_asked_whatever_the_environment_says(tmp_path: Path) -> None:
    """Formats that go out by ways of their own, past the library's settings for the network."""
    with HTTPServer(("127.0.0.1", 0), _Listener) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        url = f"http://127.0.0.1:{server.server_port}"
        _Listener.asked.clear()
        for number, source in enumerate(
            (f'NETCDF:"{url}/a.nc":v', f"{url}/a.tif", f"/vsicurl/{url}/b.tif", f'ZARR:"/vsicurl/{url}/c"')
        ):
            text = LINKING.format(kind="", inside="", source=source.replace('"', "&quot;"))
            (tmp_path / f"{number}.tif").write_text(text, encoding="ascii")
            tile = plain(tmp_path / f"tile{number}.tif")
            tile.with_name(f"{tile.name}.msk").write_text(text, encoding="ascii")
        names = sorted(tmp_path.glob("*.tif"))
        said = read(*names, NO_PROXY="*").splitlines()
        assert len(said) == len(names) == 8
        for name, words in zip(names, said, strict=True):
            assert words == "7.0" if name.stem.startswith("tile") else "only names other files" in words
        server.shutdown()
    assert _Listener.asked == []


def test_no_shift_grid_is_fetched(tmp_path: Path) -> None:
    """NAD 27: pyproj would ask its server for grids where the environment allows the network."""
    with rasterio.open(
        tmp_path / "old.tif", "w", driver="GTiff", width=40, height=40, count=1, dtype="int16",
        crs="EPSG:26717", transform=Affine(1000, 0, 480_000, 0, -1000, 5_170_000),
    ) as dataset:  # fmt: skip
        dataset.write(np.full((40, 40), 1500, "int16"), 1)
    code = READ.replace("46.5, -20.5", "46.5, -81.0")
    with HTTPServer(("127.0.0.1", 0), _Listener) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        url = f"http://127.0.0.1:{server.server_port}"
        _Listener.asked.clear()
        ran = subprocess.run(
            [sys.executable, "-c", code, str(tmp_path / "old.tif")],
            capture_output=True, text=True, check=True, timeout=60,
            env=os.environ | {"PROJ_NETWORK": "ON", "PROJ_NETWORK_ENDPOINT": url, "NO_PROXY": "*"},
        )  # fmt: skip
        server.shutdown()
    assert ran.stdout.strip() == "1500.0"
    assert _Listener.asked == []


def test_formats_that_write_or_go_out_are_gone() -> None:
    code = (
        "from pathprofile.terrain.library import library_settings\n"
        "with library_settings() as settings: print(*settings.drivers())"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    left = set(ran.stdout.split())
    assert {"GTiff", "SRTMHGT", "COG", "MEM"} <= left
    assert not left & {
        "MRF",
        "netCDF",
        "WMS",
        "WMTS",
        "WCS",
        "HTTP",
        "GTI",
        "Zarr",
        "STACTA",
        "STACIT",
        "EEDAI",
    }
