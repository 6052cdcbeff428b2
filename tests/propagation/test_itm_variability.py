"""Variability of the Irregular Terrain Model over times, places and situations."""

from __future__ import annotations

import itertools
import math
from statistics import NormalDist
from typing import Any

import numpy as np
import pytest

from pathprofile.propagation import itm
from pathprofile.propagation.itm import variability
from pathprofile.propagation.itm.path_geometry import Horizons, complete_geometry

HILLS = 250.0 + 60.0 * np.sin(np.arange(240) / 7.0) + 25.0 * np.cos(np.arange(240) * 1.3)
FAR = complete_geometry(2e8, 10.0, 5.0, 0.0, 0.0, Horizons(0.01, 0.01, 5e3, 5e3), 90.0, 301.0, 8.5e6)

# Climates 1 to 7 in columns, one constant a row, as NTIA prints them (Hufford, version 1.2.2; release 1.4).
TABLE = {
    ("median", 0): (-9.67, -0.62, 1.26, -9.21, -0.62, -0.39, 3.15),
    ("median", 1): (12.7, 9.19, 15.5, 9.05, 9.19, 2.86, 857.9),
    ("median", 2): (144.9e3, 228.9e3, 262.6e3, 84.1e3, 228.9e3, 141.7e3, 2222e3),
    ("median", 3): (190.3e3, 205.2e3, 185.2e3, 101.1e3, 205.2e3, 315.9e3, 164.8e3),
    ("median", 4): (133.8e3, 143.6e3, 99.8e3, 98.6e3, 143.6e3, 167.4e3, 116.3e3),
    ("below", 0): (2.13, 2.66, 6.11, 1.98, 2.68, 6.86, 8.51),
    ("below", 1): (159.5, 7.67, 6.65, 13.11, 7.16, 10.38, 169.8),
    ("below", 2): (762.2e3, 100.4e3, 138.2e3, 139.1e3, 93.7e3, 187.8e3, 609.8e3),
    ("below", 3): (123.6e3, 172.5e3, 242.2e3, 132.7e3, 186.8e3, 169.6e3, 119.9e3),
    ("below", 4): (94.5e3, 136.4e3, 178.6e3, 193.5e3, 133.5e3, 108.9e3, 106.6e3),
    ("above", 0): (2.11, 6.87, 10.08, 3.68, 4.75, 8.58, 8.43),
    ("above", 1): (102.3, 15.53, 9.60, 159.3, 8.12, 13.97, 8.19),
    ("above", 2): (636.9e3, 138.7e3, 165.3e3, 464.4e3, 93.2e3, 216.0e3, 136.2e3),
    ("above", 3): (134.8e3, 143.7e3, 225.7e3, 93.1e3, 135.9e3, 152.0e3, 188.5e3),
    ("above", 4): (95.6e3, 98.6e3, 129.7e3, 94.2e3, 113.4e3, 122.7e3, 122.9e3),
}


def prepared(**changes: Any) -> itm.PreparedPath:
    inputs: dict[str, Any] = {
        "frequency_mhz": 145.0,
        "tx_antenna_agl_m": 10.0,
        "rx_antenna_agl_m": 5.0,
        "n0": 301.0,
        "polarization": "vertical",
        "climate": 5,
        "relative_permittivity": 15.0,
        "conductivity_s_per_m": 0.005,
    }
    return itm.prepare(330.0, HILLS, **(inputs | changes))


PATHS = {climate: prepared(climate=climate) for climate in itm.CLIMATE_NAMES}


def loss(path: itm.PreparedPath, mode: int, time: float, location: float, situation: float) -> float:
    return itm.predict_from(
        path,
        time_percent=time,
        location_percent=location,
        situation_percent=situation,
        variability_mode=mode,
    ).loss_db


# --- the deviate ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("percent", [0.01, 0.5, 5.0, 20.0, 49.0, 51.0, 70.0, 95.0, 99.99])
def test_deviate_is_a_close_approximation(percent: float) -> None:
    """Abramowitz and Stegun 26.2.23: error below 4.5e-4; positive for less than half."""
    exact = NormalDist().inv_cdf(1.0 - percent / 100.0)
    found = variability.normal_deviate(percent)
    assert found == pytest.approx(exact, abs=4.5e-4)
    assert found != exact
    assert variability.normal_deviate(100.0 - percent) == pytest.approx(-found, abs=1e-9)


