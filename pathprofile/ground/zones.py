"""Which parts of a path are sea, coastal land and inland, as ITU-R P.1812 wants them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

import numpy as np

from pathprofile.errors import OutOfRangeError

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Ints = npt.NDArray[np.int64]

__all__ = [
    "COASTAL",
    "INLAND",
    "SEA",
    "Zones",
    "inland",
    "zones_from_sea",
    "zones_from_stretches",
    "zones_from_terrain",
]

SEA, COASTAL, INLAND = 1, 3, 4
"""Zone codes of the Recommendation's profiles (P.1812-8 §3.2.1)."""
_COAST_WITHIN_M = 50_000.0
_COAST_BELOW_M = 100.0
_FAR_FROM_COAST_KM = 500.0
_LEAST_SEA_KM2 = 25.0
_GRID_M = 500.0


class _Elevations(Protocol):
    def elevation_m(self, latitude_deg: Floats, longitude_deg: Floats) -> Floats: ...


@dataclass(frozen=True)
class Zones:
    """Zones along a profile.

    Attributes
    ----------
    zone : ndarray of int, shape (n,)
        1 sea, 3 coastal land, 4 inland.
    from_coast_km, to_coast_km : float
        Land distance from each end to the coast along the path; 0 at sea, 500 where there is none.
    """

    zone: Ints
    from_coast_km: float
    to_coast_km: float

    @property
    def sea_share(self) -> float:
        """Share of the points that are sea."""
        return float(np.mean(self.zone == SEA))


def inland(count: int) -> Zones:
    """All inland: what is assumed where nothing else is known."""
    return Zones(np.full(count, INLAND), _FAR_FROM_COAST_KM, _FAR_FROM_COAST_KM)


def zones_from_stretches(distance_m: Floats, ground_m: Floats, sea: tuple[tuple[float, float], ...]) -> Zones:
    """Zones from stretches of sea that the user states, in metres from FROM.

    Raises
    ------
    OutOfRangeError
        For a stretch that is empty or off the path.
    """
    wet = np.zeros(distance_m.shape, dtype=bool)
    for start_m, stop_m in sea:
        if not 0.0 <= start_m < stop_m <= distance_m[-1] + 1.0:
            raise OutOfRangeError(
                f"sea from {start_m / 1000:g} to {stop_m / 1000:g} km: give a stretch inside the path of "
                f"{distance_m[-1] / 1000:.3f} km, start before end"
            )
        wet |= (distance_m >= start_m) & (distance_m <= stop_m)
    along_m = _distance_to_true_along(distance_m, wet)
    return zones_from_sea(distance_m, ground_m, wet, along_m)


def zones_from_sea(
    distance_m: Floats, ground_m: Floats, wet: npt.NDArray[np.bool_], distance_to_sea_m: Floats
) -> Zones:
    """Zones from a sea mask: land below 100 m within 50 km of the sea is coastal.

    Parameters
    ----------
    distance_m, ground_m : ndarray, shape (n,)
        Profile [m].
    wet : ndarray of bool, shape (n,)
        Where the path crosses the sea.
    distance_to_sea_m : ndarray, shape (n,)
        Distance of each point from the nearest sea in any direction; infinite where there is none [m].

    References
    ----------
    .. [1] ITU-R P.1812-8, §3.2.1 table 2 and §4.5 (distance to the coast).
    """
    near_coast = (distance_to_sea_m <= _COAST_WITHIN_M) & (ground_m < _COAST_BELOW_M)
    zone = np.where(wet, SEA, np.where(near_coast, COASTAL, INLAND))
    where = np.flatnonzero(wet)
    if where.size == 0:
        return Zones(zone, _FAR_FROM_COAST_KM, _FAR_FROM_COAST_KM)
    return Zones(
        zone,
        float(distance_m[where[0]]) / 1000.0,
        float(distance_m[-1] - distance_m[where[-1]]) / 1000.0,
    )


def zones_from_terrain(
    store: _Elevations,
    distance_m: Floats,
    ground_m: Floats,
    latitude_deg: Floats,
    longitude_deg: Floats,
) -> Zones:
    """Zones from a sea mask found in the elevation tiles, in two dimensions.

    Parameters
    ----------
    store
        Anything with ``elevation_m(latitude_deg, longitude_deg)``; NaN where there is no ground.
    distance_m, ground_m, latitude_deg, longitude_deg : ndarray, shape (n,)
        Profile.

    Returns
    -------
    Zones

    Notes
    -----
    Sea is a connected region of at least 25 km² where the model is *exactly* 0 m, on a 500 m grid that
    reaches 50 km beyond the path. Ground that is merely at or below 0 m (polders, basins) is land.
    Models that do not set the sea to 0 m show none, and the path is then taken as inland. Ground outside
    the tiles is no sea.
    """
    from scipy import ndimage

    middle = np.deg2rad(0.5 * (latitude_deg.min() + latitude_deg.max()))
    row_deg = _GRID_M / 111_320.0
    column_deg = row_deg / max(float(np.cos(middle)), 0.05)
    margin = _COAST_WITHIN_M / _GRID_M
    # unwrapped, so that a path over the 180° meridian stays in one piece
    longitude_deg = np.rad2deg(np.unwrap(np.deg2rad(longitude_deg)))
    south = float(latitude_deg.min()) - margin * row_deg
    west = float(longitude_deg.min()) - margin * column_deg
    rows = int((latitude_deg.max() - south) / row_deg + margin) + 2
    columns = int((longitude_deg.max() - west) / column_deg + margin) + 2
    grid_latitude = np.clip(south + row_deg * np.arange(rows, dtype=np.float64), -90.0, 90.0)
    grid_longitude: Floats = (
        west + column_deg * np.arange(columns, dtype=np.float64) + 180.0
    ) % 360.0 - 180.0
    heights = store.elevation_m(grid_latitude[:, np.newaxis], grid_longitude[np.newaxis, :])
    labels, _ = ndimage.label(heights == 0.0)
    area_km2 = np.bincount(labels.ravel()) * (_GRID_M / 1000.0) ** 2
    area_km2[0] = 0.0
    sea = area_km2[labels] >= _LEAST_SEA_KM2
    i = np.clip(np.rint((latitude_deg - south) / row_deg).astype(np.int64), 0, rows - 1)
    j = np.clip(np.rint((longitude_deg - west) / column_deg).astype(np.int64), 0, columns - 1)
    wet = sea[i, j] & (ground_m == 0.0)
    if not sea.any():
        return inland(distance_m.size)
    away_m = ndimage.distance_transform_edt(~sea, sampling=_GRID_M)[i, j]
    return zones_from_sea(distance_m, ground_m, wet, np.asarray(away_m))


def _distance_to_true_along(distance_m: Floats, mask: npt.NDArray[np.bool_]) -> Floats:
    if not mask.any():
        return np.full(distance_m.shape, np.inf)
    true_at = distance_m[mask]
    after = np.clip(np.searchsorted(true_at, distance_m), 0, true_at.size - 1)
    before = np.clip(after - 1, 0, true_at.size - 1)
    return np.minimum(np.abs(true_at[after] - distance_m), np.abs(true_at[before] - distance_m))
