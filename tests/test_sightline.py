"""Line of sight: closed forms, handbook figures and the bounds on antenna heights."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pathprofile.atmosphere import Atmosphere
from pathprofile.errors import OutOfRangeError
from pathprofile.sightline import Sightline, bulge_m, fresnel_radius_m, sightline

AIR = Atmosphere()


def _look(ground: np.ndarray, whole_m: float, a: float = 10.0, b: float = 10.0, **more: object) -> Sightline:
    options = {"frequency_mhz": 146.52, "atmosphere": AIR, **more}
    return sightline(
        np.linspace(0.0, whole_m, ground.size), ground, from_antenna_agl_m=a, to_antenna_agl_m=b, **options
    )


def _rolling(seed: int, points: int = 200, scale: float = 150.0) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return np.convolve(rng.normal(size=points + 20), np.ones(21) / 21, "valid") * scale * 4 + 300.0


def test_bulge_at_mid_path_is_the_handbook_figure() -> None:
    # ITU-R P.530-18 §2.2.2.1: d1 d2 / (12.74 k), here 40 km · 40 km / 12.74 / (4/3) = 94.2 m
    distance = np.linspace(0.0, 80_000.0, 81)
    assert bulge_m(distance, AIR.effective_radius_m)[40] == pytest.approx(94.2, abs=0.1)


def test_first_fresnel_radius_is_the_handbook_figure() -> None:
    # ITU-R P.526-16 §2: 550 √(n d1 d2 / ((d1 + d2) f)); 10 km each way at 150 MHz: 100.4 m
    distance = np.linspace(0.0, 20_000.0, 21)
    assert fresnel_radius_m(distance, 150.0)[10] == pytest.approx(550 * math.sqrt(100 / (20 * 150)), rel=5e-3)
    assert fresnel_radius_m(distance, 150.0, zone=4)[10] == pytest.approx(
        2 * fresnel_radius_m(distance, 150.0)[10], rel=1e-12
    )


def test_flat_earth_horizon_is_four_point_one_two_root_h() -> None:
    # radio horizon over smooth Earth, 4.12 √h km for k = 4/3 (common practice); two masts of 25 m: 41.2 km
    reached = [
        whole for whole in np.arange(30e3, 50e3, 100.0) if _look(np.zeros(1001), whole, 25.0, 25.0).in_sight
    ]
    assert max(reached) / 1000 == pytest.approx(41.2, abs=0.2)


def test_low_mast_example_of_leverage() -> None:
    # common practice: from a 610 m hilltop to a 10 m mast 60 km away over flat ground the foreground of the
    # low mast limits, the hilltop has no leverage, and about 27 m at the low end does it
    ground = np.zeros(2001)
    ground[0] = 610.0
    seen = _look(ground, 60_000.0)
    assert seen.verdict == "partial"
    assert seen.limiting_region == "to_foreground"
    assert 60_000.0 - seen.limiting_distance_m == pytest.approx(1400.0, abs=150.0)
    assert seen.minimum_fresnel_ratio == pytest.approx(0.36, abs=0.02)
    assert seen.height_for_fresnel_m.from_m is None
    assert "705 m" in (seen.height_for_fresnel_m.from_reason or "")  # 1315 m above the plain
    assert "raise that one" in (seen.height_for_fresnel_m.from_reason or "")
    assert seen.height_for_fresnel_m.to_m == pytest.approx(27.0, abs=1.0)


@pytest.mark.parametrize(("top_m", "verdict"), [(0.0, "clear"), (80.0, "partial"), (101.0, "obstructed")])
def test_verdicts(top_m: float, verdict: str) -> None:
    ground = np.zeros(101)
    ground[50] = top_m
    seen = _look(ground, 5_000.0, 100.0, 100.0)
    assert seen.verdict == verdict
    if verdict != "clear":
        assert seen.limiting_index == 50
        assert seen.limiting_region == "mid_path"


def test_user_clutter_counts_and_not_at_the_ends() -> None:
    clutter = np.full(101, 95.0)
    assert _look(np.zeros(101), 5_000.0, 100.0, 100.0, clutter_m=clutter).verdict == "partial"


def test_takeoff_angle_of_a_wall() -> None:
    # closed form: a wall 400 m above the antenna at 10 km is seen under atan(0.04) less d/2a
    ground = np.zeros(101)
    ground[50] = 410.0
    seen = _look(ground, 20_000.0)
    expected = math.degrees(math.atan(0.04 - 10_000.0 / (2 * AIR.effective_radius_m)))
    assert seen.from_takeoff_deg == pytest.approx(expected, abs=1e-9)
    assert seen.from_horizon_m == seen.to_horizon_m == pytest.approx(10_000.0)


def test_takeoff_angle_in_sight_is_that_of_the_other_antenna() -> None:
    ground = np.zeros(101)
    ground[0] = 500.0
    seen = _look(ground, 20_000.0)
    droop = 20_000.0 / (2 * AIR.effective_radius_m)
    assert seen.from_takeoff_deg == pytest.approx(math.degrees(math.atan(-0.025 - droop)), abs=1e-9)
    assert seen.to_takeoff_deg == pytest.approx(math.degrees(math.atan(0.025 - droop)), abs=1e-9)
    assert seen.from_horizon_m == pytest.approx(20_000.0)


@settings(deadline=None, max_examples=60)
@given(st.integers(0, 10_000), st.floats(5e3, 80e3))
def test_reversing_the_path_swaps_the_ends(seed: int, whole_m: float) -> None:
    ground = _rolling(seed)
    there, back = _look(ground, whole_m, 6.0, 12.0), _look(ground[::-1].copy(), whole_m, 12.0, 6.0)
    assert there.verdict == back.verdict
    assert there.minimum_fresnel_ratio == pytest.approx(back.minimum_fresnel_ratio, rel=1e-9, abs=1e-9)
    assert there.from_takeoff_deg == pytest.approx(back.to_takeoff_deg, abs=1e-9)
    assert there.from_horizon_m == pytest.approx(back.to_horizon_m, rel=1e-9)


@settings(deadline=None, max_examples=60)
@given(st.integers(0, 10_000), st.floats(3e3, 40e3))
def test_least_heights_are_exact(seed: int, whole_m: float) -> None:
    """At the height named the path just passes; a centimetre less and it does not."""
    ground = _rolling(seed)
    seen = _look(ground, whole_m, 6.0, 12.0, mast_limit_m=5000.0)
    for heights, share in ((seen.height_for_sight_m, 0.0), (seen.height_for_fresnel_m, 0.6)):
        for end in ("from", "to", "both"):
            least = getattr(heights, f"{end}_m")
            if not least:
                continue
            for height, passes in ((least + 0.01, True), (least - 0.01, False)):
                a = height if end != "to" else 6.0
                b = height if end != "from" else 12.0
                assert (_look(ground, whole_m, a, b).minimum_fresnel_ratio >= share) is passes


@given(st.floats(0.0, 50.0), st.floats(0.1, 50.0))
def test_more_mast_never_costs_clearance(height_m: float, more_m: float) -> None:
    ground = _rolling(7)
    low, high = _look(ground, 20_000.0, height_m), _look(ground, 20_000.0, height_m + more_m)
    assert (high.clearance_m[:-1] > low.clearance_m[:-1]).all()


def test_lifting_all_ground_changes_nothing() -> None:
    low, high = _look(_rolling(3), 30_000.0), _look(_rolling(3) + 1000.0, 30_000.0)
    assert high.minimum_fresnel_ratio == pytest.approx(low.minimum_fresnel_ratio, abs=1e-9)
    assert replace(high.height_for_sight_m).from_m == low.height_for_sight_m.from_m


def test_bad_profiles_are_refused() -> None:
    with pytest.raises(OutOfRangeError, match="over 2 points"):
        _look(np.zeros(2), 100.0)
    hole = np.zeros(20)
    hole[4] = np.nan
    with pytest.raises(OutOfRangeError, match="1 without ground"):
        _look(hole, 100.0)
