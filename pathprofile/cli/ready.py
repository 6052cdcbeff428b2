"""``pathprofile ready``: a last look before leaving."""

from __future__ import annotations

import textwrap
from typing import Annotated

import typer

from pathprofile.cli import options
from pathprofile.cli.width import shown


def ready(
    *,
    book: options.Book = None,
    dem: options.Dem = None,
    date: options.Date = None,
    sheet: Annotated[
        str | None, typer.Option("--sheet", metavar="FILE", help="The trip sheet you will carry.")
    ] = None,
    as_json: options.Json = False,
) -> None:
    """Check tiles, declination, sheet, clock, positions before leaving; exit code 1 if one stops you."""
    import datetime as dt

    from pathprofile.cli.asked import open_terrain
    from pathprofile.cli.outing import outing, require
    from pathprofile.trip.ready import ready as look

    trip = outing(book, date, None, None)
    require(trip, "site", "station")
    with open_terrain(dem or trip.dem) as terrain:
        checks = look(
            trip.sites,
            trip.stations,
            terrain,
            trip.terms,
            now=dt.datetime.now().astimezone(),
            book_file=trip.book.path,
            sheet_file=sheet,
        )
    if as_json:
        from pathprofile.export.reach_json import to_json

        document = {
            "schema": "pathprofile.ready/1",
            "checks": [
                {"what": check.what, "state": check.state, "sentence": check.sentence} for check in checks
            ],
        }
        typer.echo(to_json(document, indent=1))
    else:
        for check in checks:
            head = f"{check.state.upper():<11}"
            lines = textwrap.wrap(f"{head}{check.sentence}", 79, subsequent_indent=" " * 11)
            typer.echo("\n".join(map(shown, lines)))
    if any(check.state == "stop" for check in checks):
        raise typer.Exit(1)
