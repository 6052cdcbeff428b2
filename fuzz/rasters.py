"""Targets that read elevation files: spoilt rasters and archives, and a spoilt index of them."""
# ruff: noqa: D102 - the base class says what `make` and `try_out` are

from __future__ import annotations

import json
import math
import shutil
import struct
import zipfile
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuzz.case import Target, check_one_line, sure
from fuzz.made import NORTH, SIDE, SOUTH, WEST, Sample, bombs, hgt_bytes, plane_m, samples, tiff, zipped
from fuzz.mutate import ODD_TEXT, mutate_bytes, mutate_json, mutate_text
from pathprofile.errors import PathProfileError
from pathprofile.terrain.profile import extract_profile
from pathprofile.terrain.store import TerrainStore

if TYPE_CHECKING:
    from random import Random

__all__ = ["Bombs", "Indexes", "Rasters"]

_HALF = 0.5 / (SIDE - 1)


class _Spoilt(NamedTuple):
    """Files to lay down, what was done to them, and whether heights other than the plane's are wrong."""

    name: str
    files: dict[str, bytes]
    how: str
    exact: bool
    named: bool


class Rasters(Target):
    """Elevation files: truncated, with flipped bits, other sizes, other coordinates, other fill values.

    Heights that come out are heights on Earth or none. Of a truncated file, and of a damaged archive, they
    are those of the whole file or none: damage that leaves wrong numbers without a word is a wrong answer.
    """

    name = "elevation files"
    share = 6_000

    def __init__(self) -> None:
        super().__init__()
        self._samples = samples()

    def make(self, rng: Random) -> _Spoilt:
        if rng.random() < 0.12:
            return _georeferenced(rng)
        sample = rng.choice(self._samples)
        content, beside = sample.content, dict(sample.beside)
        how = rng.choice(("whole", "cut", "cut", "flip", "flip", "flip", "flip", "beside", "size", "fields"))
        if how == "cut":
            content = content[
                : rng.choice((rng.randrange(len(content)), len(content) - rng.randrange(1, 50)))
            ]
        elif how == "flip":
            head = rng.choice((200, 3000, len(content)))
            content = mutate_bytes(rng, content, head=head)
        elif how == "beside" and beside:
            name = rng.choice(list(beside))
            beside[name] = mutate_text(rng, beside[name].decode("latin-1"), 4).encode("latin-1", "replace")
        elif how == "size":
            content = rng.choice(
                (content + rng.randbytes(100), content * 2, b"", content[:1], bytes(len(content)))
            )
        elif how == "fields" and content[:4] == b"II*\0":
            content = _other_fields(rng, content)
        elif sample.name.endswith((".asc", ".vrt")):
            content = mutate_text(rng, content.decode("latin-1"), 3).encode("latin-1", "replace")
            how = "text"
        exact = (sample.name != "jpeg.tif" and how in {"whole", "cut"}) or (sample.checked and how == "flip")
        # A cut text grid may end in the middle of a number; it then lacks others, and is refused for that.
        return _Spoilt(sample.name, {sample.name: content, **beside}, how, exact, rng.random() < 0.5)

    def try_out(self, given: _Spoilt) -> str:
        folder = self.folder / "tiles"
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir()
        for name, content in given.files.items():
            (folder / name).write_bytes(content)
        try:
            return _sampled(folder / given.name if given.named else folder, exact=given.exact)
        except PathProfileError as error:
            check_one_line(error)
            return "refused"


def _sampled(path: object, *, exact: bool) -> str:
    """Open, sample, count voids and run a path; heights must be possible, and the plane's where `exact`."""
    with TerrainStore.open(path) as store:  # type: ignore[arg-type]
        for words in store.warnings:
            check_one_line(Exception(words))
        at = np.linspace(0.02, 0.98, 17)
        latitude, longitude = (part.ravel() for part in np.meshgrid(SOUTH + at, WEST + at, indexing="ij"))
        height = store.elevation_m(latitude, longitude)
        known = ~np.isnan(height)
        possible = np.abs(height[known]) < 12_000.0
        sure(possible.all(), f"heights {height[known][~possible][:3]}")
        if exact and known.any():
            off = np.abs(height - plane_m(latitude, longitude))[known].max()
            sure(off < 0.6, f"heights are off by {off:.1f} m without a word")
        for tile in store.tiles[:2]:
            middle = (tile.south_deg + tile.north_deg) / 2
            sure(math.isfinite(tile.cell_m) and tile.cell_m > 0, f"cell {tile.cell_m}")
            store.elevation_m(np.linspace(-90, 90, 50), np.full(50, tile.west_deg))
            store.elevation_m(middle, tile.west_deg)
            store.checksum(tile)
            if tile.height * tile.width < 2_000_000:
                store.count_voids(tile)
        profile = extract_profile(store, SOUTH + 0.1, WEST + 0.1, NORTH - 0.1, WEST + 0.85)
        sure(np.isfinite(profile.ground_m).all(), "a hole in a profile that was not refused")
        for words in profile.warnings:
            check_one_line(Exception(words))
    return "taken"


