"""Elevations at places, from any number of rasters as if they were one."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from pathprofile.errors import OutOfRangeError
from pathprofile.terrain.blocks import BlockCache
from pathprofile.terrain.finding import FileIndex, Refused, find_tiles
from pathprofile.terrain.frames import Frame, Placement, Projections, metres_per_degree
from pathprofile.terrain.seams import across_seam, at_corner

if TYPE_CHECKING:
    import os
    from collections.abc import Iterable, Sequence
    from types import TracebackType
    from typing import Self

    from numpy.typing import ArrayLike, NDArray

    from pathprofile.terrain.tiles import Tile

__all__ = ["NO_TILE", "HighPoint", "TerrainStore"]

NO_TILE = -1
"""Source of a point that lies on no tile."""

# Points worked on at once: their arrays stay in the processor's cache.
_CHUNK = 32_768
# Samples looked at for the highest ground near a place.
_MOST_NODES = 4_000_000


@dataclass(frozen=True)
class HighPoint:
    """The highest ground near a place.

    Attributes
    ----------
    latitude_deg, longitude_deg : float
        Where [degrees].
    ground_m : float
        How high [m].
    distance_m : float
        How far from the place [m].
    rise_m : float
        How much higher than the place itself [m]; NaN if the place has no height.
    """

    latitude_deg: float
    longitude_deg: float
    ground_m: float
    distance_m: float
    rise_m: float


class TerrainStore:
    """Rasters of ground heights, sampled as one surface: the finest wins, seams do not show.

    Open one with `TerrainStore.open`, best in a ``with`` statement.

    Attributes
    ----------
    tiles : tuple of Tile
        Finest first, equally fine ones in the order given. Where several cover a point, the first that has a
        height there is used.
    refused : tuple of Refused
        Files in the folders given that could not be used.
    warnings : tuple of str
        The same, one line each.

    Notes
    -----
    Between samples heights are bilinear in the raster's own coordinates. Samples stand for the middle of
    their cells, whichever way the file counts. In the outer half cell of a raster without neighbour the
    edge sample holds. A void makes NaN of every point with that sample in its cell, unless a coarser raster
    fills it in; a point on no raster is NaN as well, never 0.

    Not for use by several threads at once.
    """

    def __init__(
        self, tiles: Sequence[Tile], *, cache_bytes: int, index: FileIndex, refused: Sequence[Refused]
    ) -> None:
        order = sorted(range(len(tiles)), key=lambda i: tiles[i].cell_area_m2)
        self.tiles: tuple[Tile, ...] = tuple(tiles[i] for i in order)
        self.refused = tuple(refused)
        self.warnings = tuple(f"not used: {each.reason}" for each in refused)
        self.projections = Projections()
        self._index = index
        self._blocks = BlockCache(self.tiles, cache_bytes)
        together: dict[str, list[tuple[int, Tile]]] = {}
        for i, tile in enumerate(self.tiles):
            together.setdefault(f"turned {i}" if tile.turned else tile.crs_wkt, []).append((i, tile))
        self._frames = [Frame(group, self.projections) for group in together.values()]

    @classmethod
    def open(
        cls,
        paths: str | os.PathLike[str] | Iterable[str | os.PathLike[str]],
        *,
        cache_bytes: int = 256 * 2**20,
        index_dir: str | os.PathLike[str] | None = None,
    ) -> TerrainStore:
        """Find the rasters in files and folders; only their headers are read.

        Parameters
        ----------
        paths : path or iterable of paths
            Files (any raster the library reads, ``.hgt``, zipped or gzipped ``.hgt``) or folders, searched
            with all sub-folders for files with the usual suffixes.
        cache_bytes : int
            Most memory for decoded heights.
        index_dir : path, optional
            Folder that remembers headers and checksums between runs; entries are renewed when files change.
            A folder that cannot be written is no error.

        Returns
        -------
        TerrainStore

        Raises
        ------
        TerrainError
            For a path that does not exist, a named file that cannot be used (unreadable, truncated, text,
            without coordinate reference system, not heights), or when nothing usable is found. Unusable files
            inside a folder are skipped and listed in `warnings`, unless there is nothing else.
        """
        given = [paths] if isinstance(paths, (str, Path)) or hasattr(paths, "__fspath__") else list(paths)
        if cache_bytes <= 0:
            raise OutOfRangeError(
                f"cache_bytes {cache_bytes!r} is impossible: give a positive number of bytes"
            )
        index = FileIndex(None if index_dir is None else Path(index_dir))
        tiles, refused = find_tiles(given, index, Projections())  # type: ignore[arg-type]
        return cls(tiles, cache_bytes=cache_bytes, index=index, refused=refused)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close all files, forget decoded heights, and keep what was learned in the index."""
        self._blocks.close()
        self._index.save()

    def elevation_m(self, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> NDArray[np.float64]:
        """Heights of the ground above sea level, in the tiles' own vertical datum.

        Parameters
        ----------
        latitude_deg, longitude_deg : array_like
            Places [degrees, WGS 84]; any shapes that broadcast.

        Returns
        -------
        ndarray
            Of the broadcast shape [m]. NaN where a void is touched, on no tile, and for NaN coordinates.

        Raises
        ------
        TerrainError
            If a tile turns out to be damaged.
        """
        return self.sample(latitude_deg, longitude_deg)[0]

    def sample(
        self, latitude_deg: ArrayLike, longitude_deg: ArrayLike
    ) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
        """Heights, and which tile each comes from.

        Parameters
        ----------
        latitude_deg, longitude_deg : array_like
            As `elevation_m`.

        Returns
        -------
        height_m : ndarray
            As `elevation_m`.
        source : ndarray of int32
            Index into `tiles`; `NO_TILE` where there is none. A NaN height with a tile is a void in it.
        """
        latitude, longitude = np.broadcast_arrays(
            np.asarray(latitude_deg, np.float64), np.asarray(longitude_deg, np.float64)
        )
        shape = latitude.shape
        latitude, longitude = latitude.ravel(), longitude.ravel()
        height = np.full(latitude.shape, np.nan)
        source = np.full(latitude.shape, NO_TILE, np.int32)
        for start in range(0, latitude.size, _CHUNK):
            part = slice(start, start + _CHUNK)
            lat, lon = latitude[part], longitude[part]
            if not (np.abs(lon) <= 180.0).all():
                lon = np.remainder(lon + 180.0, 360.0) - 180.0
            coordinates = [frame.xy(lat, lon) for frame in self._frames]
            self._sample_chunk(coordinates, height[part], source[part])
        return height.reshape(shape), source.reshape(shape)

    @property
    def cached_bytes(self) -> int:
        """Memory that decoded heights take now."""
        return self._blocks.bytes_used

    @property
    def decoded_blocks(self) -> int:
        """How many blocks of 256 by 256 samples have been decoded so far."""
        return self._blocks.decoded_blocks

    def checksum(self, tile: Tile) -> str:
        """SHA-256 of a tile's file on disk, in hexadecimal.

        Worked out when first asked for and then remembered in the index until the file changes.
        """
        return self._index.checksum(Path(tile.path))

    def checksums(self, tiles: Iterable[Tile] | None = None) -> dict[str, str]:
        """Checksums by path, of all tiles or of those given."""
        return {tile.path: self.checksum(tile) for tile in (self.tiles if tiles is None else tiles)}

    def count_voids(self, tile: Tile) -> int:
        """Count the samples without height in a tile; reads all of it."""
        return sum(int(np.isnan(strip).sum()) for strip in self._blocks.whole(self.tiles.index(tile)))

    def tiles_touched(
        self, latitude_deg: NDArray[np.float64], longitude_deg: NDArray[np.float64]
    ) -> list[Touch]:
        """Tiles that a line comes over, whether or not a finer one hides them.

        Parameters
        ----------
        latitude_deg, longitude_deg : ndarray, shape (n,)
            Points along the line [degrees], so close that it is straight between two of them.

        Returns
        -------
        list of Touch
            Finest tile first.
        """
        finest: dict[int, Touch] = {}
        longitude = np.unwrap(longitude_deg, period=360.0)
        for frame in self._frames:
            for turn in _turns(frame, longitude):
                x, y = frame.xy(latitude_deg, longitude + turn)
                # Short pieces, so that a long slanting path does not ask every tile of its wide bounds.
                for start in range(0, max(x.size - 1, 1), 32):
                    piece = slice(start, start + 33)
                    for position in frame.near(x[piece], y[piece]):
                        p = frame.placements[position]
                        on = _segments_touch(p, x[piece], y[piece])
                        if on.any():
                            sides = frame.cell_sides_m(p, latitude_deg[piece][on], longitude[piece][on])
                            touch = Touch(p.index, float(np.nanmin(np.minimum(*sides))), frame, p)
                            if p.index not in finest or touch.cell_m < finest[p.index].cell_m:
                                finest[p.index] = touch
        return sorted(finest.values(), key=lambda touch: touch.index)

    def highest_within(self, latitude_deg: float, longitude_deg: float, radius_m: float) -> HighPoint | None:
        """Highest ground within a distance of a place.

        Parameters
        ----------
        latitude_deg, longitude_deg : float
            The place [degrees].
        radius_m : float
            How far to look [m]; at most 50 km, and never across a pole.

        Returns
        -------
        HighPoint or None
            None if no ground within the radius is known.

        Notes
        -----
        Looks at the place itself and at the samples of the finest tile around it; above four million samples
        they are thinned.
        """
        if not 0 < radius_m <= 50_000.0:
            raise OutOfRangeError(
                f"radius {radius_m!r} m is out of range: give more than 0 and at most 50000 m"
            )
        latitude, longitude = self._nodes_within(latitude_deg, longitude_deg, radius_m)
        north_m, east_m = metres_per_degree((latitude + latitude_deg) / 2)
        east_deg = np.remainder(longitude - longitude_deg + 180.0, 360.0) - 180.0
        distance = np.hypot((latitude - latitude_deg) * north_m, east_deg * east_m)
        height = np.where(distance <= radius_m, self.elevation_m(latitude, longitude), np.nan)
        if np.isnan(height).all():
            return None
        top = int(np.nanargmax(height))
        return HighPoint(
            latitude_deg=float(latitude[top]),
            longitude_deg=math.remainder(float(longitude[top]), 360.0),
            ground_m=float(height[top]),
            distance_m=float(distance[top]),
            rise_m=float(height[top] - height[0]),
        )

    def _nodes_within(
        self, latitude_deg: float, longitude_deg: float, radius_m: float
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Place itself and the samples of the finest tile around it, carried on beyond that tile's edges."""
        north_m, east_m = metres_per_degree(latitude_deg)
        turn = np.linspace(0.0, 2 * np.pi, 65)
        here_latitude, here_longitude = np.array([latitude_deg]), np.array([longitude_deg])
        touched = self.tiles_touched(
            np.append(here_latitude, latitude_deg + radius_m / north_m * np.sin(turn)),
            np.append(here_longitude, longitude_deg + radius_m / east_m * np.cos(turn)),
        )
        if not touched:
            return here_latitude, here_longitude
        frame, p = touched[0].frame, touched[0].placement
        x, y = frame.xy(here_latitude, here_longitude)
        along_row_m, along_column_m = frame.cell_sides_m(p, here_latitude, here_longitude)
        cols, rows = (
            math.ceil(1.1 * radius_m / float(side[0])) + 1 for side in (along_row_m, along_column_m)
        )
        thin = max(1, math.ceil(math.sqrt(4 * cols * rows / _MOST_NODES)))
        col, row = np.meshgrid(
            np.round((x - p.x0) / p.dx) + np.arange(-cols, cols + 1, thin),
            np.round((y - p.y0) / p.dy) + np.arange(-rows, rows + 1, thin),
        )
        latitude, longitude = frame.degrees(p.x0 + col.ravel() * p.dx, p.y0 + row.ravel() * p.dy)
        on_globe = np.isfinite(latitude) & np.isfinite(longitude) & (np.abs(latitude) <= 90.0)
        return np.append(here_latitude, latitude[on_globe]), np.append(here_longitude, longitude[on_globe])

    def _sample_chunk(
        self, coordinates: list[tuple[NDArray[Any], NDArray[Any]]], height: NDArray[Any], source: NDArray[Any]
    ) -> None:
        """Fill heights and sources of points whose coordinates in every frame are given."""
        near = [
            (frame.placements[i], f)
            for f, frame in enumerate(self._frames)
            for i in frame.near(*coordinates[f])
        ]
        if not near:
            return
        count = height.size
        if len(near) > 4 and count > 64 and self._worth_halving(coordinates, len(near)):
            for part in (slice(0, count // 2), slice(count // 2, count)):
                self._sample_chunk([(x[part], y[part]) for x, y in coordinates], height[part], source[part])
            return
        near.sort(key=lambda pair: pair[0].index)
        open_points = np.arange(count)
        passed: dict[int, list[Placement]] = {}
        for p, f in near:
            x, y = coordinates[f]
            if open_points.size < count:
                x, y = x.take(open_points), y.take(open_points)
            group = passed.setdefault(f, [])
            group.append(p)
            at = np.flatnonzero(p.holds(x, y, margin=1.5))
            if at.size == 0:
                continue
            if at.size < x.size:
                x, y = x.take(at), y.take(at)
            inside = p.holds(x, y)
            if inside.all():
                values = self._within(p, x, y)
            else:
                values = np.full(at.shape, np.nan)
                values[inside] = self._within(p, x[inside], y[inside])
                beside = np.flatnonzero(~inside)
                values[beside], between = across_seam(group, self._within, x[beside], y[beside])
                inside[beside] = between
                at, values = at[inside], values[inside]
            settled = np.zeros(open_points.size, np.bool_)
            settled[at] = self._settle(height, source, open_points.take(at), values, p)
            open_points = np.flatnonzero(~settled) if open_points.size == count else open_points[~settled]
            if open_points.size == 0:
                return
        open_points = open_points[source[open_points] == NO_TILE]
        for f, group in passed.items():
            if len(group) > 2 and open_points.size:
                x, y = coordinates[f]
                values, between = at_corner(group, self._within, x[open_points], y[open_points])
                self._settle(height, source, open_points[between], values[between], group[-1])
                open_points = open_points[~between]
        self._settle_rims(near, coordinates, open_points, height, source)

    def _worth_halving(self, coordinates: list[tuple[NDArray[Any], NDArray[Any]]], before: int) -> bool:
        half = coordinates[0][0].size // 2
        first = sum(
            len(f.near(x[:half], y[:half])) for f, (x, y) in zip(self._frames, coordinates, strict=True)
        )
        second = sum(
            len(f.near(x[half:], y[half:])) for f, (x, y) in zip(self._frames, coordinates, strict=True)
        )
        return max(first, second) <= 0.75 * before

    def _within(self, p: Placement, x: NDArray[Any], y: NDArray[Any]) -> NDArray[np.float64]:
        return self._blocks.bilinear(p.index, *p.grid(x, y))

    @staticmethod
    def _settle(
        height: NDArray[Any], source: NDArray[Any], at: NDArray[Any], values: NDArray[Any], p: Placement
    ) -> NDArray[np.bool_]:
        """Enter heights; a void stays open for coarser tiles, but belongs to the finest one."""
        known: NDArray[np.bool_] = ~np.isnan(values)
        if known.all():
            height[at] = values
            source[at] = p.index
            return known
        height[at[known]] = values[known]
        source[at[known]] = p.index
        void = at[~known]
        source[void[source[void] == NO_TILE]] = p.index
        return known

    def _settle_rims(
        self,
        near: list[tuple[Placement, int]],
        coordinates: list[tuple[NDArray[Any], NDArray[Any]]],
        open_points: NDArray[Any],
        height: NDArray[Any],
        source: NDArray[Any],
    ) -> None:
        """In the outer half cell of a raster with nothing beyond it, its edge samples hold."""
        for p, f in near:
            if open_points.size == 0:
                return
            x, y = coordinates[f]
            x, y = x[open_points], y[open_points]
            inside = p.holds(x, y, margin=0.5)
            at = open_points[inside]
            if at.size:
                self._settle(height, source, at, self._within(p, x[inside], y[inside]), p)
                open_points = open_points[source[open_points] == NO_TILE]


@dataclass(frozen=True)
class Touch:
    """A tile that a line comes over, and the shorter ground side of its cells along that line [m]."""

    index: int
    cell_m: float
    frame: Frame
    placement: Placement


def _turns(frame: Frame, longitude_deg: NDArray[np.float64]) -> list[float]:
    """Whole turns that bring a line to the longitudes of a frame's tiles."""
    if not frame.in_degrees:
        return [0.0]
    west = min(p.west - p.cell_x for p in frame.placements)
    east = max(p.east + p.cell_x for p in frame.placements)
    first, last = float(longitude_deg.min()), float(longitude_deg.max())
    return [turn for turn in (-360.0, 0.0, 360.0) if first + turn <= east and last + turn >= west]


def _segments_touch(p: Placement, x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which points belong to a segment that meets a tile (with its outer half cells)."""
    west, east = p.west - p.cell_x / 2, p.east + p.cell_x / 2
    south, north = p.south - p.cell_y / 2, p.north + p.cell_y / 2
    on = (x >= west) & (x <= east) & (y >= south) & (y <= north)
    enter, leave = np.zeros(x.size - 1), np.ones(x.size - 1)
    for at, low, high in ((x, west, east), (y, south, north)):
        start, run = at[:-1], np.diff(at)
        with np.errstate(divide="ignore", invalid="ignore"):
            first, last = (low - start) / run, (high - start) / run
        still = run == 0
        outside = still & ((start < low) | (start > high))
        first, last = np.where(still, -np.inf, first), np.where(still, np.inf, last)
        enter = np.maximum(enter, np.minimum(first, last))
        leave = np.where(outside, -np.inf, np.minimum(leave, np.maximum(first, last)))
    crosses = enter <= leave
    on[:-1] |= crosses
    on[1:] |= crosses
    return on
