"""What contacts have in common: an offset out, an offset back and their difference, as intervals.

The model, all differences being heard minus predicted, in decibels:

    out of station i  = offset out  + path i + report and far end, one way
    back of station i = offset back + path i + report and far end, the other way

The offsets are yours, and what the loss method does to all paths of the day. The error of path i strikes both
directions alike and falls out of their difference, which is why that is known best.

Priors (common practice, and wide), one standard deviation each: your sending side and your receiving side are
off by 6 dB, what they share (antenna, feedline) by 6 dB, the method over a whole day by 3 dB. The stated
spreads of paths and of reports are each right to a factor of about 1.6, and are never taken for less than
0.37 of what is stated, however well the reports agree.

Not heard is a bound and no figure. A call that met silence says that one direction or the other fell short,
or that nobody was listening, which is taken for one call in five.

References
----------
.. [1] J. Tobin, "Estimation of relationships for limited dependent variables", Econometrica 26, 1958: the
   likelihood of a bound.
.. [2] A. Gelman et al., Bayesian Data Analysis, chapter 5: groups with a common effect, and a posterior by
   summation over a grid.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

import numpy as np

from pathprofile.errors import OutOfRangeError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["LEVEL", "NOBODY_LISTENING", "Estimate", "Group", "Observed", "Offsets", "Silence", "fit_offsets"]

LEVEL: Final = 0.95
"""Of all intervals."""
NOBODY_LISTENING: Final = 0.2
"""Share of calls that meet nobody at the set (common practice)."""
OWN_SIGMA_DB: Final = 6.0
METHOD_SIGMA_DB: Final = 3.0
LEAST_SIGMA_DB: Final = 1.5

_VARIANCE: Final = 2.0 * OWN_SIGMA_DB**2 + METHOD_SIGMA_DB**2
_COVARIANCE: Final = OWN_SIGMA_DB**2 + METHOD_SIGMA_DB**2
_SCALE_DEVIATES: Final = np.linspace(-2.0, 2.0, 7)
_SCALES: Final = np.exp(0.5 * _SCALE_DEVIATES)
_SCALE_WEIGHTS: Final = np.exp(-0.5 * _SCALE_DEVIATES**2) / np.exp(-0.5 * _SCALE_DEVIATES**2).sum()
_STEP_DB: Final = 0.75  # of the path error: half of the narrowest width that occurs, where a sum is as good
_POINTS: Final = 35
_MOST_POINTS: Final = 105
_STEPS: Final = 0.75  # of the grid, a standard deviation of the difference
_MOST_PASSES: Final = 6
_SURE: Final = 1e-300


class Observed(NamedTuple):
    """A difference in one direction: between ``low_db`` and ``high_db``, which are equal for a figure."""

    way: Literal["out", "back"]
    low_db: float
    high_db: float
    sigma_db: float


class Silence(NamedTuple):
    """A call that was not answered: the differences from which each direction would have been heard.

    A direction that is not worked has -inf: it cannot be what failed.
    """

    out_needs_db: float
    out_sigma_db: float
    back_needs_db: float
    back_sigma_db: float


class Group(NamedTuple):
    """All that was observed over one path; ``path_db`` is the standard deviation of its error."""

    name: str
    path_db: float
    observed: tuple[Observed, ...]
    silence: Silence | None = None


class Estimate(NamedTuple):
    """Median and 95 % interval [dB]."""

    middle_db: float
    low_db: float
    high_db: float


@dataclass(frozen=True)
class Offsets:
    """Posterior of the offsets.

    Attributes
    ----------
    out, back : Estimate
        You → them, and them → you.
    difference : Estimate
        Out minus back.
    out_db, back_db : ndarray, shape (n,)
        Grid [dB].
    probability : ndarray, shape (n, n)
        Over the grid, out along the first axis; its sum is 1.
    path_scale_sq, report_scale_sq : float
        Mean squares of the factors on the stated spreads.
    """

    out: Estimate
    back: Estimate
    difference: Estimate
    out_db: Floats
    back_db: Floats
    probability: Floats
    path_scale_sq: float
    report_scale_sq: float

    def variance_of(self, out_share: float, back_share: float) -> float:
        """Variance of a sum of the offsets, each times a factor [dB²]."""
        value = out_share * self.out_db[:, None] + back_share * self.back_db
        mean = float((self.probability * value).sum())
        return float((self.probability * (value - mean) ** 2).sum())

    def below(self, which: Literal["out", "back", "difference"], value_db: float) -> float:
        """Probability that an offset lies below a value."""
        values, weights = _along(self.out_db, self.back_db, self.probability, which)
        return float(np.interp(value_db, values, _cumulative(weights), left=0.0, right=1.0))


def fit_offsets(groups: Sequence[Group]) -> Offsets:
    """Offsets of all contacts.

    Parameters
    ----------
    groups : sequence of Group
        One a path. None at all gives the prior.

    Returns
    -------
    Offsets

    Raises
    ------
    OutOfRangeError
        For an interval that is empty or no number, or a spread that is not above 0.

    Notes
    -----
    Summed over a grid of both offsets, of the error of each path (in steps of 0.75 dB) and of the factors on
    the spreads (7 each); the grid is narrowed until it fits the wider offset and resolves the difference.
    Standard deviations of observations below 1.5 dB are raised to that. The prior draws estimates towards
    zero: by a tenth or so with nine contacts, by more with fewer.
    """
    groups = [_checked(group) for group in groups]
    farthest = max((abs(_middle(each)) for group in groups for each in group.observed), default=0.0)
    steps = math.ceil(max(45.0, farthest + 20.0) / _STEP_DB)
    path_db: Floats = np.arange(-steps, steps + 1, dtype=np.float64) * _STEP_DB
    centres, half_db, points = [0.0, 0.0], 45.0, _POINTS
    for _ in range(_MOST_PASSES):
        out_db, back_db = (centre + half_db * np.linspace(-1.0, 1.0, points) for centre in centres)
        probability, scales = _posterior(groups, out_db, back_db, path_db)
        moments = {which: _moments(*_along(out_db, back_db, probability, which)) for which in _QUANTITIES}
        step_db = 2.0 * half_db / (points - 1)
        widest_db = max(moments["out"].sigma, moments["back"].sigma)
        most_step_db = _STEPS * max(moments["difference"].sigma, 0.4 * step_db)
        if half_db <= 6.5 * widest_db and (step_db <= most_step_db or points == _MOST_POINTS):
            break
        centres = [moments["out"].mean, moments["back"].mean]
        half_db = min(half_db, 5.5 * max(widest_db, 0.6 * step_db))
        # Where the paths scatter widely the difference is known far better than either offset.
        points = min(_MOST_POINTS, max(_POINTS, math.ceil(2.0 * half_db / most_step_db) + 1))
    estimates = {which: _estimate(*_along(out_db, back_db, probability, which)) for which in _QUANTITIES}
    return Offsets(
        out=estimates["out"],
        back=estimates["back"],
        difference=estimates["difference"],
        out_db=out_db,
        back_db=back_db,
        probability=probability,
        path_scale_sq=float(scales.sum(axis=1) @ _SCALES**2),
        report_scale_sq=float(scales.sum(axis=0) @ _SCALES**2),
    )


_QUANTITIES: Final[tuple[Literal["out", "back", "difference"], ...]] = ("out", "back", "difference")


def _checked(group: Group) -> Group:
    for each in group.observed:
        ordered = each.low_db <= each.high_db and each.low_db < math.inf and each.high_db > -math.inf
        if not (ordered and each.sigma_db > 0.0):
            raise OutOfRangeError(
                f"{group.name}: {each.way} from {each.low_db!r} to {each.high_db!r} dB, sigma "
                f"{each.sigma_db!r} dB: accepted the lower first, and sigma above 0"
            )
    return group._replace(
        path_db=max(group.path_db, LEAST_SIGMA_DB),
        observed=tuple(each._replace(sigma_db=max(each.sigma_db, LEAST_SIGMA_DB)) for each in group.observed),
    )


def _middle(each: Observed) -> float:
    """Figure, or the finite end of a bound, or the middle of an interval."""
    ends = [end for end in (each.low_db, each.high_db) if math.isfinite(end)]
    return sum(ends) / len(ends) if ends else 0.0


def _posterior(
    groups: Sequence[Group], out_db: Floats, back_db: Floats, path_db: Floats
) -> tuple[Floats, Floats]:
    """Probability over the grid of both offsets, and over that of the factors (path, report)."""
    count = len(_SCALES)
    log_joint = np.zeros((count, count, len(out_db), len(back_db)))
    for group in groups:
        weights = np.exp(-0.5 * (path_db / (_SCALES[:, None] * group.path_db)) ** 2)
        weights /= weights.sum(axis=1, keepdims=True)
        for index, scale in enumerate(_SCALES):
            log_joint[:, index] += _log_likelihood(group, float(scale), out_db, back_db, path_db, weights)
    determinant = _VARIANCE**2 - _COVARIANCE**2
    out, back = out_db[:, None], back_db
    log_joint -= (0.5 / determinant) * (
        _VARIANCE * out**2 - 2.0 * _COVARIANCE * out * back + _VARIANCE * back**2
    )
    log_joint += np.log(np.outer(_SCALE_WEIGHTS, _SCALE_WEIGHTS))[:, :, None, None]
    joint = np.exp(log_joint - log_joint.max())
    joint /= joint.sum()
    return joint.sum(axis=(0, 1)), joint.sum(axis=(2, 3))


def _log_likelihood(
    group: Group, scale: float, out_db: Floats, back_db: Floats, path_db: Floats, weights: Floats
) -> Floats:
    """Of one path: shape (path factors, n, n). Given the error of the path both directions stand alone."""
    out = _all_of(group.observed, "out", out_db[:, None] + path_db, scale)
    back = _all_of(group.observed, "back", back_db[:, None] + path_db, scale)
    likelihood = _over_paths(out, back, weights)
    if group.silence is not None:
        needs = group.silence
        out_at, back_at = out_db[:, None] + path_db, back_db[:, None] + path_db
        out_heard = out * _below((out_at - needs.out_needs_db) / (scale * needs.out_sigma_db))
        back_heard = back * _below((back_at - needs.back_needs_db) / (scale * needs.back_sigma_db))
        likelihood = likelihood - (1.0 - NOBODY_LISTENING) * _over_paths(out_heard, back_heard, weights)
    return np.log(np.maximum(likelihood, _SURE))


def _over_paths(out: Floats, back: Floats, weights: Floats) -> Floats:
    product: Floats = (weights[:, None, :] * out) @ back.T
    return product


def _all_of(observed: Sequence[Observed], way: str, offset_db: Floats, scale: float) -> Floats:
    """Likelihood of all observed one way, at offset and error of the path together."""
    product = np.ones_like(offset_db)
    for each in observed:
        if each.way != way:
            continue
        sigma_db = scale * each.sigma_db
        if each.low_db == each.high_db:
            product *= np.exp(-0.5 * ((each.low_db - offset_db) / sigma_db) ** 2) / sigma_db
        else:
            above_low = _below((offset_db - each.low_db) / sigma_db)
            product *= above_low - _below((offset_db - each.high_db) / sigma_db)
    return product


def _below(deviate: Floats) -> Floats:
    from scipy.special import ndtr

    share: Floats = ndtr(deviate)
    return share


class _Moments(NamedTuple):
    mean: float
    sigma: float


def _moments(values: Floats, weights: Floats) -> _Moments:
    mean = float(weights @ values)
    return _Moments(mean, math.sqrt(float(weights @ (values - mean) ** 2)))


def _along(
    out_db: Floats, back_db: Floats, probability: Floats, which: Literal["out", "back", "difference"]
) -> tuple[Floats, Floats]:
    """Values in equal steps, and their probabilities; both axes of the grid have the same step."""
    if which == "out":
        return out_db, probability.sum(axis=1)
    if which == "back":
        return back_db, probability.sum(axis=0)
    count = len(out_db)
    values = out_db[0] - back_db[0] + (out_db[1] - out_db[0]) * np.arange(1 - count, count)
    weights: Floats = np.array([np.trace(probability, -lead) for lead in range(1 - count, count)])
    return values, weights


def _cumulative(weights: Floats) -> Floats:
    """Probability below each value: the sum to its middle, less the first term of Euler and Maclaurin."""
    sides = np.concatenate([[0.0], weights, [0.0]])
    below: Floats = np.cumsum(weights) - 0.5 * weights - (sides[2:] - sides[:-2]) / 24.0
    return np.clip(below, 1e-12, 1.0 - 1e-12)


def _estimate(values: Floats, weights: Floats) -> Estimate:
    """Quantiles, between values by the normal deviate, in which the sum is nearly straight."""
    from scipy.special import ndtri

    tail = 0.5 * (1.0 - LEVEL)
    deviates = np.maximum.accumulate(ndtri(_cumulative(weights)))
    low, middle, high = np.interp(ndtri([tail, 0.5, 1.0 - tail]), deviates, values)
    return Estimate(float(middle), float(low), float(high))
