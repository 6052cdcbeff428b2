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

__all__ = ["GAP", "NEAR", "PALE", "painted"]

NEAR, GAP = 8, 9
"""Codes of what is too near to be predicted, and of what the tiles do not hold, beside the ranks of
`pathprofile.area.verdicts`."""
PALE = "#fde7b4"
_DIM = "#d3d1cc"
# pitch and width of strokes [points], and share of ink in them
_CLOSE = (7.0, 1.6, 0.72)
_SPARSE = (13.0, 1.3, 0.72)
_CROSSES = (17.0, 1.4, 0.3)
_LEVELS = 255.0


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
    ndarray of uint8, shape (h, w, 3)
        Red, green, blue.
    """
    fill = np.empty((10, 3), np.float32)
    fill[:] = _rgb(PAPER)
    fill[SOLID], fill[WORKABLE] = _rgb(HIGHLIGHT), _rgb(PALE)
    fill[NEAR] = fill[GAP] = _rgb(_DIM)
    dark = _rgb(INK)
    share = np.where(rank >= NEAR, np.float32(0.0), np.asarray(ink, np.float32))
    height, width = rank.shape
    row = (np.arange(height, dtype=np.float32)[:, np.newaxis] + 0.5) / np.float32(dots_a_point)
    column = (np.arange(width, dtype=np.float32) + 0.5) / np.float32(dots_a_point)
    up, down = row + column, row - column
    strokes = (
        (WORKABLE, _strokes(up, *_CLOSE, dots_a_point)),
        (MARGINAL, _strokes(down, *_SPARSE, dots_a_point)),
        (GAP, np.maximum(_strokes(up, *_CROSSES, dots_a_point), _strokes(down, *_CROSSES, dots_a_point))),
    )
    for code, stroke in strokes:
        here = rank == code
        share[here] = np.maximum(share[here], stroke[here])
    share = share[:, :, np.newaxis]
    colours = fill[rank]
    colours += share * (dark - colours)
    return np.asarray(np.rint(colours * _LEVELS), np.uint8)


def _strokes(across: Singles, pitch: float, width: float, strength: float, dots_a_point: float) -> Singles:
    """Share of ink of slanting strokes; ``across`` runs at 45° to them [√2 points], edges one dot soft."""
    soft = np.float32(dots_a_point)
    place = across * np.float32(0.5**0.5)
    off = np.abs((place / np.float32(pitch)) % 1.0 - np.float32(0.5)) * np.float32(pitch)
    edge = np.clip((np.float32(width / 2) - off) * soft + np.float32(0.5), 0.0, 1.0)
    return np.asarray(np.float32(strength) * edge, np.float32)


def _rgb(colour: str) -> Singles:
    return np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)], np.float32) / np.float32(_LEVELS)
