"""A contact worked out from the typical point of an area, told as one with all of it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from pathprofile.trip.areas import area_of

if TYPE_CHECKING:
    from pathprofile.contact import Contact
    from pathprofile.trip.answer import PairAnswer

__all__ = ["area_note", "over_area"]


def area_note(name: str, odds: str) -> str:
    """Say that a place is an area, and what the odds and the path stand for."""
    return (
        f"{name} is an area, not a point: odds are over all of it ({odds}); the path is that from its "
        "typical point."
    )


def over_area(typical: Contact, answer: PairAnswer) -> Contact:
    """Give a contact the odds of the whole area, and its far end the place that was stated.

    Parameters
    ----------
    typical : Contact
        From ``answer.you_at`` to ``answer.them_at``.
    answer : PairAnswer

    Returns
    -------
    Contact
        As it is between two points. With an area its pair is that over the area, ``them.location`` is the
        area, and a doubt says so; margins and path stay those of the typical point.
    """
    if answer.cell is None or answer.pair is None:
        return typical
    stated = answer.them_known
    vague = answer.them if stated is not None and area_of(stated) is not None else answer.you
    found = replace(
        typical,
        link=replace(typical.link, pair=answer.pair),
        doubts=(area_note(vague, answer.cell.text), *typical.doubts),
    )
    if stated is None or vague != answer.them:
        return found
    label = typical.them.location.label
    return replace(found, them=replace(found.them, location=replace(stated, label=label)))
