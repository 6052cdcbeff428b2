"""Diffraction over a smooth spherical Earth, by the first term of the residue series.

Leaves take the units of the Recommendations (km, GHz, m); :func:`loss_db` those of this package (m, MHz).
"""

from __future__ import annotations

import math

from pathprofile.propagation import _checks

__all__ = [
    "LAND_CONDUCTIVITY_S_PER_M",
    "LAND_PERMITTIVITY",
    "SEA_CONDUCTIVITY_S_PER_M",
    "SEA_PERMITTIVITY",
    "first_term_one_ground_db",
    "loss_db",
    "loss_from",
]

# ITU-R P.1812-8 eqs 22 to 36: medium ground and sea water
LAND_PERMITTIVITY = 22.0
LAND_CONDUCTIVITY_S_PER_M = 0.003
SEA_PERMITTIVITY = 80.0
SEA_CONDUCTIVITY_S_PER_M = 5.0

_METHOD = "spherical Earth"


def _height_gain_db(beta: float, height_y: float, K: float) -> float:
    """G(Y) of P.1812-8 eqs 22 to 36 [dB]."""
    B = beta * height_y
    if B > 2.0:
        gain = 17.6 * math.sqrt(B - 1.1) - 5.0 * math.log10(B - 1.1) - 8.0
    else:
        gain = 20.0 * math.log10(B + 0.1 * B**3)
    return max(gain, 2.0 + 20.0 * math.log10(K))


def first_term_one_ground_db(
    distance_km: float,
    tx_height_m: float,
    rx_height_m: float,
    radius_km: float,
    frequency_ghz: float,
    vertical: bool,
    relative_permittivity: float,
    conductivity_s_per_m: float,
) -> float:
    """First residue term over one kind of ground (P.1812-8 eqs 22 to 36) [dB]; may be negative."""
    f = frequency_ghz
    imaginary = 18.0 * conductivity_s_per_m / f
    K = 0.036 * (radius_km * f) ** (-1.0 / 3.0) * ((relative_permittivity - 1.0) ** 2 + imaginary**2) ** -0.25
    if vertical:
        K *= math.sqrt(relative_permittivity**2 + imaginary**2)
    K2 = K * K
    beta = (1.0 + 1.6 * K2 + 0.67 * K2 * K2) / (1.0 + 4.5 * K2 + 1.53 * K2 * K2)
    X = 21.88 * beta * (f / radius_km**2) ** (1.0 / 3.0) * distance_km
    y_per_m = 0.9575 * beta * (f * f / radius_km) ** (1.0 / 3.0)
    F = (
        11.0 + 10.0 * math.log10(X) - 17.6 * X
        if X >= 1.6
        else -20.0 * math.log10(X) - 5.6488 * math.pow(X, 1.425)
    )
    return (
        -F - _height_gain_db(beta, y_per_m * tx_height_m, K) - _height_gain_db(beta, y_per_m * rx_height_m, K)
    )


def _first_term_db(
    distance_km: float,
    tx_height_m: float,
    rx_height_m: float,
    radius_km: float,
    frequency_ghz: float,
    vertical: bool,
    relative_permittivity: float,
    conductivity_s_per_m: float,
    sea_fraction: float,
) -> float:
    """First term over a path of which a share is sea (P.1812-8 eqs 22 to 36) [dB]."""
    loss = 0.0
    if sea_fraction < 1.0:
        loss += (1.0 - sea_fraction) * first_term_one_ground_db(
            distance_km,
            tx_height_m,
            rx_height_m,
            radius_km,
            frequency_ghz,
            vertical,
            relative_permittivity,
            conductivity_s_per_m,
        )
    if sea_fraction > 0.0:
        loss += sea_fraction * first_term_one_ground_db(
            distance_km,
            tx_height_m,
            rx_height_m,
            radius_km,
            frequency_ghz,
            vertical,
            SEA_PERMITTIVITY,
            SEA_CONDUCTIVITY_S_PER_M,
        )
    return loss


