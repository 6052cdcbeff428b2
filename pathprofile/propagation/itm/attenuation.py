"""Reference attenuation of the Irregular Terrain Model: the median excess over free space of one path.

Scalar functions of floats, `math` only, no exceptions: each is the one home of its equation and can be
compiled as it stands. ``s`` is a distance along the path [m], not always the path's own length: the model
computes a few distances and joins them by straight lines and logarithms. Symbols as in `path_geometry`.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from pathprofile.propagation.itm.path_geometry import PathGeometry

__all__ = [
    "DIFFRACTION",
    "LINE_OF_SIGHT",
    "TROPOSCATTER",
    "Radio",
    "conducts_too_well",
    "diffraction",
    "diffraction_line",
    "free_space_loss",
    "line_of_sight",
    "reference_attenuation",
    "troposcatter",
]

LINE_OF_SIGHT: Final = 1
DIFFRACTION: Final = 2
TROPOSCATTER: Final = 3

# Frequency gain of scatter: coefficients of r^-4 and r^-2 for scatter efficiency 1 to 5.
_GAIN_FOURTH: Final = (25.0, 80.0, 177.0, 395.0, 705.0)
_GAIN_SECOND: Final = (24.0, 45.0, 68.0, 80.0, 105.0)


class Radio(NamedTuple):
    """Frequency, and the ground's surface impedance at it."""

    frequency_mhz: float
    wavenumber_per_m: float
    impedance_real: float
    impedance_imag: float


def free_space_loss(frequency_mhz: float, distance_m: float) -> float:
    """Free-space basic transmission loss [dB]."""
    return 32.45 + 20.0 * math.log10(frequency_mhz) + 20.0 * math.log10(distance_m / 1000.0)


def _horizon_sum(g: PathGeometry) -> float:
    return g.tx_horizon_distance_m + g.rx_horizon_distance_m


def _smooth_horizon_sum(g: PathGeometry) -> float:
    return g.tx_smooth_horizon_m + g.rx_smooth_horizon_m


def _limited_angle_sum(g: PathGeometry) -> float:
    """Sum theta_e of the horizon angles [rad], never less than over a smooth Earth."""
    return max(g.tx_horizon_angle_rad + g.rx_horizon_angle_rad, -_horizon_sum(g) / g.effective_radius_m)


def _angle_past_horizons(s: float, g: PathGeometry) -> float:
    """Angle [rad] between the two horizon rays on a path of length ``s``."""
    return _limited_angle_sum(g) + s / g.effective_radius_m


def irregularity_over(dh: float, s: float) -> float:
    """Terrain irregularity [m] that a stretch of length ``s`` shows."""
    return dh * (1.0 - 0.8 * math.exp(-s / 50000.0))


def rms_roughness(dh: float) -> float:
    """Root-mean-square deviation [m] of terrain whose irregularity is ``dh``."""
    return 0.78 * dh * math.exp(-0.5 * math.pow(dh, 0.25))


# --- diffraction ----------------------------------------------------------------------------------------


def knife_edge(v_squared: float) -> float:
    """Loss [dB] of a knife edge, from the square of its diffraction parameter."""
    if v_squared < 5.76:
        return 6.02 + 9.11 * math.sqrt(v_squared) - 1.27 * v_squared
    return 12.953 + 10.0 * math.log10(v_squared)


def two_knife_edges(s: float, g: PathGeometry, radio: Radio) -> float:
    """Loss [dB] of a knife edge at each horizon."""
    beyond = s - _horizon_sum(g)
    angle = _angle_past_horizons(s, g)
    common = 0.0795775 * radio.wavenumber_per_m * angle * angle * beyond
    d_1, d_2 = g.tx_horizon_distance_m, g.rx_horizon_distance_m
    return knife_edge(common * d_1 / (beyond + d_1)) + knife_edge(common * d_2 / (beyond + d_2))


def height_gain(X: float, k: float) -> float:
    """Height gain function [dB] of rounded-earth diffraction."""
    if X >= 2000.0:
        return 0.05751 * X - 4.343 * math.log(X)
    if X >= 200.0:
        w = 0.0134 * X * math.exp(-0.005 * X)
        return (1.0 - w) * (0.05751 * X - 4.343 * math.log(X)) + w * (17.372 * math.log(X) - 117.0)
    w = -math.log(k)
    if k < 1e-5 or X * w**3 > 5495.0:
        return -117.0 + 17.372 * math.log(X) if X > 1.0 else -117.0
    return 2.5e-5 * X * X / k - 8.686 * w - 15.0


