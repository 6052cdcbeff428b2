"""Finding a free spot for every label: no overlap, nothing cut off, left to right as what they speak of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Bools = npt.NDArray[np.bool_]
    _Point = tuple[Floats | float, Floats | float]

__all__ = ["Box", "Skyline", "Wanted", "place"]

_GAP = 4.0
_LEADER_LEAST = 9.0
_LEADER_INSET = 8.0
_ASIDE_MOST = 130.0
"""Farther from its point a label seems to speak of another."""
_FLATTEST = 0.3
_COLUMNS = 4
"""Regions of the page among which a label is tried, for each width of it."""
_KEPT = 24
"""Arrangements that are carried on from one label to the next."""
_PAST_A_POINT = 7.0
"""Room between a leader and the point of another label."""


class Box(NamedTuple):
    """A rectangle; x to the right, y upwards, any one unit."""

    left: float
    bottom: float
    right: float
    top: float


class Wanted(NamedTuple):
    """A label to be placed: the point it speaks of, and its size."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True)
class Skyline:
    """Upper edge of what labels must stay above, and of what they had better stay above, by ``x``."""

    x: Floats
    solid: Floats
    better: Floats

    def highest(self, edge: Floats, left: Floats, right: Floats) -> Floats:
        """Highest point of an edge between ``left`` and ``right``, each of shape (m,)."""
        starts = np.searchsorted(self.x, left)
        stops = np.maximum(np.searchsorted(self.x, right, side="right"), starts + 1)
        padded = np.append(edge, edge[-1])
        ends = np.minimum(np.column_stack((starts, stops)).ravel(), padded.size - 1)
        return np.asarray(np.maximum.reduceat(padded, ends)[::2])


def place(wanted: Sequence[Wanted], frame: Box, skyline: Skyline) -> list[Box] | None:
    """Place all labels inside a frame, from left to right in the order of their points.

    Parameters
    ----------
    wanted : sequence of Wanted
        Most important first.
    frame : Box
        Every label stays inside.
    skyline : Skyline
        What they stay above.

    Returns
    -------
    list of Box or None
        In the order of ``wanted``; ``None`` if there is no room for all.
    """
    states: list[tuple[float, dict[int, Box]]] = [(0.0, {})]
    for i in sorted(range(len(wanted)), key=lambda i: wanted[i].x):
        longer = [
            (so_far + cost, {**placed, i: box})
            for so_far, placed in states
            for cost, box in _good_spots(i, wanted, placed, frame, skyline)
        ]
        states = sorted(longer, key=lambda state: state[0])[:_KEPT]
    return [states[0][1][i] for i in range(len(wanted))] if states else None


def leader(wanted: Wanted, box: Box) -> tuple[float, float]:
    """Where on the lower edge of a label its leader starts."""
    inset = min(_LEADER_INSET, (box.right - box.left) / 2)
    return min(max(wanted.x, box.left + inset), box.right - inset), box.bottom


