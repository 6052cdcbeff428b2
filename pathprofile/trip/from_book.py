"""From the models of a book to the parties and terms that pairs are answered with."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from pathprofile.contact import Party
from pathprofile.trip.terms import Terms, wanted_modes

if TYPE_CHECKING:
    import datetime as dt

    from pathprofile.trip.book import Book, ListedStation, Site
    from pathprofile.trip.terms import Wanted

__all__ = ["site_party", "station_party", "terms_of"]

_USUAL_BANDS = ("2 m",)


def site_party(book: Book, site: Site | str) -> Party:
    """You at a site, with the set-ups and heights that hold there; the country round it is open.

    Raises
    ------
    StationError
        When the book has no site of that name.
    """
    site = book.site(site) if isinstance(site, str) else site
    return Party(book.operator_at(site), site.location(), "open")


def station_party(book: Book, station: ListedStation | str) -> Party:
    """Station of a book at its place; where nothing is said, it stands in a suburb.

    Raises
    ------
    StationError
        When the book has no station of that name.
    """
    station = book.station(station) if isinstance(station, str) else station
    return Party(station, replace(station.location(), label=station.name), "suburb")


def terms_of(book: Book, *, date: dt.date, wanted: tuple[Wanted, ...] = ()) -> Terms:
    """Terms of a book: its bands and modes, its weights, the heights of ground it states.

    Parameters
    ----------
    book : Book
    date : datetime.date
        The day of the contact; that of the book is for the caller to choose.
    wanted : tuple of Wanted, optional
        In place of the book's. Without either, what is customary on 2 m.

    Returns
    -------
    Terms
        Replace ``atmosphere``, ``options`` and the like by `dataclasses.replace`.
    """
    return Terms(
        date=date,
        wanted=wanted or wanted_modes(book.trip.bands or _USUAL_BANDS, book.trip.modes),
        weights={station.name: book.weight(station.name) for station in book.stations}
        if book.trip.weights
        else {},
        ground_m={site.name: site.ground_m for site in book.sites if site.ground_m is not None},
    )
