"""One edge, one rounded obstacle, two edges."""

from __future__ import annotations

import math

import mpmath
import numpy as np
import pytest

from pathprofile.errors import OutOfRangeError
from pathprofile.propagation import knife_edge

WAVELENGTH_M = 299_792_458.0 / 145e6


def by_fresnel_integrals(nu: float) -> float:
    """J(ν) by its definition (ITU-R P.526-16 §4.1 eq. 30), to 30 digits."""
    with mpmath.workdps(30):
        c, s = mpmath.fresnelc(mpmath.mpf(nu)), mpmath.fresnels(mpmath.mpf(nu))
        return float(-20 * mpmath.log10(mpmath.sqrt((1 - c - s) ** 2 + (c - s) ** 2) / 2))


@pytest.mark.parametrize("nu", [*np.linspace(-10, 10, 81).tolist(), -100.0, -1e-9, 1e-9, 100.0])
def test_single_edge_is_the_fresnel_integral(nu: float) -> None:
    assert knife_edge.single_edge_loss_db(nu) == pytest.approx(by_fresnel_integrals(nu), abs=1e-12)


def test_grazing_edge_halves_the_field() -> None:
    assert knife_edge.single_edge_loss_db(0.0) == pytest.approx(20 * math.log10(2), abs=1e-12)


def test_scalars_and_arrays_agree() -> None:
    nu = np.linspace(-3, 3, 12).reshape(3, 4)
    losses_db = knife_edge.single_edge_loss_db(nu)
    assert losses_db.shape == nu.shape
    assert isinstance(knife_edge.single_edge_loss_db(0.5), float)
    one_by_one = [knife_edge.single_edge_loss_db(float(each)) for each in nu.flat]
    np.testing.assert_allclose(losses_db.ravel(), one_by_one, rtol=0, atol=1e-13)
    assert knife_edge.single_edge_loss_db(np.array([])).shape == (0,)


def test_loss_rises_with_nu_and_never_falls_below_its_minimum() -> None:
    rising = knife_edge.single_edge_loss_db(np.linspace(-0.8, 100, 50_001))
    assert (np.diff(rising) > 0).all()
    nu = np.linspace(-100, 0, 400_001)
    losses_db = knife_edge.single_edge_loss_db(nu)
    # Handbook figure of the Fresnel integral: 17 % above the free-space field at ν = −1.217.
    assert losses_db.min() == pytest.approx(-1.37, abs=0.005)
    assert nu[losses_db.argmin()] == pytest.approx(-1.217, abs=0.001)


def test_a_sunken_edge_leaves_only_its_ripple() -> None:
    nu = np.linspace(-100, -3, 200_001)
    field = 10 ** (-knife_edge.single_edge_loss_db(nu) / 20)
    # Leading term of the complementary Fresnel integral, 1/(√2 π |ν|) (Abramowitz and Stegun, 7.3.27).
    assert (np.abs(field - 1) <= 0.2251 / np.abs(nu)).all()
    assert abs(knife_edge.single_edge_loss_db(-1e5)) < 2.1e-5


def test_the_approximation_of_the_recommendation_is_close() -> None:
    nu = np.linspace(-0.7, 30, 500)
    approximate_db = 6.9 + 20 * np.log10(np.sqrt((nu - 0.1) ** 2 + 1) + nu - 0.1)  # P.526-16 eq. 31
    assert np.abs(knife_edge.single_edge_loss_db(nu) - approximate_db).max() < 0.3


@pytest.mark.parametrize("nu", [math.nan, math.inf, -2e6])
def test_single_edge_refuses(nu: float) -> None:
    with pytest.raises(OutOfRangeError, match="give -1e6 to 1e6"):
        knife_edge.single_edge_loss_db(nu)


def test_nu_counts_fresnel_zones() -> None:
    # ν = √2 for an edge one first Fresnel radius above the line (P.526-16 §4.1, from both definitions).
    radius_m = math.sqrt(WAVELENGTH_M * 12e3 * 30e3 / 42e3)
    assert knife_edge.fresnel_nu(radius_m, 12e3, 30e3, 145.0) == pytest.approx(math.sqrt(2))
    assert knife_edge.fresnel_nu(-radius_m, 30e3, 12e3, 145.0) == pytest.approx(-math.sqrt(2))


@pytest.mark.parametrize(
    "given",
    [
        (10.0, 0.0, 1e3, 145.0),
        (10.0, 1e3, 1e3, -1.0),
        (math.nan, 1e3, 1e3, 145.0),
        (1.0, math.inf, 1e3, 145.0),
    ],
)
def test_nu_refuses(given: tuple[float, float, float, float]) -> None:
    with pytest.raises(OutOfRangeError, match="distances and frequency above 0"):
        knife_edge.fresnel_nu(*given)


@pytest.mark.parametrize("height_m", [0.0, 20.0, 300.0])
def test_rounding_adds_to_the_knife_edge(height_m: float) -> None:
    edge_db = knife_edge.single_edge_loss_db(knife_edge.fresnel_nu(height_m, 20e3, 30e3, 145.0))
    losses_db = [
        knife_edge.rounded_obstacle_loss_db(height_m, 20e3, 30e3, radius_m, 145.0)
        for radius_m in (0.0, 1e-6, 1.0, 100.0, 1e4, 1e6)
    ]
    assert losses_db[0] == edge_db
    assert losses_db[1] == pytest.approx(edge_db, abs=0.02)
    assert (np.diff(losses_db) > 0).all()


