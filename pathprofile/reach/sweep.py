"""The same path under other air: how much hangs on k."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from pathprofile.atmosphere import Atmosphere
from pathprofile.reach.again import again

if TYPE_CHECKING:
    from collections.abc import Iterable

    from pathprofile.reach.result import Reach

__all__ = ["USUAL_K", "KStep", "sweep_k"]

USUAL_K = (2.0 / 3.0, 1.0, 4.0 / 3.0, 2.0, 4.0)
"""From sub-refraction through straight rays and the median to strong refraction (common practice)."""


class KStep(NamedTuple):
    """The path under one k factor."""

    k_factor: float
    verdict: str
    minimum_fresnel_ratio: float
    loss_db: float


def sweep_k(answer: Reach, k_factors: Iterable[float] = USUAL_K) -> tuple[KStep, ...]:
    """Assess a path again for each of several k factors.

    Parameters
    ----------
    answer : Reach
        The path as it was assessed.
    k_factors : iterable of float
        Effective Earth radius factors, 0.45 to 150.

    Returns
    -------
    tuple of KStep
        Median loss of the best estimate and the line-of-sight verdict, in the order given.

    Raises
    ------
    OutOfRangeError
        For a k outside its range.
    """
    steps = []
    for k in k_factors:
        under = again(answer, atmosphere=Atmosphere.from_k(k, answer.atmosphere.n0))
        steps.append(
            KStep(k, under.sightline.verdict, under.sightline.minimum_fresnel_ratio, under.loss.loss_db)
        )
    return tuple(steps)
