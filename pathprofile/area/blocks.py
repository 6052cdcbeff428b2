"""Maxima over stretches of a radial, by blocks whose top tells that they need not be looked into.

Plain loops over arrays, to be compiled by :mod:`pathprofile.area.compiled`; they also run as they stand.

Blocks of 16, 128 and 1024 points are counted from point 1: point 0 is the transmitter.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

__all__ = ["LEVELS", "block_tops", "highest_above", "largest_excess"]

LEVELS = 3
_SMALLEST = 16
_SHIFTS = (4, 7, 10)
_SLACK = 1.0 + 1e-9
"""Squares are compared with this margin, so that rounding leaves out no point that may be the largest."""


def block_tops(y: Floats, tops: Floats) -> None:
    """Highest point of every block.

    Parameters
    ----------
    y : ndarray, shape (n,)
        Heights [m].
    tops : ndarray, shape (3, (n + 15) // 16)
        Filled: one row a block size, smallest first.
    """
    tops[:, :] = -math.inf
    for i in range(1, y.size):
        block = (i - 1) >> 4
        tops[0, block] = max(tops[0, block], y[i])
    for block in range(tops.shape[1]):
        tops[1, block >> 3] = max(tops[1, block >> 3], tops[0, block])
        tops[2, block >> 6] = max(tops[2, block >> 6], tops[0, block])


def highest_above(
    along: Floats, ground: Floats, tops: Floats, start: int, stop: int, slope: float, seed: int
) -> int:
    """Index from ``start`` to ``stop`` (both included) of the largest ground − slope · d.

    ``seed`` is a guess: a good one saves time, any is right.
    """
    at = min(max(seed, start), stop)
    best = ground[at] - slope * along[at]
    i = start
    while i <= stop:
        skipped = 0
        for level in range(LEVELS - 1, -1, -1):
            block = 1 << _SHIFTS[level]
            if (i - 1) & (block - 1) == 0 and i + block <= stop + 1:
                least = min(slope * along[i], slope * along[i + block - 1])
                if tops[level, (i - 1) >> _SHIFTS[level]] - least <= best:
                    skipped = block
                    break
        if skipped:
            i += skipped
            continue
        end = min(((i - 1) | (_SMALLEST - 1)) + 1, stop)
        while i <= end:
            height = ground[i] - slope * along[i]
            if height > best:
                best = height
                at = i
            i += 1
    return at


def largest_excess(
    along: Floats,
    rise: Floats,
    y: Floats,
    tops: Floats,
    n: int,
    bend: float,
    sight: float,
    from_m: float,
    seed: int,
    seed2: int,
    floor: float,
) -> tuple[float, int]:
    """Largest height over the sight line divided by √(d1 d2), on a path in line of sight.

    Parameters
    ----------
    along, rise, y : ndarray
        Distance [km], slope from the transmitter over a flat Earth [m/km], ground in which rays over this
        Earth are straight [m].
    tops : ndarray, shape (3, …)
        Block tops of ``y``.
    n : int
        The receiver; points 1 to n − 1 are looked at.
    bend : float
        Of the Earth [m/km²].
    sight : float
        Slope of the sight line over a flat Earth [m/km].
    from_m : float
        Transmitting antenna above sea level [m].
    seed, seed2 : int
        Guesses: good ones save time, any are right.
    floor : float
        What is not larger is not looked for; −inf to find the largest in any case.

    Returns
    -------
    excess : float
        Largest excess [m/km], or ``floor``.
    index : int
        Where, the first of equals; −1 if nothing is above ``floor``.
    """
    whole = along[n]
    direct = sight - bend * whole
    best = floor
    at = -1
    for guess in (seed, seed2, n - 1):
        if 1 <= guess < n:
            value = _excess(along, rise, guess, whole, bend, direct)
            if value > best or (value == best and guess < at):
                best = value
                at = guess
    i = 1
    while i < n:
        skipped = 0
        for level in range(LEVELS - 1, -1, -1):
            block = 1 << _SHIFTS[level]
            if (i - 1) & (block - 1) == 0 and i + block <= n:
                near = along[i]
                far = along[i + block - 1]
                over = tops[level, (i - 1) >> _SHIFTS[level]] - from_m - min(direct * near, direct * far)
                widest = min(max(0.5 * whole, near), far)
                if over < 0.0 and _cannot_reach(over, best, widest * (whole - widest)):
                    skipped = block
                    break
        if skipped:
            i += skipped
            continue
        end = min(((i - 1) | (_SMALLEST - 1)) + 1, n - 1)
        while i <= end:
            over = y[i] - from_m - direct * along[i]
            if over >= 0.0 or not _cannot_reach(over, best, along[i] * (whole - along[i])):
                value = _excess(along, rise, i, whole, bend, direct)
                if value > best or (value == best and i < at):
                    best = value
                    at = i
            i += 1
    return best, at


def _excess(along: Floats, rise: Floats, i: int, whole: float, bend: float, direct: float) -> float:
    """Height over the sight line by √(d1 d2), rounded as `bullington.geometry` rounds it."""
    return float((rise[i] - bend * along[i] - direct) * math.sqrt(along[i] / (whole - along[i])))


def _cannot_reach(over: float, best: float, width2: float) -> bool:
    """Whether over / √width2, over < 0, is below ``best``, told without a root or a quotient."""
    return best >= 0.0 or over * over > best * best * width2 * _SLACK
