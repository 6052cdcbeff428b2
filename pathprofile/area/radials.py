"""Places along many geodesics from one point, without solving one for each of them."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from numpy.polynomial import chebyshev

from pathprofile import geodesy

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

__all__ = ["places_along", "places_on_grid"]

_FEWEST_NODES = 8
_NODES_EACH_M = 150_000.0
_MOST_NODES = 24
_FARTHEST_OFF_DEG = 1e-8
"""About a millimetre: where interpolation is worse than that, each geodesic is solved."""
_METRES_PER_DEGREE = 111_000.0


def places_along(
    latitude_deg: float, longitude_deg: float, azimuth_deg: Floats, distance_m: Floats
) -> tuple[Floats, Floats]:
    """Latitude and longitude of points along geodesics from one place.

    Parameters
    ----------
    latitude_deg, longitude_deg : float
        The place [degrees].
    azimuth_deg : ndarray, shape (r,)
        Directions at the place [degrees clockwise from true north].
    distance_m : ndarray, shape (n,)
        Distances, increasing from 0 [m].

    Returns
    -------
    latitude_deg, longitude_deg : ndarray, shape (r, n)
        Longitude runs on across the 180° meridian, so that it has no jump [degrees].

    Notes
    -----
    A geodesic is smooth: a polynomial through a few Chebyshev nodes, exactly solved, gives all points between
    by one matrix product. Up to 200 km eight nodes are 3 nm off. A probe between the nodes checks each call;
    over a pole each geodesic is solved.
    """
    far = float(distance_m[-1])
    azimuth = azimuth_deg[:, np.newaxis]
    if abs(latitude_deg) + far / _METRES_PER_DEGREE < 90.0:
        count = min(_FEWEST_NODES + int(far / _NODES_EACH_M), _MOST_NODES)
        nodes = 0.5 * (1.0 - np.cos(np.pi * np.arange(count) / (count - 1)))
        probe = 0.5 * (nodes[-2:-1] + nodes[-1:])
        latitude, turn = _solved(latitude_deg, longitude_deg, azimuth, far * nodes)
        probe_latitude, probe_turn = _solved(latitude_deg, longitude_deg, azimuth, far * probe)
        weights = _weights(nodes, probe)
        off = np.abs(latitude @ weights - probe_latitude)
        off += np.abs(turn @ weights - probe_turn) * math.cos(math.radians(latitude_deg))
        if float(off.max()) <= _FARTHEST_OFF_DEG:
            weights = _weights(nodes, distance_m / far)
            return latitude @ weights, longitude_deg + turn @ weights
    latitude, turn = _solved(latitude_deg, longitude_deg, azimuth, distance_m)
    return latitude, longitude_deg + np.rad2deg(np.unwrap(np.deg2rad(turn)))


def places_on_grid(
    latitude_deg: float, longitude_deg: float, half_m: float, x_m: Floats, y_m: Floats
) -> tuple[Floats, Floats]:
    """Latitude and longitude of a grid of points given by distance and azimuth from one place.

    Parameters
    ----------
    latitude_deg, longitude_deg : float
        The place [degrees].
    half_m : float
        Nothing lies farther east or north than this [m].
    x_m, y_m : ndarray, shapes (c,) and (r,)
        Eastings and northings: the geodesic of azimuth atan2(x, y) is there after hypot(x, y) [m].

    Returns
    -------
    latitude_deg, longitude_deg : ndarray, shape (r, c)
        Longitude has no jump at the 180° meridian [degrees].

    Notes
    -----
    As :func:`places_along`, with nodes both ways.
    """
    corner_m = 1.5 * half_m
    if abs(latitude_deg) + corner_m / _METRES_PER_DEGREE < 90.0:
        count = min(_FEWEST_NODES + 2 + int(2.0 * half_m / _NODES_EACH_M), _MOST_NODES)
        nodes = 0.5 * (1.0 - np.cos(np.pi * np.arange(count) / (count - 1)))
        probe = 0.5 * (nodes[-2:-1] + nodes[-1:])
        latitude, turn = _solved_grid(latitude_deg, longitude_deg, half_m * (2.0 * nodes - 1.0))
        probe_latitude, probe_turn = _solved_grid(latitude_deg, longitude_deg, half_m * (2.0 * probe - 1.0))
        weights = _weights(nodes, probe)
        off = np.abs(weights.T @ latitude @ weights - probe_latitude)
        off += np.abs(weights.T @ turn @ weights - probe_turn) * math.cos(math.radians(latitude_deg))
        if float(off.max()) <= _FARTHEST_OFF_DEG:
            across = _weights(nodes, 0.5 * (x_m / half_m + 1.0))
            up = _weights(nodes, 0.5 * (y_m / half_m + 1.0)).T
            return up @ latitude @ across, longitude_deg + up @ turn @ across
    azimuth = np.rad2deg(np.arctan2(x_m, y_m[:, np.newaxis]))
    latitude, turn = _solved(latitude_deg, longitude_deg, azimuth, np.hypot(x_m, y_m[:, np.newaxis]))
    return latitude, longitude_deg + turn


def _solved_grid(latitude_deg: float, longitude_deg: float, across_m: Floats) -> tuple[Floats, Floats]:
    """As `_solved`, on a square grid with the same eastings and northings."""
    north_m = across_m[:, np.newaxis]
    azimuth = np.rad2deg(np.arctan2(across_m, north_m))
    return _solved(latitude_deg, longitude_deg, azimuth, np.hypot(across_m, north_m))


def _solved(
    latitude_deg: float, longitude_deg: float, azimuth_deg: Floats, distance_m: Floats
) -> tuple[Floats, Floats]:
    """Latitude, and longitude less that of the place, by one geodesic problem a point [degrees]."""
    latitude, longitude = geodesy.direct(latitude_deg, longitude_deg, azimuth_deg, distance_m)
    return latitude, np.remainder(longitude - longitude_deg + 180.0, 360.0) - 180.0


def _weights(nodes: Floats, share: Floats) -> Floats:
    """Matrix from values at Chebyshev nodes to those at other shares of the way, shape (nodes, shares)."""
    degree = nodes.size - 1
    at_nodes = chebyshev.chebvander(2.0 * nodes - 1.0, degree)
    at_shares = chebyshev.chebvander(2.0 * share - 1.0, degree)
    return np.linalg.solve(at_nodes.T, at_shares.T).astype(np.float64, copy=False)
