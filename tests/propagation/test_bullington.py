from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import fresnel

from pathprofile.errors import OutOfRangeError
from pathprofile.propagation import bullington

NO_CURVATURE_M = 1e12
EDGE_FIT_DB = 0.15  # what the approximation of J(ν) may differ from the Fresnel integrals
WAVELENGTH_M = 0.2998 / 0.3  # at 300 MHz, with the constant of P.1812-8


def _exact_edge_db(nu):
    s, c = fresnel(nu)  # P.526-16 §4.1, exact
    return -20 * math.log10(0.5 * math.hypot(1 - c - s, c - s))


def _with_bullington_term(edge_db, distance_km):
    return edge_db + (1 - math.exp(-edge_db / 6)) * (10 + 0.02 * distance_km)  # P.526-16 §4.5.1


@pytest.mark.parametrize("nu", [-0.7, -0.3, 0.0, 0.5, 1.0, 2.4, 5.0, 20.0, 100.0])
def test_edge_approximation_against_fresnel_integrals(nu):
    assert bullington.knife_edge_approx_db(nu) == pytest.approx(_exact_edge_db(nu), abs=EDGE_FIT_DB)


def test_edge_is_nothing_well_below_the_line_and_jumps_little():
    assert bullington.knife_edge_approx_db(-0.78) == 0.0
    assert 0.0 <= bullington.knife_edge_approx_db(-0.78 + 1e-9) < 0.005


def _two_posts():
    """Two 100 m posts at 10 and 20 km of 30 km, antennas at sea level: the rays over them meet at 150 m."""
    distance = np.linspace(0.0, 30e3, 61)
    ground = np.full(61, -50.0)
    ground[[20, 40]] = 100.0
    return distance, ground


def test_two_posts_act_as_one_edge_where_the_rays_cross():
    distance, ground = _two_posts()
    nu = 150.0 * math.sqrt(2 / WAVELENGTH_M * (1 / 15e3 + 1 / 15e3))
    found = bullington.loss_db(
        distance,
        ground,
        frequency_mhz=300.0,
        from_antenna_amsl_m=0.0,
        to_antenna_amsl_m=0.0,
        effective_radius_m=NO_CURVATURE_M,
    )
    assert found == pytest.approx(_with_bullington_term(_exact_edge_db(nu), 30.0), abs=EDGE_FIT_DB)


def test_single_edge_stands_where_it_is():
    distance = np.linspace(0.0, 20e3, 41)
    ground = np.zeros(41)
    ground[10] = 80.0  # 5 km from the first antenna; the sight line is 45 m high there
    nu = 35.0 * math.sqrt(2 / WAVELENGTH_M * (1 / 5e3 + 1 / 15e3))
    found = bullington.loss_db(
        distance,
        ground,
        frequency_mhz=300.0,
        from_antenna_amsl_m=50.0,
        to_antenna_amsl_m=30.0,
        effective_radius_m=NO_CURVATURE_M,
    )
    assert found == pytest.approx(_with_bullington_term(_exact_edge_db(nu), 20.0), abs=EDGE_FIT_DB)


def test_point_just_below_the_sight_line_still_costs():
    distance = np.linspace(0.0, 20e3, 41)
    ground = np.full(41, -200.0)
    ground[20] = 45.0  # 5 m under the line
    nu = -5.0 * math.sqrt(2 / WAVELENGTH_M * (2 / 10e3))
    found = bullington.loss_db(
        distance,
        ground,
        frequency_mhz=300.0,
        from_antenna_amsl_m=50.0,
        to_antenna_amsl_m=50.0,
        effective_radius_m=NO_CURVATURE_M,
    )
    assert found == pytest.approx(_with_bullington_term(_exact_edge_db(nu), 20.0), abs=0.2)


def test_ends_can_be_swapped():
    distance, ground = _two_posts()
    ground[33] = 140.0
    there = bullington.loss_db(
        distance,
        ground,
        frequency_mhz=145.0,
        from_antenna_amsl_m=12.0,
        to_antenna_amsl_m=70.0,
        effective_radius_m=8.5e6,
    )
    back = bullington.loss_db(
        distance[-1] - distance[::-1],
        ground[::-1],
        frequency_mhz=145.0,
        from_antenna_amsl_m=70.0,
        to_antenna_amsl_m=12.0,
        effective_radius_m=8.5e6,
    )
    assert there == pytest.approx(back, abs=1e-9)


def test_high_antennas_over_low_ground_lose_nothing():
    distance = np.linspace(0.0, 20e3, 41)
    loss = bullington.loss_db(
        distance,
        np.zeros(41),
        frequency_mhz=1296.0,
        from_antenna_amsl_m=500.0,
        to_antenna_amsl_m=500.0,
        effective_radius_m=8.5e6,
    )
    assert loss == 0.0


@pytest.mark.parametrize(
    ("distance", "ground", "match"),
    [
        ([0, 1, 2, 3], [0, 0, 0, 0], "Bullington: a profile of 4 points: give at least 5"),
        ([0, 1, 3, 2, 4], [0] * 5, "distance 2 follows 3 at point 3: give distances that increase"),
        ([0, 1, 2, 2, 4], [0] * 5, "distance 2 follows 2 at point 3"),
        ([0, 1, math.nan, 3, 4], [0] * 5, "distance nan follows 1 at point 2"),
        ([1, 2, 3, 4, 5], [0] * 5, "first distance 1: give distances that start at 0"),
        ([0, 1, 2, 3, 4], [0, 0, math.nan, 0, 0], "ground_m is nan at point 2: give a finite height"),
        ([0, 1, 2, 3, 4], [0, 0, 0, math.inf, 0], "ground_m is inf at point 3"),
        ([0, 1, 2, 3, 4], [0] * 6, "6 values of ground_m for 5 distances"),
        ([[0, 1, 2, 3, 4]], [0] * 5, "distances have shape .1, 5.: give one number a point"),
        ([0, 1, 2, 3, 4], ["a"] * 5, "ground_m are not all numbers"),
    ],
)
def test_bad_profiles_are_refused(distance, ground, match):
    with pytest.raises(OutOfRangeError, match=match):
        bullington.loss_db(
            distance,
            ground,
            frequency_mhz=145.0,
            from_antenna_amsl_m=10.0,
            to_antenna_amsl_m=10.0,
            effective_radius_m=8.5e6,
        )
