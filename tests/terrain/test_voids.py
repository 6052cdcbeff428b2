"""The sheet over a hole: harmonic, within its rim, exact on planes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pathprofile.terrain.voids import membrane, runs_of


@pytest.mark.parametrize("shape", [(12, 12), (40, 25), (120, 120)])
def test_a_hole_in_a_plane(shape: tuple[int, int]) -> None:
    row, col = np.indices(shape)
    heights = 800.0 + 3.0 * row - 7.0 * col
    holed = heights.copy()
    holed[shape[0] // 4 : -shape[0] // 4, shape[1] // 4 : -shape[1] // 4] = np.nan
    np.testing.assert_allclose(membrane(holed), heights, atol=1e-3)


def test_a_saddle_is_harmonic_and_so_reproduced() -> None:
    # x^2 - y^2 solves Laplace's equation, and its five-point difference form exactly.
    row, col = np.indices((41, 41)) - 20.0
    heights = row**2 - col**2
    holed = heights.copy()
    holed[(row**2 + col**2) < 200] = np.nan
    np.testing.assert_allclose(membrane(holed), heights, atol=1e-3)


def test_a_hole_that_runs_out_of_the_window() -> None:
    # Level across the border: with one side known at one height, all of it is at that height.
    heights = np.full((20, 20), 50.0)
    heights[5:, :] = np.nan
    np.testing.assert_allclose(membrane(heights), 50.0, atol=1e-3)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000), share=st.floats(0.05, 0.95))
def test_within_the_rim_and_known_heights_untouched(seed: int, share: float) -> None:
    rng = np.random.default_rng(seed)
    heights = rng.uniform(0, 1000, (15, 17))
    holed = np.where(rng.random(heights.shape) < share, np.nan, heights)
    holed[7, 7] = heights[7, 7]
    known = ~np.isnan(holed)
    filled = membrane(holed)
    np.testing.assert_array_equal(filled[known], heights[known])
    assert heights[known].min() - 1e-3 <= filled.min()
    assert filled.max() <= heights[known].max() + 1e-3


def test_runs() -> None:
    assert runs_of(np.array([], bool)) == []
    assert runs_of(np.array([False, False])) == []
    assert runs_of(np.array([True, False, True, True])) == [(0, 0), (2, 3)]
