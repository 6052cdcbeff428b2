"""Chance of a contact: what the spread about the median does to two margins at once.

The path's error and its variation in time strike both directions alike; the error in the noise of each end is
its own. Given the shared part the two directions are independent.

References
----------
.. [1] ITU-R P.1812-8 §4.8 (location variability) and the time percentages of both loss methods.
.. [2] Z. Drezner, G. O. Wesolowsky, "On the computation of the bivariate normal integral", J. Statist.
   Comput. Simul. 35, 1990: the joint probability as an integral over the correlation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np

from pathprofile.errors import OutOfRangeError
from pathprofile.link.assume import default_number

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

__all__ = ["PairChances", "Spread", "TimeSpread", "location_sigma_db", "pair_chances", "time_spread"]

_LEAST_SIGMA_DB: Final = 1e-3  # keeps a spread of nothing computable: a step this steep
_ANGLE_NODES, _ANGLE_WEIGHTS = np.polynomial.legendre.leggauss(24)
_TIME_NODES, _TIME_WEIGHTS = np.polynomial.legendre.leggauss(14)
_DEVIATE_END: Final = 6.0  # the rest of the normal distribution is 2e-9


@dataclass(frozen=True, slots=True)
class Spread:
    """Standard deviations about the median [dB].

    ``path_db`` is the error of the loss method; it holds the scatter from place to place. ``location_db``
    comes on top only where an antenna's place is uncertain. ``noise_out_db`` belongs to the noise at the far
    end (you → them), ``noise_back_db`` to that at your own.
    """

    path_db: float = default_number("path error")
    noise_out_db: float = default_number("noise error")
    noise_back_db: float = default_number("noise error")
    location_db: float = 0.0

    def __post_init__(self) -> None:
        for name in ("path_db", "noise_out_db", "noise_back_db", "location_db"):
            value = getattr(self, name)
            if not 0.0 <= value <= 40.0:
                raise OutOfRangeError(f"spread {name} = {value!r}: accepted 0 to 40 dB")

    @property
    def shared_db(self) -> float:
        """Part that strikes both directions alike [dB]."""
        return math.hypot(self.path_db, self.location_db)

    @property
    def out_db(self) -> float:
        """Whole standard deviation of you → them, time apart [dB]."""
        return math.hypot(self.shared_db, self.noise_out_db)

    @property
    def back_db(self) -> float:
        """Whole standard deviation of them → you, time apart [dB]."""
        return math.hypot(self.shared_db, self.noise_back_db)


@dataclass(frozen=True, slots=True)
class TimeSpread:
    """Loss above its median over the time: nodes and weights of the integral, shape (n,)."""

    above_median_db: NDArray[np.float64] = field(default_factory=lambda: np.zeros(1))
    weight: NDArray[np.float64] = field(default_factory=lambda: np.ones(1))


@dataclass(frozen=True, slots=True)
class PairChances:
    """Chances for k pairs of margins, each of shape (k,), 0 to 1."""

    out: NDArray[np.float64]
    back: NDArray[np.float64]
    both: NDArray[np.float64]


def location_sigma_db(
    frequency_mhz: float, width_m: float, *, height_m: float = 0.0, clutter_m: float = 0.0
) -> float:
    """Location variability over an area in which an antenna stands [dB].

    Parameters
    ----------
    frequency_mhz : float
        Frequency [MHz].
    width_m : float
        Width of the area [m].
    height_m : float
        Antenna height above the ground [m].
    clutter_m : float
        Height of the clutter around it [m].

    Returns
    -------
    float
        Standard deviation: (0.52 + 0.024 f/GHz) width^0.28, fading out from clutter height to 10 m above it.

    Raises
    ------
    OutOfRangeError
        For a width that is not above 0.

    Notes
    -----
    Use it only where the place is uncertain, not where a cell is sampled point by point. The published model
    errors already hold the scatter from place to place.

    References
    ----------
    .. [1] ITU-R P.1812-8 §4.8.
    """
    if not width_m > 0.0:
        raise OutOfRangeError(f"width of the area {width_m!r} m: accepted above 0 m")
    above_m = min(max(height_m - clutter_m, 0.0), 10.0)
    return (0.52 + 0.024 * frequency_mhz / 1e3) * math.pow(width_m, 0.28) * (1.0 - above_m / 10.0)


def _normal_deviate(share: float) -> float:
    """Deviate below which a share of the normal distribution lies, by Newton's method from the middle."""
    deviate = 0.0
    for _ in range(60):
        cumulative = 0.5 * math.erfc(-deviate / math.sqrt(2.0))
        step = (cumulative - share) / (math.exp(-0.5 * deviate * deviate) / math.sqrt(2.0 * math.pi))
        deviate -= step
        if abs(step) < 1e-12:
            break
    return deviate


