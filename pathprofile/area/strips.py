"""Ground along rays round a site, a strip of rays at a time: read in one thread, worked on in several."""

from __future__ import annotations

import math
from collections import deque
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from pathprofile.area.mosaic import Mosaic
from pathprofile.area.radials import places_along
from pathprofile.errors import OutOfRangeError, TerrainGapError
from pathprofile.terrain.profile import LONGEST_BRIDGE_M

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from concurrent.futures import Future

    import numpy.typing as npt

    from pathprofile.area.compiled import Kernels
    from pathprofile.places.location import Location
    from pathprofile.terrain.store import TerrainStore

    Floats = npt.NDArray[np.float64]
    Ints = npt.NDArray[np.int64]

__all__ = ["Rays", "Strip", "in_threads", "rays_round", "reach_note"]

Item = TypeVar("Item")
Result = TypeVar("Result")

_POINTS_AT_ONCE = 60_000
_READ_AHEAD = 2
MOST_POINTS = 200_000


@dataclass(frozen=True)
class Strip:
    """Neighbouring rays: which, their latitude [degrees] and ground [m], both of shape (rays, rings)."""

    rays: slice
    latitude_deg: Floats
    ground_m: Floats


@dataclass(frozen=True)
class Rays:
    """Rays from a site, and where the ground below them comes from.

    Attributes
    ----------
    azimuth_deg : ndarray, shape (r,)
        Clockwise from true north, evenly round.
    distance_m : ndarray, shape (n,)
        Rings, from 0 on.
    site_ground_m : float
        Ground at the site.
    """

    site: Location
    store: TerrainStore | Mosaic
    azimuth_deg: Floats
    distance_m: Floats
    site_ground_m: float
    sea_where_missing: bool

    def parts(self) -> Iterator[slice]:
        """Neighbouring rays that are worked on together."""
        width = max(1, min(32, _POINTS_AT_ONCE // self.distance_m.size))
        for start in range(0, self.azimuth_deg.size, width):
            yield slice(start, min(start + width, self.azimuth_deg.size))

    def strip(self, part: slice) -> Strip:
        """Read the ground below some rays."""
        latitude, longitude = places_along(
            self.site.latitude_deg, self.site.longitude_deg, self.azimuth_deg[part], self.distance_m
        )
        ground = self.ground_at(latitude, longitude)
        ground[:, 0] = self.site_ground_m
        return Strip(part, latitude, ground)

    def work(
        self,
        kernels: Kernels,
        task: Callable[[Strip, Ints], None],
        *,
        threads: int,
        progress: Callable[[int, int], None] | None,
    ) -> tuple[Ints, int]:
        """Call ``task(strip, known)`` for every strip, in ``threads`` threads, short holes bridged.

        Returns
        -------
        known : ndarray of int64, shape (r,)
            How many rings of each ray have ground.
        bridged : int
            Points that stand on bridged holes.
        """
        total = self.azimuth_deg.size
        known = np.zeros(total, np.int64)
        longest = int(LONGEST_BRIDGE_M / float(self.distance_m[1]))

        # a store reads for one thread only, a mosaic for all
        in_memory = isinstance(self.store, Mosaic)
        items: Iterable[Strip | slice] = self.parts() if in_memory else map(self.strip, self.parts())

        def one(item: Strip | slice) -> tuple[int, int]:
            strip = self.strip(item) if isinstance(item, slice) else item
            filled = kernels.bridge(strip.ground_m, longest, known[strip.rays])
            task(strip, known[strip.rays])
            return strip.latitude_deg.shape[0], int(filled)

        done = bridged = 0
        for rays, filled in in_threads(items, one, threads):
            done += rays
            bridged += filled
            if progress is not None:
                progress(done, total)
        return known, bridged

    def ground_at(self, latitude_deg: Floats, longitude_deg: Floats) -> Floats:
        """Ground at any places [m], NaN where there is none."""
        if isinstance(self.store, Mosaic) or not self.sea_where_missing:
            return self.store.elevation_m(latitude_deg, longitude_deg)
        ground, source = self.store.sample(latitude_deg, longitude_deg)
        ground[source < 0] = 0.0
        return ground


def in_threads(items: Iterable[Item], task: Callable[[Item], Result], threads: int) -> Iterator[Result]:
    """Yield ``task(item)`` in order, worked out in threads while items are read in this one.

    Only a few items are read ahead, so that memory stays bounded however slow the work. When this is left
    early, nothing more is begun and what is under way is waited for.

    Raises
    ------
    OutOfRangeError
        If the number of threads is impossible.
    """
    if not 1 <= threads <= 256:
        raise OutOfRangeError(f"threads {threads!r}: give 1 to 256, best the number of processor cores")
    waiting: deque[Future[Result]] = deque()
    pool = ThreadPoolExecutor(threads)
    try:
        for item in items:
            waiting.append(pool.submit(task, item))
            while len(waiting) >= threads + _READ_AHEAD:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def rays_round(
    site: Location,
    store: TerrainStore | Mosaic,
    *,
    radius_m: float,
    step_m: float,
    rays: int,
    ground_m: float | None = None,
    sea_where_missing: bool = False,
) -> Rays:
    """Lay out rays round a site.

    Parameters
    ----------
    site : Location
        Their origin.
    store : TerrainStore or Mosaic
        Where heights come from.
    radius_m, step_m : float
        Reach, and spacing of the rings [m].
    rays : int
        How many, evenly round from true north.
    ground_m : float, optional
        Ground at the site, in place of the store's [m].
    sea_where_missing : bool
        Take ground where there is no tile as sea at 0 m; for a `Mosaic` that was settled when it was made.

    Raises
    ------
    OutOfRangeError
        For a radius, step or number of rays that cannot be.
    TerrainGapError
        If the site itself has no ground.
    """
    if not (math.isfinite(radius_m) and 1_000.0 <= radius_m <= 3_000_000.0):
        raise OutOfRangeError(f"radius {radius_m!r} m: give 1000 to 3000000 m")
    if not (math.isfinite(step_m) and 1.0 <= step_m <= radius_m / 10.0):
        raise OutOfRangeError(f"cell {step_m!r} m: give 1 m to a tenth of the radius, {radius_m / 10.0:g} m")
    if not 8 <= rays <= 100_000:
        raise OutOfRangeError(f"{rays!r} radials: give 8 to 100000")
    rings = int(radius_m / step_m + 1e-9) + 1
    if rings > MOST_POINTS:
        raise OutOfRangeError(
            f"{rings} points a radial: a cell of {step_m:g} m is too fine for {radius_m / 1000.0:g} km, "
            f"give {radius_m / (MOST_POINTS - 1):.0f} m or more"
        )
    if ground_m is None:
        ground_m = float(store.elevation_m(site.latitude_deg, site.longitude_deg))
        if not math.isfinite(ground_m):
            raise TerrainGapError(
                f"no ground known at the site ({site.latitude_deg:.5f} {site.longitude_deg:.5f}): it "
                "lies in a hole of the elevation data or outside all tiles; move it, add the tile, or state"
                " its ground"
            )
    elif not -500.0 <= ground_m <= 9_000.0:
        raise OutOfRangeError(f"ground {ground_m!r} m at the site: give -500 to 9000 m above sea level")
    return Rays(
        site,
        store,
        np.arange(rays, dtype=np.float64) * (360.0 / rays),
        np.arange(rings, dtype=np.float64) * step_m,
        ground_m,
        sea_where_missing,
    )


def reach_note(rays: Rays, known: Ints) -> str | None:
    """One line on how far the ground is known, or None where it is known all over."""
    if bool((known == rays.distance_m.size).all()):
        return None
    nearest_m = float(rays.distance_m[known.min() - 1])
    farthest_m = float(rays.distance_m[known.max() - 1])
    short = float((known < rays.distance_m.size).mean())
    return (
        f"the elevation tiles end {nearest_m / 1000.0:.1f} to {farthest_m / 1000.0:.1f} km from the site on "
        f"{100.0 * short:.0f} % of the rays, short of the {rays.distance_m[-1] / 1000.0:.0f} km asked for; "
        "what lies beyond is left empty"
    )
