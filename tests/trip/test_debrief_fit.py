"""Offsets against closed forms, brute force and simulated days whose truth is known."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import brentq

from pathprofile.errors import OutOfRangeError
from pathprofile.trip import debrief_fit
from pathprofile.trip.debrief_fit import Estimate, Group, Observed, Silence, fit_offsets

# The priors that the module states, written out here a second time.
PRIOR = np.array([[81.0, 45.0], [45.0, 81.0]])
SCALES = np.exp(0.5 * np.linspace(-2.0, 2.0, 7))
WEIGHTS = stats.norm.pdf(np.linspace(-2.0, 2.0, 7))
WEIGHTS = WEIGHTS / WEIGHTS.sum()


def figures(name: str, out: float, back: float, *, path: float = 8.0, sigma: float = 2.5) -> Group:
    return Group(name, path, (Observed("out", out, out, sigma), Observed("back", back, back, sigma)))


def mixture_quantile(share: float, means: np.ndarray, sigmas: np.ndarray, weights: np.ndarray) -> float:
    def excess(value: float) -> float:
        return float(weights @ stats.norm.cdf(value, means, sigmas)) - share

    return float(brentq(excess, -200.0, 200.0))


def closed_form(groups: list[Group]) -> dict[str, list[float]]:
    """Posterior of figures: given the factors on the spreads all is normal, so it mixes 49 normals."""
    values = np.array([each.low_db for group in groups for each in group.observed])
    ways = [each.way for group in groups for each in group.observed]
    design = np.array([[way == "out", way == "back"] for way in ways], float)
    means, covariances, logs = [], [], []
    for path_scale, path_weight in zip(SCALES, WEIGHTS, strict=True):
        for report_scale, report_weight in zip(SCALES, WEIGHTS, strict=True):
            blocks = []
            for group in groups:
                count = len(group.observed)
                own = np.diag([(report_scale * each.sigma_db) ** 2 for each in group.observed])
                blocks.append(own + (path_scale * group.path_db) ** 2 * np.ones((count, count)))
            noise = np.zeros((len(values), len(values)))
            at = 0
            for block in blocks:
                noise[at : at + len(block), at : at + len(block)] = block
                at += len(block)
            whole = design @ PRIOR @ design.T + noise
            logs.append(
                stats.multivariate_normal.logpdf(values, np.zeros(len(values)), whole)
                + math.log(path_weight * report_weight)
            )
            gain = PRIOR @ design.T @ np.linalg.inv(whole)
            means.append(gain @ values)
            covariances.append(PRIOR - gain @ design @ PRIOR)
    weights = np.exp(np.array(logs) - max(logs))
    weights /= weights.sum()
    found = {}
    for name, share in (("out", [1.0, 0.0]), ("back", [0.0, 1.0]), ("difference", [1.0, -1.0])):
        vector = np.array(share)
        centre = np.array([vector @ mean for mean in means])
        sigma = np.array([math.sqrt(vector @ covariance @ vector) for covariance in covariances])
        found[name] = [mixture_quantile(q, centre, sigma, weights) for q in (0.5, 0.025, 0.975)]
    return found


@pytest.mark.parametrize(
    ("count", "path", "sigma"), [(3, 8.0, 6.7), (9, 8.0, 2.5), (9, 2.0, 6.0), (40, 12.0, 2.0)]
)
def test_figures_alone_give_the_mixture_of_normals(count: int, path: float, sigma: float) -> None:
    rng = np.random.default_rng(count)
    errors = rng.normal(0.0, path, count)
    groups = [
        figures(
            str(i), -4.0 + error + rng.normal(0, sigma), error + rng.normal(0, sigma), path=path, sigma=sigma
        )
        for i, error in enumerate(errors)
    ]
    found, expected = fit_offsets(groups), closed_form(groups)
    for name in ("out", "back", "difference"):
        estimate = getattr(found, name)
        width = expected[name][2] - expected[name][1]
        # 1 % of the interval's width: what the grid costs
        assert list(estimate) == pytest.approx(expected[name], abs=0.01 * width + 0.02)


def test_no_contact_gives_the_prior() -> None:
    found = fit_offsets([])
    # 1.96 sigma of the stated prior: 9 dB for an offset, sqrt(72) dB for their difference
    assert list(found.out) == pytest.approx([0.0, -17.64, 17.64], abs=0.1)
    assert list(found.difference) == pytest.approx([0.0, -16.63, 16.63], abs=0.1)


def likelihood(group: Group, out: float, back: float) -> float:
    """Of one path at one pair of offsets, both factors 1, by the module."""
    path_db = np.arange(-160, 161) * 0.75
    weights = np.exp(-0.5 * (path_db / group.path_db) ** 2)[None, :]
    found = debrief_fit._log_likelihood(
        group, 1.0, np.array([out]), np.array([back]), path_db, weights / weights.sum()
    )
    return float(np.exp(found[0, 0, 0]))


COVARIANCE = [[8.0**2 + 3.0**2, 8.0**2], [8.0**2, 8.0**2 + 4.0**2]]


def both_below(out: float, back: float) -> float:
    """Bivariate normal probability, by scipy."""
    return float(stats.multivariate_normal.cdf([out, back], [0.0, 0.0], COVARIANCE))


@pytest.mark.parametrize(("out", "back"), [(0.0, 0.0), (-6.0, 2.0), (9.0, -3.0)])
class TestBoundsByBruteForce:
    def test_two_upper_bounds(self, out: float, back: float) -> None:
        group = Group(
            "x", 8.0, (Observed("out", -math.inf, -5.0, 3.0), Observed("back", -math.inf, 2.0, 4.0))
        )
        assert likelihood(group, out, back) == pytest.approx(both_below(-5.0 - out, 2.0 - back), abs=1e-4)

    def test_figure_with_an_upper_bound(self, out: float, back: float) -> None:
        group = Group("x", 8.0, (Observed("out", 1.0, 1.0, 3.0), Observed("back", -math.inf, 2.0, 4.0)))
        at = 1.0 - out
        given = 64.0 / 73.0 * at
        sigma = math.sqrt(80.0 - 64.0**2 / 73.0)
        expected = stats.norm.pdf(at, 0.0, math.sqrt(73.0)) * stats.norm.cdf((2.0 - back - given) / sigma)
        # the module leaves out 1/sqrt(2 pi) of each figure
        assert likelihood(group, out, back) / math.sqrt(2.0 * math.pi) == pytest.approx(expected, rel=1e-4)

    def test_between_two_values(self, out: float, back: float) -> None:
        group = Group("x", 8.0, (Observed("out", -5.0, 4.0, 3.0),))
        sigma = math.sqrt(73.0)
        expected = stats.norm.cdf((4.0 - out) / sigma) - stats.norm.cdf((-5.0 - out) / sigma)
        assert likelihood(group, out, back) == pytest.approx(expected, abs=1e-6)

    def test_silence(self, out: float, back: float) -> None:
        group = Group("x", 8.0, (), Silence(-7.0, 3.0, -1.0, 4.0))
        both_heard = both_below(out + 7.0, back + 1.0)  # by symmetry of the normal distribution
        assert likelihood(group, out, back) == pytest.approx(1.0 - 0.8 * both_heard, abs=1e-4)


def simulated_day(rng: np.random.Generator, stations: int, needs: float) -> tuple[np.ndarray, list[Group]]:
    """A day drawn from the stated model: what stays below what is needed leaves but a bound."""
    offsets = rng.multivariate_normal([0.0, 0.0], PRIOR)
    path_scale, report_scale = rng.choice(SCALES, p=WEIGHTS), rng.choice(SCALES, p=WEIGHTS)
    groups = []
    for index in range(stations):
        error = rng.normal(0.0, path_scale * 8.0)
        observed = []
        for way, offset, sigma in (("out", offsets[0], 6.0), ("back", offsets[1], 4.0)):
            value = offset + error + rng.normal(0.0, report_scale * sigma)
            low = value if value > needs else -math.inf
            observed.append(Observed(way, low, max(value, needs), sigma))  # type: ignore[arg-type]
        groups.append(Group(str(index), 8.0, tuple(observed)))
    return offsets, groups


def test_intervals_hold_the_truth_as_often_as_they_claim() -> None:
    rng = np.random.default_rng(20260614)
    ranks: dict[str, list[float]] = {"out": [], "back": [], "difference": []}
    inside = 0
    for _ in range(100):
        truth, groups = simulated_day(rng, 5, -6.0)
        found = fit_offsets(groups)
        for which, value in (("out", truth[0]), ("back", truth[1]), ("difference", truth[0] - truth[1])):
            ranks[which].append(found.below(which, value))  # type: ignore[arg-type]
            estimate: Estimate = getattr(found, which)
            inside += estimate.low_db <= value <= estimate.high_db
    # Posterior ranks of the truth are uniform where a posterior is right (Cook, Gelman, Rubin 2006).
    for values in ranks.values():
        assert stats.kstest(values, "uniform").pvalue > 0.01
    low, high = stats.binom.interval(0.999, 100, 0.95)
    assert 3 * low <= inside <= 3 * high


def test_bounds_undo_the_flattery_of_hearing_only_the_strong() -> None:
    rng = np.random.default_rng(7)
    heard, middles, held = [], [], 0
    for _ in range(12):
        groups = []
        for index in range(15):
            error = rng.normal(0.0, 8.0)
            observed = []
            for way in ("out", "back"):
                value = -6.0 + error + rng.normal(0.0, 3.0)
                heard += [value] if value > -6.0 else []
                low, high = (value, value) if value > -6.0 else (-math.inf, -6.0)
                observed.append(Observed(way, low, high, 3.0))  # type: ignore[arg-type]
            groups.append(Group(str(index), 8.0, tuple(observed)))
        found = fit_offsets(groups)
        middles.append(found.out.middle_db)
        held += found.out.low_db <= -6.0 <= found.out.high_db
    assert np.mean(heard) > -1.0  # what a plain mean makes of it
    # each day's estimate is good to 2 to 3 dB, so their mean to 0.8
    assert np.mean(middles) == pytest.approx(-6.0, abs=2.0)
    assert held >= 10


def test_ways_exchanged_exchange_the_offsets() -> None:
    one = [figures("a", -5.0, 1.0), figures("b", -9.0, -2.0), figures("c", -1.0, 2.5)]
    other = [figures(g.name, g.observed[1].low_db, g.observed[0].low_db) for g in one]
    found, swapped = fit_offsets(one), fit_offsets(other)
    assert list(found.out) == pytest.approx(list(swapped.back), abs=1e-6)
    assert list(found.back) == pytest.approx(list(swapped.out), abs=1e-6)


def test_a_bound_that_bounds_nothing_changes_nothing() -> None:
    groups = [figures("a", -5.0, 1.0), figures("b", -9.0, -2.0)]
    more = [*groups, Group("c", 8.0, (Observed("out", -math.inf, math.inf, 3.0),))]
    assert list(fit_offsets(more).out) == pytest.approx(list(fit_offsets(groups).out), abs=1e-6)


def test_more_contacts_narrow_the_interval_and_agreement_never_makes_it_vanish() -> None:
    widths = []
    for count in (1, 3, 9, 27):
        found = fit_offsets([figures(str(i), -4.0, 0.0) for i in range(count)])
        widths.append(found.out.high_db - found.out.low_db)
    assert widths == sorted(widths, reverse=True)
    # 0.37 of 8 and of 2.5 dB, over the square root of 27, twice 1.96 of it
    assert widths[-1] > 3.92 * 0.36 * math.hypot(8.0, 2.5) / math.sqrt(27)


def test_one_silence_says_little_since_nobody_may_have_listened() -> None:
    known = [figures(str(i), 0.0, 0.0) for i in range(6)]
    before = fit_offsets(known)
    after = fit_offsets([*known, Group("silent", 8.0, (), Silence(-25.0, 6.0, -25.0, 4.0))])
    for way in ("out", "back"):
        shift = getattr(after, way).middle_db - getattr(before, way).middle_db
        assert -1.0 < shift <= 0.0


def test_reports_far_off_do_not_break_the_sum() -> None:
    found = fit_offsets([figures("a", 95.0, -80.0), figures("b", -3.0, 0.0)])
    assert all(math.isfinite(value) for value in (*found.out, *found.back, *found.difference))
    assert found.probability.sum() == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("low", "high", "sigma"),
    [(2.0, 1.0, 3.0), (math.nan, 1.0, 3.0), (0.0, 0.0, 0.0), (math.inf, math.inf, 3.0), (0.0, 0.0, math.nan)],
)
def test_refuses_what_is_no_interval(low: float, high: float, sigma: float) -> None:
    with pytest.raises(
        OutOfRangeError, match=r"^Fell: out from .* accepted the lower first, and sigma above 0$"
    ):
        fit_offsets([Group("Fell", 8.0, (Observed("out", low, high, sigma),))])
