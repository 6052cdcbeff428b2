"""Speed of the Irregular Terrain Model, point to point."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from bench.harness import Row, median_seconds
from pathprofile.propagation import itm

if TYPE_CHECKING:
    import numpy.typing as npt

SIZES = (200, 1000, 5300)
LIMIT_MS = {1000: 0.5}
RADIO: dict[str, Any] = {
    "frequency_mhz": 144.3,
    "tx_antenna_agl_m": 10.0,
    "rx_antenna_agl_m": 5.0,
    "n0": 301.0,
    "polarization": "horizontal",
    "climate": 5,
    "relative_permittivity": 15.0,
    "conductivity_s_per_m": 0.005,
}
CHANCE: dict[str, Any] = {
    "time_percent": 50.0,
    "location_percent": 50.0,
    "situation_percent": 50.0,
    "variability_mode": 1,
}


def invented_hills(points: int) -> npt.NDArray[np.float64]:
    """Elevations [m] of rough invented country; the same on every run."""
    rng = np.random.default_rng(7)
    walk = np.cumsum(rng.normal(0.0, 4.0, points))
    return 400.0 + walk - np.linspace(walk[0], walk[-1], points)


def rows() -> list[Row]:
    found = []
    for points in SIZES:
        elevations = invented_hills(points)

        def whole(elevations: npt.NDArray[np.float64] = elevations) -> object:
            return itm.predict(30.0, elevations, **RADIO, **CHANCE)

        milliseconds = 1000.0 * median_seconds(whole, repeat=51)
        found.append(
            Row(
                "propagation",
                f"ITM, {points} points, whole prediction",
                milliseconds,
                "ms",
                LIMIT_MS.get(points),
            )
        )
    prepared = itm.prepare(30.0, elevations, **RADIO)
    again = 1000.0 * median_seconds(lambda: itm.predict_from(prepared, **CHANCE), repeat=51)
    found.append(Row("propagation", "ITM, further percentages of a prepared path", again, "ms"))
    return found