def test_deviate_of_one_half_is_that_of_the_approximation() -> None:
    """2.4e-7 and not 0: an exact quantile would shift published results."""
    assert variability.normal_deviate(50.0) == pytest.approx(2.4e-7, abs=0.5e-7)


# --- climates -------------------------------------------------------------------------------------------


def test_constants_of_all_climates() -> None:
    for (curve, place), row in TABLE.items():
        found = [getattr(variability.CLIMATES[climate], curve)[place] for climate in range(1, 8)]
        assert found == pytest.approx(row, rel=1e-12), (curve, place)
    assert [c.c_d for c in variability.CLIMATES.values()] == [1.224, 0.801, 1.38, 1.0, 1.224, 1.518, 1.518]
    assert [c.z_d for c in variability.CLIMATES.values()] == [1.282, 2.161, 1.282, 20.0, 1.282, 1.282, 1.282]


@pytest.mark.parametrize("climate", range(1, 8))
def test_very_far_away_the_median_tends_to_its_first_constant(climate: int) -> None:
    """V_m tends to c_1: with a reference of 100 dB and all deviates 0 the attenuation is 100 - c_1."""
    level = variability.Deviates(0.0, 0.0, 0.0)
    found = variability.attenuation_not_exceeded(100.0, FAR, 3.0, variability.CLIMATES[climate], 3, level)
    assert found == pytest.approx(100.0 - TABLE["median", 0][climate - 1], abs=0.02)


@pytest.mark.parametrize(
    ("climate", "z", "expected"),
    [
        (5, -1.0, -2.68 * (0.92 + 0.25)),
        (5, 1.0, 4.75 * (0.93 + 0.31)),
        (2, -1.0, -2.66),
        (2, 1.0, 6.87 * (0.93 + 0.31)),
        (2, 3.0, 6.87 * (0.93 + 0.31) * (2.161 + 0.801 * (3.0 - 2.161))),
        (4, 1.0, 3.68 * (0.93 + 0.19)),
        (4, 3.0, 3.68 * (0.93 + 0.19) * 3.0),
        (1, 1.0, 2.11),
        (1, 2.0, 2.11 * (1.282 + 1.224 * (2.0 - 1.282))),
        (3, -2.0, -2 * 6.11),
        (3, 2.0, 10.08 * (1.282 + 1.38 * (2.0 - 1.282))),
        (6, -1.0, -6.86),
        (6, 2.0, 8.58 * (1.282 + 1.518 * (2.0 - 1.282))),
        (7, -1.0, -8.51),
        (7, 2.0, 8.43 * (1.282 + 1.518 * (2.0 - 1.282))),
    ],
)
def test_spread_in_time_far_away(climate: int, z: float, expected: float) -> None:
    """Past z_D the spread grows C_D times as fast; the frequency factor is b_1 + b_2 at 0.133 kappa = 1."""
    constants = variability.CLIMATES[climate]
    spread = variability._time_spread(z, 1e9, 1.0 / 0.133, constants)
    assert spread * z == pytest.approx(expected, rel=1e-3)


def test_effective_distance() -> None:
    """130 km where D = D_x, proportional below, one for one above."""
    g = FAR._replace(tx_effective_height_m=50.0, rx_effective_height_m=2.0)  # roots: 30 km and 6 km
    kappa = 575.7e12 / 64e3**3  # third root: 64 km
    for length, expected in ((50e3, 65e3), (100e3, 130e3), (180e3, 210e3)):
        found = variability.effective_distance(g._replace(path_length_m=length), kappa)
        assert found == pytest.approx(expected, rel=1e-9)


# --- modes ----------------------------------------------------------------------------------------------


def test_all_codes_are_there() -> None:
    expected = [0, 1, 2, 3, 10, 11, 12, 13, 20, 21, 22, 23, 30, 31, 32, 33]
    assert sorted(itm.VARIABILITY_MODES) == expected


@pytest.mark.parametrize("mode", sorted(itm.VARIABILITY_MODES))
def test_which_percentages_count(mode: int) -> None:
    """Location counts in broadcast only, and not without its variability; time not in a single message."""
    middle = loss(PATHS[5], mode, 40.0, 40.0, 40.0)
    assert (loss(PATHS[5], mode, 80.0, 40.0, 40.0) != middle) == (mode % 10 != 0)
    assert (loss(PATHS[5], mode, 40.0, 80.0, 40.0) != middle) == (mode in {3, 23})
    assert loss(PATHS[5], mode, 40.0, 40.0, 80.0) != middle


