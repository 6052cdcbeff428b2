"""``pathprofile rank``: from one site every station, or for one station every site, by their odds."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from pathprofile.cli import options
from pathprofile.cli.width import text_width, wrapped
from pathprofile.errors import StationError

if TYPE_CHECKING:
    from pathprofile.contact import Party
    from pathprofile.trip.answer import PairAnswer
    from pathprofile.trip.book import Book
    from pathprofile.trip.cells import CellOdds
    from pathprofile.trip.ranking import Ranking
    from pathprofile.trip.relays import Relay

_INDENT = 11
_FIGURES = 16


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
    what = "sites" if by_site else "stations"
    way = "To" if by_site else "From"
    doubtful = sum(row.in_doubt for row in ranking.in_reach)
    by_one = f", {doubtful} of them by one of two methods only" if doubtful else ""
    lines = [
        *wrapped(
            f"{way} {one.station.name}: {len(ranking.in_reach)} of {len(ranking.rows)} {what} workable or "
            f"better{by_one}."
        ),
        f"{'odds':<{_INDENT}}{what[:-1]:<{_name_width()}}{'km':>6}{'mag':>5}{'true':>5}",
    ]
    modes = "  mode, weaker way"
    if len(lines[-1]) + len(modes) <= text_width():
        lines[-1] += modes
    for row in ranking.rows:
        lines += _row_lines(row, by_site=by_site)
    for relay in relays:
        lines += wrapped(relay.sentence)
    if ranking.inquiries:
        lines.append("Ask first:")
        for index, inquiry in enumerate(ranking.inquiries, 1):
            lines += wrapped(f"{index}. {inquiry.text}", 2)
    return lines


def _name_width() -> int:
    """Room for names beside the verdict and the figures."""
    return min(24, text_width() - _INDENT - _FIGURES)


def _row_lines(row: PairAnswer, *, by_site: bool) -> list[str]:
    name = _cut(row.you if by_site else row.them, _name_width() - 1)
    odds = "-" if row.pair is None else f"{row.pair.verdict.word}{'?' * row.methods_part}"
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
    lines = [f"{odds:<{_INDENT}}{name:<{_name_width()}}{where:<{_FIGURES}}".rstrip()]
    if row.mode is not None:
        lines = _with_mode(
            lines[0].ljust(_INDENT + _name_width() + _FIGURES), row.mode.text, row.weaker or ""
        )
    area = "" if row.directions is None or row.directions.span is None else row.directions.span.text
    if row.pair is None:
        said = f"{area}; {row.reason}" if area else row.reason
    else:
        said = f"{_odds(row)}; {row.limits}"
        if row.cell is not None:
            at = " from the site" if by_site else ""
            said += f"; an area, not a point: true {area}{at}, ~ its middle; {row.cell.text}"
            said += _extremes(row.cell) if row.cell.by_height else ""
    return [*lines, *wrapped(said, _INDENT)]


def _with_mode(line: str, mode: str, weaker: str) -> list[str]:
    """Mode and weaker way at the end of a line, or what does not fit there on the next."""
    margin = " " * _INDENT
    if len(line) + len(f"  {mode}, {weaker}") <= text_width():
        return [f"{line}  {mode}, {weaker}"]
    if len(line) + len(f"  {mode}") <= text_width():
        return [f"{line}  {mode}", f"{margin}weaker {weaker}"]
    return [line.rstrip(), *wrapped(f"{mode}, weaker {weaker}", _INDENT)]


def _odds(row: PairAnswer) -> str:
    """Odds; both verdicts where the methods part. High odds of bare copy are told from solid ones."""
    from pathprofile.link.words import SOLID_FROM

    if row.methods_part or row.verdict is None:
        return row.verdict_text
    odds = row.verdict.text.partition(", ")[2]
    bare = row.verdict.word == "workable" and row.verdict.chance >= SOLID_FROM
    return f"{odds} for just readable copy" if bare else odds


def _cut(name: str, width: int) -> str:
    return name if len(name) <= width else f"{name[: width - 1]}…"


def _extremes(cell: CellOdds) -> str:
    """Odds at the worst and the best place of an area, where they are not the same."""
    from pathprofile.link.words import odds_text

    worst, best = odds_text(cell.worst.chance), odds_text(cell.best.chance)
    return "" if worst == best else f"; worst place {worst}, best {best}"
