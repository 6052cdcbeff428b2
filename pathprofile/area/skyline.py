"""The horizon all round, as an antenna sees it through the bent rays of the atmosphere."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pathprofile.area.compiled import compiled
from pathprofile.area.strips import rays_round, reach_note
from pathprofile.atmosphere import Atmosphere
from pathprofile.propagation import _checks

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    import numpy.typing as npt

    from pathprofile.area.mosaic import Mosaic
    from pathprofile.area.strips import Strip
    from pathprofile.places.location import Location
    from pathprofile.terrain.store import TerrainStore

    Floats = npt.NDArray[np.float64]

__all__ = ["Skyline", "skyline"]

_METHOD = "skyline"


@dataclass(frozen=True)
class Skyline:
    """Horizon round a site.

    Attributes
    ----------
    site : Location
        Where it is seen from.
    eye_amsl_m : float
        Antenna above sea level [m].
    effective_radius_m : float
        Of the Earth on which rays are straight [m].
    azimuth_deg : ndarray, shape (r,)
        Bearings, clockwise from true north [degrees].
    elevation_deg : ndarray, shape (r,)
        Elevation angle of the highest ground known, positive above the level [degrees]; NaN where no ground
        is known. This is the horizon, but on bearings that are `open_end`.
    distance_m : ndarray, shape (r,)
        How far away that ground is [m]; NaN likewise.
    ground_m : ndarray, shape (r,)
        Its height above sea level [m]; NaN likewise.
    reach_m : ndarray, shape (r,)
        How far the ground is known [m].
    looked_m : float
        How far was looked: the last point within the radius asked [m].
    notes : tuple of str
        What the user should know, one line each.

    Notes
    -----
    Where the ground known ends nearer than the horizon of the open sea, the angle found may be no horizon at
    all: the end of the map looks like the edge of a table. Bare sea beyond would then stand above it. Such
    bearings are `open_end`, and `least_deg` is what the horizon there has at least. Any other bearing that is
    cut short may still hide a higher hill beyond.

    **Validity**: unknown ground is taken as no lower than the sea, which fails in a few basins of the Earth.
    """

    site: Location
    eye_amsl_m: float
    effective_radius_m: float
    azimuth_deg: Floats
    elevation_deg: Floats
    distance_m: Floats
    ground_m: Floats
    reach_m: Floats
    looked_m: float
    notes: tuple[str, ...]

    @property
    def sea_horizon_m(self) -> float:
        """How far off the horizon of the open sea is, √(2 · effective radius · eye) [m]; 0 from below it."""
        return math.sqrt(2.0 * self.effective_radius_m * max(self.eye_amsl_m, 0.0))

    @property
    def open_end(self) -> npt.NDArray[np.bool_]:
        """Bearings on which bare sea beyond the ground known would stand above all of it, shape (r,).

        The ground ends with the map, or with the radius asked: either way the true horizon lies beyond and
        higher. False where no ground is known at all.
        """
        return np.asarray(self.elevation_deg < self._sea_beyond_deg())

    @property
    def least_deg(self) -> Floats:
        """Elevation angle that the horizon has at least, shape (r,) [degrees].

        That of the highest ground known, or of bare sea beyond it where that is higher; NaN where no ground
        is known.
        """
        return np.where(self.open_end, self._sea_beyond_deg(), self.elevation_deg)

    def _sea_beyond_deg(self) -> Floats:
        """Where bare sea beyond the ground known stands highest: at its own horizon, or where it begins."""
        return self.elevation_of_deg(np.maximum(np.maximum(self.reach_m, self.sea_horizon_m), 1.0), 0.0)

    def elevation_of_deg(self, distance_m: npt.ArrayLike, height_amsl_m: npt.ArrayLike) -> Floats:
        """Elevation angle at which something far off appears, to compare with the horizon there [degrees].

        Parameters
        ----------
        distance_m, height_amsl_m : array_like
            Its distance and height above sea level [m].
        """
        away = np.asarray(distance_m, np.float64)
        rise = (np.asarray(height_amsl_m, np.float64) - self.eye_amsl_m) / away
        angle: Floats = np.rad2deg(np.arctan(rise - away / (2.0 * self.effective_radius_m)))
        return angle


def skyline(
    site: Location,
    store: TerrainStore | Mosaic,
    *,
    antenna_agl_m: float,
    radius_m: float = 160_000.0,
    bearings: int = 3600,
    step_m: float = 90.0,
    atmosphere: Atmosphere | None = None,
    ground_m: float | None = None,
    sea_where_missing: bool = False,
    threads: int = 2,
    cache_dir: Path | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Skyline:
    """Elevation angle and distance of the horizon on evenly spaced bearings.

    Parameters
    ----------
    site : Location
        Where it is seen from.
    store : TerrainStore or Mosaic
        The ground; a `Mosaic` is several times faster.
    antenna_agl_m : float
        Antenna above the ground [m].
    radius_m : float
        How far to look [m].
    bearings : int
        How many.
    step_m : float
        Spacing of the points looked at on each bearing [m].
    atmosphere : Atmosphere, optional
        Gives the effective Earth radius.
    ground_m, sea_where_missing, threads, cache_dir, progress
        As in `pathprofile.area.coverage.coverage`.

    Returns
    -------
    Skyline

    Raises
    ------
    OutOfRangeError
        For a number outside its range.
    TerrainGapError
        If the site itself has no ground.

    Notes
    -----
    The angle of ground h at distance d is that of P.1812-8 eq. 76, atan((h − eye)/d − d/2a): bare ground,
    nothing standing on it. What lies beyond the radius or the tiles does not count; `Skyline.open_end` tells
    where it must be higher.
    """
    air = Atmosphere() if atmosphere is None else atmosphere
    agl_m = _checks.number(_METHOD, "antenna_agl_m", antenna_agl_m, 0.01, 3000.0, "m")
    rays = rays_round(
        site,
        store,
        radius_m=radius_m,
        step_m=step_m,
        rays=bearings,
        ground_m=ground_m,
        sea_where_missing=sea_where_missing,
    )
    kernels = compiled(cache_dir)
    along_km = rays.distance_m / 1000.0
    eye_m = rays.site_ground_m + agl_m
    bend = 500.0 / (air.effective_radius_m / 1000.0)
    slope = np.empty(bearings)
    at = np.empty(bearings, np.int64)
    height = np.empty(bearings)

    def task(strip: Strip, known: npt.NDArray[np.int64]) -> None:
        part = strip.rays
        kernels.horizons(along_km, strip.ground_m, known, eye_m, bend, slope[part], at[part])
        height[part] = strip.ground_m[np.arange(known.size), at[part]]

    known, _ = rays.work(kernels, task, threads=threads, progress=progress)
    seen = at > 0
    notes = (kernels.note, reach_note(rays, known))
    return Skyline(
        site=site,
        eye_amsl_m=eye_m,
        effective_radius_m=air.effective_radius_m,
        azimuth_deg=rays.azimuth_deg,
        elevation_deg=np.rad2deg(np.arctan(slope / 1000.0)),
        distance_m=np.where(seen, rays.distance_m[at], math.nan),
        ground_m=np.where(seen, height, math.nan),
        reach_m=rays.distance_m[known - 1],
        looked_m=float(rays.distance_m[-1]),
        notes=tuple(note for note in notes if note is not None),
    )
