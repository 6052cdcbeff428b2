"""What a radial's receivers see looking back: hulls of the ground passed so far, kept as stacks.

Plain loops over arrays, to be compiled by :mod:`pathprofile.area.compiled`; they also run as they stand.

The ground is wanted as y = ground − bend · d², bend = 500 / effective radius [m/km²]: over that Earth rays
are straight lines in y. With bend = 0 it is the bare ground over a flat Earth.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Ints = npt.NDArray[np.int64]

__all__ = ["backward_horizons", "forward_horizons", "obstructions", "push", "tangent"]


def push(hull: Ints, size: int, along: Floats, y: Floats, new: int) -> int:
    """Add a point behind all others to an upper hull; returns the new size. Points in line are dropped."""
    while size > 1:
        a = hull[size - 2]
        b = hull[size - 1]
        if (y[b] - y[a]) * (along[new] - along[a]) > (y[new] - y[a]) * (along[b] - along[a]):
            break
        size -= 1
    hull[size] = new
    return size + 1


def tangent(hull: Ints, size: int, along: Floats, y: Floats, here: float, eye: float) -> int:
    """Hull point that looks highest from ``eye`` at ``here``, behind them all; of equals the nearest."""
    low = 0
    high = size - 1
    while low < high:
        middle = (low + high + 1) // 2
        a = hull[middle - 1]
        b = hull[middle]
        if (y[a] - eye) * (here - along[b]) > (y[b] - eye) * (here - along[a]):
            high = middle - 1
        else:
            low = middle
    return int(hull[low])


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
    hull = np.empty(along.size, np.int64)
    size = 0
    for n in range(2, along.size):
        size = push(hull, size, along, y, n - 1)
        last[n] = tangent(hull, size, along, y, along[n], y[n] + agl_m)


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
    hull = np.empty(along.size, np.int64)
    size = 0
    steepest = -math.inf
    for n in range(2, along.size):
        size = push(hull, size, along, ground, n - 1)
        steepest = max(steepest, rise[n - 1])
        eye = ground[n] + agl_m
        sight = (eye - transmitter) / along[n]
        from_slope[n] = steepest - sight
        highest[n] = 0.0
        to_slope[n] = 0.0
        if from_slope[n] <= 0.0:
            continue
        low = 0
        high = size - 1
        while low < high:  # up the hull for as long as it climbs faster than the sight line
            middle = (low + high + 1) // 2
            a = hull[middle - 1]
            b = hull[middle]
            if ground[b] - ground[a] > sight * (along[b] - along[a]):
                low = middle
            else:
                high = middle - 1
        top = hull[low]
        highest[n] = (rise[top] - sight) * along[top]
        back = tangent(hull, size, along, ground, along[n], eye)
        to_slope[n] = (ground[back] - eye) / (along[n] - along[back]) + sight
