"""Rasters in zip and gzip streams: never unpacked to disk, and into memory only up to a stated size."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from pathprofile.errors import TerrainError

if TYPE_CHECKING:
    from collections.abc import Callable

    from pathprofile.terrain.tiles import Tile

__all__ = ["read_whole", "sources_in", "unpacked"]

# More rasters than this in one archive are a mistake, or meant to keep us busy.
_MOST_MEMBERS = 2_000
# A stream is decoded in one go up to this size: a square degree of 16-bit heights, half an arc-second apart.
_WHOLE_STREAM_BYTES = 7201 * 7201 * 2
# Beside its samples a file holds a header, tags and overviews.
_BESIDE_SAMPLES_BYTES = 16 * 2**20


def sources_in(path: Path, wanted: Callable[[str], bool]) -> list[str]:
    """Names under which the raster library opens the rasters of an archive, or of a file that is none.

    Parameters
    ----------
    path : Path
    wanted : callable
        Whether a member may hold heights, by its name.

    Raises
    ------
    TerrainError
        For an archive that cannot be read, is locked, or holds too many rasters.
    """
    suffix = path.suffix.lower()
    if suffix == ".gz":
        return [f"/vsigzip/{path}"]
    if suffix != ".zip":
        return [str(path)]
    import struct
    import zipfile

    try:
        with zipfile.ZipFile(path) as archive:
            members = archive.infolist()
    except (zipfile.BadZipFile, RuntimeError, ValueError, struct.error, EOFError) as error:
        raise TerrainError(
            f"elevation file {str(path)!r} is truncated or is no zip archive; remove it or fetch it again"
        ) from error
    found = [m for m in members if wanted(m.filename) and not m.filename.startswith("__MACOSX")]
    if any(member.flag_bits & 1 for member in found):
        raise TerrainError(f"elevation file {str(path)!r} is locked with a password; unpack it first")
    if len(found) > _MOST_MEMBERS:
        raise TerrainError(
            f"elevation file {str(path)!r} holds {len(found)} rasters, more than {_MOST_MEMBERS}; "
            "unpack it first"
        )
    return [f"/vsizip/{path}/{name}" for name in sorted({member.filename for member in found})]


def read_whole(tile: Tile) -> bool:
    """Whether reading all of a tile at once is cheaper than parts of it."""
    return tile.in_archive and _raw_bytes(tile) <= _WHOLE_STREAM_BYTES


def unpacked(tile: Tile) -> tuple[str, bytes] | None:
    """Name and content of a raster in a zip or gzip stream; None if it needs other files beside it.

    Raises
    ------
    TerrainError
        If the stream is damaged, which its check sums show, or holds far more than the raster's samples.
    """
    import gzip
    import lzma
    import zipfile
    import zlib

    name = Path(tile.source.removesuffix(".gz")).name
    if Path(name).suffix.lower() not in {".hgt", ".tif", ".tiff"}:
        return None
    most = 2 * _raw_bytes(tile) + _BESIDE_SAMPLES_BYTES
    try:
        if tile.source.startswith("/vsigzip/"):
            with gzip.open(tile.path) as stream:
                content = stream.read(most + 1)
        else:
            member = tile.source.removeprefix(f"/vsizip/{tile.path}/")
            with zipfile.ZipFile(tile.path) as archive, archive.open(member) as packed:
                content = packed.read(most + 1)
    except (
        *(OSError, EOFError, KeyError, RuntimeError, ValueError, zlib.error),
        *(lzma.LZMAError, zipfile.BadZipFile),
    ) as error:
        raise TerrainError(
            f"elevation file {tile.path!r} is truncated or damaged: it cannot be unpacked;"
            " remove it or fetch it again"
        ) from error
    if len(content) > most:
        raise TerrainError(
            f"elevation file {tile.path!r} unpacks to more than {most / 1e6:.0f} MB, far more than its"
            f" {tile.height} by {tile.width} samples need; remove it or fetch it again"
        )
    return name, content


def _raw_bytes(tile: Tile) -> int:
    return tile.height * tile.width * np.dtype(tile.dtype).itemsize
