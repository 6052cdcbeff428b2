"""Obstacles: what a person would mark on the profile, whatever its sampling."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pathprofile.errors import OutOfRangeError
from pathprofile.ground.hull import stretched_string
from pathprofile.ground.obstacles import Obstacles, find_obstacles
from pathprofile.propagation.edges import deygout_loss_db, epstein_peterson_loss_db, giovanelli_loss_db
from pathprofile.propagation.knife_edge import exact_loss_db, rounded_obstacle_loss_db

RADIUS_M = 4 / 3 * 6371e3
METHODS = [exact_loss_db, epstein_peterson_loss_db, deygout_loss_db, giovanelli_loss_db]


def obstacles(distance_m, ground_m, *, masts_m=(10.0, 10.0), frequency_mhz=145.0, **more) -> Obstacles:
    return find_obstacles(
        distance_m,
        ground_m,
        from_antenna_amsl_m=ground_m[0] + masts_m[0],
        to_antenna_amsl_m=ground_m[-1] + masts_m[1],
        effective_radius_m=more.pop("effective_radius_m", RADIUS_M),
        frequency_mhz=frequency_mhz,
        **more,
    )


def sampled(whole_m: float, step_m: float, *corners: tuple[float, float]):
    """Piecewise linear ground through corners."""
    distance_m = np.linspace(0.0, whole_m, round(whole_m / step_m) + 1)
    return distance_m, np.interp(distance_m, *zip(*corners, strict=True))


# The string


def upper_hull(x, y) -> list[int]:
    """Every point that is not below a line between two others (slow, by definition)."""
    n = len(x)
    return [
        i
        for i in range(n)
        if all(
            y[a] + (y[b] - y[a]) * (x[i] - x[a]) / (x[b] - x[a]) < y[i]
            for a in range(i)
            for b in range(i + 1, n)
        )
    ]


@settings(max_examples=150, deadline=None)
@given(st.lists(st.integers(-30, 30), min_size=2, max_size=14), st.randoms(use_true_random=False))
def test_the_string_is_the_upper_hull(heights, random) -> None:
    x = np.cumsum([random.choice([1.0, 2.0, 5.0]) for _ in heights])
    y = np.array(heights, dtype=float)
    string = stretched_string(x, y)
    assert set(upper_hull(x, y)) <= set(string)
    assert (np.interp(x, x[string], y[string]) >= y - 1e-9).all()
    assert string == sorted(set(string))
    assert string[0] == 0
    assert string[-1] == len(heights) - 1


def test_slack_bounds_the_points_over_the_sea() -> None:
    counts, horizons = [], []
    for points in (700, 7000):
        x = np.linspace(0.0, 160e3, points)
        y = x * (160e3 - x) / (2 * RADIUS_M)
        y[[0, -1]] += 10.0
        string = stretched_string(x, y, 0.1)
        assert np.interp(x, x[string], y[string]) == pytest.approx(np.maximum(y, 0.0), abs=10.0)
        counts.append(len(string))
        horizons.append(x[string[1]])
    assert counts[1] < 1.5 * counts[0]
    # The horizon of 10 m over a smooth Earth: √(2 k R h) = 4.12 √10 km.
    assert horizons[1] == pytest.approx(4.12e3 * math.sqrt(10), rel=0.01)


# Ridges


def test_one_ridge() -> None:
    distance_m, ground_m = sampled(
        60e3, 90.0, (0, 100), (22.5e3, 100), (24e3, 400), (25.5e3, 100), (60e3, 100)
    )
    found = obstacles(distance_m, ground_m)
    (ridge,) = found.kept
    assert (found.found, found.smooth_reason) == (1, None)
    assert ridge.distance_m == pytest.approx(24e3, abs=50)
    assert ridge.top_m == pytest.approx(400, abs=20)
    bulge_m = ridge.distance_m * (60e3 - ridge.distance_m) / (2 * RADIUS_M)
    assert ridge.clearance_m == pytest.approx(110 - ridge.top_m - bulge_m)
    wavelength_m = 299.792458 / 145.0
    near_m, far_m = ridge.distance_m, 60e3 - ridge.distance_m
    assert ridge.nu == pytest.approx(
        -ridge.clearance_m * math.sqrt(2 / wavelength_m * (1 / near_m + 1 / far_m))
    )
    assert found.main is ridge


def test_edges_stand_on_a_flat_earth() -> None:
    distance_m, ground_m = sampled(
        60e3, 90.0, (0, 100), (22.5e3, 100), (24e3, 400), (25.5e3, 100), (60e3, 50)
    )
    found = obstacles(distance_m, ground_m, masts_m=(10.0, 20.0))
    at_m, height_m = found.edges()
    assert at_m.tolist() == [0.0, found.kept[0].distance_m, 60e3]
    assert height_m[[0, 2]].tolist() == [110.0, 70.0]
    line_m = 110.0 - 40.0 * at_m[1] / 60e3
    assert line_m - height_m[1] == pytest.approx(found.kept[0].clearance_m)


def test_three_ridges_and_a_hidden_one() -> None:
    tops = ((15e3, 500.0), (30e3, 250.0), (40e3, 600.0), (55e3, 450.0))
    corners = [(0.0, 100.0), (70e3, 100.0)]
    for at_m, top_m in tops:
        corners += [(at_m - 2e3, 100.0), (at_m, top_m), (at_m + 2e3, 100.0)]
    found = obstacles(*sampled(70e3, 100.0, *sorted(corners)))
    assert [each.distance_m for each in found.kept] == [
        15e3,
        40e3,
        55e3,
    ]  # the low one is far under the string
    assert [each.radius_m for each in found.kept] == [0.0, 0.0, 0.0]


def test_at_most_so_many_by_nu() -> None:
    corners = [(0.0, 0.0), (96e3, 0.0)]
    for i in range(1, 8):
        at_m = i * 12e3
        corners += [(at_m - 1e3, 0.0), (at_m, 900.0 - ((at_m - 48e3) / 1e3) ** 2 / 3), (at_m + 1e3, 0.0)]
    distance_m, ground_m = sampled(96e3, 100.0, *sorted(corners))
    found = obstacles(distance_m, ground_m)
    assert (found.found, len(found.kept)) == (7, 5)
    everything = obstacles(distance_m, ground_m, most=20)
    assert len(everything.kept) == 7
    least_kept = min(each.nu for each in found.kept)
    assert all(each in found.kept or each.nu <= least_kept for each in everything.kept)


def test_tops_close_together_are_one_obstacle() -> None:
    corners = [(0, 100), (28e3, 100), (29.6e3, 600), (30e3, 560), (30.4e3, 600), (32e3, 100), (60e3, 100)]
    (massif,) = obstacles(*sampled(60e3, 100.0, *corners)).kept
    assert (massif.start_m, massif.stop_m) == (pytest.approx(29.6e3), pytest.approx(30.4e3))
    assert massif.start_m < massif.distance_m < massif.stop_m
    # By symmetry the tangents cross over the middle, where a line from the tip over 600 m gets there.
    assert massif.distance_m == pytest.approx(30e3, abs=1.0)
    bulge_m = [d * (60e3 - d) / (2 * RADIUS_M) for d in (29.6e3, 30e3)]
    crossing_m = 110.0 + (600.0 + bulge_m[0] - 110.0) * 30 / 29.6 - bulge_m[1]
    assert massif.top_m == pytest.approx(crossing_m, abs=0.01)


def test_the_radius_of_a_round_hill() -> None:
    # A circular top of 2 km radius of curvature (a parabola in this scale), on a nearly flat Earth.
    distance_m = np.linspace(0.0, 20e3, 2001)
    ground_m = np.maximum(0.0, 300.0 - (distance_m - 9e3) ** 2 / (2 * 2e3))
    (hill,) = obstacles(distance_m, ground_m, effective_radius_m=1e12).kept
    assert hill.radius_m == pytest.approx(2e3, rel=0.2)
    assert hill.top_m > 300.0
    assert hill.stop_m - hill.start_m < 300.0


def test_a_ridge_resampled_changes_little() -> None:
    corners = [
        (0, 100),
        (14e3, 130),
        (20e3, 480),
        (21.3e3, 455),
        (27e3, 90),
        (36e3, 350),
        (38e3, 80),
        (50e3, 60),
    ]
    losses_db = []
    for step_m in (30.0, 90.0):
        found = obstacles(*sampled(50e3, step_m, *corners))
        assert found.smooth_reason is None
        losses_db.append([method(*found.edges(), 145.0) for method in METHODS])
    np.testing.assert_allclose(losses_db[0], losses_db[1], rtol=0, atol=1.0)


# Smooth ground


@pytest.mark.parametrize("frequency_mhz", [50.0, 146.52, 433.0, 1296.0])
@pytest.mark.parametrize(
    ("whole_m", "masts_m"), [(60e3, (6.0, 10.0)), (160e3, (600.0, 10.0)), (20e3, (3.0, 3.0))]
)
def test_the_sea_is_no_edge_at_any_sampling(frequency_mhz, whole_m, masts_m) -> None:
    rounded_db = []
    for step_m in (30.0, 90.0):
        distance_m, ground_m = sampled(whole_m, step_m, (0.0, 0.0), (whole_m, 0.0))
        found = obstacles(distance_m, ground_m, masts_m=masts_m, frequency_mhz=frequency_mhz)
        assert found.smooth_reason is not None
        assert found.smooth_reason.startswith("ground as round as the Earth itself about ")
        (sea,) = found.kept
        if sea.clearance_m < 0.0:
            assert sea.radius_m == pytest.approx(RADIUS_M, rel=0.05)
        ends_m = sea.distance_m, whole_m - sea.distance_m
        rounded_db.append(rounded_obstacle_loss_db(-sea.clearance_m, *ends_m, sea.radius_m, frequency_mhz))
    assert abs(rounded_db[0] - rounded_db[1]) < 1.0


def test_the_edge_of_the_sea_is_where_the_horizon_rays_cross() -> None:
    # Horizons of 6 m and 10 m by √(2 k R h); the rays rise from them at the angle √(2 h/kR).
    distance_m, ground_m = sampled(60e3, 30.0, (0.0, 0.0), (60e3, 0.0))
    (sea,) = obstacles(distance_m, ground_m, masts_m=(6.0, 10.0)).kept
    horizons_m = [math.sqrt(2 * RADIUS_M * height_m) for height_m in (6.0, 10.0)]
    assert sea.start_m == pytest.approx(horizons_m[0], abs=60)
    assert sea.stop_m == pytest.approx(60e3 - horizons_m[1], abs=60)
    half_m = (60e3 - sum(horizons_m)) / 2
    assert sea.distance_m == pytest.approx(horizons_m[0] + half_m, abs=100)
    assert sea.top_m == pytest.approx(half_m**2 / (2 * RADIUS_M), abs=0.5)


def test_rolling_ground_is_judged_alike_at_any_sampling() -> None:
    def rolling_m(distance_m):
        return 60.0 + 3.0 * np.sin(distance_m / 900.0) + 2.0 * np.sin(distance_m / 371.0)

    found = []
    for step_m in (30.0, 90.0):
        distance_m = np.linspace(0.0, 45e3, round(45e3 / step_m) + 1)
        found.append(obstacles(distance_m, rolling_m(distance_m)))
    assert [each.smooth_reason is None for each in found] == [False, False]
    assert found[0].main.nu == pytest.approx(found[1].main.nu, abs=0.1)


def test_a_ridge_over_the_sea_is_an_edge() -> None:
    corners = [(0, 0), (28e3, 0), (30e3, 300), (32e3, 0), (60e3, 0)]
    found = obstacles(*sampled(60e3, 90.0, *corners))
    assert found.smooth_reason is None
    assert found.main.distance_m == pytest.approx(30e3, abs=90)


# Below the line


def in_sight(top_m: float, step_m: float = 50.0, **more) -> Obstacles:
    corners = [(0, 500), (3e3, 0), (18e3, 0), (20e3, top_m), (22e3, 0), (37e3, 0), (40e3, 500)]
    return obstacles(*sampled(40e3, step_m, *corners), **more)


def test_a_path_in_sight_names_the_ridge_that_comes_near() -> None:
    bulge_m, radius_m = 20e3**2 / (2 * RADIUS_M), math.sqrt(299.792458 / 145.0 * 10e3)
    line_m = 510.0 - bulge_m
    found = in_sight(line_m - 0.3 * radius_m)
    (ridge,) = found.kept
    assert ridge.distance_m == pytest.approx(20e3, abs=50)
    assert ridge.clearance_m == pytest.approx(0.3 * radius_m, rel=0.01)
    assert ridge.nu == pytest.approx(-0.3 * math.sqrt(2), rel=0.01)
    assert ridge.radius_m == 0.0
    assert 0.0 < exact_loss_db(*found.edges(), 145.0) < 6.02


def test_well_clear_there_is_nothing() -> None:
    found = in_sight(200.0)
    assert (found.kept, found.found, found.smooth_reason, found.main) == ((), 0, None, None)
    assert exact_loss_db(*found.edges(), 145.0) == pytest.approx(0.0, abs=1e-12)


def test_loss_changes_little_as_a_ridge_comes_up_through_the_line() -> None:
    tops_m = np.arange(430.0, 560.0, 2.0)
    for method in METHODS:
        losses_db = [method(*in_sight(top_m).edges(), 145.0) for top_m in tops_m]
        assert np.abs(np.diff(losses_db)).max() < 0.6
        assert losses_db[-1] > losses_db[0]


def test_a_ridge_just_under_the_string_is_kept_too() -> None:
    corners = [(0, 50), (18e3, 50), (20e3, 500), (22e3, 50)]
    corners += [(33e3, 50), (35e3, 480), (37e3, 50), (48e3, 50), (50e3, 500), (52e3, 50), (70e3, 50)]
    found = obstacles(*sampled(70e3, 100.0, *corners))
    assert [each.distance_m for each in found.kept] == [20e3, 35e3, 50e3]
    assert found.kept[1].clearance_m < 0.0


# Real ground, edges of the range


def test_real_mountains_resampled(real_dem_dir) -> None:
    rasterio = pytest.importorskip("rasterio")
    with rasterio.open(f"zip://{real_dem_dir}/N42E001.hgt.zip/N42E001.hgt") as tile:
        heights_m = tile.read(1).astype(float)
        nodata = tile.nodata
    row = next(row for row in heights_m[500:] if not (row == nodata).any())
    length_m = 1200 * 6378137.0 * math.cos(math.radians(42.5)) * math.radians(1 / 1200)
    coarse_m = np.linspace(0.0, length_m, row.size)
    fine_m = np.linspace(0.0, length_m, 3 * (row.size - 1) + 1)
    coarse, fine = obstacles(coarse_m, row), obstacles(fine_m, np.interp(fine_m, coarse_m, row))
    assert coarse.smooth_reason is fine.smooth_reason is None
    assert 2 <= len(coarse.kept) <= 5
    for method in METHODS:
        assert method(*coarse.edges(), 145.0) == pytest.approx(method(*fine.edges(), 145.0), abs=1.0)


@settings(max_examples=80, deadline=None)
@given(
    heights_m=st.lists(st.floats(-100, 4000), min_size=2, max_size=60),
    whole_m=st.floats(300.0, 800e3),
    frequency_mhz=st.floats(30.0, 3000.0),
)
def test_any_profile_gives_edges_that_every_method_takes(heights_m, whole_m, frequency_mhz) -> None:
    distance_m = np.linspace(0.0, whole_m, len(heights_m))
    found = obstacles(distance_m, np.array(heights_m), frequency_mhz=frequency_mhz)
    assert len(found.kept) <= 5
    assert found.found >= len(found.kept)
    for each in found.kept:
        assert 0.0 < each.start_m <= each.stop_m < whole_m
        assert all(map(math.isfinite, (each.top_m, each.clearance_m, each.nu, each.radius_m)))
        assert (each.nu > 0) == (each.clearance_m < 0)
    for method in METHODS:
        assert math.isfinite(method(*found.edges(), frequency_mhz))


def test_ends_alone_have_no_obstacles() -> None:
    assert obstacles([0.0, 5e3], [10.0, 10.0]).kept == ()


def test_a_line_that_grazes_level_ground_is_no_trouble() -> None:
    distance_m = np.linspace(0.0, 30e3, 31)
    found = obstacles(distance_m, np.full(31, 50.0), masts_m=(0.0, 0.0), effective_radius_m=1e15)
    assert found.smooth_reason is not None
    assert found.main.nu == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(
    ("distance_m", "ground_m", "more", "message"),
    [
        ([0.0], [1.0], {}, "at least 2"),
        ([0.0, 1e3, 2e3], [1.0, 2.0], {}, "two rows of one length"),
        ([0.0, 2e3, 1e3], [1.0, 2.0, 3.0], {}, "start at 0 and rise"),
        ([5.0, 1e3, 2e3], [1.0, 2.0, 3.0], {}, "start at 0 and rise"),
        ([0.0, math.nan, 2e3], [1.0, 2.0, 3.0], {}, "start at 0 and rise"),
        ([0.0, 1e3, 2e3], [1.0, math.nan, 3.0], {}, "give finite heights"),
        ([0.0, 1e3, 2e3], [1.0, 2.0, 3.0], {"masts_m": (math.inf, 1.0)}, "give finite heights"),
        ([0.0, 1e3, 2e3], [1.0, 2.0, 3.0], {"frequency_mhz": 0.0}, "finite numbers above 0"),
        ([0.0, 1e3, 2e3], [1.0, 2.0, 3.0], {"effective_radius_m": -1.0}, "finite numbers above 0"),
    ],
)
def test_refusals(distance_m, ground_m, more, message) -> None:
    with pytest.raises(OutOfRangeError, match=message):
        obstacles(distance_m, ground_m, **more)
