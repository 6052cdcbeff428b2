"""The ground under a map: quiet shading in ink, the sea plain, arrays fitted to the dots of a page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Singles = npt.NDArray[np.float32]
    Bools = npt.NDArray[np.bool_]

__all__ = ["dots_of", "ranks_at_dots", "shading", "shoreline"]

_LAND = 0.085
_CONTRAST = 0.085
_LIGHTEST, _DARKEST = 0.015, 0.24
_GENTLE_SLOPE = 0.02
_SEA_WITHIN_M = 0.5


def dots_of(values: npt.NDArray[Any], across: int) -> npt.NDArray[Any]:
    """Square array spread over ``across`` by ``across`` dots, each taking the value it lies in."""
    pick = (np.arange(across) + 0.5) * (values.shape[0] / across)
    at = pick.astype(np.intp)
    spread: npt.NDArray[Any] = values[at[:, np.newaxis], at]
    return spread


def ranks_at_dots(rank: npt.NDArray[np.uint8], across: int, least: int) -> npt.NDArray[np.uint8]:
    """Map of ranks at the dots of a page: of many cells the middling rank, so that specks do not drown areas.

    Parameters
    ----------
    rank : ndarray of uint8, shape (n, n)
        Ranks; 0 is unknown.
    across : int
        Dots of the page.
    least : int
        Cells are taken together in squares, as large as leaves this many across.

    Returns
    -------
    ndarray of uint8, shape (across, across)
        Mean rank of the known cells of a square, rounded; 0 where more than half are unknown.
    """
    side = rank.shape[0] // least
    if side < 2:
        return dots_of(rank, across)
    padded = np.pad(rank, (0, -rank.shape[0] % side), mode="edge")
    # one strided view after another: no copy larger than the thinned map
    parts = [padded[row::side, column::side] for row in range(side) for column in range(side)]
    total = np.zeros(parts[0].shape, np.uint16)
    known = np.zeros(parts[0].shape, np.uint16)
    for part in parts:
        total += part
        known += part > 0
    mean = (2 * total + known) // np.maximum(2 * known, 1)
    thinned = np.where(2 * known >= side * side, mean, 0).astype(np.uint8)
    at = ((np.arange(across) + 0.5) * (rank.shape[0] / across)).astype(np.intp) // side
    spread: npt.NDArray[np.uint8] = thinned[at[:, np.newaxis], at]
    return spread


def shading(relief_m: npt.NDArray[Any], span_m: float, across: int) -> tuple[Singles, Bools]:
    """Share of ink that shows the relief, lit from the north-west, and where the sea is.

    Parameters
    ----------
    relief_m : ndarray, shape (m, m)
        Heights over the extent of the map, north up [m]; NaN where unknown.
    span_m : float
        Extent [m].
    across : int
        Dots of the page.

    Returns
    -------
    ink : ndarray of float32, shape (across, across)
        0 on the sea, level ground where nothing is known.
    sea : ndarray of bool, same shape
    """
    height = np.asarray(relief_m, np.float32)
    sea = np.abs(height) <= _SEA_WITHIN_M
    away = np.zeros_like(height)
    if height.shape[0] > 1:
        down, right = np.gradient(height, span_m / height.shape[0])
        # what rises to the south-east faces the light; beside holes the ground is taken as level
        away = np.asarray(np.nan_to_num((right + down) * np.float32(0.5**0.5)), np.float32)
    usual = float(np.sqrt(np.mean(np.square(away[~sea])))) if not sea.all() else 0.0
    # never darker than leaves hatching readable
    ink = np.clip(_LAND - _CONTRAST * away / max(usual, _GENTLE_SLOPE), _LIGHTEST, _DARKEST)
    ink[sea] = 0.0
    return _smooth(ink, across), dots_of(sea, across)


def shoreline(sea: Bools, dots: int) -> Bools:
    """Where land meets sea, a line ``dots`` wide."""
    line = np.zeros(sea.shape, np.bool_)
    for shift in range(1, dots + 1):
        line[shift:] |= sea[shift:] != sea[:-shift]
        line[:, shift:] |= sea[:, shift:] != sea[:, :-shift]
    return line


def _smooth(values: Singles, across: int) -> Singles:
    """Square array spread over dots, straight between the middles of its cells."""
    place = np.clip((np.arange(across) + 0.5) * (values.shape[0] / across) - 0.5, 0, values.shape[0] - 1)
    low = np.minimum(place.astype(np.intp), max(values.shape[0] - 2, 0))
    high = np.minimum(low + 1, values.shape[0] - 1)
    share = (place - low).astype(np.float32)
    rows = values[low] * (1 - share)[:, np.newaxis] + values[high] * share[:, np.newaxis]
    return np.asarray(rows[:, low] * (1 - share) + rows[:, high] * share, np.float32)
