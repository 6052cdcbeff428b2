"""Variability of the Irregular Terrain Model: how loss spreads over times, places and situations.

Scalar functions of floats, `math` only, as in `attenuation`; the climates are tables of floats.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, NamedTuple

from pathprofile.propagation.itm.attenuation import irregularity_over

if TYPE_CHECKING:
    from pathprofile.propagation.itm.path_geometry import PathGeometry

__all__ = [
    "CLIMATES",
    "CLIMATE_NAMES",
    "VARIABILITY_MODES",
    "Climate",
    "Deviates",
    "attenuation_not_exceeded",
    "normal_deviate",
    "used_deviates",
]


class Shape(NamedTuple):
    """A curve [dB] against effective distance: two levels c [dB] and three distances x [m]."""

    c_1: float
    c_2: float
    x_1_m: float
    x_2_m: float
    x_3_m: float


class FrequencyFactor(NamedTuple):
    """A factor on the spread in time, against frequency."""

    b_1: float = 1.0
    b_2: float = 0.0
    b_3: float = 0.0


class Climate(NamedTuple):
    """Variability in time of one radio climate.

    ``below`` is for times of more loss than the median's, ``above`` for less; past ``z_d`` standard
    deviations the latter's spread is ``c_d`` times as wide.
    """

    median: Shape
    below: Shape
    above: Shape
    c_d: float
    z_d: float
    below_factor: FrequencyFactor = FrequencyFactor()
    above_factor: FrequencyFactor = FrequencyFactor()


class Deviates(NamedTuple):
    """Standard normal deviates for time, location and situation, positive for less than half the cases."""

    time: float
    location: float
    situation: float


def _shape(c_1: float, c_2: float, x_1_km: float, x_2_km: float, x_3_km: float) -> Shape:
    return Shape(c_1, c_2, 1000.0 * x_1_km, 1000.0 * x_2_km, 1000.0 * x_3_km)


CLIMATE_NAMES: Final = {
    1: "equatorial",
    2: "continental subtropical",
    3: "maritime subtropical",
    4: "desert",
    5: "continental temperate",
    6: "maritime temperate, over land",
    7: "maritime temperate, over sea",
}

# Curve constants of the seven climates: Hufford, "The ITS Irregular Terrain Model", version 1.2.2.
CLIMATES: Final = {
    1: Climate(
        _shape(-9.67, 12.7, 144.9, 190.3, 133.8),
        _shape(2.13, 159.5, 762.2, 123.6, 94.5),
        _shape(2.11, 102.3, 636.9, 134.8, 95.6),
        1.224,
        1.282,
    ),
    2: Climate(
        _shape(-0.62, 9.19, 228.9, 205.2, 143.6),
        _shape(2.66, 7.67, 100.4, 172.5, 136.4),
        _shape(6.87, 15.53, 138.7, 143.7, 98.6),
        0.801,
        2.161,
        above_factor=FrequencyFactor(0.93, 0.31, 2.00),
    ),
    3: Climate(
        _shape(1.26, 15.5, 262.6, 185.2, 99.8),
        _shape(6.11, 6.65, 138.2, 242.2, 178.6),
        _shape(10.08, 9.60, 165.3, 225.7, 129.7),
        1.380,
        1.282,
    ),
    4: Climate(
        _shape(-9.21, 9.05, 84.1, 101.1, 98.6),
        _shape(1.98, 13.11, 139.1, 132.7, 193.5),
        _shape(3.68, 159.3, 464.4, 93.1, 94.2),
        1.000,
        20.0,
        above_factor=FrequencyFactor(0.93, 0.19, 1.79),
    ),
    5: Climate(
        _shape(-0.62, 9.19, 228.9, 205.2, 143.6),
        _shape(2.68, 7.16, 93.7, 186.8, 133.5),
        _shape(4.75, 8.12, 93.2, 135.9, 113.4),
        1.224,
        1.282,
        below_factor=FrequencyFactor(0.92, 0.25, 1.77),
        above_factor=FrequencyFactor(0.93, 0.31, 2.00),
    ),
    6: Climate(
        _shape(-0.39, 2.86, 141.7, 315.9, 167.4),
        _shape(6.86, 10.38, 187.8, 169.6, 108.9),
        _shape(8.58, 13.97, 216.0, 152.0, 122.7),
        1.518,
        1.282,
    ),
    7: Climate(
        _shape(3.15, 857.9, 2222.0, 164.8, 116.3),
        _shape(8.51, 169.8, 609.8, 119.9, 106.6),
        _shape(8.43, 8.19, 136.2, 188.5, 122.9),
        1.518,
        1.282,
    ),
}

SINGLE_MESSAGE: Final = 0
ACCIDENTAL: Final = 1
MOBILE: Final = 2

# +10 leaves out the variability of location, +20 the direct one of situation, +30 both.
VARIABILITY_MODES: Final = tuple(base + extra for extra in (0, 10, 20, 30) for base in range(4))


def normal_deviate(percent: float) -> float:
    """Give the standard normal deviate exceeded in ``percent`` of cases, by the model's own approximation."""
    p = percent / 100.0
    T = math.sqrt(-2.0 * math.log(min(p, 1.0 - p)))
    z = T - (2.515516 + 0.802853 * T + 0.010328 * T * T) / (
        1.0 + 1.432788 * T + 0.189269 * T * T + 0.001308 * T**3
    )
    return -z if p > 0.5 else z


