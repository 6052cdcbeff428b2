"""Epstein-Peterson, Deygout and Giovanelli: what they are known to do, held against the exact loss."""

from __future__ import annotations

import math
from functools import partial

import numpy as np
import pytest

from pathprofile.errors import OutOfRangeError
from pathprofile.propagation import bullington
from pathprofile.propagation.edges import deygout_loss_db, epstein_peterson_loss_db, giovanelli_loss_db
from pathprofile.propagation.knife_edge import exact_loss_db, fresnel_nu, single_edge_loss_db

METHODS = [epstein_peterson_loss_db, deygout_loss_db, giovanelli_loss_db]
GRAZING_DB = 20 * math.log10(2)


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("height_m", [0.0, 5.0, 400.0])
def test_one_edge_is_one_edge(method, height_m: float) -> None:
    expected_db = single_edge_loss_db(fresnel_nu(height_m, 12e3, 38e3, 145.0))
    assert method([0.0, 12e3, 50e3], [20.0, 20.0 + height_m, 20.0], 145.0) == pytest.approx(expected_db)


@pytest.mark.parametrize("method", METHODS)
def test_nothing_in_the_way(method) -> None:
    assert method([0.0, 50e3], [20.0, 30.0], 145.0) == 0.0
    assert method([0.0, 20e3, 30e3, 50e3], [20.0, -900.0, -900.0, 20.0], 145.0) == 0.0


@pytest.mark.parametrize("method", METHODS)
def test_one_edge_below_the_line_still_counts(method) -> None:
    height_m = -0.5 * math.sqrt(299.792458 / 145.0 * 12e3 * 38e3 / 50e3 / 2)
    expected_db = single_edge_loss_db(-0.5)
    assert method([0.0, 12e3, 50e3], [0.0, height_m, 0.0], 145.0) == pytest.approx(expected_db)


def test_five_grazing_edges() -> None:
    # Exact: 20 log 6 (S. W. Lee 1978). The sums charge each edge a whole 6.02 dB.
    distance_m, height_m = np.linspace(0.0, 60e3, 7), np.full(7, 50.0)
    assert exact_loss_db(distance_m, height_m, 145.0) == pytest.approx(15.56, abs=0.005)
    assert epstein_peterson_loss_db(distance_m, height_m, 145.0) == pytest.approx(30.10, abs=0.005)
    assert deygout_loss_db(distance_m, height_m, 145.0) == pytest.approx(5 * GRAZING_DB)
    assert deygout_loss_db(distance_m, height_m, 145.0, levels=1) in (
        pytest.approx(3 * GRAZING_DB),
        pytest.approx(2 * GRAZING_DB),  # where rounding takes an outer edge for the main one
    )


def test_an_edge_far_under_the_string_is_left_out_of_the_sum() -> None:
    distance_m = np.array([0.0, 10e3, 25e3, 40e3, 60e3])
    height_m = np.array([0.0, 300.0, 200.0, 350.0, 0.0])
    without_db = epstein_peterson_loss_db(np.delete(distance_m, 2), np.delete(height_m, 2), 145.0)
    assert epstein_peterson_loss_db(distance_m, height_m, 145.0) == pytest.approx(without_db)


def test_an_edge_sinking_through_the_string_makes_no_great_step() -> None:
    distance_m = np.array([0.0, 10e3, 25e3, 40e3, 60e3])
    losses_db = [
        epstein_peterson_loss_db(distance_m, np.array([0.0, 300.0, 325.0 + above_m, 350.0, 0.0]), 145.0)
        for above_m in np.arange(-10.0, 10.0, 0.1)
    ]
    assert np.abs(np.diff(losses_db)).max() < 2.5  # not the 6 dB of an edge on the line


def test_epstein_peterson_by_hand() -> None:
    # λ = 2 m. Edges of 100 m at 10 and 20 km of 30 km: each stands 50 m above the line of its neighbours,
    # ν = 50 √(2/2 · 2/10 km) = 0.7071 (an edge one Fresnel half-zone up).
    loss_db = epstein_peterson_loss_db([0.0, 10e3, 20e3, 30e3], [0.0, 100.0, 100.0, 0.0], 149.896229)
    assert loss_db == pytest.approx(2 * single_edge_loss_db(math.sqrt(0.5)))


def test_deygout_by_hand() -> None:
    # λ = 2 m. Main edge of 300 m halfway along 40 km: ν = 300 √(2/20 km) = 3.
    # Second of 200 m at 30 km: 50 m above the line from the main edge, ν = 50 √(2/10 km) = 0.7071.
    loss_db = deygout_loss_db([0.0, 20e3, 30e3, 40e3], [0.0, 300.0, 200.0, 0.0], 149.896229)
    assert loss_db == pytest.approx(single_edge_loss_db(3.0) + single_edge_loss_db(math.sqrt(0.5)))