def rounded_earth(s: float, g: PathGeometry, radio: Radio) -> float:
    """Loss [dB] of a rounded obstacle with three radii; NaN where the series has no value."""
    beyond = s - _horizon_sum(g)
    x_1, k_1 = _rounded_end(g.tx_horizon_distance_m, g.tx_effective_height_m, radio)
    x_2, k_2 = _rounded_end(g.rx_horizon_distance_m, g.rx_effective_height_m, radio)
    x_0, _ = _rounded_stretch(beyond / _angle_past_horizons(s, g), beyond, radio)
    x_0 += x_1 + x_2
    if not x_0 > 0.0:
        # A good conductor, vertical polarization, a low frequency and a near horizon: no logarithm exists.
        return math.nan
    return 0.05751 * x_0 - 10.0 * math.log10(x_0) - height_gain(x_1, k_1) - height_gain(x_2, k_2) - 20.0


def _rounded_end(d: float, H: float, radio: Radio) -> tuple[float, float]:
    """Return X and k of the stretch from an antenna to its horizon."""
    return _rounded_stretch(d * d / (2.0 * H), d, radio)


def _rounded_stretch(radius_m: float, length_m: float, radio: Radio) -> tuple[float, float]:
    """Return normalized length X and ground parameter k of a stretch of the rounded earth."""
    f_third = math.pow(radio.frequency_mhz, 1.0 / 3.0)
    impedance = math.hypot(radio.impedance_real, radio.impedance_imag)
    C = math.pow(4.0 / 3.0 * 6370e3 / radius_m, 1.0 / 3.0)
    k = 0.017778 * C / (f_third * impedance)
    return (1.607 - k) * C * C * f_third * length_m / 1000.0, k


def conducts_too_well(g: PathGeometry, radio: Radio) -> bool:
    """Whether an antenna's near horizon and good ground take the rounded-earth series out of its range."""
    x_1, _ = _rounded_end(g.tx_horizon_distance_m, g.tx_effective_height_m, radio)
    x_2, _ = _rounded_end(g.rx_horizon_distance_m, g.rx_effective_height_m, radio)
    return min(x_1, x_2) < 0.0


def clutter(g: PathGeometry, radio: Radio) -> float:
    """Loss [dB] of roughness close to the antennas; their heights above ground count here."""
    dh = irregularity_over(g.terrain_irregularity_m, _smooth_horizon_sum(g))
    heights = g.tx_antenna_agl_m * g.rx_antenna_agl_m
    return min(15.0, 5.0 * math.log10(1.0 + 1e-5 * heights * radio.frequency_mhz * rms_roughness(dh)))


def diffraction(s: float, g: PathGeometry, radio: Radio) -> float:
    """Diffraction attenuation [dB] beyond the horizons; NaN where `rounded_earth` has no value."""
    on_ground = g.tx_antenna_agl_m * g.rx_antenna_agl_m
    effective = g.tx_effective_height_m * g.rx_effective_height_m
    factor = math.sqrt(1.0 + (effective - on_ground) / (on_ground + 10.0))
    factor += (g.effective_radius_m * _limited_angle_sum(g) + _horizon_sum(g)) / s
    dh = irregularity_over(g.terrain_irregularity_m, s)
    W = factor * min(radio.wavenumber_per_m * dh, 6283.2)
    # Smooth ground diffracts as a rounded earth, rough ground as knife edges.
    w = 25.1 / (25.1 + math.sqrt(W))
    return w * rounded_earth(s, g, radio) + (1.0 - w) * two_knife_edges(s, g, radio) + clutter(g, radio)


def _diffraction_reach(g: PathGeometry, radio: Radio) -> float:
    """Distance scale X_c [m] on which diffraction over a smooth Earth grows."""
    return math.pow(g.effective_radius_m**2 / radio.frequency_mhz, 1.0 / 3.0)


def diffraction_line(g: PathGeometry, radio: Radio) -> tuple[float, float]:
    """Slope m_d [dB/m] and intercept A_e [dB] of diffraction against distance."""
    x_c = _diffraction_reach(g, radio)
    s_3 = max(_smooth_horizon_sum(g), _horizon_sum(g) + 5.0 * x_c)
    s_4 = s_3 + 10.0 * x_c
    a_3 = diffraction(s_3, g, radio)
    m_d = (diffraction(s_4, g, radio) - a_3) / (s_4 - s_3)
    return m_d, a_3 - m_d * s_3


# --- line of sight --------------------------------------------------------------------------------------


