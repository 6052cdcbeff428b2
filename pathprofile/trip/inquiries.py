"""Questions worth mailing before the day: those whose answer would tell good odds from bad ones."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from pathprofile.contact import path_facts
from pathprofile.link.antennas import gain_dbi, pattern_of
from pathprofile.link.evaluate import evaluate

if TYPE_CHECKING:
    from collections.abc import Iterable

    from pathprofile.link.ends import End
    from pathprofile.link.evaluate import Pair
    from pathprofile.trip.links import WantedLink
    from pathprofile.trip.splits import HeightSplit

__all__ = ["Inquiry", "antenna_inquiry", "height_inquiry", "most_decisive", "place_inquiry"]

_SMALL, _LARGE = "quarter-wave whip", "5-element beam"
_NO_VERDICT = 0.5
"""Standard deviation of an answer that may be anything: as good as a coin."""


@dataclass(frozen=True)
class Inquiry:
    """One question to one station, and what either answer would mean.

    Attributes
    ----------
    station : str
        Whom to ask.
    about : {"height", "antenna", "place"}
    text : str
        The question and what follows from the answers.
    decisive : float
        Standard deviation of the chance that the answer explains, 0 to 0.5.
    height_m : float or None
        Of ground, where that is asked [m].
    first, second : Pair or None
        Odds after either answer: below and above; with a small antenna and with a large one.
    seen_from : str
        From which site.
    """

    station: str
    about: Literal["height", "antenna", "place"]
    text: str
    decisive: float
    height_m: float | None = None
    first: Pair | None = None
    second: Pair | None = None
    seen_from: str = ""


def height_inquiry(station: str, split: HeightSplit, seen_from: str = "") -> Inquiry:
    """Ask for the height of the ground, where a station is known by its locator alone."""
    return Inquiry(
        station,
        "height",
        f"Ask {station}: above or below {split.height_m:.0f} m? Below: {split.below.verdict.word}. "
        f"Above: {split.above.verdict.word}.",
        split.decisive,
        split.height_m,
        split.below,
        split.above,
        seen_from,
    )


def place_inquiry(station: str, seen_from: str = "") -> Inquiry:
    """Ask for the place, where it is known too poorly for any verdict."""
    return Inquiry(
        station,
        "place",
        f"Ask {station}: where exactly? Six characters of the locator, or better; now there is no verdict.",
        _NO_VERDICT,
        seen_from=seen_from,
    )


def antenna_inquiry(found: WantedLink, *, theirs: bool, seen_from: str = "") -> Inquiry | None:
    """Ask for the antenna, where nothing is stated and it makes a difference.

    Parameters
    ----------
    found : WantedLink
        The link as it is.
    theirs : bool
        Whether the station asked is TO.
    seen_from : str
        From which site.

    Returns
    -------
    Inquiry or None
        None where an antenna is stated, and where a whip and a five-element beam earn the same verdict.
    """
    end = found.link.them if theirs else found.link.you
    if not any(item.what == "antenna gain" and item.station == end.station for item in found.link.assumed):
        return None
    small, large = (_with_antenna(found, end, kind, theirs=theirs) for kind in (_SMALL, _LARGE))
    if small is None or large is None or small.verdict.word == large.verdict.word:
        return None
    return Inquiry(
        end.station,
        "antenna",
        f"Ask {end.station}: which antenna? A whip: {small.verdict.word}. "
        f"A five-element beam: {large.verdict.word}.",
        0.5 * abs(large.chance - small.chance),
        None,
        small,
        large,
        seen_from,
    )


def most_decisive(inquiries: Iterable[tuple[float, Inquiry]], count: int = 3) -> tuple[Inquiry, ...]:
    """Questions whose answers tell most, one a station.

    Parameters
    ----------
    inquiries : iterable of (float, Inquiry)
        Weight of the station, and the question.
    count : int
        How many at most.

    Returns
    -------
    tuple of Inquiry
        By weight times `Inquiry.decisive`; of equals by name.
    """
    ordered = sorted(
        ((weight * each.decisive, each) for weight, each in inquiries),
        key=lambda pair: (-pair[0], pair[1].station, pair[1].about, pair[1].seen_from),
    )
    by_station: dict[str, Inquiry] = {}
    for value, each in ordered:
        if value > 0.0:
            by_station.setdefault(each.station, each)
    return tuple(by_station.values())[:count]


def _with_antenna(found: WantedLink, end: End, kind: str, *, theirs: bool) -> Pair | None:
    gain = gain_dbi(kind, end.band)
    if gain is None:
        return None
    mounting: Literal["vertical", "horizontal"] = (
        "horizontal" if end.polarization == "horizontal" else "vertical"
    )
    other = replace(
        end,
        gain_dbi=gain,
        antenna=kind,
        pattern=pattern_of(gain, kind=kind, mounting=mounting),
        pointing_deg=None,
    )
    ends = (found.link.you, other) if theirs else (other, found.link.them)
    return evaluate(*ends, path_facts(found.reach), spread=found.link.spread).pair
