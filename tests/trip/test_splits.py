"""Odds over many points: the mean, and when the whole may be called solid."""

from __future__ import annotations

import numpy as np
import pytest

from pathprofile.trip.splits import mean_pair


# The rule "solid only where both methods agree" allows one point in ten to part (documented in `mean_pair`).
@pytest.mark.parametrize(("parted", "word"), [(0, "solid"), (5, "solid"), (6, "workable"), (25, "workable")])
def test_an_area_is_solid_only_where_hardly_any_point_parts(parted: int, word: str) -> None:
    chance = np.full(50, 0.99)
    pair = mean_pair(chance, chance, np.arange(50) < parted)
    assert pair.verdict.word == word
    assert pair.chance == pytest.approx(0.99)
