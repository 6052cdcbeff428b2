"""Where a signal reaches: complete P.1812 to every point round a site."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pathprofile.area.compiled import compiled
from pathprofile.area.grid import Grid
from pathprofile.area.polar import NO_GROUND, OUTSIDE, PREDICTED, TOO_NEAR
from pathprofile.area.receivers import Link
from pathprofile.area.strips import in_threads, rays_round, reach_note
from pathprofile.atmosphere import Atmosphere
from pathprofile.propagation import _checks
from pathprofile.propagation.p1812.geometry import INLAND

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    import numpy.typing as npt

    from pathprofile.area.mosaic import Mosaic
    from pathprofile.area.strips import Strip
    from pathprofile.places.location import Location
    from pathprofile.terrain.store import TerrainStore

    Floats = npt.NDArray[np.float64]
    Singles = npt.NDArray[np.float32]

__all__ = ["MOST_RADIALS", "NO_GROUND", "OUTSIDE", "PREDICTED", "TOO_NEAR", "Coverage", "coverage"]

MOST_RADIALS = 3600
FEWEST_RADIALS = 360
_CELLS_AT_ONCE = 250_000
_METHOD = "coverage"


@dataclass(frozen=True)
class Coverage:
    """Basic transmission loss round a site, on rays and as a map.

    Attributes
    ----------
    site : Location
        The transmitter.
    site_ground_m : float
        Ground there [m].
    frequency_mhz, time_percent, antenna_agl_m, receiver_agl_m : float
        What was asked.
    polarization : str
        Polarization.
    atmosphere : Atmosphere
        Of the whole area.
    azimuth_deg : ndarray, shape (r,)
        Rays, clockwise from true north [degrees].
    distance_m : ndarray, shape (n,)
        Rings [m].
    loss_db : ndarray, shape (r, n)
        Loss not exceeded for ``time_percent`` [dB]; NaN where there is none.
    reach_m : ndarray, shape (r,)
        How far the ground is known on each ray [m].
    grid : Grid
        Where the cells of the map are.
    map_loss_db : ndarray of float32, shape grid.shape
        Loss in each cell [dB], of its nearest ray and ring; NaN where there is none.
    map_status : ndarray of uint8, shape grid.shape
        ``PREDICTED``, or why not: ``OUTSIDE`` the radius, ``TOO_NEAR`` for P.1812, ``NO_GROUND``.
    radius_m : float
        How far was asked; the last of ``distance_m`` is the last whole ring within it [m].
    resolution_m : float
        The coarser of the cell and the distance of neighbouring rays at the rim [m].
    bridged_share : float
        Share of the points that stand on bridged holes.
    notes : tuple of str
        What the user should know, one line each.
    """

    site: Location
    site_ground_m: float
    frequency_mhz: float
    time_percent: float
    antenna_agl_m: float
    receiver_agl_m: float
    polarization: str
    atmosphere: Atmosphere
    azimuth_deg: Floats
    distance_m: Floats
    loss_db: Floats
    reach_m: Floats
    grid: Grid
    map_loss_db: Singles
    map_status: npt.NDArray[np.uint8]
    radius_m: float
    resolution_m: float
    bridged_share: float
    notes: tuple[str, ...]

    def margin_db(self, tolerable_loss_db: float) -> Singles:
        """Margin in each cell [dB]; NaN where nothing is predicted.

        Parameters
        ----------
        tolerable_loss_db : float
            Greatest loss at which the contact is still made in the direction wanted: power, antennas, noise
            and mode of the two ends together [dB]. The loss is the same both ways, this figure is not.
        """
        return np.float32(tolerable_loss_db) - self.map_loss_db


def coverage(
    site: Location,
    store: TerrainStore | Mosaic,
    *,
    radius_m: float,
    frequency_mhz: float,
    antenna_agl_m: float,
    receiver_agl_m: float,
    polarization: str = "vertical",
    time_percent: float = 50.0,
    atmosphere: Atmosphere | None = None,
    location_percent: float = 50.0,
    location_sigma_db: float = 0.0,
    cell_m: float = 90.0,
    radials: int | None = None,
    ground_m: float | None = None,
    sea_where_missing: bool = False,
    threads: int = 2,
    cache_dir: Path | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Coverage:
    """Predict the loss to every point round a site by ITU-R P.1812-8.

    Parameters
    ----------
    site : Location
        The transmitter.
    store : TerrainStore or Mosaic
        The ground.
    radius_m : float
        How far to predict, 1 to 3000 km [m].
    frequency_mhz : float
        Frequency, 30 to 6000 [MHz].
    antenna_agl_m, receiver_agl_m : float
        Antennas above the ground at the site and everywhere else [m].
    polarization : {"horizontal", "vertical"}
        Polarization.
    time_percent : float
        Share of an average year for which the loss is not exceeded, 1 to 50 [%].
    atmosphere : Atmosphere, optional
        Of the whole area.
    location_percent, location_sigma_db : float
        Share of the places in a cell for which the loss is not exceeded, and the spread among them [%, dB].
    cell_m : float
        Cell of the map and spacing of points on a ray [m].
    radials : int, optional
        How many rays. By default as many as keep them a cell apart at the rim, from 360 to 3600.
    ground_m : float, optional
        Ground at the site, in place of the store's [m].
    sea_where_missing : bool
        Take ground where there is no tile as sea at 0 m.
    threads : int
        How many work at once.
    cache_dir : Path, optional
        Where compiled code is kept between runs, see `pathprofile.area.compiled.compiled`.
    progress : callable, optional
        Called with rays done and rays in all.

    Returns
    -------
    Coverage

    Raises
    ------
    OutOfRangeError
        For a number outside its range.
    TerrainGapError
        If the site itself has no ground.

    Notes
    -----
    **Validity**: that of P.1812. The path is taken as inland and without clutter. Receivers nearer than 250 m
    or four points are not predicted.

    The loss on a ray equals `pathprofile.propagation.p1812.predict` on the profile of that ray. Holes up to
    3 km are bridged straight along each ray; where the ground ends, or behind a wider hole, the ray ends.

    Memory: 8 bytes a point of ``loss_db`` and 5 a cell of the map; the ground is read in strips of at most 32
    rays and not kept.

    References
    ----------
    .. [1] ITU-R P.1812-8 (09/2025).
    """
    air = Atmosphere() if atmosphere is None else atmosphere
    link = Link(
        _checks.number(_METHOD, "frequency_mhz", frequency_mhz, 30.0, 6000.0, "MHz") / 1000.0,
        _checks.number(_METHOD, "time_percent", time_percent, 1.0, 50.0, "%"),
        air.n0,
        _checks.is_vertical(_METHOD, polarization),
        _checks.number(_METHOD, "location_percent", location_percent, 1.0, 99.0, "%"),
        _checks.number(_METHOD, "location_sigma_db", location_sigma_db, 0.0, 100.0, "dB"),
        _checks.number(_METHOD, "antenna_agl_m", antenna_agl_m, 0.01, 3000.0, "m"),
        _checks.number(_METHOD, "receiver_agl_m", receiver_agl_m, 0.01, 3000.0, "m"),
        air.effective_radius_m / 1000.0,
    )
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
    zone = np.full((1, along_km.size), INLAND, np.uint8)
    loss = np.empty((radials, along_km.size))

    def task(strip: Strip, known: npt.NDArray[np.int64]) -> None:
        kernels.field_losses(
            along_km, strip.ground_m, known, strip.latitude_deg, zone, link, loss[strip.rays]
        )

    known, bridged = rays.work(kernels, task, threads=threads, progress=progress)

    grid = Grid(site.latitude_deg, site.longitude_deg, cell_m, along_km.size - 1)
    map_loss = np.empty(grid.shape, np.float32)
    map_status = np.empty(grid.shape, np.uint8)
    rows = max(1, _CELLS_AT_ONCE // grid.shape[1])

    def write(top: int) -> None:
        part = slice(top, top + rows)
        kernels.to_grid(loss, known, cell_m, cell_m, top, grid.half, map_loss[part], map_status[part])

    for _ in in_threads(range(0, grid.shape[0], rows), write, threads):
        pass
    rim_m = 2.0 * math.pi * float(rays.distance_m[-1]) / radials
    notes = [kernels.note, reach_note(rays, known)]
    if rim_m > 1.5 * cell_m:
        notes.append(
            f"{radials} radials: at the rim they are {rim_m:.0f} m apart, wider than the cell of {cell_m:g} m"
        )
    return Coverage(
        site=site,
        site_ground_m=rays.site_ground_m,
        frequency_mhz=float(frequency_mhz),
        time_percent=float(time_percent),
        antenna_agl_m=float(antenna_agl_m),
        receiver_agl_m=float(receiver_agl_m),
        polarization=polarization,
        atmosphere=air,
        azimuth_deg=rays.azimuth_deg,
        distance_m=rays.distance_m,
        loss_db=loss,
        reach_m=rays.distance_m[known - 1],
        grid=grid,
        map_loss_db=map_loss,
        map_status=map_status,
        radius_m=float(radius_m),
        resolution_m=max(cell_m, rim_m),
        bridged_share=bridged / max(int(known.sum()), 1),
        notes=tuple(note for note in notes if note is not None),
    )
