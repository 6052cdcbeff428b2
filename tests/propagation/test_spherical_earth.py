from __future__ import annotations

import cmath
import math

import numpy as np
import pytest
from scipy.special import ai_zeros, airy

from pathprofile.errors import OutOfRangeError
from pathprofile.propagation import spherical_earth

RADIUS_M = 8.5e6


def _loss(distance_m, tx_m, rx_m, **kwargs):
    settings = {"frequency_mhz": 145.0, "effective_radius_m": RADIUS_M, "polarization": "horizontal"} | kwargs
    return spherical_earth.loss_db(distance_m, tx_m, rx_m, **settings)


def _residue_series_db(distance_m, tx_m, rx_m, frequency_mhz, terms=30):
    """Van der Pol–Bremmer residue series over a sphere where the field is zero at the surface.

    That is the limit of horizontal polarization at VHF and above (V. A. Fock, 1945; from memory).
    """
    k = 2 * math.pi * frequency_mhz * 1e6 / 299_792_458.0
    scale = (k * RADIUS_M / 2) ** (1 / 3)
    x = scale * distance_m / RADIUS_M
    zeros, _, _, slopes = ai_zeros(terms)
    turn = cmath.exp(-1j * math.pi / 3)
    field = sum(
        cmath.exp(1j * x * z * cmath.exp(-1j * math.pi / 3))
        * airy(z + k * tx_m / scale * turn)[0]
        * airy(z + k * rx_m / scale * turn)[0]
        / (slope / turn) ** 2
        for z, slope in zip(zeros, slopes, strict=True)
    )
    return -20 * math.log10(2 * math.sqrt(math.pi * x) * abs(field))


@pytest.mark.parametrize("frequency_mhz", [145.0, 432.0, 1296.0])
@pytest.mark.parametrize(
    ("distance_m", "tx_m", "rx_m"),
    [(60e3, 10.0, 10.0), (100e3, 10.0, 30.0), (160e3, 300.0, 10.0), (300e3, 300.0, 100.0)],
)
def test_beyond_the_horizon_against_the_full_residue_series(distance_m, tx_m, rx_m, frequency_mhz):
    # P.526-16 states its closed forms for one term; 0.7 dB covers the fits of F and G
    expected = _residue_series_db(distance_m, tx_m, rx_m, frequency_mhz)
    assert _loss(distance_m, tx_m, rx_m, frequency_mhz=frequency_mhz) == pytest.approx(expected, abs=0.7)


@pytest.mark.parametrize(
    ("polarization", "conductivity", "root"),
    [
        ("horizontal", 0.003, 2.33811),  # first zero of Ai (Abramowitz & Stegun, table 10.13)
        ("vertical", 1e8, 1.01879),  # first zero of Ai': a perfect conductor (same table)
    ],
)
def test_decay_with_distance_follows_the_airy_zero(polarization, conductivity, root):
    k = 2 * math.pi * 300e6 / 299_792_458.0
    scale = (k * RADIUS_M / 2) ** (1 / 3)
    decay_db = 20 / math.log(10) * math.sqrt(3) / 2 * root * scale * 100e3 / RADIUS_M
    expected = decay_db - 10 * math.log10(300 / 200)  # the factor √x of the field
    settings = {"frequency_mhz": 300.0, "polarization": polarization, "conductivity_s_per_m": conductivity}
    found = _loss(300e3, 10.0, 10.0, **settings) - _loss(200e3, 10.0, 10.0, **settings)
    assert found == pytest.approx(expected, rel=0.006)


@pytest.mark.parametrize("polarization", ["horizontal", "vertical"])
@pytest.mark.parametrize("distance_m", [5e3, 25e3, 40e3, 90e3])
def test_ends_can_be_swapped(distance_m, polarization):
    there = _loss(distance_m, 25.0, 4.0, polarization=polarization)
    assert there == pytest.approx(_loss(distance_m, 4.0, 25.0, polarization=polarization), abs=1e-9)


def test_loss_grows_steadily_from_sight_to_shadow():
    losses = np.array([_loss(d, 30.0, 10.0) for d in np.arange(2e3, 120e3, 500.0)])
    assert (np.diff(losses) > -1e-9).all()
    assert losses[0] < losses[-1]


def test_no_step_at_the_horizon():
    horizon_m = math.sqrt(2 * RADIUS_M) * (math.sqrt(30.0) + math.sqrt(10.0))
    assert _loss(horizon_m - 0.01, 30.0, 10.0) == pytest.approx(_loss(horizon_m + 0.01, 30.0, 10.0), abs=1e-3)


def test_clear_ray_costs_nothing():
    assert _loss(20e3, 1000.0, 1000.0, frequency_mhz=1296.0) == 0.0


def test_polarizations_part_at_low_frequency_and_agree_at_high():
    def gap(frequency_mhz):
        over_sea = {"frequency_mhz": frequency_mhz, "sea_fraction": 1.0}
        across = _loss(80e3, 10.0, 10.0, polarization="horizontal", **over_sea)
        return across - _loss(80e3, 10.0, 10.0, polarization="vertical", **over_sea)

    # P.526-16 §3.1.1 (from memory): polarization matters over sea below 300 MHz; vertical is the stronger
    assert gap(30.0) > 10.0
    assert abs(gap(1296.0)) < 0.5


def test_mixed_path_lies_between_its_grounds():
    settings = {"polarization": "vertical", "frequency_mhz": 40.0}
    land, mixed, sea = (_loss(80e3, 10.0, 10.0, sea_fraction=share, **settings) for share in (0.0, 0.25, 1.0))
    assert mixed == pytest.approx(0.75 * land + 0.25 * sea, abs=1e-9)
    assert sea < land


@pytest.mark.parametrize(
    ("changed", "match"),
    [
        ({"frequency_mhz": 5.0}, r"spherical Earth: frequency_mhz 5\.0: give 10 to"),
        ({"polarization": "slant"}, "polarization 'slant': give 'horizontal' or 'vertical'"),
        ({"effective_radius_m": math.nan}, "effective_radius_m nan"),
        ({"relative_permittivity": 0.5}, r"relative_permittivity 0\.5: give 1 to"),
        ({"sea_fraction": 1.5}, r"sea_fraction 1\.5: give 0 to 1"),
    ],
)
def test_bad_settings_are_refused(changed, match):
    with pytest.raises(OutOfRangeError, match=match):
        _loss(50e3, 10.0, 10.0, **changed)


@pytest.mark.parametrize("tx_m", [0.0, -3.0, math.nan])
def test_antenna_at_or_under_the_surface_is_refused(tx_m):
    with pytest.raises(OutOfRangeError, match="spherical Earth: tx_height_m"):
        _loss(50e3, tx_m, 10.0)
