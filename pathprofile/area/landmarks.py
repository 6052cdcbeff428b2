"""What surrounds a site, for its maps: relief, stations by direction, and against the skyline."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from pathprofile import geodesy

if TYPE_CHECKING:
    from collections.abc import Iterable

    import numpy.typing as npt

    from pathprofile.area.grid import Grid
    from pathprofile.area.mosaic import Mosaic
    from pathprofile.area.skyline import Skyline
    from pathprofile.places.location import Location
    from pathprofile.terrain.store import TerrainStore

    Floats = npt.NDArray[np.float64]

__all__ = ["Landmark", "OnSkyline", "Stands", "against_skyline", "landmarks", "relief_of"]

Stands = Literal["above", "below", "before", "unknown"]

_COARSE = 65
_POLAR_DEG = 80.0


@dataclass(frozen=True)
class Landmark:
    """A place seen from a site: its name, how far [m], and where, clockwise from true north [degrees]."""

    name: str
    distance_m: float
    azimuth_deg: float


@dataclass(frozen=True)
class OnSkyline:
    """A station against the skyline of a site.

    Attributes
    ----------
    landmark : Landmark
        Which, how far, and where.
    elevation_deg : float
        Elevation angle at which its antenna appears [degrees].
    horizon_deg, horizon_m : float
        Elevation angle and distance of the horizon there [degrees, m]; NaN where unknown.
    stands : {"above", "below", "before", "unknown"}
        Above the horizon; hidden below it; lower but nearer than it, so that the skyline alone does not tell;
        or unknown, for want of ground as far as the station.
    open_end : bool
        The ground known ends before the horizon: ``horizon_deg`` is what it has at least, ``horizon_m`` is
        unknown, and a station "below" is hidden by ground that is known.
    """

    landmark: Landmark
    elevation_deg: float
    horizon_deg: float
    horizon_m: float
    stands: Stands
    open_end: bool = False


def landmarks(site: Location, places: Iterable[Location]) -> list[Landmark]:
    """Distance and direction of places from a site, in the order given; the site itself is left out.

    Parameters
    ----------
    site : Location
        Where from.
    places : iterable of Location
        What surrounds it.
    """
    found = []
    for place in places:
        if (place.latitude_deg, place.longitude_deg) == (site.latitude_deg, site.longitude_deg):
            continue
        leg = geodesy.inverse(site.latitude_deg, site.longitude_deg, place.latitude_deg, place.longitude_deg)
        found.append(Landmark(place.label, leg.distance_m, leg.azimuth_deg))
    return found


def against_skyline(skyline: Skyline, landmark: Landmark, antenna_amsl_m: float) -> OnSkyline:
    """Compare a station with the skyline on its bearing.

    Parameters
    ----------
    skyline : Skyline
        Of the site.
    landmark : Landmark
        The station.
    antenna_amsl_m : float
        Its antenna above sea level [m].
    """
    bearings = skyline.azimuth_deg.size
    nearest = round(landmark.azimuth_deg / 360.0 * bearings) % bearings
    elevation_deg = float(skyline.elevation_of_deg(landmark.distance_m, antenna_amsl_m))
    known_deg = float(skyline.elevation_deg[nearest])
    known_m = float(skyline.distance_m[nearest])
    horizon_deg = float(skyline.least_deg[nearest])
    open_end = bool(skyline.open_end[nearest])
    stands: Stands = "below"
    if not (math.isfinite(known_deg) and math.isfinite(elevation_deg)):
        stands = "unknown"
    elif elevation_deg < known_deg:
        # a hill known to stand between hides it, however little is known of the ground beyond
        stands = "before" if landmark.distance_m < known_m else "below"
    elif landmark.distance_m > float(skyline.reach_m[nearest]):
        stands = "unknown"
    else:
        stands = "above" if elevation_deg >= horizon_deg else "before"
    return OnSkyline(
        landmark, elevation_deg, horizon_deg, math.nan if open_end else known_m, stands, open_end
    )


def relief_of(grid: Grid, ground: TerrainStore | Mosaic, *, most: int = 1000) -> npt.NDArray[np.float32]:
    """Heights over the extent of a map, for its picture.

    Parameters
    ----------
    grid : Grid
        The map.
    ground : TerrainStore or Mosaic
        Where heights come from.
    most : int
        Most points across; a finer map is sampled more coarsely.

    Returns
    -------
    ndarray of float32, shape (m, m)
        Ground in the middle of m by m equal squares that make up the map, row 0 northernmost [m]; NaN where
        unknown.

    Notes
    -----
    Of places a few kilometres apart those between are interpolated, to a metre or two; within 10° of a pole
    each is worked out.
    """
    across = min(2 * grid.half + 1, most)
    column = (np.arange(across) + 0.5) * (grid.shape[0] / across) - 0.5
    reach_deg = grid.half * grid.cell_m / 111_000.0
    if abs(grid.latitude_deg) + reach_deg > _POLAR_DEG or across <= _COARSE:
        latitude, longitude = grid.places(column[:, np.newaxis], column)
        return ground.elevation_m(latitude, longitude).astype(np.float32)
    knots = np.linspace(column[0], column[-1], _COARSE)
    latitude, longitude = grid.places(knots[:, np.newaxis], knots)
    longitude = grid.longitude_deg + (longitude - grid.longitude_deg + 180.0) % 360.0 - 180.0
    weight = _between(knots, column)
    latitude, longitude = (weight @ coarse @ weight.T for coarse in (latitude, longitude))
    longitude = (longitude + 180.0) % 360.0 - 180.0
    return ground.elevation_m(latitude, longitude).astype(np.float32)


def _between(knots: npt.NDArray[Any], wanted: npt.NDArray[Any]) -> Floats:
    """Weights that interpolate straight between knots, shape (wanted, knots)."""
    place = (wanted - knots[0]) / (knots[1] - knots[0])
    left = np.clip(place.astype(np.int64), 0, knots.size - 2)
    weight = np.zeros((wanted.size, knots.size))
    rows = np.arange(wanted.size)
    weight[rows, left] = 1.0 - (place - left)
    weight[rows, left + 1] = place - left
    return weight
