"""Losses from many places to many stations, in pieces: every link on a geodesic of its own, compiled."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.polynomial import chebyshev

from pathprofile import geodesy
from pathprofile.area.end_losses import twins
from pathprofile.area.receivers import NEAREST_KM, Link
from pathprofile.area.strips import in_threads
from pathprofile.area.work import by_tile, run_pieces
from pathprofile.errors import OutOfRangeError
from pathprofile.geodesy import EQUAL_ENDS_M
from pathprofile.propagation import free_space
from pathprofile.terrain.profile import LONGEST_BRIDGE_M

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from pathlib import Path

    import numpy.typing as npt

    from pathprofile.area.work import Engine, PieceStore, State
    from pathprofile.atmosphere import Atmosphere
    from pathprofile.terrain.store import TerrainStore

    Arrays = dict[str, npt.NDArray[Any]]
    Floats = npt.NDArray[np.float64]
    Ints = npt.NDArray[np.int64]

__all__ = ["FarEnd", "LinkTask", "Losses", "SitePiece", "losses_between", "site_pieces"]

_LINKS_A_PIECE = 2_000
_POINTS_AT_ONCE = 200_000
_FEWEST_POINTS, _MOST_POINTS = 33, 200_000
"""As many points on a path as `pathprofile.terrain.profile.extract_profile` takes."""
_FEWEST_NODES = 9
_NODES_EACH_M = 150_000.0
_MOST_NODES = 24
_METRES_PER_DEGREE = 111_000.0


class FarEnd(NamedTuple):
    """A station as seen from all places, and what the link to it uses.

    ``ground_m`` is NaN where the tiles tell it. ``near_agl_m`` is the antenna at the places.
    """

    latitude_deg: float
    longitude_deg: float
    ground_m: float
    antenna_agl_m: float
    near_agl_m: float
    frequency_mhz: float
    vertical: bool
    step_m: float


class SitePiece(NamedTuple):
    """Places that stand on one tile, and the stations asked for (numbers into `LinkTask.far`).

    ``ground_m`` is NaN where the tiles tell it.
    """

    latitude_deg: Floats
    longitude_deg: Floats
    ground_m: Floats
    far: tuple[int, ...]


class _Chunk(NamedTuple):
    """Links of several places to one station, with the ground below them."""

    rows: slice
    column: int
    station: FarEnd
    offset: Ints
    distance_m: Floats
    latitude_deg: Floats
    ground_m: Floats


class Losses(NamedTuple):
    """Losses of all links, and how much of it was worked out now.

    ``loss_db`` has the shape (places, stations): for half of the time, over bare inland ground; NaN where the
    ground does not reach. ``worked`` and ``kept`` count links done now and taken from finished pieces.
    """

    loss_db: Floats
    worked: int
    kept: int


@dataclass(frozen=True)
class LinkTask:
    """Losses of the links of one piece.

    Attributes
    ----------
    far : tuple of FarEnd
        The stations.
    atmosphere : Atmosphere
    sea_where_missing : bool
        Take ground where there is no tile as sea at 0 m.
    threads : int
        How many compute while this one reads.
    cache_dir : Path or None
        Where compiled code is kept.
    """

    far: tuple[FarEnd, ...]
    atmosphere: Atmosphere
    sea_where_missing: bool = False
    threads: int = 2
    cache_dir: Path | None = None

    def inputs(self) -> object:
        """See `pathprofile.area.work.Task`."""
        return self.far, self.atmosphere, self.sea_where_missing

    def __call__(self, piece: SitePiece, ground: Any) -> Arrays:
        """Losses, shape (places, stations of the piece) [dB]."""
        kernels = twins(self.cache_dir)
        loss = np.full((piece.latitude_deg.size, len(piece.far)), math.nan)

        def compute(chunk: _Chunk) -> None:
            station = chunk.station
            link = Link(
                station.frequency_mhz / 1000.0,
                50.0,
                self.atmosphere.n0,
                station.vertical,
                50.0,
                0.0,
                station.near_agl_m,
                station.antenna_agl_m,
                self.atmosphere.effective_radius_m / 1000.0,
            )
            found = np.empty(chunk.distance_m.size)
            kernels.end_losses(
                chunk.offset,
                chunk.distance_m / 1000.0,
                chunk.ground_m,
                chunk.latitude_deg,
                LONGEST_BRIDGE_M / 1000.0,
                link,
                found,
            )
            for near in np.flatnonzero(chunk.distance_m < 1000.0 * NEAREST_KM):
                found[near] = free_space.loss_db(
                    max(float(chunk.distance_m[near]), 1.0), station.frequency_mhz
                )
            loss[chunk.rows, chunk.column] = found

        for _ in in_threads(self._chunks(piece, ground, kernels.places_between), compute, self.threads):
            pass
        return {"loss_db": loss}

    def _chunks(self, piece: SitePiece, ground: Any, places: Callable[..., Any]) -> Iterator[_Chunk]:
        for column, number in enumerate(piece.far):
            station = self.far[number]
            azimuth_deg, distance_m = _legs(piece, station)
            count = np.ceil(distance_m / station.step_m - 1e-9).astype(np.int64) + 1
            np.clip(count, _FEWEST_POINTS, _MOST_POINTS, out=count)
            start = 0
            while start < count.size:
                fits = int(np.searchsorted(np.cumsum(count[start:]), _POINTS_AT_ONCE, side="right"))
                rows = slice(start, start + max(fits, 1))
                start = rows.stop
                offset = np.concatenate([[0], np.cumsum(count[rows])])
                latitude, longitude = _points(
                    piece, station, rows, azimuth_deg[rows], distance_m[rows], offset, places
                )
                yield _Chunk(
                    rows,
                    column,
                    station,
                    offset,
                    distance_m[rows],
                    latitude,
                    self._ground(piece.ground_m[rows], station, offset, latitude, longitude, ground),
                )

    def _ground(
        self,
        near_m: Floats,
        station: FarEnd,
        offset: Ints,
        latitude: Floats,
        longitude: Floats,
        ground: Any,
    ) -> Floats:
        height: Floats
        height, source = ground.sample(latitude, longitude)
        if self.sea_where_missing:
            height[np.isnan(height) & (source < 0)] = 0.0
        stated = np.isfinite(near_m)
        height[offset[:-1][stated]] = near_m[stated]
        if math.isfinite(station.ground_m):
            height[offset[1:] - 1] = station.ground_m
        return height


def _legs(piece: SitePiece, station: FarEnd) -> tuple[Floats, Floats]:
    """Azimuth and length from each place; a station on the spot is as good as 1 cm north."""
    legs = np.zeros((piece.latitude_deg.size, 2))
    for row, place in enumerate(zip(piece.latitude_deg.tolist(), piece.longitude_deg.tolist(), strict=True)):
        apart = max(abs(place[0] - station.latitude_deg), abs(place[1] - station.longitude_deg))
        legs[row] = (0.0, 0.01)
        if apart > EQUAL_ENDS_M / _METRES_PER_DEGREE:
            leg = geodesy.inverse(*place, station.latitude_deg, station.longitude_deg)
            legs[row] = (leg.azimuth_deg, leg.distance_m)
    return np.ascontiguousarray(legs[:, 0]), np.ascontiguousarray(legs[:, 1])


def _points(
    piece: SitePiece,
    station: FarEnd,
    rows: slice,
    azimuth_deg: Floats,
    distance_m: Floats,
    offset: Ints,
    places: Callable[..., Any],
) -> tuple[Floats, Floats]:
    """Equally spaced points of each geodesic, one behind the other, both ends exactly as given."""
    start_latitude, start_longitude = piece.latitude_deg[rows], piece.longitude_deg[rows]
    far_m = float(distance_m.max())
    latitude, longitude = np.empty(int(offset[-1])), np.empty(int(offset[-1]))
    if float(np.abs(start_latitude).max()) + far_m / _METRES_PER_DEGREE < 89.0:
        terms = min(_FEWEST_NODES + int(far_m / _NODES_EACH_M), _MOST_NODES)
        nodes = np.cos(np.pi * np.arange(terms) / (terms - 1))
        share = 0.5 * (1.0 + nodes)
        node_latitude, node_longitude = geodesy.direct(
            start_latitude[:, np.newaxis],
            start_longitude[:, np.newaxis],
            azimuth_deg[:, np.newaxis],
            distance_m[:, np.newaxis] * share,
        )
        turn = np.remainder(node_longitude - start_longitude[:, np.newaxis] + 180.0, 360.0) - 180.0
        to_terms = np.linalg.inv(chebyshev.chebvander(nodes, terms - 1)).T
        places(
            node_latitude @ to_terms,
            start_longitude[:, np.newaxis] * (np.arange(terms) == 0) + turn @ to_terms,
            offset,
            latitude,
            longitude,
        )
    else:  # beside a pole longitude is no smooth function
        for row in range(distance_m.size):
            part = slice(offset[row], offset[row + 1])
            steps = np.linspace(0.0, distance_m[row], part.stop - part.start)
            latitude[part], longitude[part] = geodesy.direct(
                start_latitude[row], start_longitude[row], azimuth_deg[row], steps
            )
    latitude[offset[:-1]], longitude[offset[:-1]] = start_latitude, start_longitude
    latitude[offset[1:] - 1], longitude[offset[1:] - 1] = station.latitude_deg, station.longitude_deg
    return latitude, longitude


def site_pieces(
    latitude_deg: Floats,
    longitude_deg: Floats,
    ground_m: Floats,
    far: Sequence[FarEnd],
    terrain: TerrainStore,
) -> list[tuple[Ints, SitePiece]]:
    """Cut places and stations into pieces of links between one tile and another.

    Parameters
    ----------
    latitude_deg, longitude_deg, ground_m : ndarray, shape (n,)
        Places [degrees], and their ground where it is stated, else NaN [m].
    far : sequence of FarEnd
    terrain : TerrainStore

    Returns
    -------
    list of (ndarray of int64, SitePiece)
        Numbers of the places, and the piece: about 2,000 links whose paths come over the same tiles. Pieces
        of neighbouring tiles follow each other, so that a worker decodes a tile once as long as the tiles
        between fit its memory.
    """
    far_latitude = np.array([each.latitude_deg for each in far])
    far_longitude = np.array([each.longitude_deg for each in far])
    stations = by_tile(terrain, far_latitude, far_longitude)
    found = []
    for places in by_tile(terrain, latitude_deg, longitude_deg):
        for group in stations:
            for first in range(0, group.size, _LINKS_A_PIECE):
                numbers = tuple(group[first : first + _LINKS_A_PIECE].tolist())
                width = max(1, _LINKS_A_PIECE // len(numbers))
                for start in range(0, places.size, width):
                    rows = places[start : start + width]
                    piece = SitePiece(latitude_deg[rows], longitude_deg[rows], ground_m[rows], numbers)
                    found.append((rows, piece))
    return found


def losses_between(
    latitude_deg: Floats,
    longitude_deg: Floats,
    far: Sequence[FarEnd],
    terrain: TerrainStore,
    *,
    atmosphere: Atmosphere,
    ground_m: Floats | None = None,
    sea_where_missing: bool = False,
    threads: int = 2,
    cache_dir: Path | None = None,
    engine: Engine | None = None,
    store: PieceStore | None = None,
    progress: Callable[[State], None] | None = None,
) -> Losses:
    """Median P.1812 loss from every place to every station.

    Parameters
    ----------
    latitude_deg, longitude_deg : ndarray, shape (n,)
        Places [degrees].
    far : sequence of FarEnd
        Stations, m of them.
    terrain : TerrainStore
    atmosphere : Atmosphere
        Of the whole area.
    ground_m : ndarray, shape (n,), optional
        Stated ground of places, NaN where the tiles tell it [m].
    sea_where_missing : bool
        Take ground where there is no tile as sea at 0 m.
    threads : int
        How many compute while one reads, in each process.
    cache_dir : Path, optional
        Where compiled code is kept, see `pathprofile.area.compiled.compiled`.
    engine, store, progress
        As for `pathprofile.area.work.run_pieces`; progress counts links.

    Returns
    -------
    Losses

    Raises
    ------
    OutOfRangeError
        For arrays of different lengths, or a step that is not above 0.

    Notes
    -----
    Each loss is that of `pathprofile.propagation.p1812.predict` at 50 % of the time on the profile along the
    link's own geodesic, sampled as `FarEnd.step_m` says, all inland and without clutter. Holes up to 3 km are
    bridged straight. Below 250 m, where P.1812 ends, the loss is that of free space.

    Memory: 8 bytes a link for the result; 5 MB a chunk of 200,000 points, at most ``threads`` + 2 of them at
    a time in each process; decoded ground as the store or the engine bounds it.

    References
    ----------
    .. [1] ITU-R P.1812-8 (09/2025).
    """
    latitude, longitude = (
        np.ascontiguousarray(part, dtype=np.float64) for part in (latitude_deg, longitude_deg)
    )
    stated = np.full(latitude.shape, math.nan) if ground_m is None else np.asarray(ground_m, np.float64)
    if not latitude.shape == longitude.shape == stated.shape or latitude.ndim != 1:
        raise OutOfRangeError(
            f"places of shapes {latitude.shape}, {longitude.shape} and {stated.shape}: "
            "give one length for all"
        )
    for each in far:
        if not each.step_m > 0.0:
            raise OutOfRangeError(f"step {each.step_m!r} m is impossible: give a length above 0 m")
    loss = np.full((latitude.size, len(far)), math.nan)
    if loss.size == 0:
        return Losses(loss, 0, 0)
    task = LinkTask(tuple(far), atmosphere, sea_where_missing, threads, cache_dir)
    cut = site_pieces(latitude, longitude, stated, far, terrain)
    pieces = [piece for _, piece in cut]
    counts = [float(rows.size * len(piece.far)) for rows, piece in cut]
    worked = kept = 0
    for number, result, from_store in run_pieces(
        task, pieces, terrain, engine=engine, store=store, weights=counts, progress=progress
    ):
        rows, piece = cut[number]
        loss[np.ix_(rows, np.array(piece.far))] = result["loss_db"]
        worked += 0 if from_store else int(counts[number])
        kept += int(counts[number]) if from_store else 0
    return Losses(loss, worked, kept)
