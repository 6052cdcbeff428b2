"""Small valid rasters of one tilted plane in every format, to be spoilt; and archives that are traps."""

from __future__ import annotations

import gzip
import io
import struct
import tempfile
import zipfile
import zlib
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = [
    "NORTH",
    "SIDE",
    "SOUTH",
    "WEST",
    "Sample",
    "bombs",
    "hgt_bytes",
    "locked",
    "plane_m",
    "samples",
    "tiff",
    "written",
    "zipped",
]

SOUTH, NORTH, WEST, SIDE = 46.0, 47.0, -21.0, 61
_STEP = 1.0 / (SIDE - 1)


class Sample(NamedTuple):
    """A valid raster: its file, the files beside it, and whether damage to its bytes must show."""

    name: str
    content: bytes
    beside: dict[str, bytes]
    checked: bool = False


def plane_m(latitude_deg: np.ndarray, longitude_deg: np.ndarray) -> np.ndarray:
    """Heights that every sample holds [m]; whole numbers at its samples, and bilinear is exact on it."""
    return 100.0 + (latitude_deg - SOUTH) / _STEP * 7.0 + (longitude_deg - WEST) / _STEP * 3.0


def _grid(dtype: str, side: int = SIDE) -> np.ndarray:
    latitude = np.linspace(NORTH, SOUTH, side)[:, np.newaxis]
    longitude = np.linspace(WEST, WEST + 1.0, side)[np.newaxis, :]
    return np.rint(plane_m(latitude, longitude)).astype(dtype)


def written(folder: Path, name: str, driver: str, dtype: str, **options: object) -> Sample | None:
    """Have the raster library write the plane; None where it has not that format."""
    import rasterio
    from rasterio.errors import RasterioError
    from rasterio.transform import Affine

    place = folder / name.replace(".", "_")
    place.mkdir()
    try:
        from rasterio.shutil import copy

        with rasterio.MemoryFile() as memory:
            with memory.open(
                driver="GTiff",
                width=SIDE,
                height=SIDE,
                count=1,
                dtype=dtype,
                crs="EPSG:4326",
                transform=Affine(_STEP, 0, WEST - _STEP / 2, 0, -_STEP, NORTH + _STEP / 2),
                nodata=options.pop("nodata", -32768),
            ) as raster:
                raster.write(_grid(dtype), 1)
            with memory.open() as raster:
                copy(raster, place / name, driver=driver, **options)
        with rasterio.open(place / name) as raster:
            raster.read(1)
    except (RasterioError, OSError, ValueError):
        return None
    beside = {file.name: file.read_bytes() for file in place.iterdir() if file.name != name}
    return Sample(name, (place / name).read_bytes(), beside)


def hgt_bytes(side: int = 1201) -> bytes:
    """Make a plain .hgt of the plane."""
    return _grid("int16", side).astype(">i2").tobytes()


