"""Odds over many points, and the height of ground that tells good ones from bad ones."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pathprofile.link.evaluate import Pair
from pathprofile.link.words import verdict

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

__all__ = ["HeightSplit", "height_split", "mean_pair"]

_ROUND_M = ((60.0, 10.0), (10.0, 5.0))
"""From which height range on a question is asked, in steps of what: the map itself errs by 5 m."""
_FEWEST_A_SIDE = 3
_LEAST_SHARE = 0.1
_LEAST_DIFFERENCE = 0.1
_MOST_PARTED = 0.1
"""Share of an area's points at which the methods may part and the whole still be called solid."""


@dataclass(frozen=True)
class HeightSplit:
    """The height of ground that tells the odds apart best.

    Attributes
    ----------
    height_m : float
        A round figure [m].
    below, above : Pair
        Odds on lower ground, and on this height and higher.
    share_below : float
        Share of the area's points that lie lower.
    decisive : float
        Standard deviation of the chance that the answer explains: √(p (1 − p)) · |below − above|.
    """

    height_m: float
    below: Pair
    above: Pair
    share_below: float
    decisive: float


def height_split(
    ground_m: Floats, chance: Floats, comfortable_chance: Floats, parted: npt.NDArray[np.bool_]
) -> HeightSplit | None:
    """Find the height of ground that separates good odds from bad ones best.

    Parameters
    ----------
    ground_m, chance, comfortable_chance : ndarray, shape (n,)
        Height of ground [m] and odds of points in an area.
    parted : ndarray of bool, shape (n,)
        Where nothing may be called solid.

    Returns
    -------
    HeightSplit or None
        None where no height leaves different verdicts on its two sides, with a tenth between the chances, and
        where the ground spans less than 10 m, for the map is no better.

    Notes
    -----
    Tried are round heights that leave a tenth of the points and at least three on either side. The one chosen
    explains most of the variance of the chance, as the first cut of a regression tree does.
    """
    low_m, high_m = float(ground_m.min()), float(ground_m.max())
    step_m = next((step for least, step in _ROUND_M if high_m - low_m >= least), None)
    if step_m is None:
        return None
    fewest = max(_FEWEST_A_SIDE, math.ceil(_LEAST_SHARE * ground_m.size))
    best: HeightSplit | None = None
    for height_m in np.arange(math.ceil(low_m / step_m), math.floor(high_m / step_m) + 1) * step_m:
        lower = ground_m < height_m
        if min(int(lower.sum()), int((~lower).sum())) < fewest:
            continue
        below = mean_pair(chance[lower], comfortable_chance[lower], parted[lower])
        above = mean_pair(chance[~lower], comfortable_chance[~lower], parted[~lower])
        difference = abs(above.chance - below.chance)
        if below.verdict.word == above.verdict.word or difference < _LEAST_DIFFERENCE:
            continue
        share = float(lower.mean())
        decisive = math.sqrt(share * (1.0 - share)) * difference
        if best is None or decisive > best.decisive:
            best = HeightSplit(float(height_m), below, above, share, decisive)
    return best


def mean_pair(chance: Floats, comfortable_chance: Floats, parted: npt.NDArray[np.bool_]) -> Pair:
    """Odds for somebody who is at any of the points, all equally likely.

    Notes
    -----
    A point is solid only where the second opinion agrees, and so is the whole: where the methods part at more
    than a tenth of the points it is workable at best.
    """
    readable, comfortable = float(chance.mean()), float(comfortable_chance.mean())
    solid_allowed = float(parted.mean()) <= _MOST_PARTED
    return Pair(readable, comfortable, verdict(readable, comfortable, may_be_solid=solid_allowed))
