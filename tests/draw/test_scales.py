from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pathprofile.draw.scales import format_tick, grouped, round_ticks, thinned


@pytest.mark.parametrize(
    ("low", "high", "most", "ticks"),
    [
        (0.0, 160.3, 8, [0, 20, 40, 60, 80, 100, 120, 140, 160]),
        (0.0, 0.3, 8, [0.0, 0.05, 0.1, 0.15, 0.2, 0.25, 0.3]),
        (-430.0, -250.0, 6, [-400, -350, -300, -250]),
        (0.0, 800.0, 6, [0, 200, 400, 600, 800]),
    ],
)
def test_ticks_are_round(low: float, high: float, most: int, ticks: list[float]) -> None:
    found = round_ticks(low, high, most)
    assert len(found) <= most
    if len(ticks) <= most:
        assert found == pytest.approx(ticks)
    else:
        assert found == pytest.approx([0, 50, 100, 150])  # worked by hand


@given(st.floats(-5000, 5000), st.floats(0.01, 1e6), st.integers(2, 10))
def test_ticks_stay_inside_and_are_few(low: float, span: float, most: int) -> None:
    ticks = round_ticks(low, low + span, most)
    assert len(ticks) <= most
    assert all(low - 1e-6 * span <= t <= low + span * (1 + 1e-6) for t in ticks)


def test_numbers_are_written_with_what_their_neighbours_need() -> None:
    assert format_tick(0.05, [0.0, 0.05, 0.1]) == "0.05"
    assert format_tick(100.0, [0.0, 100.0]) == "100"
    assert format_tick(-0.0, [-1.0, 0.0]) == "0"
    assert grouped(-400.0) == "\N{MINUS SIGN}400"
    assert grouped(1239.4) == "1239"
    assert grouped(10_593.0) == "10\N{THIN SPACE}593"
    assert grouped(9_999.7) == "10\N{THIN SPACE}000"


def test_thinning_keeps_ends_peaks_and_pits() -> None:
    values = np.zeros(100_000)
    values[33_333] = 500.0
    values[77_777] = -300.0
    kept = thinned(values, 600)
    assert kept[0] == 0
    assert kept[-1] == 99_999
    assert {33_333, 77_777} <= set(kept.tolist())
    assert kept.size <= 1210
    assert (np.diff(kept) > 0).all()


def test_short_profiles_are_kept_whole() -> None:
    assert thinned(np.zeros(33), 600).tolist() == list(range(33))


@given(st.integers(1, 5000), st.integers(1, 700))
def test_thinning_never_leaves_the_profile(count: int, columns: int) -> None:
    kept = thinned(np.sin(np.arange(count, dtype=np.float64)), columns)
    assert kept[0] == 0
    assert kept[-1] == count - 1