def test_giovanelli_by_hand() -> None:
    # The same edges: the line from the main edge through the second meets the far end's plane at 100 m,
    # so the main edge stands 250 m above the line to there: ν = 250 √(2/20 km) = 2.5.
    loss_db = giovanelli_loss_db([0.0, 20e3, 30e3, 40e3], [0.0, 300.0, 200.0, 0.0], 149.896229)
    assert loss_db == pytest.approx(single_edge_loss_db(2.5) + single_edge_loss_db(math.sqrt(0.5)))


@pytest.mark.parametrize("method", METHODS)
def test_reciprocity(method) -> None:
    rng = np.random.default_rng(11)
    for _ in range(50):
        distance_m = np.array([0.0, *np.sort(rng.uniform(0.05, 0.95, 4)), 1.0]) * 70e3
        height_m = rng.uniform(0.0, 400.0, 6)
        back_db = method((70e3 - distance_m)[::-1], height_m[::-1], 145.0)
        assert method(distance_m, height_m, 145.0) == pytest.approx(back_db, abs=1e-9)


def errors_db(method, edges: int, low: float, high: float, closest: float = 0.05, widest: float = 1.0):
    """Method minus exact over random edges; heights in first Fresnel radii of mid-path above the line."""
    rng = np.random.default_rng(edges)
    out = []
    while len(out) < 60:
        whole_m = rng.uniform(20e3, 120e3)
        shares = np.sort(0.5 + widest * rng.uniform(-0.45, 0.45, edges))
        if edges > 1 and np.diff(shares).min() < closest:
            continue
        distance_m = np.array([0.0, *shares, 1.0]) * whole_m
        height_m = np.zeros(edges + 2)
        height_m[1:-1] = rng.uniform(low, high, edges) * 0.5 * math.sqrt(299.792458 / 145.0 * whole_m)
        out.append(method(distance_m, height_m, 145.0) - exact_loss_db(distance_m, height_m, 145.0))
    return np.array(out)


def bullington_loss_db(distance_m, height_m, frequency_mhz: float) -> float:
    from_km = distance_m[1:-1] / 1000.0
    slopes = bullington.profile_slopes(
        from_km, distance_m[-1] / 1000.0 - from_km, height_m[1:-1], *height_m[[0, -1]]
    )
    return bullington.loss_from(bullington.geometry(slopes, 1e12), frequency_mhz / 1000.0)


def test_deygout_is_pessimistic_for_close_similar_edges() -> None:
    # From memory: the second of two like edges is charged as if the first were a transmitter.
    errors = errors_db(deygout_loss_db, 2, 1.5, 1.7, closest=0.02, widest=0.1)
    assert errors.min() > 0.0
    assert errors.mean() > 3.0


def test_bullington_is_optimistic_for_many_edges() -> None:
    means_db = [errors_db(bullington_loss_db, edges, 1.0, 3.0).mean() for edges in (2, 3, 5)]
    assert means_db[2] < means_db[1] < means_db[0]
    assert means_db[2] < -8.0


def test_epstein_peterson_overcharges_edges_on_the_line() -> None:
    errors = [
        epstein_peterson_loss_db(d, np.zeros(d.size), 145.0) - exact_loss_db(d, np.zeros(d.size), 145.0)
        for d in (np.linspace(0.0, 60e3, edges + 2) for edges in (2, 3, 5, 8))
    ]
    assert (np.diff(errors) > 0).all()
    assert errors[2] == pytest.approx(30.10 - 15.56, abs=0.01)


def test_three_edges_are_too_few_for_five_ridges() -> None:
    assert errors_db(partial(deygout_loss_db, levels=1), 5, 2.0, 6.0).mean() < -3.0
    assert errors_db(deygout_loss_db, 5, 2.0, 6.0).mean() > 0.0


def test_giovanelli_is_the_closest_over_high_ridges() -> None:
    errors = {
        method: np.sqrt((errors_db(method, 5, 2.0, 6.0) ** 2).mean())
        for method in (*METHODS, bullington_loss_db)
    }
    assert min(errors, key=lambda method: errors[method]) is giovanelli_loss_db
    assert errors[giovanelli_loss_db] < 2.0


@pytest.mark.parametrize("method", METHODS)
def test_refusals(method) -> None:
    with pytest.raises(OutOfRangeError, match="distances that rise"):
        method([0.0, 2e3, 1e3, 5e3], [1.0, 2.0, 3.0, 4.0], 145.0)
    with pytest.raises(OutOfRangeError, match="give finite numbers"):
        method([0.0, 2e3, 5e3], [1.0, math.nan, 4.0], 145.0)
    with pytest.raises(OutOfRangeError, match="both antenna tips"):
        method([0.0], [1.0], 145.0)
