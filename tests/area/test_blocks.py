"""Maxima by blocks against a look at every point."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pathprofile.area import blocks


def tops_of(y: np.ndarray) -> np.ndarray:
    tops = np.empty((blocks.LEVELS, (y.size + 15) // 16))
    blocks.block_tops(y, tops)
    return tops


def test_block_tops() -> None:
    y = np.random.default_rng(1).normal(size=2100)
    y[0] = 99.0  # the transmitter belongs to no block
    tops = tops_of(y)
    for level, side in enumerate((16, 128, 1024)):
        for block in range(-(-(y.size - 1) // side)):
            assert tops[level, block] == y[1 + block * side : 1 + (block + 1) * side].max()


@pytest.mark.parametrize("seed", [1, 900, 2099])
def test_highest_above_a_line(seed: int) -> None:
    rng = np.random.default_rng(3)
    along = np.arange(2100) * 0.09
    ground = np.cumsum(rng.normal(0.0, 10.0, along.size))
    tops = tops_of(ground)
    for _ in range(60):
        start, stop = sorted(rng.integers(1, along.size, 2).tolist())
        slope = rng.normal(0.0, 20.0)
        at = blocks.highest_above(along, ground, tops, start, stop, slope, seed)
        assert start <= at <= stop
        assert ground[at] - slope * along[at] == (ground - slope * along)[start : stop + 1].max()


@pytest.mark.parametrize("floor", [-math.inf, -2.0])
@pytest.mark.parametrize("eye_m", [30.0, 4000.0])
def test_largest_excess(profile: np.ndarray, floor: float, eye_m: float) -> None:
    ground = profile[:500]
    along = np.arange(ground.size) * 0.09
    bend = 500.0 / 8494.0
    h_ts = ground[0] + eye_m
    rise = np.zeros(ground.size)
    rise[1:] = (ground[1:] - h_ts) / along[1:]
    y = ground - bend * along**2
    tops = tops_of(y)
    in_sight = 0
    for n in range(4, ground.size, 7):
        d, near = along[n], along[1:n]
        sight = (ground[n] + 5.0 - h_ts) / d
        over = ground[1:n] + bend * near * (d - near) - (h_ts + sight * near)
        if over.max() >= 0.0:
            continue
        in_sight += 1
        excess = over / np.sqrt(near * (d - near))
        value, at = blocks.largest_excess(along, rise, y, tops, n, bend, sight, h_ts, 1, 2, floor)
        assert value == pytest.approx(max(excess.max(), floor), rel=1e-9)
        if excess.max() > floor + 1e-9:
            assert excess[at - 1] == pytest.approx(excess.max(), rel=1e-9)
        else:
            assert at == -1
    assert in_sight or eye_m < 1000.0
