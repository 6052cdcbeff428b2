"""What ITU-R P.1812-8 needs to know of a path, and the scalar equations of its Attachment 1 that lead there.

Whatever scans a profile (one path, or the kernels for many) finds the extremes named here and hands them to
:func:`path_from`; units are those of the Recommendation.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from pathprofile.propagation.delta_bullington import DeltaBullingtonGeometry, SmoothSurface

__all__ = ["Horizons", "PathGeometry", "Runs", "Terminals", "ducting_surface", "path_from"]


class Terminals(NamedTuple):
    """What is known of the two ends and of the air between them."""

    d_km: float
    tx_ground_m: float
    rx_ground_m: float
    tx_agl_m: float
    rx_agl_m: float
    a_e_km: float
    d_ct_km: float
    d_cr_km: float
    latitude_deg: float
    rx_at_sea: bool


class Runs(NamedTuple):
    """What the radio-climatic zones along a path amount to."""

    sea_fraction: float
    longest_land_km: float
    longest_inland_km: float


class Horizons(NamedTuple):
    """Radio horizons over bare ground and the median Earth."""

    trans_horizon: bool
    d_lt_km: float
    d_lr_km: float
    tx_slope: float
    """Slope of the ray to the horizon over the effective Earth, (h_i − h_ts)/d_i − 500 d_i/a_e [m/km]."""
    rx_slope: float


class PathGeometry(NamedTuple):
    """All that P.1812 needs to know of a path, at any frequency, polarization and time percentage."""

    d_km: float
    h_ts_m: float
    h_rs_m: float
    a_e_km: float
    trans_horizon: bool
    d_lt_km: float
    d_lr_km: float
    theta_t_mrad: float
    theta_r_mrad: float
    theta_mrad: float
    h_st_m: float
    h_sr_m: float
    h_std_m: float
    h_srd_m: float
    h_te_m: float
    h_re_m: float
    h_m_m: float
    sea_fraction: float
    d_tm_km: float
    d_lm_km: float
    d_ct_km: float
    d_cr_km: float
    latitude_deg: float
    rx_at_sea: bool
    median: DeltaBullingtonGeometry
    """Over the median effective radius a_e."""
    anomalous: DeltaBullingtonGeometry
    """Over the radius a_β exceeded for β0 % of the time."""


def ducting_surface(surface: SmoothSurface, tx_ground_m: float, rx_ground_m: float) -> tuple[float, float]:
    """Smooth surface of the ducting model under each end, h_st' and h_sr': never above the ground [m]."""
    return min(surface.tx_m, tx_ground_m), min(surface.rx_m, rx_ground_m)


def path_from(
    ends: Terminals,
    horizons: Horizons,
    surface: SmoothSurface,
    roughness_m: float,
    runs: Runs,
    median: DeltaBullingtonGeometry,
    anomalous: DeltaBullingtonGeometry,
) -> PathGeometry:
    """Path geometry from the extremes of a profile (Attachment 1)."""
    h_ts = ends.tx_ground_m + ends.tx_agl_m
    h_rs = ends.rx_ground_m + ends.rx_agl_m
    theta_t = 1000.0 * math.atan(horizons.tx_slope / 1000.0)
    theta_r = 1000.0 * math.atan(horizons.rx_slope / 1000.0)
    h_st, h_sr = ducting_surface(surface, ends.tx_ground_m, ends.rx_ground_m)
    return PathGeometry(
        d_km=ends.d_km,
        h_ts_m=h_ts,
        h_rs_m=h_rs,
        a_e_km=ends.a_e_km,
        trans_horizon=horizons.trans_horizon,
        d_lt_km=horizons.d_lt_km,
        d_lr_km=horizons.d_lr_km,
        theta_t_mrad=theta_t,
        theta_r_mrad=theta_r,
        theta_mrad=1000.0 * ends.d_km / ends.a_e_km + theta_t + theta_r,
        h_st_m=surface.tx_m,
        h_sr_m=surface.rx_m,
        h_std_m=surface.tx_diffraction_m,
        h_srd_m=surface.rx_diffraction_m,
        h_te_m=h_ts - h_st,
        h_re_m=h_rs - h_sr,
        h_m_m=roughness_m,
        sea_fraction=runs.sea_fraction,
        d_tm_km=runs.longest_land_km,
        d_lm_km=runs.longest_inland_km,
        d_ct_km=ends.d_ct_km,
        d_cr_km=ends.d_cr_km,
        latitude_deg=ends.latitude_deg,
        rx_at_sea=ends.rx_at_sea,
        median=median,
        anomalous=anomalous,
    )
