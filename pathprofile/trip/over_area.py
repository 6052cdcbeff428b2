"""A contact worked out from the typical point of an area, told as one with all of it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from pathprofile.link.evaluate import PARTING, parting_note
from pathprofile.propagation.methods import METHOD_NAMES
from pathprofile.reach import Aim
from pathprofile.trip.areas import area_of
from pathprofile.trip.terms import Wanted

if TYPE_CHECKING:
    from pathprofile.contact import Contact, Party
    from pathprofile.link.evaluate import Link, ModeRow, Pair
    from pathprofile.places import Location
    from pathprofile.trip.answer import PairAnswer

__all__ = ["area_note", "over_area"]


def area_note(names: list[str], odds: str) -> str:
    """Say that a place is an area, or both are, and what odds, path and azimuth stand for.

    Parameters
    ----------
    names : list of str
        One or two.
    odds : str
        Over all of it.
    """
    if len(names) == 1:
        return (
            f"{names[0]} is an area, not a point: odds are over all of it ({odds}); path and "
            "changes: its typical point; azimuth and distance: its middle."
        )
    return (
        f"Each of {' and '.join(names)} is an area, not a point: odds are over all of both ({odds}); path "
        "and changes: their typical points; azimuth and distance: their middles."
    )


def over_area(typical: Contact, answer: PairAnswer) -> Contact:
    """Give a contact the odds of the whole area, and its ends the places that were stated.

    Parameters
    ----------
    typical : Contact
        From ``answer.you_at`` to ``answer.them_at``.
    answer : PairAnswer

    Returns
    -------
    Contact
        As it is between two points. With an area its pair, and the second opinion, are those over the area,
        so are those of each mode of ``answer``, its aim is that of the middles, locations are those stated,
        and a doubt says so; margins and path stay those of the typical point.
    """
    if answer.cell is None or answer.pair is None or answer.directions is None:
        return typical
    vague = [
        name
        for name, stated in ((answer.you, answer.you_known), (answer.them, answer.them_known))
        if stated is not None and area_of(stated) is not None
    ]
    ways = answer.directions
    return replace(
        typical,
        you=_stated(typical.you, answer.you_known),
        them=_stated(typical.them, answer.them_known),
        link=_over(typical, answer, answer.pair),
        modes=_modes_over(typical.modes, answer),
        doubts=(area_note(vague, answer.cell.text), *typical.doubts),
        to_middle=Aim(
            ways.distance_m,
            ways.azimuth_deg,
            ways.magnetic_azimuth_deg,
            ways.back_azimuth_deg,
            ways.back_magnetic_azimuth_deg,
        ),
    )


def _stated(party: Party, stated: Location | None) -> Party:
    """Put an area back in the place of its typical point."""
    if stated is None or area_of(stated) is None:
        return party
    return replace(party, location=replace(stated, label=party.location.label))


def _over(typical: Contact, answer: PairAnswer, pair: Pair) -> Link:
    link, loss = typical.link, typical.reach.loss
    notes = [note for note in link.notes if not note.startswith(PARTING)]
    if answer.methods_part and answer.second is not None and answer.apart_db is not None:
        methods = (METHOD_NAMES[loss.primary], METHOD_NAMES[loss.second_opinion or "itm"])
        notes.insert(0, parting_note(pair, answer.second, answer.apart_db, methods, " over the area"))
    return replace(
        link,
        pair=pair,
        second=answer.second,
        disagreement_db=answer.apart_db,
        methods_part=answer.methods_part,
        notes=tuple(notes),
    )


def _modes_over(rows: tuple[ModeRow, ...], answer: PairAnswer) -> tuple[ModeRow, ...]:
    """Give each row the odds of the whole area, where the answer has them; margins stay."""
    known = {odds.wanted: odds for odds in (*answer.beside, *answer.modes)}

    def over(row: ModeRow) -> ModeRow:
        odds = known.get(Wanted(row.frequency_mhz, row.mode))
        if odds is None or row.pair is None:
            return row
        return replace(row, pair=odds.pair, second=odds.second, methods_part=odds.methods_part)

    return tuple(over(row) for row in rows)