_PROJECTIONS = (
    *(
        "EPSG:4326",
        "EPSG:4269",
        "EPSG:32627",
        "EPSG:3857",
        "EPSG:4978",
        "EPSG:2193",
        "EPSG:27700",
        "EPSG:3413",
    ),
    *("EPSG:5773", "EPSG:9518", "EPSG:4979", "EPSG:4807", "IAU_2015:30100", "IAU_2015:49900", "EPSG:2400"),
    *("+proj=ortho +lat_0=46 +lon_0=-21", "+proj=geos +h=35785831 +lon_0=-21", "+proj=longlat +R=3000000"),
    *("+proj=ob_tran +o_proj=longlat +o_lat_p=40 +lon_0=10", "+proj=utm +zone=27 +units=us-ft"),
    'LOCAL_CS["pit",UNIT["metre",1]]',
    'ENGCRS["x",EDATUM["y"],CS[Cartesian,2],AXIS["a",east],AXIS["b",north],LENGTHUNIT["metre",1]]',
    'GEOGCS["x",DATUM["x",SPHEROID["x",1,0]],PRIMEM["x",0],UNIT["degree",0.0174532925]]',
    'GEOGCS["x",DATUM["WGS_1984",SPHEROID["x",6378137,298.257]],PRIMEM["Greenwich",0],UNIT["degree",1e300]]',
)
_ODD_NUMBERS = (
    0.0,
    -0.0,
    1.0,
    -1.0,
    1e-9,
    1e9,
    1e30,
    1e300,
    -1e300,
    1e-300,
    math.inf,
    -math.inf,
    math.nan,
    360.0,
)
_FILLS = (None, 0, -9999, -32768, 32767, -32767, 255, 1e38, -3.4e38, math.nan, math.inf, -math.inf, 1e300)


def _georeferenced(rng: Random) -> _Spoilt:
    """Make a raster with coordinates, fill value, scale and kind of numbers of chance."""
    import warnings

    import rasterio
    from rasterio.errors import RasterioError
    from rasterio.transform import Affine

    numbers = [1 / 60, 0.0, WEST - _HALF, 0.0, -1 / 60, NORTH + _HALF]
    if rng.random() < 0.6:
        for _ in range(rng.randint(1, 3)):
            numbers[rng.randrange(6)] = rng.choice(
                (*_ODD_NUMBERS, rng.uniform(-400, 400), rng.uniform(-1e7, 1e7))
            )
    dtype = rng.choice(
        ("int16", "uint8", "int8", "uint16", "int32", "uint32", "float32", "float64", "int64", "complex64")
    )
    fill = rng.choice(_FILLS)
    shape = rng.choice(((61, 61), (1, 1), (1, 61), (61, 1), (2, 2), (300, 300)))
    heights = np.full(shape, rng.choice((0, 5, 100)), dtype)
    if dtype.startswith("float"):
        heights.flat[:: rng.choice((1, 2, 7))] = rng.choice(_ODD_NUMBERS)
    with rasterio.MemoryFile() as memory:
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                with memory.open(
                    driver="GTiff",
                    width=shape[1],
                    height=shape[0],
                    count=rng.choice((1, 1, 1, 1, 2, 3)),
                    dtype=dtype,
                    crs=rng.choice(_PROJECTIONS),
                    transform=Affine(*numbers),
                    nodata=fill,
                ) as raster:
                    raster.write(heights, 1)
                    if rng.random() < 0.3:
                        raster.scales = (rng.choice(_ODD_NUMBERS),) * raster.count
                        raster.offsets = (rng.choice(_ODD_NUMBERS),) * raster.count
                    if rng.random() < 0.3:
                        raster.units = (
                            rng.choice(("m", "ft", "feet", "km", "x", "", "us survey foot")),
                        ) * raster.count
                    if rng.random() < 0.3:
                        raster.update_tags(
                            MODEL_KIND=rng.choice(ODD_TEXT[:60]).replace("\0", ""),
                            VERTICAL_DATUM="\x1b[31m\nX",
                        )
            content = memory.read()
        except (RasterioError, ValueError, OverflowError, TypeError, OSError, UnicodeError):
            content = tiff(61, 61)
    name = rng.choice(
        ("odd.tif", "odd?a=b#c%20.tif", "é 漢.tif", "a:b!c.tif", "x.zip.tif", "{y}.tif", "-z.tif")
    )
    return _Spoilt(name, {name: content}, "georeference", exact=False, named=rng.random() < 0.5)


