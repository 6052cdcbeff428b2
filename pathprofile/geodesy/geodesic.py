"""Shortest paths on the WGS 84 ellipsoid: distance, azimuths, points along."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from pathprofile.errors import LocationError
from pathprofile.geodesy._angles import check_point, full_circle

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray
    from pyproj import Geod

__all__ = ["EQUAL_ENDS_M", "LONGEST_PATH_M", "Leg", "PathPoints", "direct", "inverse", "points_along"]

# Below this the azimuth means nothing.
EQUAL_ENDS_M = 0.01
# The ellipsoid is nowhere more curved than 1/b^2 (on the equator), so shortest paths are unique up to pi b,
# 19 970 km (Klingenberg's estimate); 70 km are kept in hand because the azimuth swings wildly just before.
LONGEST_PATH_M = 19_900_000.0


class Leg(NamedTuple):
    """The shortest way from one point to another.

    Attributes
    ----------
    distance_m
        Length of the geodesic [m].
    azimuth_deg
        Direction at FROM towards TO [degrees clockwise from true north, 0 to 360].
    back_azimuth_deg
        Direction at TO looking back to FROM [same].
    """

    distance_m: float
    azimuth_deg: float
    back_azimuth_deg: float


class PathPoints(NamedTuple):
    """Equally spaced points of a geodesic, both ends included: three arrays of shape (n,)."""

    distance_m: NDArray[np.float64]
    latitude_deg: NDArray[np.float64]
    longitude_deg: NDArray[np.float64]


def inverse(latitude1_deg: float, longitude1_deg: float, latitude2_deg: float, longitude2_deg: float) -> Leg:
    """Distance and azimuths of the geodesic between two points.

    Parameters
    ----------
    latitude1_deg, longitude1_deg
        FROM [degrees, north and east positive].
    latitude2_deg, longitude2_deg
        TO [same].

    Returns
    -------
    Leg

    Raises
    ------
    LocationError
        For an impossible coordinate, for ends closer than `EQUAL_ENDS_M`, and for ends so nearly
        opposite on the globe (farther than `LONGEST_PATH_M`) that several ways are equally short.

    References
    ----------
    .. [1] C. F. F. Karney, "Algorithms for geodesics", J. Geodesy 87, 43-55 (2013).
    """
    check_point(latitude1_deg, longitude1_deg)
    check_point(latitude2_deg, longitude2_deg)
    azimuth, back_azimuth, distance = _wgs84().inv(
        longitude1_deg, latitude1_deg, longitude2_deg, latitude2_deg
    )
    ends = f"{latitude1_deg:.6f} {longitude1_deg:.6f} and {latitude2_deg:.6f} {longitude2_deg:.6f}"
    if distance < EQUAL_ENDS_M:
        raise LocationError(f"both ends are the same place ({ends}); give two different places")
    if distance > LONGEST_PATH_M:
        raise LocationError(
            f"the ends {ends} are antipodal or nearly so ({distance / 1000:.0f} km apart): there is no single"
            f" shortest path; choose ends less than {LONGEST_PATH_M / 1000:.0f} km apart"
        )
    return Leg(float(distance), full_circle(azimuth), full_circle(back_azimuth))


def direct(
    latitude_deg: ArrayLike, longitude_deg: ArrayLike, azimuth_deg: ArrayLike, distance_m: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Points reached from a start on an azimuth after a distance.

    Parameters
    ----------
    latitude_deg, longitude_deg
        Start [degrees]; scalars or arrays that broadcast with the others.
    azimuth_deg
        Direction at the start [degrees clockwise from true north].
    distance_m
        Distance along the geodesic [m].

    Returns
    -------
    latitude_deg, longitude_deg
        Arrays of the broadcast shape [degrees, longitude -180 to 180]; NaN in gives NaN out.

    References
    ----------
    .. [1] C. F. F. Karney, "Algorithms for geodesics", J. Geodesy 87, 43-55 (2013).
    """
    latitude, longitude, azimuth, distance = (
        np.array(part, dtype=np.float64)
        for part in np.broadcast_arrays(latitude_deg, longitude_deg, azimuth_deg, distance_m)
    )
    shape = distance.shape
    end_longitude, end_latitude, _ = _wgs84().fwd(
        longitude.ravel(), latitude.ravel(), azimuth.ravel(), distance.ravel(), return_back_azimuth=False
    )
    return np.reshape(end_latitude, shape), np.reshape(end_longitude, shape)


def points_along(
    latitude1_deg: float, longitude1_deg: float, latitude2_deg: float, longitude2_deg: float, count: int
) -> PathPoints:
    """Equally spaced points of the geodesic between two points, ends exactly as given.

    Parameters
    ----------
    latitude1_deg, longitude1_deg, latitude2_deg, longitude2_deg
        The ends [degrees].
    count
        How many points, both ends included, at least 2.

    Returns
    -------
    PathPoints
        Arrays of shape (count,); ``distance_m`` starts at 0 and ends at the length of the path.

    Raises
    ------
    LocationError
        As `inverse`.
    ValueError
        When `count` is below 2.

    References
    ----------
    .. [1] C. F. F. Karney, "Algorithms for geodesics", J. Geodesy 87, 43-55 (2013).
    """
    if count < 2:
        raise ValueError(f"a path has at least 2 points, not {count!r}")
    leg = inverse(latitude1_deg, longitude1_deg, latitude2_deg, longitude2_deg)
    # One geodesic line evaluated many times: twice as fast as as many separate direct problems.
    line = _wgs84().inv_intermediate(
        longitude1_deg,
        latitude1_deg,
        longitude2_deg,
        latitude2_deg,
        npts=count,
        initial_idx=0,
        terminus_idx=0,
        return_back_azimuth=False,
    )
    latitude = np.asarray(line.lats, dtype=np.float64)
    longitude = np.asarray(line.lons, dtype=np.float64)
    latitude[0], longitude[0] = latitude1_deg, longitude1_deg
    latitude[-1], longitude[-1] = latitude2_deg, longitude2_deg
    return PathPoints(np.linspace(0.0, leg.distance_m, count), latitude, longitude)


def _wgs84() -> Geod:
    from pyproj import Geod

    return Geod(ellps="WGS84")
