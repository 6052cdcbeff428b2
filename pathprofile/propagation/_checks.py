"""What every loss method asks of its input, refused in one line that names the method and the range."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from pathprofile.errors import OutOfRangeError

if TYPE_CHECKING:
    import numpy.typing as npt

__all__ = ["is_vertical", "number", "profile"]

FEWEST_POINTS = 5
_VERTICAL = {"horizontal": False, "vertical": True}


def number(method: str, name: str, value: float, low: float, high: float, unit: str = "") -> float:
    """Return ``value`` as a float, or refuse it outside ``low`` … ``high`` (NaN is outside).

    Raises
    ------
    OutOfRangeError
        If ``value`` is outside the range, or is not a number.
    """
    try:
        given = float(value)
    except (TypeError, ValueError):
        given = float("nan")
    if not low <= given <= high:
        raise OutOfRangeError(f"{method}: {name} {value!r}: give {low:g} to {high:g}{unit and ' ' + unit}")
    return given


def is_vertical(method: str, polarization: str) -> bool:
    """Whether a polarization is vertical.

    Raises
    ------
    OutOfRangeError
        If it is neither ``"horizontal"`` nor ``"vertical"``.
    """
    try:
        return _VERTICAL[polarization]
    except (KeyError, TypeError):
        raise OutOfRangeError(
            f"{method}: polarization {polarization!r}: give {' or '.join(map(repr, _VERTICAL))}"
        ) from None


def profile(
    method: str, distance: npt.ArrayLike, **heights: npt.ArrayLike
) -> tuple[npt.NDArray[np.float64], ...]:
    """Distances and as many height arrays as given, as equally long float arrays.

    Parameters
    ----------
    method : str
        Name that the message starts with.
    distance : array_like, shape (n,)
        Distances from the first end, starting at 0, in any unit.
    **heights : array_like, shape (n,)
        Heights at those distances, by the name to use in the message.

    Raises
    ------
    OutOfRangeError
        If there are fewer than 5 points, distances that do not start at 0 and increase, arrays of
        another length, or values that are not finite.
    """
    along = _row(method, "distances", distance)
    if along.size < FEWEST_POINTS:
        raise OutOfRangeError(f"{method}: a profile of {along.size} points: give at least {FEWEST_POINTS}")
    increasing = along[1:] > along[:-1]
    if not increasing.all():
        at = int(np.argmin(increasing)) + 1
        raise OutOfRangeError(
            f"{method}: distance {along[at]:g} follows {along[at - 1]:g} at point {at}: "
            "give distances that increase at every point"
        )
    if along[0] != 0.0:
        raise OutOfRangeError(f"{method}: first distance {along[0]:g}: give distances that start at 0")
    rows = [along]
    for name, values in heights.items():
        row = _row(method, name, values)
        if row.size != along.size:
            raise OutOfRangeError(
                f"{method}: {row.size} values of {name} for {along.size} distances: give as many"
            )
        finite = np.isfinite(row)
        if not finite.all():
            at = int(np.argmin(finite))
            raise OutOfRangeError(
                f"{method}: {name} is {row[at]} at point {at}: give a finite height in metres"
            )
        rows.append(row)
    return tuple(rows)


def _row(method: str, name: str, values: npt.ArrayLike) -> npt.NDArray[np.float64]:
    try:
        row = np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError):
        raise OutOfRangeError(f"{method}: {name} are not all numbers: give one number a point") from None
    if row.ndim != 1:
        raise OutOfRangeError(f"{method}: {name} have shape {row.shape}: give one number a point")
    return row
