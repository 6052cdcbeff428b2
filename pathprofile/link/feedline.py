"""Loss of coaxial lines: a two-term fit through the tabulated figures, connectors and adapters counted.

References
----------
.. [1] The sources of each cable stand beside its figures in `pathprofile.station.catalogue`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from pathprofile.errors import OutOfRangeError, StationError
from pathprofile.station.catalogue import CABLES, HIGHEST_MHZ, LOWEST_MHZ, cable_name

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["CableFit", "LineLoss", "cable_fit", "connector_loss_db", "line_loss"]

# Cautious figures of the training guide, appendix H: one connector or adapter.
_CONNECTOR_DB: Final = {150.0: 0.25, 450.0: 0.50}


@dataclass(frozen=True, slots=True)
class CableFit:
    """Matched loss ``k1 * sqrt(f) + k2 * f`` in dB per 100 m, f in MHz.

    Neither term is negative. ``worst_error`` is the largest relative error against the tabulated figures,
    which span ``tabulated_mhz``.
    """

    k1: float
    k2: float
    worst_error: float
    tabulated_mhz: tuple[float, float]

    def loss_db_per_100m(self, frequency_mhz: float) -> float:
        """Return the matched loss at a frequency [dB per 100 m]."""
        return self.k1 * math.sqrt(frequency_mhz) + self.k2 * frequency_mhz


@dataclass(frozen=True, slots=True)
class LineLoss:
    """Loss of a whole line, with the part of the cable and of what is screwed to it."""

    loss_db: float
    cable_db: float
    connectors_db: float
    source: str
    extrapolated: bool = False


def _fit(table: Mapping[float, float]) -> CableFit:
    points = sorted(table.items())
    roots = [math.sqrt(f) for f, _ in points]
    (f1, loss1), (f2, loss2) = points[:2]
    error = 0.0
    if len(points) == 3:
        # Best fit in the greatest relative error: the three errors are equal with alternating signs. The
        # weights are orthogonal to both terms of the fit, so only the tabulated losses and the error remain.
        f3, loss3 = points[2]
        weights = (
            roots[1] * f3 - roots[2] * f2,
            roots[2] * f1 - roots[0] * f3,
            roots[0] * f2 - roots[1] * f1,
        )
        terms = [w * loss for w, loss in zip(weights, (loss1, loss2, loss3), strict=True)]
        error = -sum(terms) / (terms[0] - terms[1] + terms[2])
        loss1, loss2 = loss1 * (1 + error), loss2 * (1 - error)
    determinant = roots[0] * f2 - roots[1] * f1
    k1 = (loss1 * f2 - loss2 * f1) / determinant
    k2 = (roots[0] * loss2 - roots[1] * loss1) / determinant
    if k2 < 0.0:  # no dielectric gives power back: the best fit of the conductor's term alone
        ratios = [root / loss for root, (_, loss) in zip(roots, points, strict=True)]
        k1, k2 = 2.0 / (max(ratios) + min(ratios)), 0.0
        error = (max(ratios) - min(ratios)) / (max(ratios) + min(ratios))
    return CableFit(k1, k2, abs(error), (points[0][0], points[-1][0]))


def cable_fit(cable: str) -> CableFit:
    """Fit of one cable of the catalogue.

    Parameters
    ----------
    cable : str
        Name of the cable; spaces, hyphens and case do not matter.

    Returns
    -------
    CableFit
        Minimax fit in relative error through three figures, exact through two where both terms can be
        positive; a cable known at one
        frequency has the shape of a relative, scaled to that figure.

    Raises
    ------
    StationError
        For an unknown cable; the nearest names are suggested.
    """
    known = CABLES[cable_name(cable)]
    if known.shaped_like is None:
        return _fit(known.loss_db_per_100m)
    shape = _fit(CABLES[known.shaped_like].loss_db_per_100m)
    ((frequency_mhz, loss_db),) = known.loss_db_per_100m.items()
    scale = loss_db / shape.loss_db_per_100m(frequency_mhz)
    return CableFit(shape.k1 * scale, shape.k2 * scale, 0.0, (frequency_mhz, frequency_mhz))


def connector_loss_db(frequency_mhz: float) -> float:
    """Loss of one connector or adapter [dB].

    Notes
    -----
    0.25 dB at 150 MHz and 0.50 dB at 450 MHz, on a power law between and below; above 450 MHz the
    figure is held, since no source gives more.

    References
    ----------
    .. [1] Radio manufacturer's repeater training guide, appendix H (cautious: other practice has 0.1 dB).
    """
    (f1, loss1), (f2, loss2) = _CONNECTOR_DB.items()
    slope = math.log(loss2 / loss1) / math.log(f2 / f1)
    return loss1 * math.pow(min(frequency_mhz, f2) / f1, slope)


def line_loss(cable: str, length_m: float, joints: int, frequency_mhz: float) -> LineLoss:
    """Loss of a matched line with its connectors and adapters.

    Parameters
    ----------
    cable : str
        Name of the cable.
    length_m : float
        Length [m].
    joints : int
        Connectors and adapters, counted together.
    frequency_mhz : float
        Frequency [MHz].

    Returns
    -------
    LineLoss
        Total and parts; ``extrapolated`` outside the cable's tabulated frequencies.

    Raises
    ------
    StationError
        For an unknown cable, a negative length or a negative count.
    OutOfRangeError
        Outside 30 MHz to 3 GHz.

    Notes
    -----
    A mismatch adds to this; a line in the rain, or an old one, as well.
    """
    if not LOWEST_MHZ <= frequency_mhz <= HIGHEST_MHZ:
        raise OutOfRangeError(
            f"feedline at {frequency_mhz:g} MHz: accepted {LOWEST_MHZ:g} to {HIGHEST_MHZ:g} MHz"
        )
    if not length_m >= 0.0 or joints < 0:
        raise StationError(f"feedline of {length_m:g} m with {joints} connectors: neither may be negative")
    fit = cable_fit(cable)
    low_mhz, high_mhz = fit.tabulated_mhz
    extrapolated = not low_mhz <= frequency_mhz <= high_mhz
    cable_db = fit.loss_db_per_100m(frequency_mhz) * length_m / 100.0
    connectors_db = connector_loss_db(frequency_mhz) * joints
    source = CABLES[cable_name(cable)].source
    if extrapolated:
        span = f"{low_mhz:g}" if low_mhz == high_mhz else f"{low_mhz:g} to {high_mhz:g}"
        source += f", extrapolated from {span} MHz"
    return LineLoss(cable_db + connectors_db, cable_db, connectors_db, source, extrapolated)
