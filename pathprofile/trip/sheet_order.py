"""In which order to call, and why.

One easy station first, to prove that the own station works; then one polarization after the other, because
turning it means lowering the mast; in each the least number of azimuth sweeps that meets the listening hours;
hard ones last.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple

from pathprofile.link.words import MARGINAL_FROM, WORKABLE_FROM

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["EASY_FROM", "Order", "Placed", "ToCall", "call_order"]

Order = Literal["sweep", "odds"]
EASY_FROM = 0.9
"""A chance from which a station proves something when it is not heard."""
_LAST_MIN = 48 * 60


@dataclass(frozen=True, slots=True)
class ToCall:
    """What the order asks of a contact; windows are (start, end) in minutes after local midnight.

    ``second_chance`` is that of the second opinion, stated only where the methods part by more than 15 dB.
    """

    chance: float
    azimuth_deg: float
    polarization: str
    receive_only: bool = False
    windows: tuple[tuple[int, int], ...] = ()
    second_chance: float | None = None

    @property
    def sure(self) -> float:
        """Chance that both methods grant."""
        return self.chance if self.second_chance is None else min(self.chance, self.second_chance)


@dataclass(frozen=True, slots=True)
class Placed:
    """One place in the order: which contact, in which part, and why there.

    Attributes
    ----------
    index : int
        Of the contact as given.
    part : {"prove", "sweep", "hard", "odds"}
    sweep : int
        Number of the sweep within its polarization, from 0.
    turning : {"", "clockwise", "anticlockwise"}
        Which way the beam goes in that sweep; empty where it need not turn.
    together_min : (int, int), optional
        When all of that sweep listen, in minutes after local midnight; None where no hours are stated.
    """

    index: int
    part: Literal["prove", "sweep", "hard", "odds"]
    sweep: int = 0
    turning: Literal["", "clockwise", "anticlockwise"] = ""
    together_min: tuple[int, int] | None = None


class _Round(NamedTuple):
    """One sweep: its members, and when all of them listen."""

    together_min: tuple[int, int] | None
    members: list[int]


def call_order(calls: Sequence[ToCall], order: Order = "sweep") -> tuple[tuple[Placed, ...], str]:
    """Put contacts into the order to call.

    Parameters
    ----------
    calls : sequence of ToCall
        At least one.
    order : {"sweep", "odds"}
        "odds" gives the strongest first, whatever it takes to turn.

    Returns
    -------
    placed : tuple of Placed
        Every contact once.
    reason : str
        The order in one sentence.
    """
    everyone = range(len(calls))
    if order == "odds":
        ranked = sorted(everyone, key=lambda i: (-calls[i].chance, i))
        return tuple(Placed(i, "odds") for i in ranked), "Strongest first, whatever must be turned."
    first = min(everyone, key=lambda i: _proof_key(calls[i], i))
    placed = [Placed(first, "prove")]
    heading = calls[first].azimuth_deg
    rest = [i for i in everyone if i != first]
    others = sorted({calls[i].polarization for i in rest} - {calls[first].polarization})
    others.sort(key=lambda name: min(_closing(calls[i]) for i in rest if calls[i].polarization == name))
    most_rounds = 1
    for name in (calls[first].polarization, *others):
        group = [i for i in rest if calls[i].polarization == name]
        easy = [i for i in group if calls[i].chance >= MARGINAL_FROM]
        rounds = _rounds(calls, easy)
        most_rounds = max(most_rounds, len(rounds))
        for number, (together, members) in enumerate(rounds):
            turned, turning = _turned(calls, members, heading)
            placed.extend(Placed(i, "sweep", number, turning, together) for i in turned)
            heading = calls[turned[-1]].azimuth_deg
        hard = sorted((i for i in group if i not in easy), key=lambda i: (-calls[i].chance, i))
        placed.extend(Placed(i, "hard") for i in hard)
    parts = [place.part for place in placed]
    return tuple(placed), _reason(calls, first, parts, turns=len(others), rounds=most_rounds)


def _turned(
    calls: Sequence[ToCall], members: list[int], heading: float
) -> tuple[list[int], Literal["", "clockwise", "anticlockwise"]]:
    """Order one sweep by azimuth: it leaves out the widest gap and begins at its nearer end."""
    ring = sorted(members, key=lambda i: (calls[i].azimuth_deg, i))
    if len(ring) == 1:
        return ring, ""
    gaps = [
        (calls[i].azimuth_deg - calls[ring[place - 1]].azimuth_deg) % 360.0 for place, i in enumerate(ring)
    ]
    begin = gaps.index(max(gaps))
    arc = ring[begin:] + ring[:begin]
    if _apart_deg(heading, calls[arc[0]].azimuth_deg) <= _apart_deg(heading, calls[arc[-1]].azimuth_deg):
        return arc, "clockwise"
    return arc[::-1], "anticlockwise"


def _apart_deg(one: float, other: float) -> float:
    return abs((one - other + 180.0) % 360.0 - 180.0)


def _proof_key(call: ToCall, index: int) -> tuple[int, int, int, float, int]:
    """Easy before hard, beacons before stations that must listen, no hours before hours, then the best.

    Where the methods part, silence may be the path's: such a station only where no other is workable.
    """
    if call.sure < WORKABLE_FROM:
        step = 3
    elif call.second_chance is not None:
        step = 2
    else:
        step = 0 if call.chance >= EASY_FROM else 1
    if step == 3:  # nothing is easy: the best there is
        return step, 0, 0, -call.sure, index
    return step, not call.receive_only, bool(call.windows), -call.sure, index


def _closing(call: ToCall) -> int:
    return min((end for _, end in call.windows), default=_LAST_MIN)


def _rounds(calls: Sequence[ToCall], group: list[int]) -> list[_Round]:
    """Few sweeps that meet the hours, by time; those without hours join the first.

    Each sweep takes the closing hour at which most of the rest listen, the earliest of equals.
    """
    timed = [i for i in group if calls[i].windows]
    free = [i for i in group if not calls[i].windows]
    closings = sorted({end for i in timed for _, end in calls[i].windows})
    found: list[tuple[int, list[int]]] = []
    while timed:
        at = max(closings, key=lambda at: (sum(_open_at(calls[i], at) is not None for i in timed), -at))
        found.append((at, [i for i in timed if _open_at(calls[i], at)]))
        timed = [i for i in timed if not _open_at(calls[i], at)]
    rounds = []
    for at, members in sorted(found):
        open_min = [window for i in members if (window := _open_at(calls[i], at))]
        rounds.append(_Round((max(start for start, _ in open_min), at), members))
    if free:
        first = rounds[0] if rounds else _Round(None, [])
        rounds[:1] = [_Round(first.together_min, free + first.members)]
    return rounds


def _open_at(call: ToCall, at: int) -> tuple[int, int] | None:
    return next((window for window in call.windows if window[0] < at <= window[1]), None)


def _reason(calls: Sequence[ToCall], first: int, parts: Sequence[str], *, turns: int, rounds: int) -> str:
    if calls[first].sure < WORKABLE_FROM:
        text = "First the best there is, for none is easy"
        if any(call.chance >= WORKABLE_FROM for call in calls):
            text += " by both methods"
    elif calls[first].receive_only:
        text = "First a beacon that proves antenna, line and receiver"
    else:
        text = "First an easy call that proves the station"
    if len(parts) == 1:
        return f"{text}."
    if turns:
        text += "; then one polarization after the other, for each turn lowers the mast"
    if "sweep" in parts:
        text += "; one turn of the beam within the listening hours"
        if rounds > 1:
            text += ", another where they do not meet"
    return f"{text}; hard ones last." if "hard" in parts else f"{text}."
