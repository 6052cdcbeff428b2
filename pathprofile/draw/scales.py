"""Round tick values, and profiles thinned to what a page can show."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

__all__ = ["format_tick", "grouped", "round_ticks", "thinned"]


def round_ticks(low: float, high: float, most: int) -> list[float]:
    """Multiples of 1, 2 or 5 times a power of ten from ``low`` to ``high``, at most ``most`` of them."""
    if not high > low:
        return [low]
    power = 10.0 ** math.floor(math.log10((high - low) / most))
    for step in (power, 2 * power, 5 * power, 10 * power, 20 * power):
        first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
        if last - first + 1 <= most:
            break
    return [i * step for i in range(first, last + 1)]


def format_tick(value: float, ticks: list[float]) -> str:
    """Write a value with as many decimals as its neighbours need."""
    step = min((b - a for a, b in pairwise(ticks)), default=1.0)
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    return grouped(value, decimals)


def grouped(value: float, decimals: int = 0) -> str:
    """Write a number with a true minus sign, its thousands set apart from five digits on."""
    text = f"{round(value, decimals) + 0.0:,.{decimals}f}".replace("-", "\N{MINUS SIGN}")
    return text.replace(",", "\N{THIN SPACE}" if abs(value) >= 9_999.5 else "")


def thinned(values: Floats, columns: int) -> npt.NDArray[np.intp]:
    """Choose indices that keep both ends, and the lowest and highest value of each equal stretch.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Equally spaced samples, all finite.
    columns : int
        Stretches to keep apart, about one a dot.

    Returns
    -------
    ndarray of int, shape (m,)
        Rising; all of them when there are no more than two a stretch.
    """
    count = values.size
    if count <= 2 * columns:
        return np.arange(count)
    width = math.ceil(count / columns)
    rows = math.ceil(count / width)
    table = np.pad(values, (0, rows * width - count), mode="edge").reshape(rows, width)
    starts = np.arange(rows) * width
    kept = np.concatenate(([0, count - 1], starts + table.argmin(axis=1), starts + table.argmax(axis=1)))
    return np.unique(np.minimum(kept, count - 1))
