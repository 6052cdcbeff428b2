"""From the loss in a cell to the chance of a contact both ways, and the word for it: tables, looked up.

Power, antennas and noise are the same all over a map, so the margins of both directions follow from one loss,
and the chance of the pair is a curve over it. The curve comes from `pathprofile.link.chance.pair_chances`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from pathprofile.errors import OutOfRangeError
from pathprofile.link.chance import Spread, TimeSpread, pair_chances
from pathprofile.link.words import MARGINAL_FROM, SOLID_FROM, WORKABLE_FROM

if TYPE_CHECKING:
    import numpy.typing as npt

    from pathprofile.link.evaluate import Link

    Floats = npt.NDArray[np.float64]
    Singles = npt.NDArray[np.float32]
    Classes = npt.NDArray[np.uint8]

__all__ = [
    "MARGINAL",
    "SOLID",
    "UNKNOWN",
    "UNLIKELY",
    "WORDS",
    "WORKABLE",
    "Needs",
    "VerdictTable",
    "needs_of",
    "shares",
]

UNKNOWN, UNLIKELY, MARGINAL, WORKABLE, SOLID = range(5)
"""Codes of a map of verdicts; the better, the higher."""
WORDS = ("unknown", "unlikely", "marginal", "workable", "solid")

_STEP_DB = 0.01
_MOST_STEPS = 60_000
_NODES_A_SIGMA = 16.0
_CLOSEST_NODES_DB = 0.02
_NODES_AT_ONCE = 512
_TAIL_SIGMAS = 5.0
_CELLS_AT_ONCE = 500_000


@dataclass(frozen=True)
class Needs:
    """What a contact needs of the path, both ways.

    Attributes
    ----------
    out_loss_db, back_loss_db : float or None
        Greatest loss for just readable copy you → them and them → you [dB]; one is None with a station that
        does not answer.
    comfortable_db : float
        How much less the loss has to be for comfortable copy [dB].
    spread : Spread
        Standard deviations about the prediction.
    time : TimeSpread
        Spread in time, taken alike all over the map.
    """

    out_loss_db: float | None
    back_loss_db: float | None
    comfortable_db: float
    spread: Spread = field(default_factory=Spread)
    time: TimeSpread = field(default_factory=TimeSpread)

    def __post_init__(self) -> None:
        limits = self.limits_db
        if not limits or not np.isfinite(limits).all():
            raise OutOfRangeError(
                f"greatest losses {self.out_loss_db!r} and {self.back_loss_db!r} dB: give a finite number "
                "for one direction at least"
            )
        if not 0.0 <= self.comfortable_db <= 100.0:
            raise OutOfRangeError(f"comfortable copy at {self.comfortable_db!r} dB less loss: give 0 to 100")

    @property
    def limits_db(self) -> tuple[float, ...]:
        """Greatest losses of the directions that are worked [dB]."""
        return tuple(limit for limit in (self.out_loss_db, self.back_loss_db) if limit is not None)

    @property
    def back_ahead_db(self) -> float | None:
        """By how much them → you is the better direction [dB]; None where only one is worked."""
        if self.out_loss_db is None or self.back_loss_db is None:
            return None
        return self.back_loss_db - self.out_loss_db


def needs_of(link: Link, time: TimeSpread | None = None) -> Needs:
    """Needs of a link evaluated for any one loss.

    Parameters
    ----------
    link : Link
        Both ends with their antennas turned to each other, `pathprofile.link.evaluate.evaluate`.
    time : TimeSpread, optional
        Spread in time; none without it.
    """
    budgets = [None if way is None else way.budget for way in (link.out, link.back)]
    out, back = (None if one is None else one.path_loss_db + one.margin_db for one in budgets)
    comfortable_db = max(one.margin_db - one.comfortable_margin_db for one in budgets if one is not None)
    return Needs(out, back, comfortable_db, link.spread, TimeSpread() if time is None else time)


class VerdictTable:
    """Chance of the pair and its verdict against loss, for maps of millions of cells.

    Parameters
    ----------
    needs : Needs
        What the contact needs.

    Notes
    -----
    Against `pathprofile.link.chance.pair_chances` itself a chance is off by 0.005 at most where the spread of
    either direction is 0.5 dB or more; with less, it is that of a loss 0.03 dB off. Verdicts follow
    `pathprofile.link.words.verdict` but for chances that near to its limits. The second opinion of another
    loss method does not enter.
    """

    def __init__(self, needs: Needs) -> None:
        self.needs = needs
        spread, time, limits = needs.spread, needs.time, needs.limits_db
        widest = max(spread.out_db, spread.back_db)
        above = time.above_median_db
        # beyond these losses the chance is 1 or 0
        first = min(limits) - needs.comfortable_db - _TAIL_SIGMAS * widest - float(above.max()) - 0.1
        last = min(limits) + _TAIL_SIGMAS * widest - float(above.min()) + 0.1
        apart = max(min(spread.out_db, spread.back_db) / _NODES_A_SIGMA, _CLOSEST_NODES_DB)
        node_db = np.linspace(first, last, int((last - first) / apart) + 2)
        self._first_db = first
        self._step_db = max(_STEP_DB, (last - first) / _MOST_STEPS)
        loss_db = np.arange(first, last, self._step_db)
        # the last entry of each table is that of cells without a loss
        readable = np.interp(loss_db, node_db, self._exact(node_db))
        comfortable = np.interp(loss_db, node_db, self._exact(node_db + needs.comfortable_db))
        self._readable = np.append(readable, np.nan).astype(np.float32)
        self._comfortable = np.append(comfortable, np.nan).astype(np.float32)
        verdict = UNLIKELY + (readable >= MARGINAL_FROM).astype(np.uint8) + (readable >= WORKABLE_FROM)
        verdict[comfortable >= SOLID_FROM] = SOLID
        self._verdict = np.append(verdict, UNKNOWN).astype(np.uint8)

    def chance(self, loss_db: npt.ArrayLike) -> Singles:
        """Chance of just readable copy both ways, 0 to 1; NaN where there is no loss."""
        return self._look_up(self._readable, loss_db)

    def comfortable_chance(self, loss_db: npt.ArrayLike) -> Singles:
        """Chance of comfortable copy both ways, 0 to 1; NaN where there is no loss."""
        return self._look_up(self._comfortable, loss_db)

    def verdict(self, loss_db: npt.ArrayLike) -> Classes:
        """Code of the verdict, see `WORDS`."""
        return self._look_up(self._verdict, loss_db)

    def _exact(self, loss_db: Floats) -> Floats:
        found = np.empty(loss_db.size)
        needs = self.needs
        for start in range(0, loss_db.size, _NODES_AT_ONCE):
            part = slice(start, start + _NODES_AT_ONCE)
            margins = [(limit - loss_db[part]).tolist() for limit in needs.limits_db]
            pairs = list(zip(margins[0], margins[-1], strict=True))
            chances = pair_chances(pairs, needs.spread, needs.time)
            if needs.back_ahead_db is not None:
                found[part] = chances.both
            else:
                found[part] = chances.back if needs.out_loss_db is None else chances.out
        return found

    def _look_up(self, table: npt.NDArray[Any], loss_db: npt.ArrayLike) -> npt.NDArray[Any]:
        loss = np.asarray(loss_db)
        flat = loss.reshape(-1)
        found = np.empty(flat.size, table.dtype)
        unknown = table.size - 1
        for start in range(0, flat.size, _CELLS_AT_ONCE):
            part = slice(start, start + _CELLS_AT_ONCE)
            place = (flat[part] - np.float32(self._first_db)) * np.float32(1.0 / self._step_db)
            np.clip(place + np.float32(0.5), 0, unknown - 1, out=place)
            place[np.isnan(place)] = unknown
            found[part] = table[place.astype(np.uint16)]
        return found.reshape(loss.shape)


def shares(verdict: Classes) -> dict[str, float]:
    """Share of each word among the cells whose verdict is known, best first; all 0 where none is.

    Parameters
    ----------
    verdict : ndarray of uint8
        Codes, see `WORDS`.
    """
    counts = {WORDS[code]: int(np.count_nonzero(verdict == code)) for code in range(SOLID, UNKNOWN, -1)}
    whole = max(sum(counts.values()), 1)
    return {word: count / whole for word, count in counts.items()}
