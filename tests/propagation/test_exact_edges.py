"""The exact loss over many edges, against closed forms and an independent quadrature."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import erfc

from pathprofile.errors import OutOfRangeError
from pathprofile.propagation.knife_edge import exact_loss_db, single_edge_loss_db
from pathprofile.propagation.many_edges import _panels

LIGHT_M_PER_S = 299_792_458.0


@pytest.mark.parametrize("edges", range(1, 11))
@pytest.mark.parametrize("slope", [0.0, 0.01])
def test_equally_spaced_grazing_edges(edges: int, slope: float) -> None:
    # S. W. Lee, IEEE Trans. Antennas Propag. 26(6), 1978; H. H. Xia, H. L. Bertoni, same journal 40(2), 1992.
    distance_m = np.linspace(0.0, 60e3, edges + 2)
    loss_db = exact_loss_db(distance_m, 80.0 + slope * distance_m, 433.0)
    assert loss_db == pytest.approx(20 * math.log10(edges + 1), abs=1e-6)


@pytest.mark.parametrize("seed", range(5))
def test_three_grazing_edges_anywhere(seed: int) -> None:
    # Orthant probability of three correlated normal deviates (a Brownian bridge between the antennas).
    whole_m = 90e3
    at_m = np.sort(np.random.default_rng(seed).uniform(0.0, 1.0, 3) ** 3) * whole_m
    rho = [
        math.sqrt(at_m[i] * (whole_m - at_m[j]) / (at_m[j] * (whole_m - at_m[i])))
        for i, j in ((0, 1), (1, 2), (0, 2))
    ]
    share = 1 / 8 + sum(math.asin(each) for each in rho) / (4 * math.pi)
    loss_db = exact_loss_db(np.array([0.0, *at_m, whole_m]), np.zeros(5), 145.0)
    assert loss_db == pytest.approx(-20 * math.log10(share), abs=1e-9)


@pytest.mark.parametrize("frequency_mhz", [50.0, 1296.0])
@pytest.mark.parametrize("nu", [*np.linspace(-10, 10, 41).tolist(), -100.0, 100.0])
def test_one_edge_is_the_fresnel_integral(nu: float, frequency_mhz: float) -> None:
    near_m, far_m = 7e3, 40e3
    height_m = nu / math.sqrt(2 * frequency_mhz * 1e6 / LIGHT_M_PER_S * (1 / near_m + 1 / far_m))
    loss_db = exact_loss_db([0.0, near_m, near_m + far_m], [0.0, height_m, 0.0], frequency_mhz)
    assert loss_db == pytest.approx(single_edge_loss_db(nu), abs=1e-9)


def past_one_edge(
    x: np.ndarray, whole_m: float, edge: tuple[float, float], tip_m: float, wavelength_m: float
):
    """Field at height x, a distance on, of a source at a height behind one edge, over free space."""
    at_m, height_m = edge
    line_m = tip_m + (x - tip_m) * at_m / whole_m
    spread = np.sqrt(1j * math.pi / wavelength_m * whole_m / (at_m * (whole_m - at_m)))
    return 0.5 * erfc(spread * (height_m - line_m))


def by_quadrature(distance_m: np.ndarray, height_m: np.ndarray, frequency_mhz: float) -> float:
    """Loss over two or three edges: one integral over the middle plane of two Fresnel integrals.

    The contour leaves the edge along the real axis and dips by arctan 0.35 beyond; 60,000 trapezia.
    """
    wavelength_m = LIGHT_M_PER_S / (frequency_mhz * 1e6)
    middle = 2 if distance_m.size == 5 else 1
    left_m, right_m = distance_m[middle], distance_m[-1] - distance_m[middle]
    scale_m = math.sqrt(wavelength_m * left_m * right_m / distance_m[-1])
    start_m = height_m[middle]
    t = np.linspace(0.0, max(12 * scale_m, 12 * scale_m - start_m), 60_001)
    x = start_m + t * (1 - 0.35j)
    # Measured from the straight line through the middle plane.
    line_m = height_m[0] + (height_m[-1] - height_m[0]) * left_m / distance_m[-1]
    free = np.exp(-1j * math.pi / scale_m**2 * (x - line_m) ** 2) * np.sqrt(1j) / scale_m
    after = past_one_edge(
        x, right_m, (distance_m[-1] - distance_m[-2], height_m[-2]), height_m[-1], wavelength_m
    )
    if middle == 2:
        free = free * past_one_edge(x, left_m, (distance_m[1], height_m[1]), height_m[0], wavelength_m)
    y = free * after
    return -20 * math.log10(abs(np.sum(y[1:] + y[:-1]) / 2 * (t[1] - t[0]) * (1 - 0.35j)))


@pytest.mark.parametrize("frequency_mhz", [50.0, 145.0, 433.0, 2400.0])
@pytest.mark.parametrize("edges", [2, 3])
def test_two_and_three_edges_against_quadrature(edges: int, frequency_mhz: float) -> None:
    rng = np.random.default_rng(int(frequency_mhz) + edges)
    signs = set()
    for _ in range(25):
        whole_m = rng.uniform(5e3, 150e3)
        distance_m = np.array([0.0, *np.sort(rng.uniform(0.05, 0.95, edges)), 1.0]) * whole_m
        if np.diff(distance_m).min() < 0.02 * whole_m:
            continue
        fresnel_m = math.sqrt(LIGHT_M_PER_S / (frequency_mhz * 1e6) * whole_m) / 2
        height_m = np.array([0.0, *rng.uniform(-1.2, 1.2, edges), 0.0]) * fresnel_m
        signs.add(tuple(height_m[1:-1] > 0))
        expected_db = by_quadrature(distance_m, height_m, frequency_mhz)
        assert exact_loss_db(distance_m, height_m, frequency_mhz) == pytest.approx(expected_db, abs=1e-4)
    assert len(signs) >= 4  # in the way and below, in several orders


@pytest.mark.parametrize("edges", [2, 5, 9])
@pytest.mark.parametrize("height_m", [2.0, 60.0, 600.0])
def test_reciprocity(edges: int, height_m: float) -> None:
    rng = np.random.default_rng(edges)
    for _ in range(4):
        distance_m = np.array([0.0, *np.sort(rng.uniform(0.01, 0.99, edges)), 1.0]) * 80e3
        heights_m = rng.normal(0.0, height_m, edges + 2)
        back_db = exact_loss_db((80e3 - distance_m)[::-1], heights_m[::-1], 145.0)
        assert exact_loss_db(distance_m, heights_m, 145.0) == pytest.approx(back_db, abs=1e-9)


def test_a_sinking_edge_loses_its_effect() -> None:
    # Beside another edge the ripple is that of one edge on the longer of the two stretches, or smaller.
    distance_m = np.array([0.0, 20e3, 35e3, 60e3])
    alone_db = exact_loss_db(distance_m[[0, 1, 3]], [0.0, 150.0, 0.0], 145.0)
    spread = math.sqrt(2 * 145e6 / LIGHT_M_PER_S * (1 / 15e3 + 1 / 25e3))
    line_m = 150.0 * 25 / 40
    effects_db = []
    for nu in np.linspace(-3.0, -100.0, 120):
        with_it_db = exact_loss_db(distance_m, [0.0, 150.0, line_m + nu / spread, 0.0], 145.0)
        effects_db.append(abs(with_it_db - alone_db))
        assert effects_db[-1] <= -20 * math.log10(1 - 0.2251 / abs(nu)) + 1e-9
    assert max(effects_db[-10:]) < 0.1 * max(effects_db[:10])


def test_no_edges_is_free_space() -> None:
    assert exact_loss_db([0.0, 5e4], [10.0, 700.0], 145.0) == pytest.approx(0.0, abs=1e-12)


def test_moving_everything_changes_nothing() -> None:
    distance_m = np.array([0.0, 9e3, 20e3, 31e3, 50e3])
    height_m = np.array([10.0, 200.0, 50.0, 260.0, 30.0])
    loss_db = exact_loss_db(distance_m, height_m, 145.0)
    tilted_m = height_m + 900.0 - 0.02 * distance_m
    assert exact_loss_db(distance_m + 7e3, tilted_m, 145.0) == pytest.approx(loss_db, abs=1e-9)
    # Twice the distances and √2 of the heights at one frequency are the same figure of ν.
    assert exact_loss_db(2 * distance_m, math.sqrt(2) * height_m, 145.0) == pytest.approx(loss_db, abs=1e-9)


def test_an_edge_split_in_two_is_still_one() -> None:
    # Field of two grazing edges b apart falls short of one edge's by √(b/a …)/2π: 1 cm in 30 km is 3e-3 dB.
    one_db = exact_loss_db([0.0, 30e3, 60e3], [0.0, 100.0, 0.0], 145.0)
    two_db = exact_loss_db([0.0, 30e3, 30e3 + 0.01, 60e3], [0.0, 100.0, 100.0, 0.0], 145.0)
    assert 0.0 < two_db - one_db < 0.01


@pytest.mark.parametrize("apart_m", [0.01, 1.0, 100.0])
def test_edges_close_together_match_the_closed_form(apart_m: float) -> None:
    rho = math.sqrt(30e3 * (50e3 - apart_m) / ((30e3 + apart_m) * 50e3))
    expected_db = -20 * math.log10(0.25 + math.asin(rho) / (2 * math.pi))
    assert exact_loss_db([0.0, 30e3, 30e3 + apart_m, 80e3], np.zeros(4), 145.0) == pytest.approx(
        expected_db, abs=1e-9
    )


def test_finer_panels_change_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(4)
    cases = [
        (np.array([0.0, *np.sort(rng.uniform(0.001, 0.999, 5)), 1.0]) * 60e3, rng.normal(0.0, spread_m, 7))
        for spread_m in (3.0, 30.0, 300.0, 3000.0)
        for _ in range(3)
    ]
    losses_db = [exact_loss_db(*case, 145.0) for case in cases]
    monkeypatch.setattr(
        "pathprofile.propagation.many_edges._panels",
        lambda first, reach, widest: _panels(first / 3, reach, widest / 3),
    )
    for case, loss_db in zip(cases, losses_db, strict=True):
        assert exact_loss_db(*case, 145.0) == pytest.approx(loss_db, abs=1e-8)


@settings(max_examples=60, deadline=None)
@given(
    shares=st.lists(st.floats(1e-5, 1 - 1e-5), min_size=1, max_size=10, unique=True),
    nus=st.lists(st.floats(-100, 100), min_size=10, max_size=10),
    whole_m=st.floats(300.0, 800e3),
    frequency_mhz=st.floats(30.0, 3000.0),
)
def test_any_edges_give_a_number(shares, nus, whole_m, frequency_mhz) -> None:
    shares = np.sort(shares)
    shares = shares[np.diff(shares, prepend=0.0) > 2e-7]
    distance_m = np.array([0.0, *shares, 1.0]) * whole_m
    wavelength_m = LIGHT_M_PER_S / (frequency_mhz * 1e6)
    height_m = np.zeros(distance_m.size)
    height_m[1:-1] = nus[: shares.size] * np.sqrt(wavelength_m * whole_m / 2 * shares * (1 - shares))
    loss_db = exact_loss_db(distance_m, height_m, frequency_mhz)
    # The worst that 10 edges can add, and the most that their ripple can give.
    assert -1.4 * shares.size - 6.0 < loss_db < 1000.0


@pytest.mark.parametrize(
    ("distance_m", "height_m", "frequency_mhz", "message"),
    [
        ([0.0], [1.0], 145.0, "give one of each for both antenna tips"),
        ([0.0, 1e3, 2e3], [1.0, 2.0], 145.0, "give one of each for both antenna tips"),
        ([0.0, 1e3, 1e3, 2e3], [1.0] * 4, 145.0, "distances that rise"),
        ([0.0, 2e3, 1e3, 3e3], [1.0] * 4, 145.0, "distances that rise"),
        ([3e3, 2e3], [1.0] * 2, 145.0, "distances that rise"),
        ([0.0, math.nan, 2e3], [1.0] * 3, 145.0, "give finite numbers"),
        ([0.0, 1e3, 2e3], [1.0, math.inf, 1.0], 145.0, "give finite numbers"),
        ([0.0, 1e3, 2e3], [1.0] * 3, 0.0, "give a positive number of MHz"),
        ([0.0, 1e3, 2e3], [1.0] * 3, math.nan, "give a positive number of MHz"),
    ],
)
def test_refusals(distance_m, height_m, frequency_mhz, message) -> None:
    with pytest.raises(OutOfRangeError, match=message):
        exact_loss_db(distance_m, height_m, frequency_mhz)
