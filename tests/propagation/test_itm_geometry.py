"""What the Irregular Terrain Model takes from a profile: horizons, fits, roughness, effective heights."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pathprofile.propagation.itm import path_geometry as geometry

RADIUS_M = 8.5e6


def plain_horizons(
    spacing_m: float, ground_m: list[float], tip_1: float, tip_2: float
) -> tuple[float, float, float, float]:
    """Walk the profile point by point, adding and taking one spacing at a time."""
    length = (len(ground_m) - 1) * spacing_m
    best_1 = (tip_2 - tip_1) / length - length / (2 * RADIUS_M)
    best_2 = (tip_1 - tip_2) / length - length / (2 * RADIUS_M)
    far_1 = far_2 = length
    x, rest = 0.0, length
    for y in ground_m[1:-1]:
        x += spacing_m
        rest -= spacing_m
        if (y - tip_1) / x - x / (2 * RADIUS_M) > best_1:
            best_1, far_1 = (y - tip_1) / x - x / (2 * RADIUS_M), x
        if (y - tip_2) / rest - rest / (2 * RADIUS_M) > best_2:
            best_2, far_2 = (y - tip_2) / rest - rest / (2 * RADIUS_M), rest
    return best_1, best_2, far_1, far_2


@pytest.mark.parametrize("seed", range(20))
def test_horizons_equal_a_plain_walk_to_the_last_bit(seed: int) -> None:
    rng = np.random.default_rng(seed)
    ground = 300.0 + np.cumsum(rng.normal(0.0, 8.0, int(rng.integers(2, 400))))
    spacing = float(rng.uniform(20.0, 400.0))
    found = geometry.find_horizons(spacing, ground, 7.0, 3.0, RADIUS_M)
    assert tuple(found) == plain_horizons(spacing, ground.tolist(), ground[0] + 7.0, ground[-1] + 3.0)


def test_nothing_above_the_line_leaves_the_far_end_as_horizon() -> None:
    valley = 100.0 * ((np.arange(41) - 20.0) / 20.0) ** 2
    found = geometry.find_horizons(100.0, valley, 10.0, 10.0, RADIUS_M)
    assert found.tx_distance_m == found.rx_distance_m == 4000.0
    assert found.tx_angle_rad == pytest.approx(-4000.0 / (2 * RADIUS_M), rel=1e-12)
    assert geometry.in_sight(found, 4000.0)


def test_of_equal_horizons_the_first_point_stays() -> None:
    """Two points on one straight line of sight without curvature; both ends keep the lower index."""
    no_curvature = math.inf
    ground = np.array([0.0, 0.0, 12.0, 0.0, 22.0, 0.0, 22.0, 0.0, 12.0, 0.0, 0.0])
    found = geometry.find_horizons(1024.0, ground, 2.0, 2.0, no_curvature)
    assert found.tx_angle_rad == 5.0 / 1024.0  # to (2, 12) and to (4, 22) alike
    assert found.tx_distance_m == 2 * 1024.0
    assert found.rx_angle_rad == 5.0 / 1024.0  # to (6, 22) and to (8, 12) alike
    assert found.rx_distance_m == 4 * 1024.0


# --- whole numbers --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("spacing_m", "index", "added", "multiplied"),
    [
        (99.97805, 20, (1, 18), (2, 18)),
        (99.97805, 40, (4, 37), (4, 36)),
        (92.7, 30, (2, 27), (3, 27)),
        (90.3, 10, (0, 9), (1, 9)),
    ],
)
def test_distances_are_sums_of_spacings(
    spacing_m: float, index: int, added: tuple[int, int], multiplied: tuple[int, int]
) -> None:
    """With its horizon at a multiple of ten the last bit decides which points a fit takes."""
    n = 100
    ground = np.zeros(n + 1)
    ground[index] = 150.0
    found = geometry.find_horizons(spacing_m, ground, 10.0, 10.0, RADIUS_M)
    product = index * spacing_m
    assert found.tx_distance_m != product
    assert found.tx_distance_m == pytest.approx(product, rel=1e-14)

    def interval(d: float) -> tuple[int, int]:
        return geometry.fit_interval(0.1 * d, 0.9 * d, spacing_m, n)

    assert interval(found.tx_distance_m) == added
    assert interval(product) == multiplied


def test_effective_height_uses_the_points_that_summed_distances_choose() -> None:
    """A step one point before the antenna's fit begins: taking it or not moves the height by metres."""
    spacing_m, n = 99.97805, 137
    ground = np.linspace(0.0, 6.0, n + 1)
    ground[0:2] = 30.0
    ground[20] = 400.0
    found = geometry.path_geometry(
        spacing_m, ground, tx_antenna_agl_m=100.0, rx_antenna_agl_m=100.0, n0=301.0
    )
    index = np.arange(1, 19)  # points 1 to 18, not 2 to 18: see the test above
    weight = np.ones(index.size)
    weight[[0, -1]] = 0.5
    _, at_zero = np.polyfit(index, ground[index], 1, w=np.sqrt(weight))
    assert found.tx_effective_height_m == pytest.approx(100.0 + 30.0 - at_zero, abs=1e-9)
    _, without = np.polyfit(index[1:], ground[index[1:]], 1, w=np.sqrt([0.5, *[1.0] * 15, 0.5]))
    assert abs(without - at_zero) > 3.0


