"""Chances and budgets in an operator's words."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

if TYPE_CHECKING:
    from pathprofile.link.ends import End
    from pathprofile.link.evaluate import Direction

__all__ = ["Verdict", "VerdictWord", "both_verdicts", "odds_text", "verdict", "who_hears_whom"]

VerdictWord = Literal["solid", "workable", "marginal", "unlikely"]
SOLID_FROM: Final = 0.9
WORKABLE_FROM: Final = 0.7
MARGINAL_FROM: Final = 0.3
ALIKE_DB: Final = 1.5  # below it neither direction is called the weaker; above it a reason of 0.5 dB exists
HOME_NOISE: Final = frozenset({"city", "residential"})


@dataclass(frozen=True, slots=True)
class Verdict:
    """A word and the chance of just readable copy both ways."""

    word: VerdictWord
    chance: float

    @property
    def text(self) -> str:
        """Word and odds, never one without the other."""
        return f"{self.word}, {odds_text(self.chance)}"


def odds_text(chance: float) -> str:
    """Odds in tenths, finer at both ends: "about 6 in 10", "over 19 in 20", "below 1 in 20"."""
    if chance < 0.05:
        return "below 1 in 20"
    if chance >= 0.95:
        return "over 19 in 20"
    tenths = min(max(round(chance * 10), 1), 9)
    # a limit of the verdicts that is not reached must not read as reached
    short = any(tenths == round(limit * 10) and chance < limit for limit in (MARGINAL_FROM, WORKABLE_FROM))
    return f"{'nearly' if short else 'about'} {tenths} in 10"


def verdict(readable: float, comfortable: float, *, may_be_solid: bool = True) -> Verdict:
    """Verdict from the chances of the pair.

    Parameters
    ----------
    readable, comfortable : float
        Chance of just readable and of comfortable copy both ways, 0 to 1.
    may_be_solid : bool
        False where the second opinion parts from the best estimate and does not say solid too.

    Returns
    -------
    Verdict
        solid from 0.9 of comfortable copy; workable from 0.7, marginal from 0.3 of just readable copy.
    """
    if comfortable >= SOLID_FROM and may_be_solid:
        return Verdict("solid", readable)
    if readable >= WORKABLE_FROM:
        return Verdict("workable", readable)
    return Verdict("marginal" if readable >= MARGINAL_FROM else "unlikely", readable)


def both_verdicts(first: Verdict, second: Verdict, apart_db: float) -> str:
    """Two verdicts side by side, where two methods part so far that either may hold.

    Parameters
    ----------
    first, second : Verdict
        By the best estimate, and by the second opinion.
    apart_db : float
        How far the methods part; its sign is of no account [dB].

    Returns
    -------
    str
        "workable or unlikely: about 9 in 10 or below 1 in 20 (methods part by 38 dB)"; what both share stands
        once.
    """
    words, odds = (
        " or ".join(dict.fromkeys(pair))
        for pair in ((first.word, second.word), (odds_text(first.chance), odds_text(second.chance)))
    )
    return f"{words}: {odds} (methods part by {abs(apart_db):.0f} dB)"


def who_hears_whom(out: Direction | None, back: Direction | None, you: End, them: End) -> str:
    """Sentences that say who hears whom, and why one direction is the weaker.

    Parameters
    ----------
    out, back : Direction or None
        You → them, and them → you; None where that direction is not worked.
    you, them : End
        Both ends.

    Returns
    -------
    str
        One or two sentences.

    Notes
    -----
    Path, antennas and feedlines count alike both ways, so the difference of the two margins is that of the
    powers plus that of the noises: the reasons add up to it.
    """
    name = them.station
    if out is None or back is None:
        if back is not None:
            return f"You {_hears(back, name)}; {name} does not answer."
        return f"{name} {_hears(out, 'you')}; you do not answer." if out is not None else ""
    ahead_db = back.budget.margin_db - out.budget.margin_db
    if abs(ahead_db) < ALIKE_DB:
        weaker = out if ahead_db > 0 else back
        return f"You and {name} {_hears(weaker, 'each other')}; both directions are alike."
    noise_db = out.budget.noise_dbm - back.budget.noise_dbm
    together = _hears(out, "each other")
    if ahead_db > 0:
        why = _why(you, them, "your", "their", noise_db)
        if together == _hears(back, "each other"):
            return f"You and {name} {together}. They hear you {ahead_db:.0f} dB less well: {why}."
        return f"You {_hears(back, name)}. They {_hears(out, 'you')}: {why}."
    why = _why(them, you, "their", "your", -noise_db)
    if together == _hears(back, "each other"):
        return f"You and {name} {together}. You hear them {-ahead_db:.0f} dB less well: {why}."
    return f"They {_hears(out, 'you')}. You {_hears(back, name)}: {why}."


def _hears(direction: Direction, whom: str) -> str:
    if direction.comfortable_chance >= WORKABLE_FROM:
        return f"will hear {whom} well"
    if direction.chance >= WORKABLE_FROM:
        return f"should just hear {whom}"
    return f"may not hear {whom}" if direction.chance >= MARGINAL_FROM else f"are unlikely to hear {whom}"


def _why(sender: End, listener: End, his: str, other: str, noise_db: float) -> str:
    """Say why the direction from ``sender`` to ``listener`` is the weaker: what helps it comes last."""
    power_db = 10.0 * math.log10(listener.power_w / sender.power_w)
    parts = []
    if abs(power_db) >= 0.5:
        phrase = (
            f"{his} {sender.power_w:g} W against {other} {listener.power_w:g} W is {abs(power_db):.0f} dB"
        )
        parts.append((power_db, phrase if power_db > 0 else f"{phrase} the other way"))
    if abs(noise_db) >= 0.5:
        noise = "home noise" if listener.noise.category in HOME_NOISE else "noise"
        cost = f"costs {noise_db:.0f} dB more" if noise_db > 0 else f"is {-noise_db:.0f} dB lower"
        parts.append((noise_db, f"{other} {noise} {cost}"))
    parts.sort(key=lambda part: -part[0])
    if len(parts) == 1:
        return parts[0][1]
    return parts[0][1] + (", and " if parts[1][0] > 0 else ", though ") + parts[1][1]
