"""Whether what a raster's header says of itself can be true, before anything is done on its word."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from pathprofile.errors import TerrainError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from pathprofile.terrain.tiles import Tile

__all__ = [
    "check_bounds",
    "check_cells",
    "check_numbers",
    "check_size",
    "check_unchanged",
    "is_complete",
    "plain_words",
]

# The whole globe at one arc-second is 8.4e11 samples.
_MOST_SAMPLES = 10**12
# No coordinate system, in whatever unit, and no scale of heights has numbers so far from zero.
_FARTHEST = 1e9
# Most that the library must decode at once, a strip or a tile of the file.
_LARGEST_BLOCK_BYTES = 2**28
_PIECE_BYTES = 2**20
# Formats of bare samples whose library drivers read what is missing at the end as zeros.
_BARE_SAMPLES = {
    "EHdr",
    "ENVI",
    "RST",
}
# Those, and others whose drivers return zeros, the height of the sea, where the disk fails to read.
_READ_ERRORS_AS_ZEROS = {*_BARE_SAMPLES, "SRTMHGT", "HFA"}


def check_size(dataset: Any, path: Path) -> None:
    """Refuse a raster of an impossible size, and one in pieces too large to decode.

    Raises
    ------
    TerrainError
    """
    height, width = int(dataset.height), int(dataset.width)
    if height * width > _MOST_SAMPLES:
        raise TerrainError(
            f"elevation file {str(path)!r} claims {height} by {width} samples, more than the globe at one"
            " arc-second; remove it or fetch it again"
        )
    rows, cols = dataset.block_shapes[0]
    block = rows * cols * np.dtype(dataset.dtypes[0]).itemsize
    if block > _LARGEST_BLOCK_BYTES:
        raise TerrainError(
            f"elevation file {str(path)!r} is stored in pieces of {block / 1e6:.0f} MB, read whole; "
            "save it as a tiled GeoTIFF"
        )


def check_numbers(affine: tuple[float, ...], scaling: tuple[float, float], path: Path) -> None:
    """Refuse a transform or a scale of heights that is none.

    Raises
    ------
    TerrainError
    """
    a, b, _, d, e, _ = affine
    if not all(abs(number) < _FARTHEST for number in affine) or a * e - b * d == 0.0:
        raise _no_cells(path)
    scale, offset = scaling
    if not (abs(scale) < _FARTHEST and abs(offset) < _FARTHEST) or scale == 0.0:
        raise TerrainError(
            f"elevation file {str(path)!r} states that its heights are to be multiplied by {scale:g} and "
            f"shifted by {offset:g}; save it with true heights"
        )


def check_cells(sides_m: tuple[float, float], path: Path) -> None:
    """Refuse cells of no size, or of none that can be told.

    Raises
    ------
    TerrainError
    """
    if not all(map(math.isfinite, sides_m)) or min(sides_m) <= 0.0:
        raise _no_cells(path)


def _no_cells(path: Path) -> TerrainError:
    return TerrainError(
        f"elevation file {str(path)!r} does not say how large its cells are; give it georeferencing"
    )


def check_bounds(
    latitude_deg: NDArray[Any], longitude_deg: NDArray[Any], cell_deg: float, path: Path
) -> None:
    """Refuse an outline that lies off the globe, a cell beyond the poles and two turns apart.

    Raises
    ------
    TerrainError
    """
    beyond = latitude_deg.size == 0 or np.abs(latitude_deg).max() > 90.0 + cell_deg
    if beyond or np.abs(longitude_deg).max() > 720.0:
        raise TerrainError(
            f"elevation file {str(path)!r} lies outside what its coordinate reference system can describe; "
            "check its georeferencing"
        )


def is_complete(dataset: Any, path: Path) -> bool:
    """Whether a file holds as many bytes as its samples take, for formats where the library does not ask."""
    if dataset.driver in _BARE_SAMPLES:
        held = dataset.height * dataset.width * sum(np.dtype(dtype).itemsize for dtype in dataset.dtypes)
        return path.suffix.lower() in {".zip", ".gz"} or path.stat().st_size >= held
    return True


def check_readable(dataset: Any, tile: Tile, rows: tuple[int, int], proved: set[str]) -> None:
    """Refuse a file whose bytes cannot be read, where the library would say zero.

    Parameters
    ----------
    dataset : rasterio dataset
    tile : Tile
    rows : tuple of int
        First row looked at, and the one after the last.
    proved : set of str
        Files all of which has been read before; one that is read here is added.

    Raises
    ------
    TerrainError

    Notes
    -----
    Of bare samples in rows, only the rows asked for are read; of other files, all, once.
    """
    if dataset.driver not in _READ_ERRORS_AS_ZEROS or tile.path in proved:
        return
    path = Path(tile.path)
    in_rows = dataset.driver != "HFA" and not tile.in_archive
    try:
        size = path.stat().st_size
        first, last = 0, size
        if in_rows:
            row_bytes = tile.width * sum(np.dtype(dtype).itemsize for dtype in dataset.dtypes)
            header_bytes = max(0, size - tile.height * row_bytes)
            first, last = rows[0] * row_bytes, rows[1] * row_bytes + header_bytes
        with path.open("rb", buffering=0) as file:
            file.seek(first)
            while first < last and (piece := file.read(min(last - first, _PIECE_BYTES))):
                first += len(piece)
        why = "it lacks samples" if first < last else ""
    except OSError as error:
        why = str(error.strerror)
    if why:
        raise TerrainError(
            f"elevation file {tile.path!r} is truncated or damaged: its rows {rows[0]} to {rows[1]} cannot be"
            f" read ({why}); remove it or fetch it again"
        )
    if not in_rows:
        proved.add(tile.path)


def check_unchanged(dataset: Any, tile: Tile) -> None:
    """Refuse a file that is not the one whose header was read.

    Raises
    ------
    TerrainError
    """
    same = (dataset.height, dataset.width) == (tile.height, tile.width)
    same = same and tuple(dataset.transform)[:6] == tile.transform and dataset.dtypes[0] == tile.dtype
    if not same:
        raise TerrainError(f"elevation file {tile.path!r} was replaced while it was in use; run it again")


def plain_words(text: str, longest: int = 60) -> str:
    """Text from a file fit to be shown on one line."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())[:longest]
