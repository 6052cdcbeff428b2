"""The look round for higher ground never ends the answer it is made for."""

from __future__ import annotations

import datetime as dt

from pathprofile.places import parse_location
from pathprofile.reach import reach
from pathprofile.sample import sample_dir
from pathprofile.terrain.store import TerrainStore


def test_higher_ground_at_the_other_end_is_no_error() -> None:
    here, there = parse_location("47.71 -20.77"), parse_location("47.714166667 -20.771666667")
    with TerrainStore.open([sample_dir()]) as terrain:
        top = terrain.highest_within(here.latitude_deg, here.longitude_deg, here.uncertainty_m)
        masts = {"from_antenna_agl_m": 6.0, "to_antenna_agl_m": 6.0}
        found = reach(here, there, terrain, frequency_mhz=145.0, date=dt.date(2026, 6, 14), **masts)
    assert top is not None
    # the premise: the highest ground within the digits typed is the other end itself
    assert abs(top.latitude_deg - there.latitude_deg) < 1e-8
    assert abs(top.longitude_deg - there.longitude_deg) < 1e-8
    assert found.loss.loss_db > 0.0
    assert not any("higher ground" in text for text in found.warnings)