def loss_from(
    distance_km: float,
    tx_height_m: float,
    rx_height_m: float,
    radius_km: float,
    frequency_ghz: float,
    vertical: bool,
    relative_permittivity: float,
    conductivity_s_per_m: float,
    sea_fraction: float,
) -> float:
    """Spherical-Earth diffraction loss at any distance (P.1812-8 eqs 22 to 36; P.526-16 §3.2) [dB]."""
    d = distance_km
    a = radius_km
    h_t = tx_height_m
    h_r = rx_height_m
    d_los = math.sqrt(2.0 * a) * (math.sqrt(0.001 * h_t) + math.sqrt(0.001 * h_r))
    if d >= d_los:
        return _first_term_db(
            d, h_t, h_r, a, frequency_ghz, vertical, relative_permittivity, conductivity_s_per_m, sea_fraction
        )
    # in sight: the point where the ray comes nearest the surface, and its clearance h_se
    c = (h_t - h_r) / (h_t + h_r)
    m = 250.0 * d * d / (a * (h_t + h_r))
    cosine = 1.5 * c * math.sqrt(3.0 * m / (m + 1.0) ** 3)
    b = 2.0 * math.sqrt((m + 1.0) / (3.0 * m)) * math.cos(math.pi / 3.0 + math.acos(cosine) / 3.0)
    d_1 = 0.5 * d * (1.0 + b)
    d_2 = d - d_1
    h_se = ((h_t - 500.0 * d_1 * d_1 / a) * d_2 + (h_r - 500.0 * d_2 * d_2 / a) * d_1) / d
    h_req = 17.456 * math.sqrt(d_1 * d_2 * (0.2998 / frequency_ghz) / d)
    if h_se > h_req:
        return 0.0
    a_em = (
        500.0 * (d / (math.sqrt(h_t) + math.sqrt(h_r))) ** 2
    )  # the radius that puts this path at its horizon
    loss = _first_term_db(
        d, h_t, h_r, a_em, frequency_ghz, vertical, relative_permittivity, conductivity_s_per_m, sea_fraction
    )
    if loss <= 0.0:
        return 0.0
    return (1.0 - h_se / h_req) * loss


def loss_db(
    distance_m: float,
    tx_height_m: float,
    rx_height_m: float,
    *,
    frequency_mhz: float,
    effective_radius_m: float,
    polarization: str,
    relative_permittivity: float = LAND_PERMITTIVITY,
    conductivity_s_per_m: float = LAND_CONDUCTIVITY_S_PER_M,
    sea_fraction: float = 0.0,
) -> float:
    """Diffraction loss over a smooth spherical Earth.

    Parameters
    ----------
    distance_m : float
        Path length along the surface [m].
    tx_height_m, rx_height_m : float
        Antennas above the surface [m].
    frequency_mhz : float
        Frequency, 10 MHz or more [MHz].
    effective_radius_m : float
        Effective Earth radius [m].
    polarization : {"horizontal", "vertical"}
        Polarization.
    relative_permittivity : float
        Of the land; the default is medium ground.
    conductivity_s_per_m : float
        Of the land [S/m]; the default is medium ground.
    sea_fraction : float
        Share of the path over sea, 0 to 1.

    Returns
    -------
    float
        Loss over free space [dB]. Zero where the ray clears the surface by the required height; beyond the
        horizon with very high antennas the first term alone may fall below zero.

    Raises
    ------
    OutOfRangeError
        If a number is outside what is accepted.

    Notes
    -----
    **Validity**: 10 MHz and more, beyond the horizon, and by interpolation inside it. For low antennas on
    short paths, where the ground wave rules, the first term is not enough.

    References
    ----------
    .. [1] ITU-R P.526-16, §3.1.1 and §3.2; the same as P.1812-8 eqs 22 to 36.
    """
    distance = _checks.number(_METHOD, "distance_m", distance_m, 1.0, 1e7, "m")
    tx_height = _checks.number(_METHOD, "tx_height_m", tx_height_m, 1e-3, 1e5, "m")
    rx_height = _checks.number(_METHOD, "rx_height_m", rx_height_m, 1e-3, 1e5, "m")
    frequency = _checks.number(_METHOD, "frequency_mhz", frequency_mhz, 10.0, 1e6, "MHz")
    radius = _checks.number(_METHOD, "effective_radius_m", effective_radius_m, 1e5, 1e12, "m")
    permittivity = _checks.number(_METHOD, "relative_permittivity", relative_permittivity, 1.0, 1e3)
    conductivity = _checks.number(_METHOD, "conductivity_s_per_m", conductivity_s_per_m, 1e-9, 1e8, "S/m")
    sea = _checks.number(_METHOD, "sea_fraction", sea_fraction, 0.0, 1.0)
    vertical = _checks.is_vertical(_METHOD, polarization)
    return loss_from(
        distance / 1000.0,
        tx_height,
        rx_height,
        radius / 1000.0,
        frequency / 1000.0,
        vertical,
        permittivity,
        conductivity,
        sea,
    )