def test_fit_interval_rounds_outwards_and_widens_when_too_narrow() -> None:
    assert geometry.fit_interval(250.0, 750.0, 100.0, 20) == (2, 8)
    assert geometry.fit_interval(200.0, 800.0, 100.0, 20) == (2, 8)
    assert geometry.fit_interval(-50.0, 2050.0, 100.0, 20) == (0, 20)
    assert geometry.fit_interval(500.0, 500.0, 100.0, 20) == (4, 6)
    assert geometry.fit_interval(0.0, 0.0, 100.0, 20) == (0, 1)


@pytest.mark.parametrize(("i_0", "i_1"), [(0, 30), (4, 17), (12, 13), (29, 30)])
def test_fit_is_least_squares_with_half_weight_at_the_ends(i_0: int, i_1: int) -> None:
    """Against numpy's own polynomial fit, whose weights multiply the residuals."""
    ground = 50.0 + np.random.default_rng(4).normal(0.0, 9.0, 31)
    weight = np.ones(i_1 - i_0 + 1)
    weight[[0, -1]] = 0.5
    index = np.arange(i_0, i_1 + 1)
    slope, start = np.polyfit(index, ground[i_0 : i_1 + 1], 1, w=np.sqrt(weight))
    assert geometry.fit_line(ground, i_0, i_1) == pytest.approx((start, start + 30 * slope), abs=1e-8)


# --- roughness, mean elevation, refractivity ------------------------------------------------------------


@pytest.mark.parametrize("waves", [10, 40])
def test_irregularity_of_a_sine(waves: int) -> None:
    """Closed form: 80 % of the points of a sine of amplitude A lie within A cos(18 deg) of its mean.

    The sampled range is divided by 1 - 0.8 exp(-length/50 km); 5 m amplitude over 50 km, so 0.7057.
    """
    length_m, n = 50e3, 5000
    x = np.linspace(0.0, length_m, n + 1)
    ground = 400.0 + 0.01 * x + 5.0 * np.sin(2 * math.pi * waves * x / length_m)
    found = geometry.terrain_irregularity(length_m / n, ground, 0.0, length_m)
    assert found == pytest.approx(2 * 5.0 * math.cos(math.radians(18.0)) / 0.705696, rel=0.03)


def test_irregularity_ignores_a_tilt_and_needs_two_intervals() -> None:
    ground = np.random.default_rng(2).normal(100.0, 20.0, 201)
    level = geometry.terrain_irregularity(100.0, ground, 1000.0, 19000.0)
    tilted = geometry.terrain_irregularity(100.0, ground + 0.7 * np.arange(201), 1000.0, 19000.0)
    assert level > 20.0
    assert tilted == pytest.approx(level, rel=1e-9)
    assert geometry.terrain_irregularity(100.0, ground, 1000.0, 1199.0) == 0.0
    assert geometry.terrain_irregularity(100.0, ground, 1000.0, 1200.0) > 0.0
    assert geometry.terrain_irregularity(100.0, np.full(201, 123.4), 1000.0, 19000.0) == 0.0


