"""The string stretched over a profile: its upper convex hull between the antenna tips."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

__all__ = ["stretched_string"]


def stretched_string(distance_m: Floats, height_m: Floats, slack_m: float = 0.0) -> list[int]:
    """Points where a string stretched from the first point over all others to the last touches.

    Parameters
    ----------
    distance_m, height_m : ndarray, shape (n,)
        Profile on a flat Earth, antenna tips as first and last point, distances rising [m].
    slack_m : float
        Points that stand less than this above a straight piece of the string are not worth a bend [m]. On
        ground as even as the sea a slack keeps the count of touching points from growing with the sampling.

    Returns
    -------
    list of int
        Rising, the first and the last point among them. The two horizons, as seen from either tip, are exact
        whatever the slack.

    Notes
    -----
    Divide and conquer: the point furthest above the line between two touching points touches too.
    """
    last = distance_m.size - 1
    string = [0, last]
    if last < 2:
        return string
    inner = slice(1, last)
    rise = (height_m[inner] - height_m[0]) / (distance_m[inner] - distance_m[0])
    fall = (height_m[inner] - height_m[last]) / (distance_m[last] - distance_m[inner])
    line = (height_m[last] - height_m[0]) / (distance_m[last] - distance_m[0])
    first, final = 1 + int(rise.argmax()), last - 1 - int(fall[::-1].argmax())
    if rise[first - 1] <= line:
        return string
    string += {first, final}
    pieces = [(first, final)]
    while pieces:
        start, stop = pieces.pop()
        if stop - start < 2:
            continue
        slope = (height_m[stop] - height_m[start]) / (distance_m[stop] - distance_m[start])
        above = height_m[start + 1 : stop] - slope * distance_m[start + 1 : stop]
        highest = int(above.argmax())
        if above[highest] - (height_m[start] - slope * distance_m[start]) > slack_m:
            middle = start + 1 + highest
            string.append(middle)
            pieces += [(start, middle), (middle, stop)]
    return sorted(string)
