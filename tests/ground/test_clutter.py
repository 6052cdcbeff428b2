"""Clutter and user obstacles on a profile."""

from __future__ import annotations

import numpy as np
import pytest

from pathprofile.errors import OutOfRangeError
from pathprofile.ground.clutter import ClutteredProfile, UserObstacle, add_clutter, add_obstacles


def _flat(step_m: float) -> tuple[np.ndarray, np.ndarray]:
    distance = np.arange(0.0, 3000.0 + step_m / 2, step_m)
    return distance, 100.0 + distance / 100.0


@pytest.mark.parametrize("step_m", [10.0, 30.0, 60.0, 100.0])
def test_clutter_begins_at_the_clear_distance_whatever_the_step(step_m: float) -> None:
    distance, ground = _flat(step_m)
    result = add_clutter(distance, ground, 15.0)
    covered = result.distance_m[result.clutter_m > 0]
    assert covered[0] == 50.0
    assert covered[-1] == 2950.0
    assert np.interp(50.0, result.distance_m, result.ground_m) == pytest.approx(100.5, abs=1e-9)
    assert (np.diff(result.distance_m) > 0).all()


def test_no_clutter_leaves_the_profile_as_it_is() -> None:
    distance, ground = _flat(30.0)
    result = add_clutter(distance, ground, 0.0)
    assert result.distance_m is distance
    assert not result.clutter_m.any()


def test_a_path_inside_both_clear_circles_has_no_clutter() -> None:
    distance = np.linspace(0.0, 90.0, 33)
    assert not add_clutter(distance, np.zeros(33), 20.0).clutter_m.any()


def test_zero_clear_distance_still_leaves_both_ends_bare() -> None:
    distance, ground = _flat(30.0)
    result = add_clutter(distance, ground, 20.0, clear_round_antenna_m=0.0)
    assert result.clutter_m[0] == result.clutter_m[-1] == 0.0
    assert (result.clutter_m[1:-1] == 20.0).all()


def test_array_of_clutter_is_kept_point_by_point() -> None:
    distance, ground = _flat(30.0)
    heights = np.where(distance > 1500, 12.0, 0.0)
    result = add_clutter(distance, ground, heights)
    assert np.interp(1490.0, result.distance_m, result.clutter_m) < 12.0
    assert set(np.unique(result.clutter_m)) == {0.0, 12.0}


@pytest.mark.parametrize(
    ("clutter", "message"),
    [
        (-1.0, "from 0 to 300"),
        (np.nan, "from 0 to 300"),
        (999.0, "from 0 to 300"),
        (np.zeros(5), "has 5 values"),
    ],
)
def test_impossible_clutter(clutter: float | np.ndarray, message: str) -> None:
    with pytest.raises(OutOfRangeError, match=message):
        add_clutter(*_flat(30.0), clutter)


def test_impossible_clear_distance() -> None:
    with pytest.raises(OutOfRangeError, match="clear distance of -5"):
        add_clutter(*_flat(30.0), 10.0, clear_round_antenna_m=-5.0)


def test_a_user_obstacle_is_a_point_of_its_own() -> None:
    distance, ground = _flat(30.0)
    bare = ClutteredProfile(distance, ground, np.zeros_like(distance))
    result = add_obstacles(bare, (UserObstacle(1234.0, 18.0), UserObstacle(1500.0, 5.0)))
    assert result.distance_m.size == distance.size + 1
    assert result.clutter_m[result.distance_m == 1234.0] == 18.0
    assert result.clutter_m[result.distance_m == 1500.0] == 5.0
    assert not bare.clutter_m.any()


@pytest.mark.parametrize(
    ("obstacle", "message"),
    [
        (UserObstacle(3000.0, 5.0), r"from 0 to 3\.000 km"),
        (UserObstacle(10.0, 0.0), "above ground"),
        (UserObstacle(-4.0, 1.0), "the path runs from 0"),
    ],
)
def test_impossible_obstacle(obstacle: UserObstacle, message: str) -> None:
    distance, ground = _flat(30.0)
    with pytest.raises(OutOfRangeError, match=message):
        add_obstacles(ClutteredProfile(distance, ground, np.zeros_like(distance)), (obstacle,))