@pytest.mark.parametrize("kind", range(4))
def test_leaving_out_a_variability_narrows_the_spread(kind: int) -> None:
    def spread(mode: int) -> float:
        return loss(PATHS[5], mode, 90.0, 90.0, 90.0) - loss(PATHS[5], mode, 10.0, 10.0, 10.0)

    assert spread(kind) > spread(kind + 10) > spread(kind + 30) > 0.0
    assert spread(kind) > spread(kind + 20) > spread(kind + 30)


@pytest.mark.parametrize("kind", range(4))
def test_sums_of_each_mode(kind: int) -> None:
    """By hand: sigma_T 6.11, sigma_L 4, sigma_S 5, so far away that the curves have reached their ends.

    sigma_L = 10 k dh/(k dh + 13) = 4 where k dh = 26/3; sigma_T of climate 3 tends to 6.11 below.
    """
    kappa = 2.0
    g = FAR._replace(terrain_irregularity_m=26.0 / 3.0 / kappa)
    z = variability.used_deviates(kind, variability.Deviates(-1.0, -0.5, -1.5))
    reference = 200.0
    found = variability.attenuation_not_exceeded(reference, g, kappa, variability.CLIMATES[3], kind, z)
    t, a = 6.11, 4.0
    y_t = t * {0: -1.5}.get(kind, -1.0)
    y_l = a * {0: -1.5, 1: -1.5, 2: -1.0, 3: -0.5}[kind]
    u = 25.0 + y_t**2 / (7.8 + 2.25) + y_l**2 / (24.0 + 2.25)
    y = {
        0: -1.5 * math.sqrt(t * t + a * a + u),
        1: y_t - 1.5 * math.sqrt(a * a + u),
        2: -math.sqrt(t * t + a * a) - 1.5 * math.sqrt(u),
        3: y_t + y_l - 1.5 * math.sqrt(u),
    }[kind]
    assert found == pytest.approx(reference - 1.26 - y, abs=2e-3)


@pytest.mark.parametrize("mode", sorted(itm.VARIABILITY_MODES))
@pytest.mark.parametrize("climate", range(1, 8))
def test_loss_never_falls_as_a_percentage_rises(climate: int, mode: int) -> None:
    """The loss not exceeded for more of the cases cannot be smaller; each percentage on its own."""
    steps = (0.2, 3.0, 10.0, 30.0, 49.0, 50.0, 51.0, 70.0, 90.0, 97.0, 99.8)
    for others in (5.0, 50.0, 95.0):
        for place in range(3):
            losses = []
            for step in steps:
                percents = [others] * 3
                percents[place] = step
                losses.append(loss(PATHS[climate], mode, *percents))
            assert all(b >= a - 1e-9 for a, b in itertools.pairwise(losses)), (others, place, losses)


def test_climates_differ() -> None:
    """Only climates 2 and 5 share their median; no two share their spread."""
    spread = {c: loss(PATHS[c], 3, 99.0, 50.0, 50.0) - loss(PATHS[c], 3, 1.0, 50.0, 50.0) for c in PATHS}
    assert len({round(value, 6) for value in spread.values()}) == 7


# --- below free space -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wanted", "bent"),
    [(-29.0, -29.0 * 58.0 / 319.0), (-1.0, -30.0 / 39.0), (-1e6, -1e5), (12.0, 12.0), (0.0, 0.0)],
)
def test_negative_attenuation_is_bent(wanted: float, bent: float) -> None:
    """A (29 - A)/(29 - 10 A): slope 1 at zero, a tenth of itself far below."""
    level = variability.Deviates(0.0, 0.0, 0.0)
    climate = variability.CLIMATES[5]
    median = 500.0 - variability.attenuation_not_exceeded(500.0, FAR, 3.0, climate, 3, level)
    found = variability.attenuation_not_exceeded(wanted + median, FAR, 3.0, climate, 3, level)
    assert found == pytest.approx(bent, rel=1e-4, abs=1e-9)


def test_loss_may_lie_a_little_below_free_space() -> None:
    lucky = itm.predict_from(
        itm.prepare(
            30.0,
            np.full(400, 20.0),
            frequency_mhz=2400.0,
            tx_antenna_agl_m=40.0,
            rx_antenna_agl_m=40.0,
            n0=301.0,
            polarization="horizontal",
            climate=5,
            relative_permittivity=15.0,
            conductivity_s_per_m=0.005,
        ),
        time_percent=1.0,
        location_percent=1.0,
        situation_percent=1.0,
        variability_mode=3,
    )
    assert -10.0 < lucky.loss_db - lucky.free_space_loss_db < -1.0
