"""One day at one site: every contact in full, what could help, who could relay, and the sheet of it all."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from pathprofile.changes import NOT_CHECKED, Changes, what_would_change
from pathprofile.changes.ranking import compass_word
from pathprofile.contact import Contact, Party, contact
from pathprofile.trip.from_book import site_party, station_party
from pathprofile.trip.links import options_for
from pathprofile.trip.over_area import over_area
from pathprofile.trip.ranking import Ranking, rank
from pathprofile.trip.relays import best_relays
from pathprofile.trip.sheet import Move, RelayPlan, Sheet, build_sheet, landmarks_in_sight

if TYPE_CHECKING:
    from pathprofile.terrain.store import TerrainStore
    from pathprofile.trip.answer import PairAnswer
    from pathprofile.trip.book import Book
    from pathprofile.trip.pairs import Progress
    from pathprofile.trip.sheet_order import Order
    from pathprofile.trip.terms import Terms

__all__ = ["Day", "plan_day"]

_MOST_CALLS = 12
_MOST_MOVES = 3
_WORTH_A_WALK_DB = 1.0


@dataclass(frozen=True)
class Day:
    """A day worked out.

    Attributes
    ----------
    sheet : Sheet
    contacts : tuple of Contact
        Those on the sheet; what a prediction is saved from.
    ranking : Ranking
    """

    sheet: Sheet
    contacts: tuple[Contact, ...]
    ranking: Ranking


def plan_day(
    book: Book,
    site: str,
    terrain: TerrainStore,
    terms: Terms,
    *,
    order: Order = "sweep",
    book_digest: str | None = None,
    workers: int = 1,
    progress: Progress | None = None,
) -> Day:
    """Work out a day at a site of the book.

    Parameters
    ----------
    book : Book
    site : str
        Name of a site.
    terrain : TerrainStore
    terms : Terms
    order : {"sweep", "odds"}
        Order of calls.
    book_digest : str, optional
        Fingerprint of the book.
    workers : int
        Processes for the ranking.
    progress : callable, optional

    Returns
    -------
    Day
        Up to twelve wanted stations with a verdict, likeliest first, are called; the others are next best. A
        station known by a locator has the odds of its whole cell; its path, margins and what could help are
        those of the typical point.

    Raises
    ------
    StationError
        When the book has no such site, or nobody can be called from it.
    """
    you = site_party(book, site)
    stations = {party.station.name: party for party in (station_party(book, each) for each in book.stations)}
    ranking = rank(you, tuple(stations.values()), terrain, terms, workers=workers, progress=progress)
    answered = [row for row in ranking.rows if row.pair is not None and row.mode is not None]
    wanted = [row for row in answered if terms.weight(row.them) > 0.0]
    worth = [row for row in wanted if row.verdict is not None and row.verdict.word != "unlikely"]
    called = (worth or wanted)[:_MOST_CALLS]
    others = [row for row in answered if row not in called]
    typical = [_contact(you, stations[row.them], row, terrain, terms) for row in called]
    changes = {found.them.station.name: what_would_change(found, terrain) for found in typical}
    contacts = tuple(over_area(found, row) for found, row in zip(typical, called, strict=True))
    alternatives = [over_area(_contact(you, stations[row.them], row, terrain, terms), row) for row in others]
    relays = best_relays(you, tuple(stations.values()), ranking.rows, terrain, terms)
    location = replace(you.location, label=site)
    sheet = build_sheet(
        location,
        contacts,
        date=terms.date,
        time_zone=book.trip.time_zone,
        order=order,
        alternatives=alternatives,
        moves=_moves(contacts, changes),
        relays=[RelayPlan(relay.to, relay.via, relay.pair.chance, relay.weaker_hop) for relay in relays],
        landmarks=landmarks_in_sight(
            location, [landmark.location() for landmark in book.landmarks], terrain, date=terms.date
        ),
        changes=changes,
        areas={row.them: row.cell for row in called if row.cell is not None},
        left_out=[
            (row.them, row.reason.removeprefix(f"{row.them}: ")) for row in ranking.rows if row.pair is None
        ],
        book_digest=book_digest,
    )
    return Day(sheet, contacts, ranking)


def _contact(you: Party, them: Party, row: PairAnswer, terrain: TerrainStore, terms: Terms) -> Contact:
    """Everything about one pair in the mode chosen; within a cell, at its typical point."""
    if row.mode is None:
        raise ValueError(f"{row.them} has no mode")
    at = replace(row.them_at, label=them.station.name)
    return contact(
        you,
        replace(them, location=at),
        terrain,
        date=terms.date,
        frequency_mhz=row.mode.frequency_mhz,
        mode=row.mode.mode,
        atmosphere=terms.atmosphere,
        surroundings=terms.surroundings,
        options=options_for(you, them, terms),
        spread=terms.spread,
    )


def _moves(contacts: tuple[Contact, ...], changes: dict[str, Changes]) -> list[Move]:
    """Better spots for the hardest contacts, the most helpful first; none for a contact that is solid."""
    chance = {
        each.them.station.name: each.link.pair.chance
        for each in contacts
        if each.link.pair.verdict.word != "solid"
    }
    found = [
        Move(
            f"{spot.distance_m:.0f} m {compass_word(spot.azimuth_deg)}",
            spot.latitude_deg,
            spot.longitude_deg,
            name,
            spot.gain_db,
            None,
            NOT_CHECKED,
        )
        for name in chance
        for spot in changes[name].spots[:1]
        if spot.gain_db >= _WORTH_A_WALK_DB
    ]
    return sorted(found, key=lambda move: (chance[move.station], -(move.gain_db or 0.0)))[:_MOST_MOVES]