def test_rounded_obstacle_by_hand() -> None:
    # P.526-16 §4.2 on paper: λ = 2 m, R = 5 km, d1 = d2 = 20 km, h = 50 m. πR/λ = 7854, its cube root 19.877,
    # m = 5000 · 40000/4e8/19.877 = 0.025154, n = 50 · 395.1/5000 = 3.9510, mn = 0.0994,
    # T = 1.1419 + 1.1919 + 0.0144 − 0.0005 = 2.3477 dB over a knife edge of ν = 50 √(1e-4) = 0.5.
    loss_db = knife_edge.rounded_obstacle_loss_db(50.0, 20e3, 20e3, 5000.0, 149.896229)
    assert loss_db - by_fresnel_integrals(0.5) == pytest.approx(2.3477, abs=2e-3)


def test_both_branches_of_the_rounding_meet_within_a_decibel() -> None:
    losses_db = [
        knife_edge.rounded_obstacle_loss_db(height_m, 20e3, 20e3, 2e5, 145.0)
        for height_m in np.arange(0, 2000, 5.0)
    ]
    assert np.abs(np.diff(losses_db)).max() < 1.0


def test_rounding_below_the_line_never_lowers_the_loss() -> None:
    for height_m in (-10.0, -40.0, -150.0, -400.0):
        edge_db = knife_edge.single_edge_loss_db(knife_edge.fresnel_nu(height_m, 20e3, 30e3, 145.0))
        assert knife_edge.rounded_obstacle_loss_db(height_m, 20e3, 30e3, 1e5, 145.0) >= edge_db


@pytest.mark.parametrize("radius_m", [-1.0, math.nan, math.inf])
def test_rounded_obstacle_refuses(radius_m: float) -> None:
    with pytest.raises(OutOfRangeError, match=r"give 0 \(a knife edge\) or more"):
        knife_edge.rounded_obstacle_loss_db(10.0, 1e3, 1e3, radius_m, 145.0)


def two_grazing_db(a: float, b: float, c: float) -> float:
    """Exact loss of two edges on the line: the orthant probability of two normal deviates (Sheppard)."""
    rho = math.sqrt(a * c / ((a + b) * (b + c)))
    return -20 * math.log10(0.25 + math.asin(rho) / (2 * math.pi))


@pytest.mark.parametrize("spacing", [(10e3, 10e3, 10e3), (2e3, 30e3, 9e3), (20e3, 500.0, 20e3)])
def test_two_grazing_edges(spacing: tuple[float, float, float]) -> None:
    distance_m, height_m = np.cumsum([0.0, *spacing]), np.full(4, 30.0)
    exact_db = two_grazing_db(*spacing)
    assert knife_edge.exact_loss_db(distance_m, height_m, 145.0) == pytest.approx(exact_db, abs=1e-9)
    # The correction T_c is built to be exact here, but for 12 dB in place of 12.04 dB (P.526-16 §4.3).
    main_db = knife_edge.two_edges_main_loss_db(distance_m, height_m, 145.0)
    assert main_db == pytest.approx(exact_db + 20 * math.log10(4) - 12, abs=1e-9)


def test_two_high_edges_by_either_method() -> None:
    rng = np.random.default_rng(7)
    errors_db = []
    for _ in range(200):
        distance_m = np.cumsum([0.0, *rng.uniform(3e3, 30e3, 3)])
        height_m = np.array([0.0, *rng.uniform(400.0, 900.0, 2), 0.0])
        local_nu = [
            knife_edge.nu_between(distance_m.tolist(), height_m.tolist(), i - 1, i, i + 1, WAVELENGTH_M)
            for i in (1, 2)
        ]
        if min(local_nu) < 1.2:
            continue  # L_c asks for 15 dB over each
        exact_db = knife_edge.exact_loss_db(distance_m, height_m, 145.0)
        errors_db.append(knife_edge.two_edges_similar_loss_db(distance_m, height_m, 145.0) - exact_db)
    assert len(errors_db) > 30
    assert np.abs(errors_db).max() < 0.5


def test_main_edge_method_is_close_where_one_edge_dominates() -> None:
    rng = np.random.default_rng(8)
    errors_db = []
    for _ in range(100):
        distance_m = np.cumsum([0.0, *rng.uniform(5e3, 30e3, 3)])
        height_m = np.array([0.0, 600.0, rng.uniform(0.0, 100.0), 0.0])
        errors_db.append(
            knife_edge.two_edges_main_loss_db(distance_m, height_m, 145.0)
            - knife_edge.exact_loss_db(distance_m, height_m, 145.0)
        )
    assert np.abs(errors_db).max() < 2.5


@pytest.mark.parametrize("method", [knife_edge.two_edges_main_loss_db, knife_edge.two_edges_similar_loss_db])
def test_two_edge_methods_are_reciprocal_and_want_two_edges(method) -> None:
    distance_m, height_m = np.array([0.0, 9e3, 21e3, 50e3]), np.array([10.0, 300.0, 350.0, 40.0])
    back_db = method((50e3 - distance_m)[::-1], height_m[::-1], 145.0)
    assert method(distance_m, height_m, 145.0) == pytest.approx(back_db, abs=1e-9)
    with pytest.raises(OutOfRangeError, match="give two between the antenna tips"):
        method(distance_m[:3], height_m[:3], 145.0)