def _other_fields(rng: Random, content: bytes) -> bytes:
    """Make a TIFF whose first directory has other numbers in some of its fields."""
    changed = bytearray(content)
    (at,) = struct.unpack_from("<I", changed, 4)
    if at + 2 > len(changed):
        return content
    (count,) = struct.unpack_from("<H", changed, at)
    for _ in range(rng.randint(1, 2)):
        entry = at + 2 + 12 * rng.randrange(max(count, 1))
        if entry + 12 <= len(changed):
            place, most = rng.choice(((2, 2), (4, 4), (8, 4), (8, 4), (8, 4)))
            number = rng.choice(
                (0, 1, 2, 3, 7, 16, 255, 4096, 65535, 2**31 - 1, 2**32 - 1, rng.randrange(2**32))
            )
            changed[entry + place : entry + place + most] = number.to_bytes(4, "little")[:most]
    return bytes(changed)


class Bombs(Target):
    """Files that declare far more than they hold, and archives that are traps, each tried with variations."""

    name = "declared sizes and archives"
    share = 300

    def __init__(self) -> None:
        super().__init__()
        self._bombs = dict(bombs())
        self._hgt = hgt_bytes()

    def make(self, rng: Random) -> _Spoilt:
        name = rng.choice(list(self._bombs))
        content = self._bombs[name]
        if rng.random() < 0.3:
            side = (rng.randrange(1, 2**31), rng.randrange(1, 2**31))
            name, content = (
                "any.tif",
                tiff(*side, bits=rng.choice((8, 16, 32, 64)), one_strip=rng.random() < 0.5),
            )
        elif rng.random() < 0.2:
            spoilt = mutate_text(rng, "N46W021.hgt", 3).replace("\0", "")[:200]
            inner = spoilt.encode("utf-8", "replace").decode() or "x"
            kinds = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED, zipfile.ZIP_LZMA)
            name, content = (
                "named.zip",
                mutate_bytes(rng, zipped({inner: self._hgt}, rng.choice(kinds)), head=100),
            )
        return _Spoilt(name, {name: content}, "bomb", exact=False, named=rng.random() < 0.5)

    try_out = Rasters.try_out


class Indexes(Target):
    """The index of headers, spoilt between two runs: heights stay those of the files."""

    name = "index of headers"
    share = 1_500

    def __init__(self) -> None:
        super().__init__()
        tiles = self.folder / "tiles"
        tiles.mkdir()
        whole: dict[str, Sample] = {sample.name: sample for sample in samples()}
        for name in ("plain.tif", "grid.asc", "tile.zip"):
            (tiles / name).write_bytes(whole[name].content)
            for beside, content in whole[name].beside.items():
                (tiles / beside).write_bytes(content)
        with TerrainStore.open(tiles, index_dir=self.folder) as store:
            self._where = np.linspace(SOUTH + 0.1, NORTH - 0.1, 40), np.linspace(WEST + 0.1, WEST + 0.9, 40)
            self._heights = store.elevation_m(*self._where)
        self._file = self.folder / "terrain-index.json"
        self._voucher, _, self._index = self._file.read_text(encoding="utf-8").partition("\n")

    def make(self, rng: Random) -> bytes:
        how = rng.random()
        if how < 0.3:
            whole = f"{self._voucher}\n{self._index}".encode()
            return mutate_bytes(rng, whole, head=len(whole))
        if how < 0.5:
            return mutate_text(rng, self._index).encode("utf-8", "surrogatepass")
        return f"{self._voucher}\n{mutate_json(rng, self._index)}".encode("utf-8", "surrogatepass")

    def try_out(self, given: bytes) -> str:
        self._file.write_bytes(given)
        with TerrainStore.open(self.folder / "tiles", index_dir=self.folder) as store:
            heights = store.elevation_m(*self._where)
        sure(np.allclose(heights, self._heights, atol=0.6, rtol=0), "a spoilt index changes heights")
        json.loads(self._file.read_text(encoding="utf-8").partition("\n")[2])
        return "taken"