def used_deviates(mode: int, z: Deviates) -> Deviates:
    """Deviates that a mode of variability really uses: fewer than three kinds of variability in most."""
    kind = mode % 10
    if kind == SINGLE_MESSAGE:
        return Deviates(z.situation, z.situation, z.situation)
    if kind == ACCIDENTAL:
        return Deviates(z.time, z.situation, z.situation)
    if kind == MOBILE:
        return Deviates(z.time, z.time, z.situation)
    return z


def effective_distance(g: PathGeometry, wavenumber_per_m: float) -> float:
    """Distance [m] that makes paths of different antenna heights and frequency alike in their variability."""
    reach = (
        math.sqrt(18e6 * g.tx_effective_height_m)
        + math.sqrt(18e6 * g.rx_effective_height_m)
        + math.pow(575.7e12 / wavenumber_per_m, 1.0 / 3.0)
    )
    if g.path_length_m < reach:
        return 130e3 * g.path_length_m / reach
    return 130e3 + g.path_length_m - reach


def _curve(d_e: float, shape: Shape) -> float:
    bump = ((d_e - shape.x_2_m) / shape.x_3_m) ** 2
    rise = (d_e / shape.x_1_m) ** 2
    return (shape.c_1 + shape.c_2 / (1.0 + bump)) * rise / (1.0 + rise)


def _frequency_factor(wavenumber_per_m: float, factor: FrequencyFactor) -> float:
    return factor.b_1 + factor.b_2 / (1.0 + (factor.b_3 * math.log(0.133 * wavenumber_per_m)) ** 2)


def _time_spread(z_t: float, d_e: float, wavenumber_per_m: float, climate: Climate) -> float:
    """Spread in time [dB] of one standard deviation, on the side of the median where ``z_t`` lies."""
    if z_t < 0.0:
        return _curve(d_e, climate.below) * _frequency_factor(wavenumber_per_m, climate.below_factor)
    sigma = _curve(d_e, climate.above) * _frequency_factor(wavenumber_per_m, climate.above_factor)
    if z_t <= climate.z_d:
        return sigma
    return climate.c_d * sigma + (1.0 - climate.c_d) * sigma * climate.z_d / z_t


def attenuation_not_exceeded(
    reference_db: float,
    g: PathGeometry,
    wavenumber_per_m: float,
    climate: Climate,
    mode: int,
    z: Deviates,
) -> float:
    """Attenuation [dB] relative to free space that is not exceeded, for deviates as `used_deviates` gives.

    Parameters
    ----------
    reference_db : float
        Reference attenuation [dB].
    g : PathGeometry
    wavenumber_per_m : float
        [1/m]
    climate : Climate
    mode : int
        Code of the mode of variability, one of `VARIABILITY_MODES`.
    z : Deviates

    Returns
    -------
    float
        May be slightly negative: strongly negative values are bent towards a tenth of themselves.
    """
    z_t, z_l, z_s = z
    kind = mode % 10
    without_location = mode // 10 in (1, 3)
    without_situation = mode >= 20
    d_e = effective_distance(g, wavenumber_per_m)

    sigma_t = _time_spread(z_t, d_e, wavenumber_per_m, climate)
    sigma_l = 0.0
    if not without_location:
        dh = irregularity_over(g.terrain_irregularity_m, g.path_length_m)
        sigma_l = 10.0 * wavenumber_per_m * dh / (wavenumber_per_m * dh + 13.0)
    sigma_s = 0.0 if without_situation else 5.0 + 3.0 * math.exp(-d_e / 100e3)

    y_t = sigma_t * z_t
    y_l = sigma_l * z_l
    unsure = sigma_s**2 + y_t**2 / (7.8 + z_s**2) + y_l**2 / (24.0 + z_s**2)
    if kind == SINGLE_MESSAGE:
        y = math.sqrt(sigma_t**2 + sigma_l**2 + unsure) * z_s
    elif kind == ACCIDENTAL:
        y = y_t + math.sqrt(sigma_l**2 + unsure) * z_s
    elif kind == MOBILE:
        y = math.sqrt(sigma_t**2 + sigma_l**2) * z_t + math.sqrt(unsure) * z_s
    else:
        y = y_t + y_l + math.sqrt(unsure) * z_s
    attenuation = reference_db - _curve(d_e, climate.median) - y
    if attenuation < 0.0:
        attenuation *= (29.0 - attenuation) / (29.0 - 10.0 * attenuation)
    return attenuation
