from __future__ import annotations

import math

import pytest

from pathprofile.errors import OutOfRangeError
from pathprofile.propagation import free_space


@pytest.mark.parametrize(
    ("distance_m", "frequency_mhz", "expected_db"),
    [
        (1_000.0, 1.0, 32.4),  # ITU-R P.525-4 §2.2, printed to 0.1 dB
        (1_852.0, 1.0, 37.8),  # common practice: 37.8 + 20 log f + 20 log d for nautical miles
        (1_609.344, 1.0, 36.6),  # common practice: 36.6 dB for statute miles
        (35_786_000.0, 12_000.0, 205.1),  # common practice: geostationary satellite overhead at 12 GHz
    ],
)
def test_handbook_figures(distance_m, frequency_mhz, expected_db):
    assert free_space.loss_db(distance_m, frequency_mhz) == pytest.approx(expected_db, abs=0.06)


def test_received_power_spreads_over_the_sphere():
    # 1 W isotropic at 10 km through the aperture λ²/4π of an isotropic antenna (closed form)
    wavelength = 299_792_458.0 / 145e6
    received_w = 1.0 / (4 * math.pi * 10e3**2) * wavelength**2 / (4 * math.pi)
    assert free_space.loss_db(10e3, 145.0) == pytest.approx(-10 * math.log10(received_w), abs=1e-9)


@pytest.mark.parametrize("distance_m", [0.0, -5.0, math.nan, math.inf])
def test_impossible_distance_is_refused(distance_m):
    with pytest.raises(OutOfRangeError, match=r"free space: distance_m .*: give 0\.001 to"):
        free_space.loss_db(distance_m, 145.0)


@pytest.mark.parametrize("frequency_mhz", [0.0, math.nan, "fast"])
def test_impossible_frequency_is_refused(frequency_mhz):
    with pytest.raises(OutOfRangeError, match=r"free space: frequency_mhz .*MHz"):
        free_space.loss_db(1000.0, frequency_mhz)