def line_of_sight(s: float, g: PathGeometry, radio: Radio, m_d: float, a_e: float) -> float:
    """Attenuation [dB] of two rays blended with diffraction extended back into sight."""
    heights = g.tx_effective_height_m + g.rx_effective_height_m
    sine = heights / math.sqrt(s * s + heights * heights)
    z_re, z_im = radio.impedance_real, radio.impedance_imag
    dh = irregularity_over(g.terrain_irregularity_m, s)
    fading = math.exp(-min(10.0, radio.wavenumber_per_m * rms_roughness(dh) * sine))
    # Reflection (sine - Z)/(sine + Z), written out in real and imaginary part.
    scale = fading / ((sine + z_re) ** 2 + z_im * z_im)
    r_re = scale * (sine * sine - z_re * z_re - z_im * z_im)
    r_im = scale * (-2.0 * sine * z_im)
    q = r_re * r_re + r_im * r_im
    if q < 0.25 or q < sine:
        stronger = math.sqrt(sine / q)
        r_re *= stronger
        r_im *= stronger
    phase = 2.0 * radio.wavenumber_per_m * g.tx_effective_height_m * g.rx_effective_height_m / s
    if phase > 0.5 * math.pi:
        phase = math.pi - (0.5 * math.pi) ** 2 / phase
    sum_re = math.cos(phase) + r_re
    sum_im = r_im - math.sin(phase)
    two_rays = -10.0 * math.log10(sum_re * sum_re + sum_im * sum_im)
    extended = m_d * s + a_e
    rough = radio.frequency_mhz * g.terrain_irregularity_m
    w = 1.0 / (1.0 + rough / max(10000.0, _smooth_horizon_sum(g)))
    return w * two_rays + (1.0 - w) * extended


def _within_smooth_horizons(g: PathGeometry, radio: Radio, m_d: float, a_e: float) -> float:
    """Attenuation [dB] for D < d_s: a curve A_o + K_1 s + K_2 ln s through two or three points."""
    d_s = _smooth_horizon_sum(g)
    d_L = _horizon_sum(g)
    a_s = m_d * d_s + a_e
    s_0 = 0.04 * radio.frequency_mhz * g.tx_effective_height_m * g.rx_effective_height_m
    if a_e >= 0.0:
        s_0 = min(s_0, 0.5 * d_L)
        s_1 = s_0 + 0.25 * (d_L - s_0)
    else:
        s_1 = max(-a_e / m_d, 0.25 * d_L)
    a_1 = line_of_sight(s_1, g, radio, m_d, a_e)

    accepted = False
    K_1 = K_2 = 0.0
    if s_0 < s_1:
        a_0 = line_of_sight(s_0, g, radio, m_d, a_e)
        Q = math.log(d_s / s_0)
        K_2 = max(
            0.0,
            ((d_s - s_0) * (a_1 - a_0) - (s_1 - s_0) * (a_s - a_0))
            / ((d_s - s_0) * math.log(s_1 / s_0) - (s_1 - s_0) * Q),
        )
        accepted = a_e > 0.0 or K_2 > 0.0
        if accepted:
            K_1 = (a_s - a_0 - K_2 * Q) / (d_s - s_0)
            if K_1 < 0.0:
                K_1 = 0.0
                K_2 = max(a_s - a_0, 0.0) / Q
                if K_2 == 0.0:
                    K_1 = m_d
    if not accepted:
        K_2 = 0.0
        K_1 = max(a_s - a_1, 0.0) / (d_s - s_1)
        if K_1 == 0.0:
            K_1 = m_d
    a_o = a_s - K_1 * d_s - K_2 * math.log(d_s)
    return a_o + K_1 * g.path_length_m + K_2 * math.log(g.path_length_m)


# --- troposcatter ---------------------------------------------------------------------------------------


def _scatter_gain(r: float, efficiency: float) -> float:
    """Frequency gain [dB] for a normalized height ``r``, between the tabled scatter efficiencies 1 to 5."""
    j = int(efficiency)
    part = efficiency - j
    gain = _tabled_gain(r, j)
    if part > 0.0:
        gain = (1.0 - part) * gain + part * _tabled_gain(r, j + 1)
    return gain


def _tabled_gain(r: float, j: int) -> float:
    r_squared = r * r
    return 10.0 * math.log10(
        1.0 + _GAIN_FOURTH[j - 1] / (r_squared * r_squared) + _GAIN_SECOND[j - 1] / r_squared
    )


