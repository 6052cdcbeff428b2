"""Decoded blocks of rasters in a cache bounded in bytes, and bilinear sampling from them."""

from __future__ import annotations

from collections import OrderedDict
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from pathprofile.errors import TerrainError
from pathprofile.terrain.archives import read_whole, unpacked
from pathprofile.terrain.library import library_errors, library_settings, open_dataset
from pathprofile.terrain.soundness import check_readable, check_unchanged

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from pathprofile.terrain.tiles import Tile

__all__ = ["BlockCache", "decode"]

# Blocks are squares of 256 samples whatever the file's own, so that all of them fit one flat array and a
# sample's place in it is found with shifts and masks.
_SHIFT = 8
_SIDE = 1 << _SHIFT
_MASK = _SIDE - 1
_AREA = _SIDE * _SIDE
_VOID_INT16 = np.int16(-32768)
# No ground on Earth, not even under the sea, lies outside these: such numbers are fill values [m].
_LOWEST_M, _HIGHEST_M = -11_100.0, 9_000.0
# Fill value of many text grids, taken for one only where the file states no other.
_USUAL_FILL = -9999.0
# Nearer than this to a sample [cells], the other samples of its cell do not count, voids among them.
_ON_SAMPLE = 1e-6
_OPEN_FILES = 32
# Most blocks side by side to decode at once, from a file of long rows.
_WIDEST = 256


