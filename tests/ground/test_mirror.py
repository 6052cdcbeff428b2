"""Finding the water or plain under a reflected ray."""

from __future__ import annotations

import numpy as np
import pytest

from pathprofile.ground.mirror import find_mirror

DISTANCE = np.linspace(0.0, 20_000.0, 401)


def _mirror(ground: np.ndarray, a: float, b: float):
    return find_mirror(DISTANCE, ground, from_antenna_amsl_m=a, to_antenna_amsl_m=b)


def test_the_point_divides_the_path_as_the_heights() -> None:
    # image method over a flat plane (textbook): d1/d2 = h1/h2
    found = _mirror(np.zeros(401), 300.0, 100.0)
    assert found is not None
    assert found.distance_m == pytest.approx(15_000.0)
    assert found.water
    assert found.roughness_m == 0.0


def test_a_plain_counts_from_its_own_level() -> None:
    ground = np.full(401, 120.0)
    ground[:20] = 400.0
    found = _mirror(ground, 420.0, 140.0)
    assert found is not None
    assert (found.level_m, found.water) == (120.0, False)
    assert found.from_height_m == pytest.approx(300.0)
    assert found.distance_m == pytest.approx(20_000.0 * 300 / 320)


@pytest.mark.parametrize("rough_m", [20.0, 200.0])
def test_hills_do_not_mirror(rough_m: float) -> None:
    ground = np.random.default_rng(1).normal(size=401) * rough_m
    assert _mirror(ground, 900.0, 800.0) is None


def test_antennas_below_the_ground_there_see_no_mirror() -> None:
    assert _mirror(np.full(401, 50.0), 40.0, 90.0) is None


def test_turned_round_it_is_the_same_place() -> None:
    ground = np.where(DISTANCE < 8_000, 3.0, 1.0)
    out, back = _mirror(ground, 250.0, 60.0), _mirror(ground[::-1].copy(), 60.0, 250.0)
    assert out is not None
    assert back is not None
    assert out.distance_m == pytest.approx(20_000.0 - back.distance_m, abs=60.0)