def zipped(members: dict[str, bytes], compression: int = zipfile.ZIP_DEFLATED) -> bytes:
    """Pack members into a zip archive; of equal names both are kept."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", compression) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return packed.getvalue()


def samples() -> list[Sample]:
    """Make every valid sample."""
    found: list[Sample | None] = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        found += [
            written(folder, "plain.tif", "GTiff", "int16"),
            written(folder, "deflate.tif", "GTiff", "float32", compress="deflate", predictor=3),
            written(folder, "tiled.tif", "GTiff", "float64", tiled="yes", blockxsize=16, blockysize=16),
            written(folder, "lzw.tif", "GTiff", "uint16", compress="lzw", nodata=0),
            written(folder, "lerc.tif", "GTiff", "float32", compress="lerc"),
            written(folder, "jpeg.tif", "GTiff", "uint8", compress="jpeg", nodata=None),
            written(folder, "cog.tif", "COG", "int16"),
            written(folder, "big.tif", "GTiff", "int16", bigtiff="yes"),
            written(folder, "grid.asc", "AAIGrid", "int16"),
            written(folder, "raw.bil", "EHdr", "int16"),
            written(folder, "image.img", "HFA", "int16", compressed="yes"),
            written(folder, "terrain.bt", "BT", "int16"),
            written(folder, "saga.sdat", "SAGA", "float32"),
            written(folder, "surface.grd", "GSBG", "float32"),
            written(folder, "envi.img", "ENVI", "int16"),
            written(folder, "wave.jp2", "JP2OpenJPEG", "int16", reversible="yes", quality=100, nodata=None),
            written(folder, "picture.tif", "PNG", "uint16", nodata=None),
        ]
    whole = [sample for sample in found if sample is not None]
    plain = whole[0].content
    hgt = hgt_bytes()
    whole += [
        Sample("N46W021.hgt", hgt, {}),
        Sample("N46W021.hgt.zip", zipped({"N46W021.hgt": hgt}), {}, checked=True),
        Sample("N46W021.hgt.gz", gzip.compress(hgt, 1, mtime=0), {}, checked=True),
        Sample("tile.zip", zipped({"deep/tile.tif": plain}), {}, checked=True),
        Sample("tile.tif.gz", gzip.compress(plain, mtime=0), {}, checked=True),
    ]
    return whole


_VRT = f"""<VRTDataset rasterXSize="{SIDE}" rasterYSize="{SIDE}">
<SRS>EPSG:4326</SRS>
<GeoTransform>{WEST - _STEP / 2!r}, {_STEP!r}, 0, {NORTH + _STEP / 2!r}, 0, {-_STEP!r}</GeoTransform>
<VRTRasterBand dataType="Int16" band="1"><NoDataValue>-32768</NoDataValue>
<SimpleSource><SourceFilename relativeToVRT="1">plain.tif</SourceFilename><SourceBand>1</SourceBand>
<SrcRect xOff="0" yOff="0" xSize="{SIDE}" ySize="{SIDE}"/>
<DstRect xOff="0" yOff="0" xSize="{SIDE}" ySize="{SIDE}"/>
</SimpleSource></VRTRasterBand></VRTDataset>
"""


def tiff(width: int, height: int, *, bits: int = 16, tile: int = 0, one_strip: bool = False) -> bytes:
    """Make a classic TIFF of any declared size whose strips or tiles are all absent."""
    rows = height if one_strip else 1
    pieces = 1
    entries = [
        (256, 4, 1, width),
        (257, 4, 1, height),
        (258, 3, 1, bits),
        (259, 3, 1, 1),
        (262, 3, 1, 1),
        (277, 3, 1, 1),
    ]
    if tile:
        entries += [(322, 4, 1, tile), (323, 4, 1, tile), (324, 4, pieces, 0), (325, 4, pieces, 0)]
    else:
        entries += [(273, 4, pieces, 0), (278, 4, 1, rows), (279, 4, pieces, 0)]
    entries += [(339, 3, 1, 2 if bits < 32 else 3)]
    extra_at = 8 + 2 + 12 * (len(entries) + 3) + 4
    scale = struct.pack("<3d", 1.0 / width, 1.0 / height, 0.0)
    tie = struct.pack("<6d", 0.0, 0.0, 0.0, WEST, NORTH, 0.0)
    keys = struct.pack("<16H", 1, 1, 0, 3, 1024, 0, 1, 2, 1025, 0, 1, 1, 2048, 0, 1, 4326)
    entries += [
        (33550, 12, 3, extra_at),
        (33922, 12, 6, extra_at + len(scale)),
        (34735, 3, 16, extra_at + len(scale) + len(tie)),
    ]
    head = b"II*\0" + struct.pack("<IH", 8, len(entries))
    return head + b"".join(struct.pack("<HHII", *entry) for entry in entries) + bytes(4) + scale + tie + keys


def _hollow(name: str, megabytes: int, first: bytes = b"") -> bytes:
    """Make a zip archive of one member: some bytes, then many megabytes of zeros, of one block repeated.

    Its checksum is not that of the zeros; whoever gets so far has unpacked too much already.
    """
    packer = zlib.compressobj(9, wbits=-15)
    packed = packer.compress(first) + packer.flush(zlib.Z_FULL_FLUSH)
    block = packer.compress(bytes(2**20)) + packer.flush(zlib.Z_FULL_FLUSH)
    packed += block * megabytes + packer.flush()
    sizes = (0, len(packed), len(first) + megabytes * 2**20, len(name))
    facts = struct.pack("<HHHHHIIIH", 20, 0, 8, 0, 0, *sizes) + bytes(2)
    local = b"PK\x03\x04" + facts + name.encode() + packed
    central = b"PK\x01\x02" + struct.pack("<H", 20) + facts + bytes(14) + name.encode()
    end = b"PK\x05\x06" + struct.pack("<HHHHIIH", 0, 0, 1, 1, len(central), len(local), 0)
    return local + central + end


def locked(content: bytes) -> bytes:
    """Mark the members of a zip archive as encrypted."""
    return content.replace(b"PK\x03\x04\x14\x00\x00", b"PK\x03\x04\x14\x00\x01").replace(
        b"PK\x01\x02\x14\x03\x14\x00\x00", b"PK\x01\x02\x14\x03\x14\x00\x01"
    )


def bombs() -> Iterator[tuple[str, bytes]]:
    """Name and content of files that try to take too much, or to reach where they should not."""
    plain = tiff(100, 100)
    hgt = hgt_bytes()
    yield "huge.tif", tiff(2**31 - 1, 2**31 - 1)
    yield "wide.tif", tiff(2**31 - 1, 2)
    yield "tall.tif", tiff(2, 2**31 - 1)
    yield "strip.tif", tiff(60_000, 60_000, one_strip=True)
    yield "strip64.tif", tiff(40_000, 40_000, bits=64, one_strip=True)
    yield "tile.tif", tiff(100_000, 100_000, tile=65_536 - 16)
    yield "large.tif", tiff(40_000, 40_000)
    yield "N46W021.hgt.zip", _hollow("N46W021.hgt", 3000)
    yield "tail.zip", _hollow("tail.tif", 3000, plain)
    yield "tail.tif.gz", gzip.compress(plain) + gzip.compress(bytes(2**20)) * 3000
    yield "N46W021.hgt.gz", gzip.compress(hgt, 1) + gzip.compress(bytes(2**20)) * 3000
    yield (
        "climb.zip",
        zipped({"../../../../tmp/climb.tif": plain, "/etc/root.tif": plain, "..\\x.tif": plain}),
    )
    yield "locked.zip", locked(zipped({"N46W021.hgt": hgt}))
    yield "lzma.zip", zipped({"N46W021.hgt": hgt}, zipfile.ZIP_LZMA)
    yield "bz2.zip", zipped({"N46W021.hgt": hgt}, zipfile.ZIP_BZIP2)
    yield "many.zip", zipped({f"a{number}/N46W021.hgt": b"" for number in range(60_000)})
    yield "nested.zip", zipped({"in.zip": zipped({"N46W021.hgt": hgt})})
    yield "odd.zip", zipped({"a\nb.tif": plain, "é漢.tif": plain, "x\x01.tif": plain, "{a}.tif": plain})
    yield "long.zip", zipped({f"{'d/' * 3000}a.tif": plain})
    yield "empty.zip", zipped({})
    yield "dir.zip", zipped({"a.tif/": b"", "b.hgt/": b""})
    yield "self.vrt", _VRT.replace("plain.tif", "self.vrt").encode()
    yield "etc.vrt", _VRT.replace('relativeToVRT="1">plain.tif', 'relativeToVRT="0">/etc/passwd').encode()
    yield (
        "huge.vrt",
        _VRT.replace(
            f'rasterXSize="{SIDE}" rasterYSize="{SIDE}"', 'rasterXSize="2147483647" rasterYSize="2147483647"'
        ).encode(),
    )
    yield (
        "endless.asc",
        b"ncols 2147483647\nnrows 2147483647\nxllcorner -21\nyllcorner 46\ncellsize 1e-9\n1 2 3\n",
    )
    yield "thin.asc", b"ncols 100000\nnrows 100000\nxllcorner -21\nyllcorner 46\ncellsize 1e-5\n1 2 3\n"
