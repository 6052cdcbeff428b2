"""Paths as lines on a map: points along the geodesic, cut where the longitude jumps, broken into dashes."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from pathprofile.geodesy import inverse, points_along
from pathprofile.geodesy.geodesic import PathPoints

if TYPE_CHECKING:
    from pathprofile.places import Location

    Line = list[tuple[float, float]]

__all__ = ["STEP_M", "cut_at_antimeridian", "dashed", "map_points"]

STEP_M = 2000.0
"""A straight line on a plain map stays within 0.3 m of the geodesic over this, up to 75° of latitude."""
_DECIMALS = 6  # 0.1 m


def map_points(a: Location, b: Location) -> PathPoints:
    """Points along the geodesic between two places, ends included, at most `STEP_M` apart."""
    ends = (a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg)
    return points_along(*ends, math.ceil(inverse(*ends).distance_m / STEP_M) + 1)


def cut_at_antimeridian(points: PathPoints) -> list[Line]:
    """Lines of (longitude, latitude), none of which jumps from 180° to −180°.

    Parameters
    ----------
    points : PathPoints
        Neighbours less than 180° of longitude apart by the short way.

    Returns
    -------
    list of list of (float, float)
        Degrees, to 0.1 m. The part on one side ends where the part on the other begins.

    References
    ----------
    .. [1] RFC 7946, The GeoJSON Format, §3.1.1 (longitude first) and §3.1.9 (cutting).
    """
    longitude, latitude = (
        np.round(row, _DECIMALS).tolist() for row in (points.longitude_deg, points.latitude_deg)
    )
    lines: list[Line] = [[(longitude[0], latitude[0])]]
    for x, y in zip(longitude[1:], latitude[1:], strict=True):
        before_x, before_y = lines[-1][-1]
        if abs(x - before_x) > 180.0:
            side = math.copysign(180.0, before_x)
            beyond_x = x + 2.0 * side  # of the same turn as before_x
            share = (side - before_x) / (beyond_x - before_x) if beyond_x != before_x else 0.0
            crossing_y = round(before_y + share * (y - before_y), _DECIMALS)
            _add(lines[-1], (side, crossing_y))
            lines.append([(-side, crossing_y)])
        _add(lines[-1], (x, y))
    return [line for line in lines if len(line) > 1]


def _add(line: Line, point: tuple[float, float]) -> None:
    if line[-1] != point:
        line.append(point)


def dashed(points: PathPoints, count: int, share: float) -> list[PathPoints]:
    """Break a path into dashes of equal length, the first and the last at the very ends.

    Parameters
    ----------
    points : PathPoints
    count : int
        Dashes.
    share : float
        Part of a dash and its gap that is drawn.
    """
    along, latitude, longitude = points
    turned = np.unwrap(longitude, period=360.0)
    whole_m = float(along[-1])
    pitch_m = whole_m / (count - 1 + share)
    dashes = []
    for i in range(count):
        start_m, stop_m = i * pitch_m, min((i + share) * pitch_m, whole_m)
        inner_m = along[(along > start_m) & (along < stop_m)]
        at_m = np.concatenate([[start_m], inner_m, [stop_m]])
        dash_longitude = (np.interp(at_m, along, turned) + 180.0) % 360.0 - 180.0
        dashes.append(PathPoints(at_m, np.interp(at_m, along, latitude), dash_longitude))
    return dashes
