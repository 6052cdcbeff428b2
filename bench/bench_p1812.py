"""One path by P.1812 on a ready profile: everything, and one more time percentage on the same path."""

from __future__ import annotations

import math

import numpy as np

from bench.harness import Row, median_seconds
from pathprofile.propagation import p1812

_LIMIT_MS = {200: None, 1000: 0.25, 5300: 0.6}


def _hills(points: int) -> tuple[np.ndarray, ...]:
    """Rolling hills with woods, a point every 30 m."""
    distance = np.arange(points) * 0.03
    ground = 300.0 + 120.0 * np.sin(distance / 2.3) + 80.0 * np.sin(distance / 0.71 + 1.0)
    clutter = np.where(np.sin(distance / 0.4) > 0.5, 12.0, 0.0)
    return distance, ground, clutter, np.full(points, 4)


def rows() -> list[Row]:
    found = []
    settings = {"frequency_ghz": 0.145, "time_percent": 10.0, "polarization": "vertical", "n0": 325.0}
    place = {
        "tx_antenna_agl_m": 10.0,
        "rx_antenna_agl_m": 6.0,
        "path_centre_latitude_deg": 47.0,
        "delta_n": 45.0,
    }
    for points, limit in _LIMIT_MS.items():
        profile = _hills(points)
        sight = (profile[0], np.zeros(points), np.zeros(points), profile[3])
        high = place | {"tx_antenna_agl_m": 2500.0, "rx_antenna_agl_m": 2500.0}
        for name, arrays, ends in (("hills and woods", profile, place), ("line of sight", sight, high)):
            seconds = median_seconds(
                lambda arrays=arrays, ends=ends: p1812.predict(*arrays, **ends, **settings),
                repeat=201,
                warmup=20,
            )
            found.append(Row("p1812", f"predict, {name}, {points} points", seconds * 1e3, "ms", limit))
    path = p1812.path_geometry(*profile, **place)
    seconds = median_seconds(lambda: p1812.predict_from(path, **settings), repeat=201, warmup=20)
    found.append(Row("p1812", "one more time percentage on a path already reduced", seconds * 1e3, "ms"))
    assert all(math.isfinite(row.value) for row in found)
    return found
