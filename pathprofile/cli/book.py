"""``pathprofile book add``: lists that others sent, taken into the trip book."""

from __future__ import annotations

from typing import Annotated

import typer

from pathprofile.cli import options

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None, help="Work on the trip book.")


@app.callback()
def _book() -> None:
    """Work on the trip book."""


@app.command()
def add(
    file: Annotated[
        str,
        typer.Argument(metavar="FILE", help="CSV, pasted mail, GPX, GeoJSON or KML; - is standard input."),
    ],
    *,
    book: options.Book = None,
    kind: Annotated[
        str | None, typer.Option("--kind", metavar="KIND", help="csv, text, gpx, geojson or kml, if unclear.")
    ] = None,
    origin: Annotated[
        str | None,
        typer.Option("--origin", metavar="PLACE", help="Where distances in the list should hold; else home."),
    ] = None,
) -> None:
    """Take stations from a list; what you corrected by hand stays, what is unclear is named by line."""
    import sys
    from pathlib import Path

    from pathprofile.cli.width import wrapped
    from pathprofile.errors import StationError
    from pathprofile.places import parse_location
    from pathprofile.trip import find_book
    from pathprofile.trip.importing import import_into

    path = Path(book) if book is not None else find_book()
    if path is None:
        raise StationError(
            "no trip book here: give --book FILE, or write one with 'pathprofile new trip.toml'"
        )
    start = None if origin is None else parse_location(origin)
    report = import_into(path, sys.stdin.buffer if file == "-" else file, kind=kind, from_location=start)
    for line in report.lines():
        typer.echo("\n".join(wrapped(line, 0, 4)))
