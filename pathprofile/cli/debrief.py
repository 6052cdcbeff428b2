"""``pathprofile debrief``: what was heard, held against what was predicted on the day."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from pathprofile.cli import options
from pathprofile.cli.width import shown
from pathprofile.errors import StationError

if TYPE_CHECKING:
    from pathprofile.trip.debrief import Debrief
    from pathprofile.trip.debrief_reliability import Reliability


def debrief(
    book: Annotated[str, typer.Argument(metavar="BOOK", help="The trip book the sheet was made from.")],
    logs: Annotated[
        list[str],
        typer.Argument(
            metavar="LOG...",
            help="Your log as CSV: a column 'station', and 'sent', 'received' or 'heard' (docs/book.md);"
            " several for several trips.",
        ),
    ],
    *,
    prediction: Annotated[
        list[str] | None,
        typer.Option("--prediction", metavar="FILE", help="Saved prediction, one a log, in the same order."),
    ] = None,
    site: Annotated[
        str | None, typer.Option("--site", metavar="SITE", help="If the book has several.")
    ] = None,
    date: Annotated[
        str | None,
        typer.Option("--day", metavar="YYYY-MM-DD", help="Day of the trip, if several are saved."),
    ] = None,
    as_json: options.Json = False,
) -> None:
    """Compare your log with the saved prediction; never recomputes it, suggests but changes nothing."""
    from pathprofile.cli.asked import day
    from pathprofile.trip.debrief import debrief as hold_against
    from pathprofile.trip.debrief_reliability import reliability
    from pathprofile.trip.log import read_log
    from pathprofile.trip.prediction import digest_of, find_prediction, read_prediction

    if prediction and len(prediction) != len(logs):
        raise StationError(f"{len(logs)} logs and {len(prediction)} predictions: give one --prediction a log")
    if len(logs) > 1 and not prediction:
        raise StationError(f"{len(logs)} logs: say with --prediction, once a log, which day each belongs to")
    when = None if date is None else day(date)
    folders = (Path(logs[0]).parent, Path())
    files = prediction or [str(find_prediction(book, site=site, date=when, folders=folders))]
    trips = [(read_prediction(file), read_log(log)) for file, log in zip(files, logs, strict=True)]
    path = Path(book)
    digest = digest_of(path.read_bytes()) if path.is_file() else None
    days = [hold_against(saved, log, book_digest=digest) for saved, log in trips]
    together = reliability(trips)
    if as_json:
        from pathprofile.export.reach_json import to_json

        typer.echo(to_json(_document(days, together)))
        return
    for one in days:
        typer.echo("\n".join(map(shown, _lines(one))))
    if len(days) > 1:
        typer.echo("\n".join(_reliability_lines(together)))


def _lines(found: Debrief) -> list[str]:
    lines = [*textwrap.wrap(found.sentence, 79), "", f"{found.site}, {found.date.isoformat()}"]
    for outcome in found.outcomes:
        said = outcome.words or f"you → them: {outcome.out.words}; them → you: {outcome.back.words}"
        lines += textwrap.wrap(
            f"{outcome.row.station}: {said}", 79, initial_indent="  ", subsequent_indent="    "
        )
    if found.not_in_log:
        lines += textwrap.wrap(f"Not in the log: {', '.join(found.not_in_log)}.", 79)
    for item in found.unclear:
        lines += textwrap.wrap(f"unclear: {item}", 79)
    for note in found.notes:
        lines += textwrap.wrap(note, 79)
    return lines


def _reliability_lines(found: Reliability) -> list[str]:
    lines = ["", *textwrap.wrap(found.sentence, 79), f"{'odds':<16}{'calls':>7}{'made':>7}   likely share"]
    for each in found.bins:
        share = (
            f"{each.low_share:.0%} to {each.high_share:.0%}"
            if each.low_share is not None and each.high_share is not None
            else "-"
        )
        odds = f"{each.from_chance:.0%} to {each.to_chance:.0%}"
        lines.append(f"{odds:<16}{each.calls:>7}{each.made:>7}   {share}")
    for suggestion in found.suggestions:
        lines += textwrap.wrap(suggestion.sentence, 79)
    return lines


def _document(days: list[Debrief], together: Reliability) -> dict[str, Any]:
    def estimate(value: Any) -> dict[str, float]:
        return {"middle_db": value.middle_db, "low_db": value.low_db, "high_db": value.high_db}

    return {
        "schema": "pathprofile.debrief/1",
        "days": [
            {
                "site": one.site,
                "date": one.date.isoformat(),
                "sentence": one.sentence,
                "patterns": [
                    {
                        "band": pattern.band,
                        "stations": pattern.stations,
                        "out": estimate(pattern.out),
                        "back": estimate(pattern.back),
                        "difference": estimate(pattern.difference),
                        "finding": str(pattern.finding),
                        "sentence": pattern.sentence,
                    }
                    for pattern in one.patterns
                ],
                "contacts": [
                    {
                        "station": outcome.row.station,
                        "made": outcome.made,
                        "out": outcome.out.words,
                        "back": outcome.back.words,
                        "silent": outcome.silent,
                    }
                    for outcome in one.outcomes
                ],
                "not_in_log": list(one.not_in_log),
                "unclear": [str(item) for item in one.unclear],
                "notes": list(one.notes),
            }
            for one in days
        ],
        "reliability": {
            "trips": together.trips,
            "calls": together.calls,
            "made": together.made,
            "brier": together.brier,
            "bins": [each._asdict() for each in together.bins],
            "suggestions": [each.sentence for each in together.suggestions],
            "sentence": together.sentence,
        },
    }