def test_irregularity_reaches_the_last_point() -> None:
    """The last sample may fall on the profile's end; a profile of three points is interpolated between."""
    assert geometry.terrain_irregularity(100.0, np.array([0.0, 50.0, 0.0]), 0.0, 200.0) > 0.0


def test_mean_elevation_leaves_out_the_first_and_last_tenth() -> None:
    ground = np.zeros(21)
    ground[:2] = ground[-2:] = 900.0
    assert geometry.mean_elevation(ground) == 0.0
    ground[2] = 17.0
    assert geometry.mean_elevation(ground) == 1.0  # 17 points are left
    assert geometry.mean_elevation(np.array([10.0, 20.0])) == 15.0


# --- effective heights ----------------------------------------------------------------------------------


def test_in_sight_the_horizons_are_statistical_and_lie_beyond_the_path() -> None:
    ground = np.linspace(20.0, 10.0, 141)
    found = geometry.path_geometry(25.0, ground, tx_antenna_agl_m=15.0, rx_antenna_agl_m=3.0, n0=301.0)
    assert found.tx_effective_height_m == pytest.approx(15.0)
    assert found.tx_horizon_distance_m + found.rx_horizon_distance_m > found.path_length_m
    # On smooth ground a horizon lies at the root of 2 a h, at an angle of minus the root of 2 h / a.
    a = found.effective_radius_m
    assert found.rx_horizon_distance_m == pytest.approx(math.sqrt(2 * a * 3.0), rel=1e-6)
    assert found.rx_horizon_angle_rad == pytest.approx(-math.sqrt(2 * 3.0 / a), rel=1e-6)


def test_heights_are_raised_when_horizons_in_sight_do_not_meet() -> None:
    """A deep valley between low antennas: in sight over 60 km although smooth ground would hide them."""
    x = np.linspace(-1.0, 1.0, 241)
    ground = 600.0 * x**8
    found = geometry.path_geometry(250.0, ground, tx_antenna_agl_m=3.0, rx_antenna_agl_m=3.0, n0=301.0)
    horizons = geometry.find_horizons(250.0, ground, 3.0, 3.0, found.effective_radius_m)
    assert geometry.in_sight(horizons, found.path_length_m)
    assert found.tx_smooth_horizon_m + found.rx_smooth_horizon_m >= found.path_length_m * (1 - 1e-12)


def test_smooth_earth_just_out_of_sight_is_lifted_to_touch() -> None:
    """With no roughness the raised heights make the smooth horizons meet: their sum is the path's length."""
    horizons = geometry.Horizons(0.0, 0.0, 60e3, 60e3)
    found = geometry.complete_geometry(60e3, 10.0, 20.0, 0.0, 0.0, horizons, 0.0, 301.0, RADIUS_M)
    assert found.tx_effective_height_m / found.rx_effective_height_m == pytest.approx(0.5)
    assert found.tx_effective_height_m > 10.0
    assert found.tx_smooth_horizon_m + found.rx_smooth_horizon_m == pytest.approx(60e3, rel=1e-12)


def test_ground_below_the_trend_does_not_lower_an_antenna() -> None:
    horizons = geometry.Horizons(0.01, 0.01, 5e3, 5e3)
    found = geometry.complete_geometry(20e3, 10.0, 8.0, -30.0, 12.0, horizons, 50.0, 301.0, RADIUS_M)
    assert (found.tx_effective_height_m, found.rx_effective_height_m) == (10.0, 20.0)
    assert found.tx_horizon_distance_m == 5e3
    assert found.tx_smooth_horizon_m == pytest.approx(math.sqrt(2 * RADIUS_M * 10.0))


@pytest.mark.parametrize("n_s", [150.0, 400.0])
def test_refractivity_bounds_keep_the_radius_within_its_own(n_s: float) -> None:
    """NTIA's release bounds the radius to 4000 to 13333 km; refractivity is bounded more tightly."""
    assert 7100e3 < geometry.effective_radius(n_s) < 11300e3