def time_spread(losses_db: Mapping[float, float], median_db: float | None = None) -> TimeSpread:
    """Two-sided distribution of the loss in time, made ready for the integral.

    Parameters
    ----------
    losses_db : mapping of float to float
        Loss not exceeded for a percentage of the time [%: dB]; may be empty.
    median_db : float, optional
        Loss not exceeded for half of the time, where ``losses_db`` has no figure at 50 % [dB].

    Returns
    -------
    TimeSpread
        Nodes and weights.

    Raises
    ------
    OutOfRangeError
        For a percentage not between 0 and 100, or a loss that is no number.

    Notes
    -----
    Between the given percentages the loss is linear in the normal deviate; beyond the outermost two the line
    goes on. A quantile cannot fall with its percentage: where the figures of a method do, they are levelled
    outward from the median, which stays: what is lost above it counts whatever stands below.
    The percentages are shares of an average year.
    """
    points = dict(losses_db)
    if median_db is not None:
        points.setdefault(50.0, median_db)
    for percent, loss_db in points.items():
        if not (0.0 < percent < 100.0 and math.isfinite(loss_db)):
            raise OutOfRangeError(
                f"loss of {loss_db!r} dB for {percent!r} % of the time: accepted above 0, below 100 %"
            )
    if len(points) < 2:
        return TimeSpread()
    if 50.0 not in points:
        raise OutOfRangeError(f"losses for {sorted(points)} % of the time: the figure for 50 % is needed")
    percents = sorted(points)
    deviates = [_normal_deviate(percent / 100.0) for percent in percents]
    middle = percents.index(50.0)
    losses = np.array([points[percent] for percent in percents]) - points[50.0]
    losses[middle:] = np.maximum.accumulate(losses[middle:])
    losses[: middle + 1] = np.minimum.accumulate(losses[middle::-1])[::-1]
    slopes = np.diff(losses) / np.diff(deviates)
    edges = np.array([-_DEVIATE_END, *deviates[1:-1], _DEVIATE_END])
    half = np.diff(edges)[:, None] / 2.0
    nodes = edges[:-1, None] + half * (1.0 + _TIME_NODES)
    weight = half * _TIME_WEIGHTS * np.exp(-0.5 * nodes**2)
    above = losses[:-1, None] + slopes[:, None] * (nodes - np.array(deviates[:-1])[:, None])
    return TimeSpread(above.ravel(), (weight / weight.sum()).ravel())


def _below(deviate: NDArray[np.float64]) -> NDArray[np.float64]:
    scaled = (deviate * -math.sqrt(0.5)).ravel().tolist()
    return 0.5 * np.array([math.erfc(x) for x in scaled]).reshape(deviate.shape)


def pair_chances(
    margins_db: Sequence[tuple[float, float]], spread: Spread, time: TimeSpread | None = None
) -> PairChances:
    """Chance of each direction, and of both together, for several pairs of margins at once.

    Parameters
    ----------
    margins_db : sequence of (float, float)
        Margins you → them and them → you, k pairs [dB].
    spread : Spread
        Standard deviations.
    time : TimeSpread, optional
        Spread in time; none without it.

    Returns
    -------
    PairChances
        Arrays of shape (k,).

    Raises
    ------
    OutOfRangeError
        For a margin that is no number.

    Notes
    -----
    For each node in time the joint chance is a bivariate normal probability with correlation
    shared²/(out · back), integrated over the angle of the correlation [1]_. Against independent
    integration the error stays below 1e-8 with 0.3 dB of noise error or more, and below 1e-5 with none.

    References
    ----------
    .. [1] Drezner and Wesolowsky, J. Statist. Comput. Simul. 35, 1990.
    """
    margins = np.asarray(margins_db, dtype=np.float64).reshape(-1, 2)
    if not np.isfinite(margins).all():
        raise OutOfRangeError(f"margins {margins_db!r} dB: accepted finite numbers")
    time = TimeSpread() if time is None else time
    out_db, back_db = max(spread.out_db, _LEAST_SIGMA_DB), max(spread.back_db, _LEAST_SIGMA_DB)
    # deviates: (k, 2, nodes in time), kept where the normal distribution has not long ended
    scale = np.array([out_db, back_db])[:, None]
    deviates = np.clip((margins[:, :, None] - time.above_median_db) / scale, -37.0, 37.0)
    alone = _below(deviates)
    correlation = min(spread.shared_db**2 / (out_db * back_db), 1.0)
    both = alone[:, 0] * alone[:, 1]
    if correlation > 0.0:
        end = math.asin(correlation)
        angles = 0.5 * end * (1.0 + _ANGLE_NODES)
        h, k = deviates[:, 0, :, None], deviates[:, 1, :, None]
        exponent = (h * h + k * k - 2.0 * h * k * np.sin(angles)) / (-2.0 * np.cos(angles) ** 2)
        both = both + (np.exp(exponent) @ _ANGLE_WEIGHTS) * (0.5 * end / (2.0 * math.pi))
    chances = alone @ time.weight
    joint = np.clip(both @ time.weight, 0.0, np.minimum(chances[:, 0], chances[:, 1]))
    return PairChances(chances[:, 0], chances[:, 1], joint)
