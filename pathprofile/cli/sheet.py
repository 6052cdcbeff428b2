"""``pathprofile sheet``: the page to carry, and the prediction that the debrief will be held against."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from pathprofile.cli import options
from pathprofile.cli.width import shown

SUFFIXES = (".html", ".pdf", ".png")


def sheet(
    site: Annotated[str, typer.Argument(metavar="SITE", help="A site of the book.")],
    *,
    out: Annotated[
        str, typer.Option("--out", metavar="FILE", help="Where to write: .html, .pdf, or .png of page one.")
    ],
    order: Annotated[
        Literal["sweep", "odds"],
        typer.Option("--order", help="Call in one sweep of the beam, or the strongest first."),
    ] = "sweep",
    paper: Annotated[Literal["a4", "letter"], typer.Option("--paper", help="Paper of a PDF.")] = "a4",
    book: options.Book = None,
    dem: options.Dem = None,
    band: options.BandWanted = None,
    mode: options.ModeWanted = None,
    date: options.Date = None,
) -> None:
    """Write the trip sheet for a site, and save the prediction for the debrief beside it."""
    from pathprofile.cli import asked
    from pathprofile.cli.outing import outing, progress_shown, require
    from pathprofile.export.sheet import write_sheet
    from pathprofile.trip.day import plan_day
    from pathprofile.trip.pairs import workers_for
    from pathprofile.trip.prediction import digest_of, prediction_path, save_prediction

    asked.check_output(out, SUFFIXES)
    trip = outing(book, date, band, mode)
    require(trip, "site", "station")
    book_path = trip.book.path or Path("trip.toml")
    digest = digest_of(book_path.read_bytes()) if book_path.is_file() else ""
    with asked.open_terrain(dem or trip.dem) as terrain:
        day = plan_day(
            trip.book,
            trip.book.site(site).name,
            terrain,
            trip.terms,
            order=order,
            book_digest=digest or None,
            workers=workers_for(),
            progress=progress_shown(),
        )
    instead, instead_of_kept = asked.in_place_of(out), ""
    write_sheet(day.sheet, out, paper=paper)
    here, day_meant = trip.book.site(site).name, trip.terms.date
    saved = prediction_path(book_path, here, day_meant, folder=Path(out).parent)
    kept = [each for each in (saved, prediction_path(book_path, here, day_meant)) if each.exists()]
    if kept and day_meant < asked.day(None):
        saved = kept[0]
        typer.echo(shown(f"kept: {saved}, the day is past"), err=True)
    else:
        instead_of_kept = asked.in_place_of(saved)
        save_prediction(day.contacts, saved, book_digest=digest, overwrite=True)
    called = f"{len(day.sheet.calls)} stations to call. {day.sheet.order_reason}"
    typer.echo(shown(f"Sheet: {out}{instead}, {called}"))
    typer.echo(shown(f"Prediction for the debrief: {saved}{instead_of_kept}"))
    for name, reason in day.sheet.left_out:
        typer.echo(shown(f"left out: {name}: {reason}"), err=True)
