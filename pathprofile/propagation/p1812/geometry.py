"""A profile reduced to the numbers that ITU-R P.1812-8 asks of it, whatever the frequency and time percentage."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from pathprofile.atmosphere import EARTH_RADIUS_M
from pathprofile.propagation import bullington, delta_bullington
from pathprofile.propagation.p1812.loss import PathGeometry

if TYPE_CHECKING:
    import numpy.typing as npt

    from pathprofile.propagation.bullington import ProfileSlopes

    FloatArray = npt.NDArray[np.float64]
    IntArray = npt.NDArray[np.integer]

__all__ = ["COAST", "INLAND", "SEA", "Runs", "reduce_profile", "zone_runs"]

SEA = 1
COAST = 3
INLAND = 4

ANOMALOUS_RADIUS_KM = 3.0 * EARTH_RADIUS_M / 1000.0
"""a_β, P.1812-8 eq. 7."""


class Runs(NamedTuple):
    """What the radio-climatic zones along a path amount to."""

    sea_fraction: float
    longest_land_km: float
    longest_inland_km: float


class _Horizons(NamedTuple):
    trans_horizon: bool
    d_lt_km: float
    d_lr_km: float
    theta_t_mrad: float
    theta_r_mrad: float
    h_m_span: slice
    """Profile points from one horizon to the other."""


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
    distance_km: FloatArray,
    ground_m: FloatArray,
    clutter_m: FloatArray,
    zone: IntArray,
    *,
    tx_antenna_agl_m: float,
    rx_antenna_agl_m: float,
    effective_radius_km: float,
    tx_coast_km: float,
    rx_coast_km: float,
    latitude_deg: float,
) -> PathGeometry:
    """Path geometry of a checked profile (P.1812-8, Attachment 1)."""
    d = float(distance_km[-1])
    a_e = effective_radius_km
    h_ts = float(ground_m[0]) + tx_antenna_agl_m
    h_rs = float(ground_m[-1]) + rx_antenna_agl_m
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

    horizons = _horizons(bare, a_e)
    # terrain roughness above the smooth surface of ducting, which never lies above the ground at the ends
    h_st = min(surface.tx_m, float(ground_m[0]))
    h_sr = min(surface.rx_m, float(ground_m[-1]))
    span = horizons.h_m_span
    h_m = float((ground_m[span] - (h_sr - h_st) / d * distance_km[span]).max()) - h_st

    runs = zone_runs(distance_km, zone)
    return PathGeometry(
        d_km=d,
        h_ts_m=h_ts,
        h_rs_m=h_rs,
        a_e_km=a_e,
        trans_horizon=horizons.trans_horizon,
        d_lt_km=horizons.d_lt_km,
        d_lr_km=horizons.d_lr_km,
        theta_t_mrad=horizons.theta_t_mrad,
        theta_r_mrad=horizons.theta_r_mrad,
        theta_mrad=1000.0 * d / a_e + horizons.theta_t_mrad + horizons.theta_r_mrad,
        h_st_m=surface.tx_m,
        h_sr_m=surface.rx_m,
        h_std_m=surface.tx_diffraction_m,
        h_srd_m=surface.rx_diffraction_m,
        h_te_m=h_ts - h_st,
        h_re_m=h_rs - h_sr,
        h_m_m=h_m,
        sea_fraction=runs.sea_fraction,
        d_tm_km=runs.longest_land_km,
        d_lm_km=runs.longest_inland_km,
        d_ct_km=tx_coast_km,
        d_cr_km=rx_coast_km,
        latitude_deg=latitude_deg,
        rx_at_sea=int(zone[-1]) == SEA,
        median=delta_bullington.geometry(covered, smooth, a_e),
        anomalous=delta_bullington.geometry(covered, smooth, ANOMALOUS_RADIUS_KM),
    )


def _horizons(slopes: ProfileSlopes, radius_km: float) -> _Horizons:
    """Horizon distances and angles over bare ground (eqs 76 to 84)."""
    d = slopes.distance_km
    bend = 500.0 / radius_km  # [m/km²]
    direct = (slopes.to_height_m - slopes.from_height_m) / d
    from_slopes = slopes.rise - bend * slopes.from_km
    first = int(from_slopes.argmax())
    from_slope = float(from_slopes[first])
    if from_slope > direct - bend * d:
        to_slopes = slopes.fall - bend * slopes.to_km
        last = to_slopes.size - 1 - int(to_slopes[::-1].argmax())
        to_slope = float(to_slopes[last])
        trans_horizon = True
    else:  # both horizons are the point nearest to blocking the sight line
        first = last = int(((from_slopes - (direct - bend * d)) * np.sqrt(slopes.from_km / slopes.to_km)).argmax())
        from_slope = direct - bend * d
        to_slope = -direct - bend * d
        trans_horizon = False
    return _Horizons(
        trans_horizon,
        float(slopes.from_km[first]),
        float(slopes.to_km[last]),
        _mrad(from_slope),
        _mrad(to_slope),
        # interior point i is profile point i + 1
        slice(first + 1, last + 2) if last >= first else slice(last + 1, first + 2),
    )


def _mrad(slope_m_per_km: float) -> float:
    return 1000.0 * math.atan(slope_m_per_km / 1000.0)
