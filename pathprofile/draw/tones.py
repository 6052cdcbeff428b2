"""Areas by verdict in two tones and hatching, told apart in grey and by every kind of colour vision.

Solid is a full tone without hatching; workable a pale tone under close strokes; marginal paper under sparse
strokes the other way; unlikely bare ground. What is not predicted is dim, and crossed out where it is for
want of ground.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from pathprofile.area.verdicts import MARGINAL, SOLID, WORKABLE
from pathprofile.draw.style import HIGHLIGHT, INK, PAPER

if TYPE_CHECKING:
    import numpy.typing as npt

    Singles = npt.NDArray[np.float32]
    Ranks = npt.NDArray[np.uint8]
    Picture = npt.NDArray[np.uint8]

__all__ = ["DIM", "GAP", "NEAR", "PALE", "painted"]

NEAR, GAP = 8, 9
"""Codes of what is too near to be predicted, and of what the tiles do not hold, beside the ranks of
`pathprofile.area.verdicts`."""
PALE = "#fde7b4"
DIM = "#989690"
# pitch and width of strokes [points], and share of ink in them
_CLOSE = (7.0, 1.6, 0.72)
_SPARSE = (13.0, 1.3, 0.72)
_CROSSES = (17.0, 1.4, 0.3)
_LEVELS = 255.0
_ROWS_AT_ONCE = 128


def painted(rank: Ranks, ink: Singles | float, dots_a_point: float) -> Picture:
    """Colours of a map.

    Parameters
    ----------
    rank : ndarray of uint8, shape (h, w)
        Verdicts, or ``GAP``, or 0 for bare ground.
    ink : float or ndarray, shape (h, w)
        Share of ink that shows the relief.
    dots_a_point : float
        Dots of the page in a point of its layout, for the width of strokes.

    Returns
    -------
    ndarray of uint8, shape (h, w, 4)
        Red, green, blue, and full cover, which spares matplotlib copies.
    """
    fill = np.empty((10, 3), np.float32)
    fill[:] = _rgb(PAPER)
    fill[SOLID], fill[WORKABLE] = _rgb(HIGHLIGHT), _rgb(PALE)
    fill[NEAR] = fill[GAP] = _rgb(DIM)
    dark = _rgb(INK)
    crosses = np.maximum(*(_strokes(rank.shape, _CROSSES, dots_a_point, up=up) for up in (True, False)))
    strokes = (
        (WORKABLE, _strokes(rank.shape, _CLOSE, dots_a_point, up=True)),
        (MARGINAL, _strokes(rank.shape, _SPARSE, dots_a_point, up=False)),
        (GAP, crosses),
    )
    whole_ink = np.broadcast_to(np.asarray(ink, np.float32), rank.shape)
    picture = np.full((*rank.shape, 4), int(_LEVELS), np.uint8)
    for top in range(0, rank.shape[0], _ROWS_AT_ONCE):
        rows = slice(top, top + _ROWS_AT_ONCE)
        part = rank[rows]
        share = np.where(part >= NEAR, np.float32(0.0), whole_ink[rows])
        for code, stroke in strokes:
            here = part == code
            share[here] = np.maximum(share[here], stroke[rows][here])
        colours = fill[part]
        colours += share[:, :, np.newaxis] * (dark - colours)
        picture[rows, :, :3] = np.rint(colours * _LEVELS)
    return picture


def _strokes(
    shape: tuple[int, ...], stroke: tuple[float, float, float], dots_a_point: float, *, up: bool
) -> Singles:
    """Share of ink of strokes that slant ``up`` or down to the right at 45°, their edges one dot soft.

    It is the same all along a stroke, so that one line of dots, shifted from row to row, makes the whole.
    """
    pitch, width, strength = stroke
    height, across = shape
    place = np.arange(1.0, height + across) * (0.5**0.5 / dots_a_point)
    off = np.abs((place / pitch) % 1.0 - 0.5) * pitch
    line = strength * np.clip((width / 2.0 - off) * dots_a_point + 0.5, 0.0, 1.0)
    rows = np.lib.stride_tricks.sliding_window_view(line.astype(np.float32), across)
    return np.asarray(rows if up else rows[:, ::-1])


def _rgb(colour: str) -> Singles:
    return np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)], np.float32) / np.float32(_LEVELS)
