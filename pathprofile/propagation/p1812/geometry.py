"""A profile reduced to the numbers that ITU-R P.1812-8 asks of it, for any frequency and time percentage."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from pathprofile.atmosphere import EARTH_RADIUS_M
from pathprofile.propagation import bullington, delta_bullington
from pathprofile.propagation.p1812.path import Horizons, Runs, ducting_surface, path_from

if TYPE_CHECKING:
    import numpy.typing as npt

    from pathprofile.propagation.bullington import ProfileSlopes
    from pathprofile.propagation.p1812.path import PathGeometry, Terminals

    FloatArray = npt.NDArray[np.float64]
    IntArray = npt.NDArray[np.integer]

__all__ = ["COAST", "INLAND", "SEA", "reduce_profile", "zone_runs"]

SEA = 1
COAST = 3
INLAND = 4

ANOMALOUS_RADIUS_KM = 3.0 * EARTH_RADIUS_M / 1000.0
"""a_β, P.1812-8 eqs 6 and 7."""


def zone_runs(distance_km: FloatArray, zone: IntArray) -> Runs:
    """Sea share, longest run over land and longest inland run.

    A run reaches half-way to the neighbouring point of the other kind (P.1812-8 §3.6).
    """
    total = float(distance_km[-1])
    changes = np.flatnonzero(zone[1:] != zone[:-1])
    if changes.size == 0:
        kind = int(zone[0])
        return Runs(float(kind == SEA), total * (kind != SEA), total * (kind == INLAND))
    borders = (0.5 * (distance_km[changes] + distance_km[changes + 1])).tolist()
    sea = land = inland = 0.0
    longest_land = longest_inland = 0.0
    start = 0.0
    for kind, end in zip(zone[[0, *(changes + 1)]].tolist(), [*borders, total], strict=True):
        length = end - start
        sea += length * (kind == SEA)
        land = 0.0 if kind == SEA else land + length
        inland = length if kind == INLAND else 0.0
        longest_land = max(longest_land, land)
        longest_inland = max(longest_inland, inland)
        start = end
    return Runs(min(sea / total, 1.0), longest_land, longest_inland)


def reduce_profile(
    distance_km: FloatArray, ground_m: FloatArray, clutter_m: FloatArray, zone: IntArray, ends: Terminals
) -> PathGeometry:
    """Path geometry of a checked profile (P.1812-8, Attachment 1)."""
    d = ends.d_km
    h_ts = ends.tx_ground_m + ends.tx_agl_m
    h_rs = ends.rx_ground_m + ends.rx_agl_m
    from_km = distance_km[1:-1]
    to_km = d - from_km

    bare = bullington.profile_slopes(from_km, to_km, ground_m[1:-1], h_ts, h_rs)
    surface = delta_bullington.fit_smooth_surface(distance_km, ground_m, bare)
    smooth = bullington.profile_slopes(
        from_km, to_km, 0.0, h_ts - surface.tx_diffraction_m, h_rs - surface.rx_diffraction_m
    )
    covered = bare  # the end points carry no clutter
    if clutter_m[1:-1].any():
        covered = bullington.profile_slopes(from_km, to_km, (ground_m + clutter_m)[1:-1], h_ts, h_rs)

    horizons, between = _horizons(bare, ends.a_e_km)
    h_st, h_sr = ducting_surface(surface, ends.tx_ground_m, ends.rx_ground_m)
    roughness_m = float((ground_m[between] - (h_sr - h_st) / d * distance_km[between]).max()) - h_st
    return path_from(
        ends,
        horizons,
        surface,
        roughness_m,
        zone_runs(distance_km, zone),
        delta_bullington.geometry(covered, smooth, ends.a_e_km),
        delta_bullington.geometry(covered, smooth, ANOMALOUS_RADIUS_KM),
    )


def _horizons(slopes: ProfileSlopes, radius_km: float) -> tuple[Horizons, slice]:
    """Horizons (eqs 76 to 95), and the profile points from one to the other."""
    d = slopes.distance_km
    bend = 500.0 / radius_km  # [m/km²]
    rise = (slopes.to_height_m - slopes.from_height_m) / d
    direct = rise - bend * d
    tx_slopes = slopes.rise - bend * slopes.from_km
    first = int(tx_slopes.argmax())
    trans_horizon = float(tx_slopes[first]) > direct
    if trans_horizon:
        tx_slope = float(tx_slopes[first])
        rx_slopes = slopes.fall - bend * slopes.to_km
        last = rx_slopes.size - 1 - int(rx_slopes[::-1].argmax())
        rx_slope = float(rx_slopes[last])
    else:  # both horizons are the point nearest to blocking the sight line
        tx_slope = direct
        rx_slope = -rise - bend * d
        first = last = int(((tx_slopes - direct) * np.sqrt(slopes.from_km / slopes.to_km)).argmax())
    horizons = Horizons(
        trans_horizon, float(slopes.from_km[first]), float(slopes.to_km[last]), tx_slope, rx_slope
    )
    # interior point i is profile point i + 1; rounding at a tie may put the two in the other order
    return horizons, slice(min(first, last) + 1, max(first, last) + 2)
