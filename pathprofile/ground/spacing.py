"""Equal spacing, for the methods that need it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

__all__ = ["equally_spaced"]


def equally_spaced(distance_m: Floats, ground_m: Floats) -> tuple[float, Floats]:
    """Profile on equal steps, as many as it has.

    Parameters
    ----------
    distance_m, ground_m : ndarray, shape (n,)
        Profile, distances rising [m].

    Returns
    -------
    spacing_m : float
        The step [m].
    ground_m : ndarray, shape (n,)
        The input itself when it is equally spaced already (to a millimetre), else linear between its points.
    """
    spacing_m = float(distance_m[-1]) / (distance_m.size - 1)
    even_m = np.linspace(0.0, float(distance_m[-1]), distance_m.size)
    if np.abs(distance_m - even_m).max() < 1e-3:
        return spacing_m, ground_m
    return spacing_m, np.interp(even_m, distance_m, ground_m)