class _Pool:
    """Slots for blocks of one data type; memory is taken from the system only as slots are filled."""

    def __init__(self, dtype: np.dtype[Any], capacity_bytes: int) -> None:
        # One point may need four blocks at once.
        self.capacity = max(4, capacity_bytes // (_AREA * dtype.itemsize))
        self.dtype = dtype
        self.data: NDArray[Any] = np.empty(0, dtype)
        self.used = 0
        self.last_use = np.zeros(self.capacity, np.int64)
        self.owner: list[tuple[int, int]] = []

    def allocate(self) -> None:
        if self.data.size == 0:
            self.data = np.empty((self.capacity + 1) * _AREA, self.dtype)

    def slot(self, tables: dict[int, NDArray[np.int64]], older_than: int) -> int | None:
        """Return a free slot, if need be the least recently used one, but none in use since `older_than`."""
        if self.used < self.capacity:
            self.owner.append((-1, -1))
            self.used += 1
            return self.used - 1
        oldest = int(self.last_use.argmin())
        if self.last_use[oldest] >= older_than:
            return None
        index, block = self.owner[oldest]
        tables[index][block] = -1
        return oldest


@dataclass
class _Grid:
    """How a tile is cut into blocks."""

    tile: Tile
    pool: _Pool
    rows: int
    cols: int
    block_cols: int
    block_count: int
    has_voids: bool = False


class BlockCache:
    """Samples of many rasters; blocks are decoded when first touched and the least recently used are dropped.

    Parameters
    ----------
    tiles : sequence of Tile
    capacity_bytes : int
        Most memory for decoded blocks; shared evenly by the data types that the tiles need (16-bit integers,
        single and double precision), and at least four blocks of each.

    Notes
    -----
    Not for use by several threads at once.
    """

    def __init__(self, tiles: Sequence[Tile], capacity_bytes: int) -> None:
        dtypes = sorted({_storage(tile) for tile in tiles}, key=str)
        self._pools = {dtype: _Pool(dtype, capacity_bytes // len(dtypes)) for dtype in dtypes}
        self._grids: dict[int, _Grid] = {}
        self._tables: dict[int, NDArray[np.int64]] = {}
        self._tiles = tiles
        self._datasets: OrderedDict[int, Any] = OrderedDict()
        self._proved: set[str] = set()
        self._tick = 1
        self.decoded_blocks = 0

    @property
    def bytes_used(self) -> int:
        """Memory that decoded blocks take now."""
        return sum(pool.used * _AREA * pool.dtype.itemsize for pool in self._pools.values())

    def close(self) -> None:
        """Close all files and drop all blocks."""
        for dataset in self._datasets.values():
            dataset.close()
        self._datasets.clear()
        self._grids.clear()
        self._tables.clear()
        self._pools = {dtype: _Pool(dtype, 0) for dtype in self._pools}

    def bilinear(self, index: int, col: NDArray[np.float64], row: NDArray[np.float64]) -> NDArray[np.float64]:
        """Heights between the samples of one tile.

        Parameters
        ----------
        index : int
            Of the tile.
        col, row : ndarray, shape (n,)
            Fractional column and row counted from the first sample, within the tile.

        Returns
        -------
        ndarray, shape (n,)
            Heights [m], NaN where a void is among the samples that count.

        Raises
        ------
        TerrainError
            If the file turns out to be damaged.
        """
        grid = self._grid(index)
        table = self._tables[index]
        c = np.minimum(col.astype(np.int64), max(grid.cols - 2, 0))
        r = np.minimum(row.astype(np.int64), max(grid.rows - 2, 0))
        block = (r >> _SHIFT) * grid.block_cols + (c >> _SHIFT)
        c_in, r_in = c & _MASK, r & _MASK
        # A cell at the lower or right edge of a block has samples in the next one.
        edge = np.flatnonzero((c_in == _MASK) | (r_in == _MASK))
        r0, c0 = r.take(edge), c.take(edge)
        r1, c1 = np.minimum(r0 + 1, grid.rows - 1), np.minimum(c0 + 1, grid.cols - 1)
        beyond = [
            (rows >> _SHIFT) * grid.block_cols + (cols >> _SHIFT)
            for rows, cols in ((r0, c1), (r1, c0), (r1, c1))
        ]

        touched = np.zeros(grid.block_count, np.bool_)
        for blocks in (block, *beyond):
            touched[blocks] = True
        wanted = np.flatnonzero(touched)
        if wanted.size > grid.pool.capacity:
            return self._in_halves(index, col, row, block)
        self._provide(index, grid, wanted)

        data = grid.pool.data
        at = table.take(block)
        at <<= 2 * _SHIFT
        r_in <<= _SHIFT
        at += r_in
        at += c_in
        corners = [data.take(at)]
        for step in (1, _SIDE - 1, 1):
            at += step
            corners.append(data.take(at))
        for corner, blocks, rows, cols in zip(corners[1:], beyond, (r0, r1, r1), (c1, c0, c1), strict=True):
            corner[edge] = data.take(
                (table.take(blocks) << (2 * _SHIFT)) + ((rows & _MASK) << _SHIFT) + (cols & _MASK)
            )
        z00, z01, z10, z11 = (self._as_metres(corner, grid) for corner in corners)
        right, down = col - c, row - r
        upper = z00 + right * (z01 - z00)
        lower = z10 + right * (z11 - z10)
        height = upper + down * (lower - upper)
        if grid.has_voids:
            void = np.flatnonzero(np.isnan(height))
            if void.size:
                height[void] = _without_idle_corners(
                    right[void], down[void], z00[void], z01[void], z10[void], z11[void]
                )
        return height

    def whole(self, index: int) -> Iterator[NDArray[np.float64]]:
        """All heights of one tile in strips of rows, NaN where void, past the cache."""
        tile = self._tiles[index]
        strip = max(_SIDE, tile.block_height)
        with library_settings(), self._opened(index) as dataset:
            for top in range(0, tile.height, strip):
                window = (top, min(top + strip, tile.height), 0, tile.width)
                values = decode(dataset, tile, window, np.dtype(np.float64))
                self._doubt_zeros(dataset, tile, window, values)
                yield values

    def _doubt_zeros(
        self, dataset: Any, tile: Tile, window: tuple[int, int, int, int], values: NDArray[Any]
    ) -> None:
        """Make sure that zeros are sea, and not what the library says where the disk fails."""
        if not values.all():
            check_readable(dataset, tile, window[:2], self._proved)

    def _in_halves(
        self, index: int, col: NDArray[np.float64], row: NDArray[np.float64], block: NDArray[np.int64]
    ) -> NDArray[np.float64]:
        """Sample more blocks than the cache holds, neighbours together."""
        order = np.argsort(block, kind="stable")
        height = np.empty(col.shape)
        for part in np.array_split(order, 2):
            height[part] = self.bilinear(index, col[part], row[part])
        return height

    @staticmethod
    def _as_metres(values: NDArray[Any], grid: _Grid) -> NDArray[np.float64]:
        metres = values.astype(np.float64)
        if grid.has_voids and values.dtype == np.int16:
            metres[values == _VOID_INT16] = np.nan
        return metres

    def _grid(self, index: int) -> _Grid:
        if index not in self._grids:
            tile = self._tiles[index]
            block_cols = -(-tile.width // _SIDE)
            count = block_cols * -(-tile.height // _SIDE)
            pool = self._pools[_storage(tile)]
            # The edge of a raster thinner than two samples reads as void, and has no weight.
            thin = min(tile.width, tile.height) < 2
            self._grids[index] = _Grid(tile, pool, tile.height, tile.width, block_cols, count, thin)
            self._tables[index] = np.full(count, -1, np.int64)
        return self._grids[index]

    def _provide(self, index: int, grid: _Grid, wanted: NDArray[np.intp]) -> None:
        self._tick += 2
        table = self._tables[index]
        slots = table[wanted]
        here = slots >= 0
        grid.pool.last_use[slots[here]] = self._tick
        if here.all():
            return
        grid.pool.allocate()
        missing = wanted[~here]
        with library_settings(), self._opened(index) as dataset:
            for window in _windows(grid.tile, grid.block_cols, missing):
                values = decode(dataset, grid.tile, window, grid.pool.dtype)
                self._doubt_zeros(dataset, grid.tile, window, values)
                self._keep(index, grid, window, values, set(missing.tolist()))

    def _keep(
        self,
        index: int,
        grid: _Grid,
        window: tuple[int, int, int, int],
        values: NDArray[Any],
        missing: set[int],
    ) -> None:
        """Put the blocks of a decoded window into slots: those asked for first, the others where room is."""
        table = self._tables[index]
        top, bottom, left, right = window
        inside = [
            (row // _SIDE * grid.block_cols + col // _SIDE, row - top, col - left)
            for row in range(top, bottom, _SIDE)
            for col in range(left, right, _SIDE)
        ]
        inside.sort(key=lambda part: part[0] not in missing)
        void = _VOID_INT16 if grid.pool.dtype == np.int16 else np.nan
        for block, row, col in inside:
            if table[block] >= 0:
                continue
            asked = block in missing
            slot = grid.pool.slot(self._tables, older_than=self._tick if asked else self._tick - 1)
            if slot is None:
                break
            part = values[row : row + _SIDE, col : col + _SIDE]
            place = grid.pool.data[slot * _AREA : (slot + 1) * _AREA].reshape(_SIDE, _SIDE)
            if part.shape != place.shape:
                place[:] = void
            place[: part.shape[0], : part.shape[1]] = part
            if not grid.has_voids:
                grid.has_voids = bool((part == void).any() if void == void else np.isnan(part).any())  # noqa: PLR0124
            table[block] = slot
            grid.pool.owner[slot] = (index, block)
            grid.pool.last_use[slot] = self._tick if asked else self._tick - 1
            self.decoded_blocks += 1

    @contextmanager
    def _opened(self, index: int) -> Iterator[Any]:
        """Open a tile; a packed one is unpacked first, which finds damage that reading in place does not."""
        content = unpacked(self._tiles[index]) if read_whole(self._tiles[index]) else None
        if content is None:
            yield self._dataset(index)
            return
        from rasterio.io import MemoryFile

        name, data = content
        tile = self._tiles[index]
        try:
            with MemoryFile(data, filename=name) as memory, memory.open() as dataset:
                check_unchanged(dataset, tile)
                yield dataset
        except library_errors() as error:
            raise _gone(tile) from error

    def _dataset(self, index: int) -> Any:
        if index in self._datasets:
            self._datasets.move_to_end(index)
            return self._datasets[index]
        tile = self._tiles[index]
        try:
            dataset = open_dataset(tile.source)
        except library_errors() as error:
            raise _gone(tile) from error
        check_unchanged(dataset, tile)
        self._datasets[index] = dataset
        while len(self._datasets) > _OPEN_FILES:
            self._datasets.popitem(last=False)[1].close()
        return self._datasets[index]


def _gone(tile: Tile) -> TerrainError:
    return TerrainError(
        f"cannot read elevation file {tile.path!r} any more; put it back or name the folder again"
    )


def decode(
    dataset: Any,
    tile: Tile,
    window: tuple[int, int, int, int],
    dtype: np.dtype[Any],
) -> NDArray[Any]:
    """Heights of a window (top, bottom, left, right) [m]; voids are NaN, or the least 16-bit integer."""
    top, bottom, left, right = window
    place = ((top, bottom), (left, right))
    try:
        raw = dataset.read(1, window=place)
        void = dataset.read_masks(1, window=place) == 0 if tile.has_mask else np.zeros(raw.shape, np.bool_)
    except library_errors() as error:
        raise TerrainError(
            f"elevation file {tile.path!r} is truncated or damaged: its rows {top} to {bottom} cannot be"
            " read; remove it or fetch it again"
        ) from error
    nodata = _USUAL_FILL if tile.nodata is None else tile.nodata
    plain = tile.scale == 1.0 and tile.offset == 0.0 and tile.unit_m == 1.0
    with np.errstate(over="ignore", invalid="ignore"):  # numbers that are no heights, and become voids
        fill = np.asarray(nodata).astype(raw.dtype) if raw.dtype.kind == "f" else np.asarray(nodata)
        void |= raw == fill
        if raw.dtype.kind == "f" or not plain:
            metres = raw if plain else (raw * tile.scale + tile.offset) * tile.unit_m
            void |= ~((metres > _LOWEST_M) & (metres < _HIGHEST_M))
        else:
            metres = raw
            if raw.dtype.itemsize > 1:
                void |= (raw < _LOWEST_M) | (raw > _HIGHEST_M)
        heights: NDArray[Any] = metres.astype(dtype, copy=False)
    if void.any():
        heights[void] = _VOID_INT16 if dtype == np.int16 else np.nan
    return heights


def _storage(tile: Tile) -> np.dtype[Any]:
    """Return the smallest type that holds a tile's heights exactly."""
    if tile.scale == 1.0 and tile.offset == 0.0 and tile.unit_m == 1.0:
        if tile.dtype in {"int16", "int8", "uint8"}:
            return np.dtype(np.int16)
        if tile.dtype in {"float32", "uint16"}:
            return np.dtype(np.float32)
    return np.dtype(np.float64)


def _windows(tile: Tile, block_cols: int, missing: NDArray[np.intp]) -> list[tuple[int, int, int, int]]:
    """Windows that hold the missing blocks and do not make the library decode anything twice."""
    row, col = missing // block_cols, missing % block_cols
    if read_whole(tile):
        return [(0, tile.height, 0, tile.width)]
    if tile.block_width >= tile.width:
        spans = [
            (r, 1, int(col[row == r].min()), int(col[row == r].max()) + 1) for r in np.unique(row).tolist()
        ]
        blocks = [
            (r, r + n, first, min(first + _WIDEST, right))
            for r, n, left, right in spans
            for first in range(left, right, _WIDEST)
        ]
    else:
        tall = max(tile.block_height // _SIDE, 1) if tile.block_height % _SIDE == 0 else 1
        wide = max(tile.block_width // _SIDE, 1) if tile.block_width % _SIDE == 0 else 1
        units = sorted(
            {(r // tall * tall, c // wide * wide) for r, c in zip(row.tolist(), col.tolist(), strict=True)}
        )
        blocks = [(r, r + tall, c, c + wide) for r, c in units]
    return [
        (
            top * _SIDE,
            min(bottom * _SIDE, tile.height),
            left * _SIDE,
            min(right * _SIDE, tile.width),
        )
        for top, bottom, left, right in blocks
    ]


def _without_idle_corners(
    right: NDArray[np.float64],
    down: NDArray[np.float64],
    z00: NDArray[np.float64],
    z01: NDArray[np.float64],
    z10: NDArray[np.float64],
    z11: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Bilinear heights where a corner without weight may be void: on a sample, or on a line of samples."""
    right = np.where(right < _ON_SAMPLE, 0.0, np.where(right > 1 - _ON_SAMPLE, 1.0, right))
    down = np.where(down < _ON_SAMPLE, 0.0, np.where(down > 1 - _ON_SAMPLE, 1.0, down))
    weighted = (
        ((1 - right) * (1 - down), z00),
        (right * (1 - down), z01),
        ((1 - right) * down, z10),
        (right * down, z11),
    )
    return sum((np.where(w == 0.0, 0.0, w * z) for w, z in weighted), np.zeros(right.shape))
