from __future__ import annotations

import numpy as np
import pytest

from pathprofile.draw.relief import dots_of, ranks_at_dots, shading, shoreline


def test_dots_take_the_value_they_lie_in() -> None:
    values = np.array([[1, 2], [3, 4]])
    assert dots_of(values, 4).tolist() == [[1, 1, 2, 2], [1, 1, 2, 2], [3, 3, 4, 4], [3, 3, 4, 4]]
    assert dots_of(np.arange(9).reshape(3, 3), 1).tolist() == [[4]]


def test_specks_do_not_drown_areas() -> None:
    rank = np.full((120, 120), 3, np.uint8)
    rank[::7, ::7] = 1  # scattered cells
    rank[:, 60:] = 4
    found = ranks_at_dots(rank, 30, 30)
    assert (found[:, :14] == 3).all()
    assert (found[:, 16:] == 4).all()


def test_thinned_maps_stay_in_place() -> None:
    rank = np.ones((1003, 1003), np.uint8)
    rank[:, 501:] = 4
    found = ranks_at_dots(rank, 1003, 200)  # squares of five do not divide 1003
    edge = np.flatnonzero(np.diff(found[500].astype(int)) > 0)
    assert abs(edge[0] - 500) <= 5
    assert found.shape == (1003, 1003)
    assert found[-1, -1] == 4


def test_a_square_is_unknown_when_most_of_it_is() -> None:
    rank = np.zeros((40, 40), np.uint8)
    rank[:, :20] = 2
    rank[0:10, 20:30] = np.where(np.indices((10, 10)).sum(axis=0) % 3 == 0, 4, 0)
    found = ranks_at_dots(rank, 4, 4)
    assert found.tolist() == [[2, 2, 0, 0]] * 4


def test_slopes_facing_the_light_are_lighter() -> None:
    along = np.arange(200.0)
    hill = np.maximum(0.0, 60.0 - np.hypot(along[:, np.newaxis] - 100.0, along - 100.0)) * 20.0 + 10.0
    ink, sea = shading(hill, 20_000.0, 200)
    assert ink[80, 80] < ink[20, 20] < ink[120, 120]  # north-west, level, south-east
    assert not sea.any()
    assert 0.0 < ink.min() <= ink.max() <= 0.24


def test_the_sea_is_plain_and_holes_are_level() -> None:
    ground = np.full((50, 50), 30.0)
    ground[:20] = 0.0
    ground[40:, 40:] = np.nan
    ink, sea = shading(ground, 5_000.0, 100)
    assert sea[:40].all()
    assert not sea[41:].any()
    assert (ink[:38] == 0.0).all()
    assert ink[90, 90] == pytest.approx(ink[60, 10])
    assert np.isfinite(ink).all()


@pytest.mark.parametrize("ground", [np.zeros((1, 1)), np.full((4, 4), np.nan), np.zeros((30, 30))], ids=str)
def test_grounds_without_relief_are_no_error(ground: np.ndarray) -> None:
    ink, _ = shading(ground, 1_000.0, 20)
    assert ink.shape == (20, 20)
    assert np.isfinite(ink).all()


def test_the_shore_is_a_line_between_land_and_sea() -> None:
    sea = np.zeros((20, 20), bool)
    sea[:, 10:] = True
    line = shoreline(sea, 2)
    assert line.any(axis=1).all()
    assert np.flatnonzero(line[5]).tolist() == [10, 11]
