"""The equations of ITU-R P.1812-8 from path geometry to loss, in the Recommendation's own symbols.

Units are those of the Recommendation: GHz, km, m, mrad, %, dB. Every function is plain arithmetic on floats
and named tuples with branches, so that a compiler for many paths can take it as it stands.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from pathprofile.propagation import delta_bullington, spherical_earth

if TYPE_CHECKING:
    from pathprofile.propagation.p1812.path import PathGeometry

__all__ = ["PathLosses", "inverse_normal", "losses_from"]


class PathLosses(NamedTuple):
    """Every intermediate value of the loss, under its symbol; dB unless the name says otherwise."""

    beta0_percent: float
    F_i: float
    F_j: float
    F_k: float
    L_bfs: float
    L_b0p: float
    L_b0beta: float
    L_bulla_at_a_beta: float
    L_bulls_at_a_beta: float
    L_dsph_at_a_beta: float
    L_d50: float
    L_dbeta: float
    L_dp: float
    L_bd50: float
    L_bd: float
    L_minb0p: float
    L_ba: float
    L_minbap: float
    L_bda: float
    L_bam: float
    L_bs: float
    L_bc: float
    L_b: float
    E_1kw_dbuvm: float
    L_b_without_troposcatter: float


def inverse_normal(x: float) -> float:
    """Inverse complementary cumulative normal, as approximated by Attachment 3 (eqs 96 and 97).

    ``x`` is kept within 1e-6 … 1 - 1e-6.
    """
    x = min(max(x, 1e-6), 1.0 - 1e-6)
    tail = x if x <= 0.5 else 1.0 - x
    T = math.sqrt(-2.0 * math.log(tail))
    C = ((0.010328 * T + 0.802853) * T + 2.515516698) / (((0.001308 * T + 0.189269) * T + 1.432788) * T + 1.0)
    return T - C if x <= 0.5 else C - T


def _inland_share(d_lm_km: float) -> float:
    """τ of eqs 2 to 5."""
    return 1.0 - math.exp(-4.12e-4 * d_lm_km**2.41)


def _beta0_percent(path: PathGeometry) -> float:
    """Time percentage with lapse rates above 100 N/km in the lowest 100 m (eqs 2 to 5)."""
    tau = _inland_share(path.d_lm_km)
    mu_1 = (10.0 ** (-path.d_tm_km / (16.0 - 6.6 * tau)) + 10.0 ** (-5.0 * (0.496 + 0.354 * tau))) ** 0.2
    mu_1 = min(mu_1, 1.0)
    latitude = abs(path.latitude_deg)
    if latitude <= 70.0:
        mu_4 = mu_1 ** (-0.935 + 0.0176 * latitude)
        return float(10.0 ** (-0.015 * latitude + 1.67) * mu_1 * mu_4)
    return float(4.17 * mu_1 * mu_1**0.3)


def _free_space_db(path: PathGeometry, f: float) -> float:
    """L_bfs (eqs 8 to 11)."""
    rise_km = (path.h_ts_m - path.h_rs_m) / 1000.0
    return 92.4 + 20.0 * math.log10(f) + 10.0 * math.log10(path.d_km**2 + rise_km**2)


def _focusing_db(path: PathGeometry, p: float) -> float:
    """Multipath and focusing correction E_s (eqs 8 to 11)."""
    return 2.6 * (1.0 - math.exp(-0.1 * (path.d_lt_km + path.d_lr_km))) * math.log10(p / 50.0)


def _diffraction(
    path: delta_bullington.DeltaBullingtonGeometry, f: float, vertical: bool, sea_fraction: float
) -> delta_bullington.DeltaBullingtonLoss:
    """Delta-Bullington over medium ground and sea."""
    return delta_bullington.loss_from(
        path,
        f,
        vertical,
        spherical_earth.LAND_PERMITTIVITY,
        spherical_earth.LAND_CONDUCTIVITY_S_PER_M,
        sea_fraction,
    )


def _troposcatter_db(path: PathGeometry, f: float, p: float, n0: float) -> float:
    """L_bs (eqs 44 and 45)."""
    L_F = 25.0 * math.log10(f) - 2.5 * math.log10(0.5 * f) ** 2
    return (
        190.1
        + L_F
        + 20.0 * math.log10(path.d_km)
        + 0.573 * path.theta_mrad
        - 0.15 * n0
        - 10.125 * math.pow(math.log10(50.0 / p), 0.7)
    )


def _site_shielding_db(theta_mrad: float, d_l_km: float, f: float) -> float:
    """A_st or A_sr (eqs 46 to 56)."""
    theta = theta_mrad - 0.1 * d_l_km
    if theta <= 0.0:
        return 0.0
    return 20.0 * math.log10(1.0 + 0.361 * theta * math.sqrt(f * d_l_km)) + 0.264 * theta * math.pow(
        f, 1.0 / 3.0
    )


def _sea_duct_coupling_db(sea_fraction: float, d_c_km: float, d_l_km: float, height_amsl_m: float) -> float:
    """A_ct or A_cr (eqs 46 to 56)."""
    if sea_fraction < 0.75 or d_c_km > d_l_km or d_c_km > 5.0:
        return 0.0
    return -3.0 * math.exp(-0.25 * d_c_km**2) * (1.0 + math.tanh(0.07 * (50.0 - height_amsl_m)))


def _ducting_db(path: PathGeometry, f: float, p: float, beta0: float) -> float:
    """Ducting and layer reflection, L_ba (eqs 46 to 56)."""
    d = path.d_km
    d_lt = path.d_lt_km
    d_lr = path.d_lr_km
    A_lf = 45.375 - 137.0 * f + 92.5 * f * f if f < 0.5 else 0.0
    A_f = (
        102.45
        + 20.0 * math.log10(f)
        + 20.0 * math.log10(d_lt + d_lr)
        + A_lf
        + _site_shielding_db(path.theta_t_mrad, d_lt, f)
        + _site_shielding_db(path.theta_r_mrad, d_lr, f)
        + _sea_duct_coupling_db(path.sea_fraction, path.d_ct_km, d_lt, path.h_ts_m)
        + _sea_duct_coupling_db(path.sea_fraction, path.d_cr_km, d_lr, path.h_rs_m)
    )
    gamma_d = 5e-5 * path.a_e_km * math.pow(f, 1.0 / 3.0)
    theta = 1000.0 * d / path.a_e_km + min(path.theta_t_mrad, 0.1 * d_lt) + min(path.theta_r_mrad, 0.1 * d_lr)

    alpha = max(-0.6 - 3.5e-9 * d**3.1 * _inland_share(path.d_lm_km), -3.4)
    flatness = 500.0 / path.a_e_km * d * d / (math.sqrt(path.h_te_m) + math.sqrt(path.h_re_m)) ** 2
    mu_2 = min(flatness**alpha, 1.0)
    mu_3 = 1.0
    if path.h_m_m > 10.0:
        d_I = min(d - d_lt - d_lr, 40.0)
        mu_3 = math.exp(-4.6e-5 * (path.h_m_m - 10.0) * (43.0 + 6.0 * d_I))
    beta = beta0 * mu_2 * mu_3
    log_beta = math.log10(beta)
    spread = math.exp(-(9.51 - 4.8 * log_beta + 0.198 * log_beta**2) * 1e-6 * d**1.13)
    Gamma = 1.076 / (2.0058 - log_beta) ** 1.012 * spread
    A_p = -12.0 + (1.2 + 3.7e-3 * d) * math.log10(p / beta) + 12.0 * (p / beta) ** Gamma
    return float(A_f + gamma_d * theta + A_p)


def losses_from(
    path: PathGeometry,
    frequency_ghz: float,
    time_percent: float,
    n0: float,
    vertical: bool,
    location_percent: float,
    location_sigma_db: float,
) -> PathLosses:
    """Compute basic transmission loss and field strength with every step (eqs 2 to 70)."""
    f = frequency_ghz
    p = time_percent
    omega = path.sea_fraction
    beta0 = _beta0_percent(path)

    L_bfs = _free_space_db(path, f)
    L_b0p = L_bfs + _focusing_db(path, p)
    L_b0beta = L_bfs + _focusing_db(path, beta0)

    # diffraction not exceeded for p % (eqs 40 to 43)
    median = _diffraction(path.median, f, vertical, omega)
    anomalous = median  # over the same Earth the loss is the same
    if path.anomalous.effective_radius_km != path.median.effective_radius_km:
        anomalous = _diffraction(path.anomalous, f, vertical, omega)
    L_d50 = median.loss_db
    L_dbeta = anomalous.loss_db
    F_i = inverse_normal(p / 100.0) / inverse_normal(beta0 / 100.0) if p > beta0 else 1.0
    L_dp = L_d50 if p == 50.0 else L_d50 + F_i * (L_dbeta - L_d50)
    L_bd50 = L_bfs + L_d50
    L_bd = L_b0p + L_dp

    L_bs = _troposcatter_db(path, f, p, n0)
    L_ba = _ducting_db(path, f, p, beta0)

    # combination (eqs 57 to 63)
    F_j = 1.0 - 0.5 * (1.0 + math.tanh(3.0 * 0.8 * (path.theta_mrad - 0.3) / 0.3))
    F_k = 1.0 - 0.5 * (1.0 + math.tanh(3.0 * 0.5 * (path.d_km - 20.0) / 20.0))
    if p < beta0:
        L_minb0p = L_b0p + (1.0 - omega) * L_dp
    else:
        L_minb0p = L_bd50 + (L_b0beta + (1.0 - omega) * L_dp - L_bd50) * F_i
    L_minbap = max(L_ba, L_b0p) + 2.5 * math.log1p(math.exp(-abs(L_ba - L_b0p) / 2.5))
    L_bda = L_bd if L_minbap > L_bd else L_minbap + (L_bd - L_minbap) * F_k
    L_bam = L_bda + (L_minb0p - L_bda) * F_j
    # −5 log(10^(−0.2 L_bs) + 10^(−0.2 L_bam)), the smaller loss taken out so that nothing underflows
    L_bc = min(L_bs, L_bam) - 5.0 * math.log10(1.0 + 10.0 ** (-0.2 * abs(L_bs - L_bam)))

    # location variability outdoors (eqs 69 and 70)
    L_loc = 0.0 if path.rx_at_sea else -inverse_normal(location_percent / 100.0) * location_sigma_db
    L_b = max(L_b0p, L_bc + L_loc)
    return PathLosses(
        beta0_percent=beta0,
        F_i=F_i,
        F_j=F_j,
        F_k=F_k,
        L_bfs=L_bfs,
        L_b0p=L_b0p,
        L_b0beta=L_b0beta,
        L_bulla_at_a_beta=anomalous.terrain_db,
        L_bulls_at_a_beta=anomalous.smooth_db,
        L_dsph_at_a_beta=anomalous.spherical_db,
        L_d50=L_d50,
        L_dbeta=L_dbeta,
        L_dp=L_dp,
        L_bd50=L_bd50,
        L_bd=L_bd,
        L_minb0p=L_minb0p,
        L_ba=L_ba,
        L_minbap=L_minbap,
        L_bda=L_bda,
        L_bam=L_bam,
        L_bs=L_bs,
        L_bc=L_bc,
        L_b=L_b,
        E_1kw_dbuvm=199.36 + 20.0 * math.log10(f) - L_b,
        L_b_without_troposcatter=max(L_b0p, L_bam + L_loc),
    )
