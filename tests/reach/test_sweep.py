"""A sweep over k: more bending never raises the ground."""

from __future__ import annotations

import datetime as dt

import pytest

from pathprofile.errors import OutOfRangeError
from pathprofile.places import parse_location
from pathprofile.reach import Reach, reach
from pathprofile.reach.sweep import sweep_k
from pathprofile.sample import sample_dir
from pathprofile.terrain.store import TerrainStore


@pytest.fixture(scope="module")
def answer() -> Reach:
    with TerrainStore.open([sample_dir()]) as store:
        return reach(
            parse_location("47.74833 -21.00083"),
            parse_location("46.29750 -20.93750"),
            store,
            date=dt.date(2026, 6, 14),
            frequency_mhz=144.3,
            from_antenna_agl_m=6.0,
            to_antenna_agl_m=10.0,
        )


def test_more_bending_means_more_clearance(answer: Reach) -> None:
    ratios = [step.minimum_fresnel_ratio for step in sweep_k(answer)]
    assert ratios == sorted(ratios)
    assert ratios[0] < ratios[-1]


def test_the_step_at_its_own_k_is_the_answer(answer: Reach) -> None:
    (step,) = sweep_k(answer, [answer.atmosphere.k_factor])
    assert step.loss_db == pytest.approx(answer.loss.loss_db, abs=1e-9)
    assert step.verdict == answer.sightline.verdict


def test_an_impossible_k_is_refused(answer: Reach) -> None:
    with pytest.raises(OutOfRangeError, match=r"k factor 0\.0"):
        sweep_k(answer, [0.0])
