"""The ground, or what stands a stated height above it, that is in sight from a site."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pathprofile.area.compiled import compiled
from pathprofile.area.grid import Grid
from pathprofile.area.strips import in_threads, rays_round, reach_note
from pathprofile.atmosphere import Atmosphere
from pathprofile.propagation import _checks

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    import numpy.typing as npt

    from pathprofile.area.mosaic import Mosaic
    from pathprofile.area.strips import Strip
    from pathprofile.places.location import Location
    from pathprofile.terrain.store import TerrainStore

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.uint8]

__all__ = ["HIDDEN", "IN_SIGHT", "UNKNOWN", "InSight", "in_sight"]

HIDDEN = 0
IN_SIGHT = 1
UNKNOWN = 255
"""Beyond the radius or the tiles, in a hole, or behind one too wide to bridge."""

MOST_RADIALS = 14_400
FEWEST_RADIALS = 360
_CELLS_AT_ONCE = 60_000
_METHOD = "in sight"


@dataclass(frozen=True)
class InSight:
    """What is in sight round a site.

    Attributes
    ----------
    site : Location
        Where it is seen from.
    eye_amsl_m, target_agl_m : float
        Antenna above sea level, and height above the ground that is to be seen [m].
    effective_radius_m : float
        Of the Earth on which rays are straight [m].
    grid : Grid
        Where the cells of the map are.
    map_seen : ndarray of uint8, shape grid.shape
        ``IN_SIGHT``, ``HIDDEN`` or ``UNKNOWN``.
    resolution_m : float
        The coarser of the cell and the distance of neighbouring rays at the rim [m].
    reach_m : ndarray, shape (r,)
        How far the ground is known on each ray, from true north clockwise [m].
    notes : tuple of str
        What the user should know, one line each.
    """

    site: Location
    eye_amsl_m: float
    target_agl_m: float
    effective_radius_m: float
    grid: Grid
    map_seen: Flags
    resolution_m: float
    reach_m: Floats
    notes: tuple[str, ...]

    @property
    def area_km2(self) -> float:
        """Area in sight [km²]."""
        return float(np.count_nonzero(self.map_seen == IN_SIGHT)) * (self.grid.cell_m / 1000.0) ** 2


def in_sight(
    site: Location,
    store: TerrainStore | Mosaic,
    *,
    radius_m: float,
    antenna_agl_m: float,
    target_agl_m: float,
    cell_m: float = 90.0,
    radials: int | None = None,
    atmosphere: Atmosphere | None = None,
    ground_m: float | None = None,
    sea_where_missing: bool = False,
    threads: int = 2,
    cache_dir: Path | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> InSight:
    """Map what is in sight round a site.

    Parameters
    ----------
    site : Location
        Where it is seen from.
    store : TerrainStore or Mosaic
        The ground.
    radius_m : float
        How far to look [m].
    antenna_agl_m, target_agl_m : float
        Antenna above the ground, and height above the ground elsewhere that is to be seen [m].
    cell_m : float
        Cell of the map and spacing of points on a ray [m].
    radials : int, optional
        How many rays. By default as many as keep them a cell apart at the rim, from 360 to 14 400.
    atmosphere : Atmosphere, optional
        Gives the effective Earth radius.
    ground_m, sea_where_missing, threads, cache_dir, progress
        As in `pathprofile.area.coverage.coverage`.

    Returns
    -------
    InSight

    Raises
    ------
    OutOfRangeError
        For a number outside its range.
    TerrainGapError
        If the site itself has no ground.

    Notes
    -----
    A point is in sight when no ground between rises above the straight line to it over the Earth of effective
    radius, as in `pathprofile.sightline.sightline`; ground just touching the line does not hide. Each cell's
    own ground is held against the horizon before it, taken between the two rays beside it.
    """
    air = Atmosphere() if atmosphere is None else atmosphere
    agl_m = _checks.number(_METHOD, "antenna_agl_m", antenna_agl_m, 0.01, 3000.0, "m")
    target_m = _checks.number(_METHOD, "target_agl_m", target_agl_m, 0.0, 3000.0, "m")
    if radials is None:
        around = 2.0 * math.pi * radius_m / cell_m if cell_m > 0.0 and math.isfinite(radius_m) else 0.0
        radials = max(FEWEST_RADIALS, min(math.ceil(around), MOST_RADIALS))
    rays = rays_round(
        site,
        store,
        radius_m=radius_m,
        step_m=cell_m,
        rays=radials,
        ground_m=ground_m,
        sea_where_missing=sea_where_missing,
    )
    kernels = compiled(cache_dir)
    along_km = rays.distance_m / 1000.0
    eye_m = rays.site_ground_m + agl_m
    bend = 500.0 / (air.effective_radius_m / 1000.0)
    steepest = np.empty((radials, along_km.size), np.float32)

    def look(strip: Strip, known: npt.NDArray[np.int64]) -> None:
        kernels.steepest_before(along_km, strip.ground_m, known, eye_m, bend, steepest[strip.rays])

    known, _ = rays.work(kernels, look, threads=threads, progress=progress)

    grid = Grid(site.latitude_deg, site.longitude_deg, cell_m, along_km.size - 1)
    seen = np.empty(grid.shape, np.uint8)
    rows = max(1, _CELLS_AT_ONCE // grid.shape[1])

    def bands() -> Iterator[tuple[int, Floats]]:
        for top in range(0, grid.shape[0], rows):
            yield top, rays.ground_at(*grid.places_of_rows(top, top + rows))

    def compare(band: tuple[int, Floats]) -> None:
        top, ground = band
        part = seen[top : top + rows]
        kernels.sights(steepest, cell_m, cell_m, top, grid.half, ground, eye_m, target_m, bend, part)

    for _ in in_threads(bands(), compare, threads):
        pass
    notes = (kernels.note, reach_note(rays, known))
    return InSight(
        site=site,
        eye_amsl_m=eye_m,
        target_agl_m=target_m,
        effective_radius_m=air.effective_radius_m,
        grid=grid,
        map_seen=seen,
        resolution_m=max(cell_m, 2.0 * math.pi * float(rays.distance_m[-1]) / radials),
        reach_m=rays.distance_m[known - 1],
        notes=tuple(note for note in notes if note is not None),
    )
