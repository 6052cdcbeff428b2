"""Coverage of many sites, one piece each."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from pathprofile.area.coverage import Coverage, coverage
from pathprofile.area.grid import Grid
from pathprofile.area.work import by_tile, run_pieces
from pathprofile.errors import OutOfRangeError
from pathprofile.places.location import Location

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from pathlib import Path

    import numpy.typing as npt

    from pathprofile.area.work import Engine, PieceStore, State
    from pathprofile.terrain.store import TerrainStore

    Arrays = dict[str, npt.NDArray[Any]]

__all__ = ["CoverageTask", "SitePoint", "coverages"]

_ARRAYS = ("azimuth_deg", "distance_m", "loss_db", "reach_m", "map_loss_db", "map_status")
_NUMBERS = (
    "site_ground_m",
    "frequency_mhz",
    "time_percent",
    "antenna_agl_m",
    "receiver_agl_m",
    "resolution_m",
    "bridged_share",
)


class SitePoint(NamedTuple):
    """A site; ``ground_m`` is NaN where the tiles tell it."""

    latitude_deg: float
    longitude_deg: float
    ground_m: float


@dataclass(frozen=True)
class CoverageTask:
    """Coverage of one site.

    Attributes
    ----------
    asked : mapping of str to object
        Keywords of `pathprofile.area.coverage.coverage` that decide the result.
    threads : int
    cache_dir : Path or None
    """

    asked: Mapping[str, Any]
    threads: int = 2
    cache_dir: Path | None = None

    def inputs(self) -> object:
        """See `pathprofile.area.work.Task`."""
        return self.asked

    def __call__(self, piece: SitePoint, ground: Any) -> Arrays:
        """Work the coverage out, and take it apart into arrays."""
        found = coverage(
            Location(piece.latitude_deg, piece.longitude_deg),
            ground,
            ground_m=piece.ground_m if math.isfinite(piece.ground_m) else None,
            threads=self.threads,
            cache_dir=self.cache_dir,
            **self.asked,
        )
        arrays: Arrays = {name: getattr(found, name) for name in _ARRAYS}
        arrays["numbers"] = np.array([getattr(found, name) for name in _NUMBERS], np.float64)
        arrays["cell_m"] = np.array(found.grid.cell_m)
        arrays["notes"] = np.array(found.notes, np.str_)
        return arrays


def coverages(
    sites: Sequence[Location],
    terrain: TerrainStore,
    *,
    ground_m: Sequence[float | None] | None = None,
    threads: int = 2,
    cache_dir: Path | None = None,
    engine: Engine | None = None,
    store: PieceStore | None = None,
    progress: Callable[[State], None] | None = None,
    **asked: Any,
) -> Iterator[tuple[int, Coverage]]:
    """Coverage of each of many sites, given as soon as it is done.

    Parameters
    ----------
    sites : sequence of Location
        The transmitters.
    terrain : TerrainStore
    ground_m : sequence of float or None, optional
        Stated ground of the sites [m].
    threads, cache_dir
        As for `pathprofile.area.coverage.coverage`, in each process.
    engine, store, progress
        As for `pathprofile.area.work.run_pieces`; progress counts sites.
    **asked
        The other keywords of `pathprofile.area.coverage.coverage`.

    Yields
    ------
    number : int
        Which site.
    found : Coverage
        As from `coverage` here, whatever the engine.

    Raises
    ------
    OutOfRangeError
        If stated heights are not one a site.
    PathProfileError
        As `coverage`, and as the engine.

    Notes
    -----
    Sites on one tile follow each other. Memory: two coverages a worker under way (8 bytes a point of the rays
    and 5 a cell of the map each); what is given is not held here.
    """
    stated = [None] * len(sites) if ground_m is None else list(ground_m)
    if len(stated) != len(sites):
        raise OutOfRangeError(f"{len(stated)} stated heights for {len(sites)} sites: give one each, or None")
    if not sites:
        return
    points = [
        SitePoint(site.latitude_deg, site.longitude_deg, math.nan if height is None else height)
        for site, height in zip(sites, stated, strict=True)
    ]
    places = np.array(points)
    groups = by_tile(terrain, places[:, 0], places[:, 1])
    order = [int(number) for group in groups for number in group]
    task = CoverageTask(asked, threads, cache_dir)
    pieces = [points[number] for number in order]
    for place, arrays, _ in run_pieces(task, pieces, terrain, engine=engine, store=store, progress=progress):
        number = order[place]
        yield number, _together(sites[number], arrays, asked)


def _together(site: Location, arrays: Arrays, asked: Mapping[str, Any]) -> Coverage:
    from pathprofile.atmosphere import Atmosphere

    fields: dict[str, Any] = {name: arrays[name] for name in _ARRAYS}
    fields |= zip(_NUMBERS, arrays["numbers"].tolist(), strict=True)
    half = arrays["distance_m"].size - 1
    return Coverage(
        site=site,
        radius_m=float(asked["radius_m"]),
        polarization=asked.get("polarization", "vertical"),
        atmosphere=asked.get("atmosphere") or Atmosphere(),
        grid=Grid(site.latitude_deg, site.longitude_deg, float(arrays["cell_m"]), half),
        notes=tuple(arrays["notes"].tolist()),
        **fields,
    )
