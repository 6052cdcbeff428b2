"""Changes ranked: what each gains, whom it helps, and the odds after it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from pathprofile.changes.equipment import Candidate, Helps, equipment_changes
from pathprofile.changes.spots import NOT_CHECKED, Spot, better_spots
from pathprofile.contact import path_facts
from pathprofile.link.evaluate import evaluate

if TYPE_CHECKING:
    from pathprofile.contact import Contact
    from pathprofile.link.words import Verdict
    from pathprofile.terrain.store import TerrainStore

__all__ = ["Change", "Changes", "what_would_change"]

_LEAST_GAIN_DB = 0.5


@dataclass(frozen=True)
class Change:
    """One thing altered.

    Attributes
    ----------
    what : str
    gain_db : float
        What the weaker direction of the pair gains in margin; negative for a mistake to avoid.
    chance : float
        Chance of the pair after it, of just readable copy.
    verdict : Verdict
    helps : {"both ways", "you → them", "them → you"}
    note : str
    keep_m : float, optional
        Distance to keep people from your antenna after it; None for a handheld.
    second_chance : float, optional
        Chance under the second opinion, as ``chance`` is under the best estimate.
    methods_part : bool
        Whether the two lie more than 15 dB apart.
    """

    what: str
    gain_db: float
    chance: float
    verdict: Verdict
    helps: Helps
    note: str
    keep_m: float | None = None
    second_chance: float | None = None
    methods_part: bool = False


@dataclass(frozen=True)
class Changes:
    """All changes, most helpful first, then mistakes to avoid; and what could not be offered.

    ``no_use`` holds the highest mast within the limit where no mast gains half a decibel.
    """

    ranked: tuple[Change, ...]
    mistakes: tuple[Change, ...]
    spots: tuple[Spot, ...]
    notes: tuple[str, ...]
    no_use: tuple[Change, ...] = ()


def what_would_change(contact: Contact, terrain: TerrainStore | None = None) -> Changes:
    """Ask again with one thing altered at a time.

    Parameters
    ----------
    contact : Contact
        The answer as it is.
    terrain : TerrainStore, optional
        Needed to look for better spots.

    Returns
    -------
    Changes
        Ranked by the chance of the pair, then by gain.

    Notes
    -----
    No change exceeds a limit that is stated. Where none is, a mast of 10 m and 50 W are taken (common
    practice).
    """
    candidates = list(equipment_changes(contact))
    spots: tuple[Spot, ...] = ()
    notes: list[str] = []
    if terrain is not None:
        spots, reason = better_spots(contact.reach, terrain)
        if reason is not None:
            notes.append(reason)
        candidates += [
            Candidate(
                f"{spot.distance_m:.0f} m {compass_word(spot.azimuth_deg)}",
                contact.link.you,
                contact.link.them,
                path_facts(spot.reach),
                "both ways",
                NOT_CHECKED,
            )
            for spot in spots
        ]
    changes = [_judged(contact, candidate) for candidate in candidates]
    mistakes = [change for change, candidate in zip(changes, candidates, strict=True) if candidate.mistake]
    helpful = [change for change in changes if change.gain_db >= _LEAST_GAIN_DB]
    masts = [change for change in changes if change.what.startswith("mast ")]
    return Changes(
        ranked=tuple(sorted(helpful, key=lambda change: (-round(change.chance, 2), -change.gain_db))),
        mistakes=tuple(mistakes),
        spots=spots,
        notes=tuple(notes),
        no_use=tuple(masts[-1:]) if not any(mast in helpful for mast in masts) else (),
    )


def compass_word(azimuth_deg: float) -> str:
    """One of eight directions."""
    return ("N", "NE", "E", "SE", "S", "SW", "W", "NW")[round(azimuth_deg / 45.0) % 8]


def _judged(contact: Contact, candidate: Candidate) -> Change:
    before, after = (
        contact.link,
        evaluate(candidate.you, candidate.them, candidate.facts, spread=contact.link.spread),
    )
    gains = [
        new.budget.margin_db - old.budget.margin_db
        for old, new in ((before.out, after.out), (before.back, after.back))
        if old is not None and new is not None
    ]
    margins = [way.budget.margin_db for way in (before.out, before.back) if way is not None]
    gain_db = gains[margins.index(min(margins))] if candidate.helps == "both ways" else max(gains, key=abs)
    return Change(
        candidate.what,
        gain_db,
        after.pair.chance,
        after.pair.verdict,
        candidate.helps,
        candidate.note,
        after.exposure[0].keep_m,
        None if after.second is None else after.second.chance,
        after.methods_part,
    )
