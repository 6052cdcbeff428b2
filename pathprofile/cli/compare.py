"""``pathprofile compare``: sites against stations, the pick and its reason first."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Annotated

import typer

from pathprofile.cli import options
from pathprofile.errors import StationError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pathprofile.trip.comparing import Comparison
    from pathprofile.trip.relays import Relay


def compare(
    names: Annotated[
        list[str] | None,
        typer.Argument(metavar="[SITE]...", help="Sites of the book; all of them by default."),
    ] = None,
    *,
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
    """Compare sites for the stations wanted: which to drive to, for whom, and what you lose."""
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
    from pathprofile.trip.comparing import compare as compare_sites
    from pathprofile.trip.from_book import site_party
    from pathprofile.trip.pairs import workers_for
    from pathprofile.trip.relays import best_relays

    check_saves(save or ())
    check_formats(as_csv=as_csv, as_json=as_json)
    trip = outing(book, date, band, mode)
    require(trip, "site", "station")
    sites = [site_party(trip.book, name) for name in names] if names else list(trip.sites)
    _check_once(names or (), [site.station.name for site in sites])
    pairs = [(site, station) for site in sites for station in trip.stations]
    picture = pictures_into(charts, pairs)
    with open_terrain(dem or trip.dem) as terrain:
        found = compare_sites(
            sites,
            trip.stations,
            terrain,
            trip.terms,
            workers=workers_for(),
            progress=progress_shown(),
            picture=picture,
        )
        pick = found.sites.index(found.pick)
        relays = best_relays(sites[pick], trip.stations, found.matrix[pick], terrain, trip.terms)
    rows = [answer for row in found.matrix for answer in row]
    save_all(save or (), rows)
    if as_json:
        from pathprofile.export.reach_json import to_json
        from pathprofile.export.trip_json import comparison_document

        typer.echo(to_json(comparison_document(found, relays, date=trip.terms.date)))
    elif as_csv:
        from pathprofile.export.tables import station_csv

        typer.echo(station_csv(rows), nl=False)
    else:
        typer.echo("\n".join(comparison_lines(found, relays)))


def _check_once(typed: Sequence[str], meant: Sequence[str]) -> None:
    """Refuse one site under two spellings."""
    for index, name in enumerate(meant):
        if name in meant[:index]:
            first = typed[meant.index(name)]
            raise StationError(
                f"{first!r} and {typed[index]!r} are the same site: name each once, or none for all"
            )


def _tenths(chance: float) -> str:
    from pathprofile.link.words import odds_text

    return odds_text(chance).removeprefix("about ").removeprefix("over ")


def comparison_lines(found: Comparison, relays: tuple[Relay, ...]) -> list[str]:
    """Text of a comparison."""
    width = max(9, min(14, 56 // max(1, len(found.sites))))
    heads = "".join(f"{site[: width - 1]:>{width}}" for site in found.sites)
    lines = [*textwrap.wrap(found.sentence, 79), "", f"{'':<23}{heads}"]
    for column, station in enumerate(found.stations):
        cells = []
        for row in found.matrix:
            answer = row[column]
            cells.append("-" if answer.pair is None else f"{answer.pair.verdict.word}")
        lines.append(f"{station[:22]:<23}" + "".join(f"{cell:>{width}}" for cell in cells))
    weights = {score.site: score for score in found.scores}
    lines.append(
        f"{'wanted and reached':<23}"
        + "".join(f"{f'{weights[site].reached_weight:g}':>{width}}" for site in found.sites)
    )
    lines.append(
        f"{'least odds in reach':<23}"
        + "".join(f"{_tenths(weights[site].worst_chance):>{width}}" for site in found.sites)
    )
    notes = [note for note in found.notes if ": no verdict." not in note]
    blank = len(found.notes) - len(notes)
    if blank:
        notes.append(f"{blank} pairs without a verdict (-): 'pathprofile rank SITE' says why.")
    for note in (*notes, *(relay.sentence for relay in relays)):
        lines += textwrap.wrap(note, 79)
    if found.inquiries:
        lines.append("Ask first:")
        for index, inquiry in enumerate(found.inquiries, 1):
            lines += textwrap.wrap(
                f"{index}. {inquiry.text}", 79, initial_indent="  ", subsequent_indent="  "
            )
    return lines
