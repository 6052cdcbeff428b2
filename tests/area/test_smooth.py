"""Closed forms over a smooth Earth against the single path's look at every point."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pathprofile.area.smooth import smooth_bullington
from pathprofile.propagation import bullington

HEIGHTS_M = (0.5, 3.0, 25.0, 180.0, 900.0, 4000.0, 60_000.0)


@pytest.mark.parametrize("step_km", [0.03, 0.09, 1.0])
@pytest.mark.parametrize("radius_km", [8494.0, 19113.0])
def test_equals_a_scan(step_km: float, radius_km: float) -> None:
    along = np.arange(400) * step_km
    kinds = set()
    for n in (4, 5, 17, 60, 143, 399):
        to_km = along[n] - along[1:n]
        for from_m in HEIGHTS_M:
            for to_m in HEIGHTS_M:
                slopes = bullington.profile_slopes(along[1:n], to_km, 0.0, from_m, to_m)
                expected = bullington.geometry(slopes, radius_km)
                found = smooth_bullington(along, step_km, n, from_m, to_m, 500.0 / radius_km, -math.inf)
                assert found == pytest.approx(expected, rel=1e-12, abs=1e-12)
                kinds.add(expected.to_slope == 0.0)
    assert kinds == {True, False} or step_km < 0.05


@pytest.mark.parametrize("floor", [-0.5, -5.0])
def test_what_clears_by_more_is_left_at_the_floor(floor: float) -> None:
    along = np.arange(300) * 0.09
    floored = 0
    for from_m in HEIGHTS_M:
        for to_m in HEIGHTS_M:
            for n in (30, 140, 299):
                every = smooth_bullington(along, 0.09, n, from_m, to_m, 0.059, -math.inf)
                some = smooth_bullington(along, 0.09, n, from_m, to_m, 0.059, floor)
                if every.to_slope != 0.0:
                    assert some == every
                else:
                    assert some.worst_excess == max(every.worst_excess, floor)
                    floored += every.worst_excess < floor
    assert floored > 5
