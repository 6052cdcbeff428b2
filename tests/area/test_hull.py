"""Hulls and running maxima against a look at every point."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from pathprofile.area import hull

AGL_M = 6.0
EYE_M = 12.0


def slopes(along: np.ndarray, y: np.ndarray, n: int, eye: float) -> np.ndarray:
    return (y[1:n] - eye) / (along[n] - along[1:n])


def test_backward_horizons(profile: np.ndarray) -> None:
    ground = profile[:300]
    along = np.arange(ground.size) * 0.09
    for bend in (0.0, 500.0 / 8494.0, 500.0 / 19113.0):
        y = ground - bend * along**2
        last = np.zeros(ground.size, np.int64)
        hull.backward_horizons(along, y, AGL_M, last)
        for n in range(2, ground.size, 3):
            seen = slopes(along, y, n, y[n] + AGL_M)
            assert abs(seen[last[n] - 1] - seen.max()) < 1e-9


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(0, 8), min_size=5, max_size=40))
def test_backward_horizons_of_steps(heights: list[int]) -> None:
    """Small whole numbers: many points in line, where the nearest of equals counts."""
    along = np.arange(len(heights), dtype=np.float64)
    y = np.array(heights, np.float64)
    last = np.zeros(y.size, np.int64)
    hull.backward_horizons(along, y, 1.0, last)
    for n in range(2, y.size):
        seen = slopes(along, y, n, y[n] + 1.0)
        best = seen.max()
        assert abs(seen[last[n] - 1] - best) < 1e-12
        assert last[n] == np.flatnonzero(np.abs(seen - best) < 1e-12).max() + 1


def test_forward_horizons(profile: np.ndarray) -> None:
    ground = profile[:300]
    along = np.arange(ground.size) * 0.09
    rise = np.zeros(ground.size)
    rise[1:] = (ground[1:] - ground[0] - EYE_M) / along[1:]
    first = np.zeros(ground.size, np.int64)
    bend = 500.0 / 8494.0
    hull.forward_horizons(along, rise, bend, first)
    for n in range(2, ground.size):
        assert first[n] == 1 + np.argmax(rise[1:n] - bend * along[1:n])


def test_obstructions(profile: np.ndarray) -> None:
    """P.1812-8 eqs 87 to 89, point by point."""
    ground = profile[:300]
    along = np.arange(ground.size) * 0.09
    h_ts = ground[0] + EYE_M
    rise = np.zeros(ground.size)
    rise[1:] = (ground[1:] - h_ts) / along[1:]
    highest, from_slope, to_slope = (np.zeros(ground.size) for _ in range(3))
    hull.obstructions(along, ground, rise, AGL_M, highest, from_slope, to_slope)
    hidden = 0
    for n in range(2, ground.size):
        d, h_rs = along[n], ground[n] + AGL_M
        over = ground[1:n] - (h_ts * (d - along[1:n]) + h_rs * along[1:n]) / d
        if over.max() <= 1e-9:
            assert highest[n] < 1e-9
            continue
        hidden += 1
        assert abs(highest[n] - over.max()) < 1e-8
        assert abs(from_slope[n] - (over / along[1:n]).max()) < 1e-8
        assert abs(to_slope[n] - (over / (d - along[1:n])).max()) < 1e-8
    assert hidden or np.ptp(ground) < 1000.0
