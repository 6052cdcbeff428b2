"""Asked again, a path is what it was; with one thing altered it is what an independent run gives."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from pathprofile.atmosphere import Atmosphere
from pathprofile.places import parse_location
from pathprofile.reach import Reach, again, assess, survey
from pathprofile.sample import sample_dir
from pathprofile.terrain.store import TerrainStore

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pathprofile.reach import Survey

ASKED: dict[str, Any] = {
    "frequency_mhz": 432.2,
    "from_antenna_agl_m": 6.0,
    "to_antenna_agl_m": 11.0,
    "polarization": "horizontal",
    "atmosphere": Atmosphere.from_k(1.5),
}


@pytest.fixture(scope="module")
def found() -> Iterator[Survey]:
    with TerrainStore.open([sample_dir()]) as terrain:
        ends = parse_location("47.74833 -21.00083"), parse_location("47.40417 -21.07000")
        yield survey(*ends, terrain, date=dt.date(2026, 6, 14))


def losses(answer: Reach) -> tuple[float, float | None]:
    return answer.loss.loss_db, answer.loss.second_opinion_db


def test_nothing_altered_is_the_same_answer(found: Survey) -> None:
    whole = assess(found, **ASKED)
    assert losses(again(whole)) == losses(whole)


@pytest.mark.parametrize(
    "altered",
    [
        {"from_antenna_agl_m": 15.0},
        {"to_antenna_agl_m": 3.0},
        {"atmosphere": Atmosphere.from_k(0.8)},
        {"from_antenna_agl_m": 2.0, "to_antenna_agl_m": 2.0},
    ],
)
def test_one_thing_altered_is_an_independent_run(found: Survey, altered: dict[str, Any]) -> None:
    before = assess(found, **ASKED)
    after = again(before, **altered)
    assert losses(after) == losses(assess(found, **{**ASKED, **altered}))
    ends = (before.from_end.antenna_agl_m, before.to_end.antenna_agl_m, before.sightline.k_factor)
    assert (after.from_end.antenna_agl_m, after.to_end.antenna_agl_m, after.sightline.k_factor) != ends


def test_other_ground(found: Survey) -> None:
    hill = found.cluttered.ground_m.copy()
    hill[hill.size // 2] += 400.0
    higher = replace(found, cluttered=found.cluttered._replace(ground_m=hill))
    assert (
        again(assess(found, **ASKED), found=higher).loss.loss_db > assess(found, **ASKED).loss.loss_db + 6.0
    )
