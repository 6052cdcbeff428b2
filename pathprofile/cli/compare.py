"""``pathprofile compare``: sites against stations, the pick and its reason first."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from pathprofile.cli import options
from pathprofile.cli.width import text_width, wrapped
from pathprofile.errors import StationError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pathprofile.trip.answer import PairAnswer
    from pathprofile.trip.comparing import Comparison
    from pathprofile.trip.relays import Relay

_PARTED = "?"
_MOST_PARTED = 6
_WIDE, _NARROW, _LEAST_COLUMN = 60, 20, 10


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


def comparison_lines(found: Comparison, relays: tuple[Relay, ...]) -> list[str]:
    """Text of a comparison."""
    lines = [*wrapped(found.sentence), ""]
    label = _NARROW if text_width() < _WIDE else 24
    at_once = max(1, (text_width() - label) // _LEAST_COLUMN)
    for start in range(0, len(found.sites), at_once):
        lines += _table(found, range(start, min(start + at_once, len(found.sites))), label)
    lines += _parted_lines(found)
    notes = [note for note in found.notes if ": no verdict." not in note]
    blank = len(found.notes) - len(notes)
    if blank:
        notes.append(f"{blank} pairs without a verdict (-): 'pathprofile rank SITE' says why.")
    for note in (*notes, *(relay.sentence for relay in relays)):
        lines += wrapped(note)
    if found.inquiries:
        lines.append("Ask first:")
        for index, inquiry in enumerate(found.inquiries, 1):
            lines += wrapped(f"{index}. {inquiry.text}", 2)
    return lines


def _table(found: Comparison, rows: range, label: int) -> list[str]:
    """Verdicts from as many sites as fit beside each other, and the weight that each reaches."""
    width = max(_LEAST_COLUMN, min(14, (text_width() - label) // len(rows)))
    scores = {score.site: score for score in found.scores}
    reached = [f"{scores[found.sites[row]].reached_weight:g}" for row in rows]
    table = [
        ("", [_cut(found.sites[row], width - 1) for row in rows]),
        *(
            (station, [_cell(found.matrix[row][column]) for row in rows])
            for column, station in enumerate(found.stations)
        ),
        (f"{'weight ' * (label > _NARROW)}reached, of {found.wanted_weight:g}", reached),
    ]
    return [
        f"{_cut(name, label - 1):<{label}}" + "".join(f"{cell:>{width}}" for cell in cells)
        for name, cells in table
    ]


def _cell(answer: PairAnswer) -> str:
    return "-" if answer.pair is None else f"{answer.pair.verdict.word}{_PARTED * answer.methods_part}"


def _parted_lines(found: Comparison) -> list[str]:
    """Say what the mark stands for, pair by pair."""
    parted = [answer for row in found.matrix for answer in row if answer.methods_part and answer.pair]
    lines = [f"{_PARTED} {answer.you} to {answer.them}: {answer.verdict_text}." for answer in parted]
    if len(lines) > _MOST_PARTED:
        more = len(lines) - _MOST_PARTED
        lines[_MOST_PARTED:] = [f"{_PARTED} {more} more pairs: 'pathprofile rank SITE' gives both verdicts."]
    return [line for text in lines for line in wrapped(text, further=2)]


def _cut(name: str, width: int) -> str:
    return name if len(name) <= width else f"{name[: width - 1]}…"
