"""Who talks to whom: names from the trip book, or places as typed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import typer

from pathprofile.cli.asked import station_of
from pathprofile.cli.width import shown
from pathprofile.contact import Party, mode_for
from pathprofile.errors import LocationError, StationError
from pathprofile.places import parse_location

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from pathprofile.link.ends import SurroundingsName
    from pathprofile.places import Location
    from pathprofile.station import Station
    from pathprofile.trip.book import Book

__all__ = ["Parties", "book_in_use", "parties", "party_named", "placed_stations", "site_and_stranger"]

_A_POINT_M = 10_000.0


@dataclass(frozen=True)
class Parties:
    """Both sides, what the book says of the ground under them, and its elevation folders."""

    you: Party
    them: Party
    ground_m: tuple[float | None, float | None]
    dem: Sequence[str]


def book_in_use(given: str | None, *, quiet: bool = False) -> Book | None:
    """Book that was named, else one in the current folder, which is then said on standard error."""
    from pathlib import Path

    from pathprofile.trip import find_book

    try:
        path: Path | None = Path(given) if given is not None else find_book()
    except StationError as several:
        typer.echo(shown(f"no book used: {several} with --book"), err=True)
        return None
    if path is None:
        return None
    if given is None and not quiet:
        typer.echo(shown(f"book: {path}"), err=True)
    from pathprofile.trip import read_book  # slow to load, so only where there is a book

    return read_book(path)


def parties(
    from_place: str,
    to_place: str,
    book: Book | None,
    frequency_mhz: float,
    *,
    mode: str | None = None,
    polarization: str | None,
    heights: tuple[str | None, str | None],
    powers: tuple[str | None, str | None],
    antennas: tuple[str | None, str | None],
    feedlines: tuple[str | None, str | None],
    noises: tuple[str | None, str | None],
    mast_limit_m: float | None = None,
) -> Parties:
    """Both sides of a contact: what the book says, and what the command line says on top of it.

    ``mast_limit_m``, where it is stated, lifts lower limits of the book.
    """
    known = [party_named(from_place, book, "open"), party_named(to_place, book, "suburb")]
    mode = mode or mode_for(known[0][0], known[1][0], frequency_mhz)
    sides, grounds = [], []
    for index, (named, ground_m) in enumerate(known):
        station = station_of(
            named.station,
            frequency_mhz,
            mode=mode,
            height=heights[index],
            power=powers[index],
            antenna=antennas[index],
            feedline=feedlines[index],
            noise=noises[index],
            polarization=polarization,
            mast_limit_m=mast_limit_m,
            lifts="--mast-limit",
        )
        sides.append(Party(station, named.location, named.unstated))
        grounds.append(ground_m)
    folders = [str(folder) for folder in book.tile_folders()] if book is not None else []
    return Parties(sides[0], sides[1], (grounds[0], grounds[1]), folders)


def site_and_stranger(
    site: str,
    book: Book | None,
    frequency_mhz: float,
    *,
    mode: str | None = None,
    polarization: str | None,
    heights: tuple[str | None, str | None],
    powers: tuple[str | None, str | None],
    antennas: tuple[str | None, str | None],
    feedlines: tuple[str | None, str | None],
    noises: tuple[str | None, str | None],
) -> tuple[Party, Party, float | None]:
    """You at a site, a station as described that could be anywhere round it, and the site's stated ground."""
    from pathprofile.station import Station

    you, ground_m = party_named(site, book, "open")
    them = Party(Station(name="a station there", place=you.station.place), you.location, "suburb")
    sides = [
        Party(
            station_of(
                party.station,
                frequency_mhz,
                mode=mode,
                height=heights[index],
                power=powers[index],
                antenna=antennas[index],
                feedline=feedlines[index],
                noise=noises[index],
                polarization=polarization,
            ),
            party.location,
            party.unstated,
        )
        for index, party in enumerate((you, them))
    ]
    return sides[0], sides[1], ground_m


def placed_stations(book: Book) -> list[Location]:
    """Stations that a map can show as a point; those known by a coarse locator are left out."""
    places = [replace(station.location(), label=station.name) for station in book.stations]
    return [place for place in places if place.uncertainty_m < _A_POINT_M]


def party_named(text: str, book: Book | None, unstated: SurroundingsName) -> tuple[Party, float | None]:
    """One side by its name in the book, else by its place; and the ground height that the book states."""
    from pathprofile.station import Station

    if book is not None:
        site = next((each for each in book.sites if each.name.casefold() == text.casefold()), None)
        if site is not None:
            return Party(book.operator_at(site), site.location(), "open"), site.ground_m
        station: Station | None = next(
            (each for each in book.stations if each.name.casefold() == text.casefold()), None
        )
        if station is not None:
            location = parse_location(station.place, label=station.name)
            return Party(station, location, "suburb"), None
    try:
        location = parse_location(text)
    except LocationError as error:
        if book is None or any(letter.isdigit() for letter in text):
            raise
        from pathprofile.trip.names import did_you_mean

        known = [site.name for site in book.sites] + [station.name for station in book.stations]
        raise LocationError(
            f"{text!r} is neither a place nor a name in the book; {did_you_mean(text, known)}"
        ) from error
    name = " ".join((location.label or location.text).split()) or text.strip()
    return Party(Station(name=name[:80], place=text[:200]), location, unstated), None
