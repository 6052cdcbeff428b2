"""What a radial's receivers see looking back: hulls of the ground passed so far, kept as stacks.

Plain loops over arrays, to be compiled by :mod:`pathprofile.area.compiled`; they also run as they stand.

The ground is wanted as y = ground − bend · d², bend = 500 / effective radius [m/km²]: over that Earth rays
are straight lines in y. With bend = 0 it is the bare ground over a flat Earth.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Ints = npt.NDArray[np.int64]

__all__ = ["Hull", "backward_horizons", "empty_hull", "forward_horizons", "obstructions", "push", "tangent"]


class Hull(NamedTuple):
    """Upper hull of points in order: room for them, filled from the start; copies save looking them up."""

    along: Floats
    y: Floats
    point: Ints


def empty_hull(points: int) -> Hull:
    """Room for the hull of so many points."""
    return Hull(np.empty(points), np.empty(points), np.empty(points, np.int64))


def push(hull: Hull, size: int, along: float, y: float, index: int) -> int:
    """Add a point behind all others; returns the new size. Points in line are dropped."""
    while size > 1:
        a = size - 2
        b = size - 1
        if (hull.y[b] - hull.y[a]) * (along - hull.along[a]) > (y - hull.y[a]) * (
            hull.along[b] - hull.along[a]
        ):
            break
        size -= 1
    hull.along[size] = along
    hull.y[size] = y
    hull.point[size] = index
    return size + 1


def tangent(hull: Hull, size: int, here: float, eye: float) -> int:
    """Place on the hull of what looks highest from ``eye`` at ``here``, behind it; of equals the nearest."""
    low = 0
    high = size - 1
    while low < high:
        b = (low + high + 1) // 2
        a = b - 1
        if (hull.y[a] - eye) * (here - hull.along[b]) > (hull.y[b] - eye) * (here - hull.along[a]):
            high = a
        else:
            low = b
    return low


def forward_horizons(along: Floats, rise: Floats, bend: float, first: Ints) -> None:
    """For each receiver the point between that rises steepest from the transmitter; of equals the first.

    Parameters
    ----------
    along, rise : ndarray, shape (n,)
        Distance [km], and slope from the transmitter over a flat Earth [m/km]; entry 0 is not used.
    bend : float
        Of the Earth [m/km²].
    first : ndarray of int64, shape (n,)
        Filled from entry 2 on.
    """
    steepest = -math.inf
    at = 1
    for n in range(2, along.size):
        slope = rise[n - 1] - bend * along[n - 1]
        if slope > steepest:
            steepest = slope
            at = n - 1
        first[n] = at


def backward_horizons(along: Floats, y: Floats, agl_m: float, last: Ints) -> None:
    """For each receiver ``agl_m`` above ground the point between that looks highest; of equals the nearest.

    Parameters
    ----------
    along, y : ndarray, shape (n,)
        Distance [km] and ground in which rays are straight [m].
    agl_m : float
        Receiving antenna above the ground [m].
    last : ndarray of int64, shape (n,)
        Filled from entry 2 on.
    """
    hull = empty_hull(along.size)
    size = 0
    for n in range(2, along.size):
        size = push(hull, size, along[n - 1], y[n - 1], n - 1)
        last[n] = hull.point[tangent(hull, size, along[n], y[n] + agl_m)]


def obstructions(
    along: Floats,
    ground: Floats,
    rise: Floats,
    agl_m: float,
    highest: Floats,
    from_slope: Floats,
    to_slope: Floats,
) -> None:
    """Ground above the sight line over a flat Earth: h_obs, α_obt and α_obr (P.1812-8 eqs 87 to 89).

    Parameters
    ----------
    along, ground, rise : ndarray, shape (n,)
        Distance [km], ground [m], slope from the transmitter [m/km]; ``rise[0]`` is not used.
    agl_m : float
        Receiving antenna above the ground [m].
    highest, from_slope, to_slope : ndarray, shape (n,)
        Filled from entry 2 on [m, m/km, m/km]; ``highest`` and ``to_slope`` are 0 where nothing is above it.
    """
    transmitter = ground[1] - rise[1] * along[1]
    hull = empty_hull(along.size)
    size = 0
    steepest = -math.inf
    for n in range(2, along.size):
        size = push(hull, size, along[n - 1], ground[n - 1], n - 1)
        steepest = max(steepest, rise[n - 1])
        eye = ground[n] + agl_m
        sight = (eye - transmitter) / along[n]
        from_slope[n] = steepest - sight
        highest[n] = 0.0
        to_slope[n] = 0.0
        if from_slope[n] <= 0.0:
            continue
        top = hull.point[_summit(hull, size, sight)]
        highest[n] = (rise[top] - sight) * along[top]
        back = tangent(hull, size, along[n], eye)
        to_slope[n] = (hull.y[back] - eye) / (along[n] - hull.along[back]) + sight


def _summit(hull: Hull, size: int, slope: float) -> int:
    """Place on the hull of the largest y − slope · along."""
    low = 0
    high = size - 1
    while low < high:
        b = (low + high + 1) // 2
        a = b - 1
        if hull.y[b] - hull.y[a] > slope * (hull.along[b] - hull.along[a]):
            low = b
        else:
            high = a
    return low
