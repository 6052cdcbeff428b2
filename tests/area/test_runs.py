"""Runs of zones along a radial against the single path's count for each receiver."""

from __future__ import annotations

import numpy as np
import pytest

from pathprofile.area.runs import zone_runs_along
from pathprofile.propagation.p1812.geometry import zone_runs


@pytest.mark.parametrize("seed", range(6))
def test_equals_the_single_path(seed: int) -> None:
    rng = np.random.default_rng(seed)
    zone = np.repeat(rng.choice([1, 3, 4], 40), rng.integers(1, 9, 40)).astype(np.uint8)
    along = np.arange(zone.size) * 0.25
    runs = np.empty((5, zone.size))
    zone_runs_along(along, zone, runs)
    for n in range(1, zone.size):
        assert runs[:3, n] == pytest.approx(zone_runs(along[: n + 1], zone[: n + 1]), abs=1e-9)


def test_way_to_the_coast() -> None:
    zone = np.array([4, 4, 3, 1, 1, 3, 4], np.uint8)
    runs = np.empty((5, 7))
    zone_runs_along(np.arange(7.0), zone, runs)
    assert runs[3, 1:].tolist() == [500.0, 500.0, 3.0, 3.0, 3.0, 3.0]  # P.1812-8 §3.3: 500 km where inland
    assert runs[4, 1:].tolist() == [500.0, 500.0, 0.0, 0.0, 1.0, 2.0]
    zone_runs_along(np.arange(3.0), np.array([1, 1, 4], np.uint8), runs[:, :3])
    assert runs[3:, 1].tolist() == [0.0, 0.0]  # both ends at sea
