"""``pathprofile rank``: from one site every station, or for one station every site, by their odds."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Annotated

import typer

from pathprofile.cli import options
from pathprofile.errors import StationError

if TYPE_CHECKING:
    from pathprofile.contact import Party
    from pathprofile.trip.answer import PairAnswer
    from pathprofile.trip.book import Book
    from pathprofile.trip.cells import CellOdds
    from pathprofile.trip.ranking import Ranking
    from pathprofile.trip.relays import Relay

_INDENT = 11
_WIDTH = 79


def rank(
    name: Annotated[str, typer.Argument(metavar="SITE", help="A site of the book; with --sites a station.")],
    *,
    sites: Annotated[bool, typer.Option("--sites", help="Rank the sites for a station instead.")] = False,
    book: options.Book = None,
    dem: options.Dem = None,
    band: options.BandWanted = None,
    mode: options.ModeWanted = None,
    date: options.Date = None,
    save: options.Save = None,
    charts: options.Charts = None,
    as_csv: options.Csv = False,
    as_json: options.Json = False,
) -> None:
    """Rank every station from a site: odds, distance, azimuths, mode, what limits; and whom to ask what."""
    from pathprofile.cli.asked import open_terrain
    from pathprofile.cli.outing import (
        check_formats,
        check_saves,
        outing,
        pictures_into,
        progress_shown,
        require,
        save_all,
    )
    from pathprofile.trip.from_book import site_party, station_party
    from pathprofile.trip.pairs import workers_for
    from pathprofile.trip.ranking import rank as rank_stations
    from pathprofile.trip.ranking import rank_sites
    from pathprofile.trip.relays import best_relays

    check_saves(save or ())
    check_formats(as_csv=as_csv, as_json=as_json)
    trip = outing(book, date, band, mode)
    require(trip, "site", "station")
    _check_name(name, trip.book, by_site=sites)
    one = station_party(trip.book, name) if sites else site_party(trip.book, name)
    pairs = [(site, one) for site in trip.sites] if sites else [(one, station) for station in trip.stations]
    picture = pictures_into(charts, pairs)
    relays: tuple[Relay, ...] = ()
    with open_terrain(dem or trip.dem) as terrain:
        if sites:
            ranking = rank_sites(
                one,
                trip.sites,
                terrain,
                trip.terms,
                workers=workers_for(),
                progress=progress_shown(),
                picture=picture,
            )
        else:
            ranking = rank_stations(
                one,
                trip.stations,
                terrain,
                trip.terms,
                workers=workers_for(),
                progress=progress_shown(),
                picture=picture,
            )
            relays = best_relays(one, trip.stations, ranking.rows, terrain, trip.terms)
    save_all(save or (), ranking.rows)
    if as_json:
        from pathprofile.export.reach_json import to_json
        from pathprofile.export.trip_json import ranking_document

        typer.echo(to_json(ranking_document(ranking, relays, date=trip.terms.date)))
    elif as_csv:
        from pathprofile.export.tables import station_csv

        typer.echo(station_csv(ranking.rows), nl=False)
    else:
        typer.echo("\n".join(ranking_lines(ranking, relays, one, by_site=sites)))


def _check_name(name: str, book: Book, *, by_site: bool) -> None:
    """Point out the other way round where a name is one of the other kind."""
    from pathprofile.trip.names import name_key

    sites, stations = ({name_key(each.name) for each in some} for some in (book.sites, book.stations))
    key = name_key(name)
    if by_site and key not in stations and key in sites:
        raise StationError(f"{name!r} is a site: rank its stations without --sites")
    if not by_site and key not in sites and key in stations:
        raise StationError(f"{name!r} is a station: rank the sites for it with --sites")


def ranking_lines(ranking: Ranking, relays: tuple[Relay, ...], one: Party, *, by_site: bool) -> list[str]:
    """Text of a ranking."""
    reached = sum(row.in_reach for row in ranking.rows)
    what = "sites" if by_site else "stations"
    way = "To" if by_site else "From"
    lines = [
        f"{way} {one.station.name}: {reached} of {len(ranking.rows)} {what} workable or better.",
        f"{'odds':<{_INDENT}}{what[:-1]:<24}{'km':>6}{'mag':>5}{'true':>5}  mode, weaker way",
    ]
    for row in ranking.rows:
        lines += _row_lines(row, by_site=by_site)
    for relay in relays:
        lines += _wrapped(relay.sentence)
    if ranking.inquiries:
        lines.append("Ask first:")
        for index, inquiry in enumerate(ranking.inquiries, 1):
            lines += _wrapped(f"{index}. {inquiry.text}", 2)
    return lines


def _row_lines(row: PairAnswer, *, by_site: bool) -> list[str]:
    name = _cut(row.you if by_site else row.them, 23)
    odds = "-" if row.pair is None else row.pair.verdict.word
    where = ""
    if row.directions is not None:
        mine = row.directions
        azimuths = (
            (mine.back_magnetic_azimuth_deg, mine.back_azimuth_deg)
            if by_site
            else (mine.magnetic_azimuth_deg, mine.azimuth_deg)
        )
        turns = [round(azimuth_deg) % 360 for azimuth_deg in azimuths]
        km, about = mine.distance_m / 1000, "" if mine.span is None else "~"  # ~ for the middle of an area
        distance = f"~{km:.0f}" if about else f"{km:.1f}"
        where = f"{distance:>6}" + "".join(f"{f'{about}{turn}':>5}" for turn in turns)
    mode = f"  {row.mode.text}, {row.weaker}" if row.mode is not None else ""
    lines = [f"{odds:<{_INDENT}}{name:<24}{where:<16}{mode}".rstrip()]
    if len(lines[0]) > _WIDTH and row.mode is not None:  # a long mode gets the way on the next line
        lines = [lines[0].removesuffix(f", {row.weaker}"), " " * _INDENT + f"weaker {row.weaker}"]
    area = "" if row.directions is None or row.directions.span is None else row.directions.span.text
    if row.pair is None:
        said = f"{area}; {row.reason}" if area else row.reason
    else:
        said = f"{row.pair.verdict.text.partition(', ')[2]}; {row.limits}"
        if row.cell is not None:
            at = " from the site" if by_site else ""
            said += f"; an area, not a point: true {area}{at}; {row.cell.text}{_extremes(row.cell)}"
        if row.methods_part:
            said += "; the methods part"
    return [*lines, *_wrapped(said, _INDENT)]


def _cut(name: str, width: int) -> str:
    return name if len(name) <= width else f"{name[: width - 1]}…"


def _extremes(cell: CellOdds) -> str:
    """Odds at the worst and the best place of an area, where they are not the same."""
    from pathprofile.link.words import odds_text

    worst, best = odds_text(cell.worst.chance), odds_text(cell.best.chance)
    return "" if worst == best else f"; worst place {worst}, best {best}"


def _wrapped(text: str, indent: int = 0) -> list[str]:
    margin = " " * indent
    return textwrap.wrap(text, 79, initial_indent=margin, subsequent_indent=margin)