def _frequency_gain(s: float, g: PathGeometry, radio: Radio) -> float:
    """Frequency gain H_0 [dB] of the scatter path; NaN where there is no scatter."""
    # The sum of the horizon angles is not limited here, unlike in _angle_past_horizons.
    angle = g.tx_horizon_angle_rad + g.rx_horizon_angle_rad + s / g.effective_radius_m
    r_1 = 2.0 * radio.wavenumber_per_m * angle * g.tx_effective_height_m
    r_2 = 2.0 * radio.wavenumber_per_m * angle * g.rx_effective_height_m
    if r_1 < 0.2 and r_2 < 0.2:
        return math.nan
    difference = g.tx_horizon_distance_m - g.rx_horizon_distance_m
    ratio = g.rx_effective_height_m / g.tx_effective_height_m
    if difference < 0.0:
        difference = -difference
        ratio = 1.0 / ratio
    asymmetry = (s - difference) / (s + difference)
    q = min(max(ratio / asymmetry, 0.1), 10.0)
    asymmetry = max(0.1, asymmetry)  # only now: q is formed with the value as it is
    crossing_m = (s - difference) * (s + difference) * angle / (4.0 * s)
    n_s = g.surface_refractivity
    efficiency = (crossing_m / 1755.6) * (
        1.0 + (0.031 - 2.32e-3 * n_s + 5.67e-6 * n_s * n_s) * math.exp(-(min(1.7, crossing_m / 8000.0) ** 6))
    )
    tabled = min(max(efficiency, 1.0), 5.0)
    mean = 0.5 * (_scatter_gain(r_1, tabled) + _scatter_gain(r_2, tabled))
    correction = 6.0 * (0.6 - math.log10(max(efficiency, 1.0))) * math.log10(asymmetry) * math.log10(q)
    gain = max(mean + min(mean, correction), 0.0)
    if efficiency < 1.0:
        root_2 = math.sqrt(2.0)
        product = (1.0 + root_2 / r_1) * (1.0 + root_2 / r_2)
        low = 10.0 * math.log10(product * product * (r_1 + r_2) / (r_1 + r_2 + 2.0 * root_2))
        gain = efficiency * gain + (1.0 - efficiency) * low
    return gain


def _scatter_distance_term(x: float) -> float:
    """Attenuation [dB] against ``x``, angle times distance [m]."""
    if x <= 10000.0:
        return 133.4 + 0.332e-3 * x - 10.0 * math.log10(x)
    if x <= 70000.0:
        return 104.6 + 0.212e-3 * x - 2.5 * math.log10(x)
    return 71.8 + 0.157e-3 * x + 5.0 * math.log10(x)


def _scatter_with_gain(s: float, gain: float, g: PathGeometry, radio: Radio) -> float:
    angle = _angle_past_horizons(s, g)
    return (
        _scatter_distance_term(angle * s)
        + 10.0 * math.log10(47.7 * radio.wavenumber_per_m * angle**4)
        - 0.1 * (g.surface_refractivity - 301.0) * math.exp(-angle * s / 40000.0)
        + gain
    )


def troposcatter(g: PathGeometry, radio: Radio) -> tuple[float, float]:
    """Scatter attenuation [dB] 200 km and 400 km beyond the horizons; NaN where there is no scatter."""
    s_5 = _horizon_sum(g) + 200e3
    s_6 = _horizon_sum(g) + 400e3
    gain_6 = _frequency_gain(s_6, g, radio)
    if math.isnan(gain_6):
        return math.nan, math.nan  # nor is there any nearer by, where the angle is smaller
    gain_5 = gain_6
    if gain_6 <= 15.0:
        gain_5 = _frequency_gain(s_5, g, radio)
        if gain_5 > 15.0:
            gain_5 = gain_6
    return _scatter_with_gain(s_5, gain_5, g, radio), _scatter_with_gain(s_6, gain_6, g, radio)


# --- the whole ------------------------------------------------------------------------------------------


def reference_attenuation(g: PathGeometry, radio: Radio) -> tuple[float, int]:
    """Find the median attenuation over free space [dB] and the mode of propagation.

    Parameters
    ----------
    g : PathGeometry
    radio : Radio

    Returns
    -------
    attenuation_db : float
        Never negative; NaN when rounded-earth diffraction is undefined.
    mode : int
        `LINE_OF_SIGHT`, `DIFFRACTION` or `TROPOSCATTER`: the formula used. An obstructed path shorter than
        the smooth-earth horizons counts as line of sight here.

    References
    ----------
    .. [1] G. A. Hufford, "The ITS Irregular Terrain Model, version 1.2.2: The Algorithm", NTIA/ITS,
       sections on the reference attenuation.
    """
    D = g.path_length_m
    d_s = _smooth_horizon_sum(g)
    m_d, a_e = diffraction_line(g, radio)
    mode = LINE_OF_SIGHT if d_s > D else DIFFRACTION
    if math.isnan(m_d):
        return math.nan, mode
    if mode == LINE_OF_SIGHT:
        return max(_within_smooth_horizons(g, radio, m_d, a_e), 0.0), mode
    attenuation = m_d * D + a_e
    a_5, a_6 = troposcatter(g, radio)
    if a_5 < 1000.0:  # false for NaN: no scatter
        m_s = (a_6 - a_5) / 200e3
        d_L = _horizon_sum(g)
        s_x = max(
            d_s,
            d_L + 1.088 * _diffraction_reach(g, radio) * math.log(radio.frequency_mhz),
            (a_5 - a_e - m_s * (d_L + 200e3)) / (m_d - m_s),
        )
        if s_x < D:
            mode = TROPOSCATTER
            attenuation = m_s * D + (m_d - m_s) * s_x + a_e
    return max(attenuation, 0.0), mode
