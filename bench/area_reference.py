"""The straightforward way to the same losses: each path from the start, one loop for each maximum.

Written as the Recommendation reads, equation after equation (P.1812-8 §4.3 and Attachment 1), and compiled
with the same settings; from path geometry on it calls the same equations as the package. It is the yardstick
of the area kernels, and a second opinion on their results.
"""

from __future__ import annotations

import math

import numpy as np

from pathprofile.propagation.bullington import BullingtonGeometry
from pathprofile.propagation.delta_bullington import DeltaBullingtonGeometry, smooth_surface
from pathprofile.propagation.p1812.geometry import ANOMALOUS_RADIUS_KM
from pathprofile.propagation.p1812.loss import losses_from
from pathprofile.propagation.p1812.path import Horizons, Runs, Terminals, ducting_surface, path_from


def bullington(d, h, n, h_ts, h_rs, a_e):
    """Eqs 13 to 20."""
    whole = d[n]
    c_e = 1.0 / a_e
    s_tim = -math.inf
    for i in range(1, n):
        s_tim = max(s_tim, (h[i] + 500.0 * c_e * d[i] * (whole - d[i]) - h_ts) / d[i])
    s_tr = (h_rs - h_ts) / whole
    if s_tim < s_tr:
        worst = -math.inf
        for i in range(1, n):
            over = h[i] + 500.0 * c_e * d[i] * (whole - d[i]) - (h_ts * (whole - d[i]) + h_rs * d[i]) / whole
            worst = max(worst, over / math.sqrt(d[i] * (whole - d[i])))
        return BullingtonGeometry(whole, h_ts, h_rs, s_tim, 0.0, worst)
    s_rim = -math.inf
    for i in range(1, n):
        s_rim = max(s_rim, (h[i] + 500.0 * c_e * d[i] * (whole - d[i]) - h_rs) / (whole - d[i]))
    return BullingtonGeometry(whole, h_ts, h_rs, s_tim, s_rim, 0.0)


def horizons(d, h, n, h_ts, h_rs, a_e):
    """Eqs 76 to 84, slopes compared before the arctangent."""
    whole = d[n]
    direct = (h_rs - h_ts) / whole - whole * 500.0 / a_e
    best, first = -math.inf, 1
    for i in range(1, n):
        slope = (h[i] - h_ts) / d[i] - d[i] * 500.0 / a_e
        if slope > best:
            best, first = slope, i
    if best > direct:
        back, last = -math.inf, 1
        for i in range(1, n):
            slope = (h[i] - h_rs) / (whole - d[i]) - (whole - d[i]) * 500.0 / a_e
            if slope >= back:
                back, last = slope, i
        return Horizons(True, d[first], whole - d[last], best, back), min(first, last), max(first, last)
    worst, at = -math.inf, 1
    for i in range(1, n):
        over = h[i] + 500.0 / a_e * d[i] * (whole - d[i]) - (h_ts * (whole - d[i]) + h_rs * d[i]) / whole
        nu = over / math.sqrt(d[i] * (whole - d[i]))
        if nu > worst:
            worst, at = nu, i
    rx_slope = (h_ts - h_rs) / whole - whole * 500.0 / a_e
    return Horizons(False, d[at], whole - d[at], direct, rx_slope), at, at


def fit(d, h, n, h_ts, h_rs):
    """Eqs 85 to 91."""
    whole = d[n]
    v1 = v2 = 0.0
    for i in range(1, n + 1):
        v1 += (d[i] - d[i - 1]) * (h[i] + h[i - 1])
        v2 += (d[i] - d[i - 1]) * (h[i] * (2.0 * d[i] + d[i - 1]) + h[i - 1] * (d[i] + 2.0 * d[i - 1]))
    h_obs = alpha_t = alpha_r = -math.inf
    for i in range(1, n):
        over = h[i] - (h_ts * (whole - d[i]) + h_rs * d[i]) / whole
        h_obs = max(h_obs, over)
        alpha_t = max(alpha_t, over / d[i])
        alpha_r = max(alpha_r, over / (whole - d[i]))
    return smooth_surface(v1, v2, whole, h[0], h[n], h_obs, alpha_t, alpha_r)


def straightforward_losses(d, ground, flat, latitude, link, loss):
    """Losses of strips of radials, all inland. ``flat`` is an array of zeros as long as a radial."""
    a_e = link.effective_radius_km
    for r in range(ground.shape[0]):
        h = ground[r]
        for n in range(4, d.size):
            h_ts = h[0] + link.tx_agl_m
            h_rs = h[n] + link.rx_agl_m
            surface = fit(d, h, n, h_ts, h_rs)
            from_m = h_ts - surface.tx_diffraction_m
            to_m = h_rs - surface.rx_diffraction_m
            median = DeltaBullingtonGeometry(
                a_e, bullington(d, h, n, h_ts, h_rs, a_e), bullington(d, flat, n, from_m, to_m, a_e)
            )
            anomalous = median
            if link.time_percent != 50.0:
                anomalous = DeltaBullingtonGeometry(
                    ANOMALOUS_RADIUS_KM,
                    bullington(d, h, n, h_ts, h_rs, ANOMALOUS_RADIUS_KM),
                    bullington(d, flat, n, from_m, to_m, ANOMALOUS_RADIUS_KM),
                )
            found, start, stop = horizons(d, h, n, h_ts, h_rs, a_e)
            h_st, h_sr = ducting_surface(surface, h[0], h[n])
            h_m = -math.inf
            for i in range(start, stop + 1):
                h_m = max(h_m, h[i] - (h_st + (h_sr - h_st) / d[n] * d[i]))
            ends = Terminals(
                d[n],
                h[0],
                h[n],
                link.tx_agl_m,
                link.rx_agl_m,
                a_e,
                500.0,
                500.0,
                0.5 * (latitude[r, n // 2] + latitude[r, (n + 1) // 2]),
                False,
            )
            path = path_from(ends, found, surface, h_m, Runs(0.0, d[n], d[n]), median, anomalous)
            loss[r, n] = losses_from(
                path,
                link.frequency_ghz,
                link.time_percent,
                link.n0,
                link.vertical,
                link.location_percent,
                link.location_sigma_db,
            ).L_b


def compiled_reference():
    """Compile it; the package's own equations must have been shown to the compiler before."""
    import numba
    from numba.extending import register_jitable

    for function in (bullington, horizons, fit):
        register_jitable(error_model="numpy")(function)
    return numba.njit(nogil=True, error_model="numpy")(straightforward_losses)


def rough_mountains(rays: int, rings: int, highest_m: float = 2500.0) -> np.ndarray:
    """Invented mountains along rays: noise whose power falls with frequency as that of real relief."""
    rng = np.random.default_rng(20)
    wave = np.fft.rfftfreq(rings)
    weight = np.zeros(wave.size)
    weight[1:] = wave[1:] ** -1.3
    noise = rng.normal(size=(rays, wave.size)) + 1j * rng.normal(size=(rays, wave.size))
    relief = np.fft.irfft(weight * noise, rings, axis=1)
    relief -= relief.min(axis=1, keepdims=True)
    relief *= highest_m / relief.max(axis=1, keepdims=True)
    relief[:, 0] = highest_m
    return relief