def _good_spots(
    index: int, wanted: Sequence[Wanted], placed: dict[int, Box], frame: Box, skyline: Skyline
) -> list[tuple[float, Box]]:
    """Spots for one more label beside those placed: the best of each region, to leave the next a choice."""
    label = wanted[index]
    lowest = max(label.y + _LEADER_LEAST, frame.bottom)
    if frame.right - frame.left < label.width or frame.top - label.height < lowest:
        return []
    lefts = np.append(
        np.clip(label.x - label.width * np.array([0.5, 0.15, 0.85]), frame.left, frame.right - label.width),
        np.linspace(frame.left, frame.right - label.width, 32),
    )
    bottoms = np.linspace(lowest, frame.top - label.height, 16)
    left, bottom = (grid.ravel() for grid in np.meshgrid(lefts, bottoms))
    right, top = left + label.width, bottom + label.height
    inset = min(_LEADER_INSET, label.width / 2)
    start_x = np.clip(label.x, left + inset, right - inset)

    aside = np.abs(start_x - label.x)
    free = (aside <= _ASIDE_MOST) & (bottom - label.y >= _FLATTEST * aside)
    free &= skyline.highest(skyline.solid, left, right) + _GAP <= bottom
    sunk = np.maximum(0.0, skyline.highest(skyline.better, left, right) + _GAP - bottom)
    for other in range(len(wanted)):
        point = wanted[other]
        free &= ~(
            (left - _GAP < point.x) & (point.x < right + _GAP) & (bottom - _GAP < point.y) & (point.y < top)
        )
        if np.hypot(point.x - label.x, point.y - label.y) > 2 * _PAST_A_POINT:
            free &= ~_passes(start_x, bottom, label, point)
    for other, box in placed.items():
        free &= (
            (right + 2 * _GAP <= box.left) | (left - 2 * _GAP >= box.right) | (top + _GAP <= box.bottom)
        ) | (bottom - _GAP >= box.top)
        its_x, its_y = leader(wanted[other], box)
        free &= ~_meets((its_x, its_y), (wanted[other].x, wanted[other].y), left, bottom, right, top)
        free &= ~_crosses(start_x, bottom, label, (its_x, its_y), wanted[other])
        free &= ~_leader_meets(start_x, bottom, label, box)
        before = (wanted[other].x, other) < (label.x, index)
        free &= (box.left < left) & (its_x <= start_x) if before else (left < box.left) & (start_x <= its_x)
    off_centre = np.abs((left + right) / 2 - label.x)
    cost = (bottom - label.y) + 1.5 * aside + 0.15 * off_centre + 1.5 * np.minimum(sunk, label.height)
    cost[~free] = np.inf
    aside_by = np.round(_COLUMNS * ((left + right) / 2 - label.x) / label.width)
    region = np.round((bottom - lowest) / label.height) + 1j * aside_by
    best = []
    for each in np.unique(region[free]):
        spot = int(np.argmin(np.where(region == each, cost, np.inf)))
        box = Box(float(left[spot]), float(bottom[spot]), float(right[spot]), float(top[spot]))
        best.append((float(cost[spot]), box))
    return best


def _meets(
    start: tuple[float, float],
    end: tuple[float, float],
    left: Floats,
    bottom: Floats,
    right: Floats,
    top: Floats,
) -> Bools:
    """Whether one leader passes through many boxes."""
    share = np.linspace(0.0, 1.0, 15)[:, None]
    x = start[0] + share * (end[0] - start[0])
    y = start[1] + share * (end[1] - start[1])
    inside = (left - _GAP < x) & (x < right + _GAP) & (bottom - _GAP < y) & (y < top + _GAP)
    return np.asarray(inside.any(axis=0))


def _passes(start_x: Floats, start_y: Floats, label: Wanted, point: Wanted) -> Bools:
    """Whether many leaders to one point pass close to another point."""
    across, up = label.x - start_x, label.y - start_y
    share = ((point.x - start_x) * across + (point.y - start_y) * up) / (across**2 + up**2)
    share = np.clip(share, 0.0, 1.0)
    away = np.hypot(start_x + share * across - point.x, start_y + share * up - point.y)
    return np.asarray(away < _PAST_A_POINT)


def _leader_meets(start_x: Floats, start_y: Floats, label: Wanted, box: Box) -> Bools:
    """Whether many leaders pass through one box."""
    share = np.linspace(0.0, 1.0, 15)[:, None]
    x = start_x + share * (label.x - start_x)
    y = start_y + share * (label.y - start_y)
    inside = (box.left - _GAP < x) & (x < box.right + _GAP) & (box.bottom - _GAP < y) & (y < box.top + _GAP)
    return np.asarray(inside.any(axis=0))


def _crosses(
    start_x: Floats, start_y: Floats, label: Wanted, other_start: tuple[float, float], other: Wanted
) -> Bools:
    """Whether many leaders to one point cross another leader."""

    def side(a: _Point, b: _Point, p: _Point) -> Floats:
        return np.asarray((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]))

    starts, point, its_point = (start_x, start_y), (label.x, label.y), (other.x, other.y)
    apart = side(other_start, its_point, starts) * side(other_start, its_point, point)
    astride = side(starts, point, other_start) * side(starts, point, its_point)
    return np.asarray((apart < 0) & (astride < 0))
