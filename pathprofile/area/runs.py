"""Sea, coast and inland along a radial, for every receiver on it in one walk.

Plain loops over arrays, to be compiled by :mod:`pathprofile.area.compiled`; they also run as they stand.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pathprofile.propagation.p1812.geometry import INLAND, SEA

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Codes = npt.NDArray[np.uint8]

__all__ = ["FAR_FROM_COAST_KM", "zone_runs_along"]

FAR_FROM_COAST_KM = 500.0
"""Distance to the coast where there is none (P.1812-8 §3.3)."""


def zone_runs_along(along: Floats, zone: Codes, runs: Floats) -> None:
    """Sea share, longest land and inland runs and ways to the coast, for each point as the receiver.

    A run reaches half-way to the neighbouring point of the other kind (P.1812-8 §3.6).

    Parameters
    ----------
    along : ndarray, shape (n,)
        Distance [km].
    zone : ndarray of uint8, shape (n,)
        1 sea, 3 coastal land, 4 inland.
    runs : ndarray, shape (5, n)
        Filled from entry 1 on: sea share, longest land run, longest inland run [km], land between the
        transmitter and the sea, and between the sea and the receiver [km].
    """
    sea = 0.0
    land_before = 0.0  # length of this land run before the present zone began
    longest_land = 0.0
    longest_inland = 0.0
    start = 0.0
    first_sea = -1
    last_sea = -1
    if zone[0] == SEA:
        first_sea = 0
        last_sea = 0
    for n in range(1, along.size):
        if zone[n] != zone[n - 1]:
            border = 0.5 * (along[n - 1] + along[n])
            if zone[n - 1] == SEA:
                sea += border - start
                land_before = 0.0
            else:
                land_before += border - start
                longest_land = max(longest_land, land_before)
                if zone[n - 1] == INLAND:
                    longest_inland = max(longest_inland, border - start)
            start = border
        if zone[n] == SEA:
            last_sea = n
            if first_sea < 0:
                first_sea = n
        here = along[n] - start
        is_sea = zone[n] == SEA
        runs[0, n] = min((sea + here if is_sea else sea) / along[n], 1.0)
        runs[1, n] = longest_land if is_sea else max(longest_land, land_before + here)
        runs[2, n] = max(longest_inland, here) if zone[n] == INLAND else longest_inland
        runs[3, n] = FAR_FROM_COAST_KM if first_sea < 0 else along[first_sea]
        runs[4, n] = FAR_FROM_COAST_KM if last_sea < 0 else along[n] - along[last_sea]
