"""All commands together."""

from __future__ import annotations

import typer

from pathprofile import __version__
from pathprofile.cli import (
    book,
    compare,
    coverage,
    debrief,
    defaults,
    demo,
    locate,
    new,
    rank,
    reach,
    ready,
    scout,
    sheet,
    skyline,
    tiles,
)
from pathprofile.cli.words import PlaceCommand

__all__ = ["app"]

app = typer.Typer(
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    epilog="Add --debug to any command for a traceback. A prediction is not a safety line.",
)


def _version(*, wanted: bool) -> None:
    if wanted:
        typer.echo(f"pathprofile {__version__}")
        raise typer.Exit


@app.callback()
def pathprofile(
    *,
    version: bool = typer.Option(
        False,
        "--version",
        callback=lambda value: _version(wanted=value),
        is_eager=True,
        help="Say which one this is.",
    ),
) -> None:
    """Can this hilltop reach that station, in which mode, both ways? Offline, over real terrain."""


app.command(cls=PlaceCommand)(reach.reach)
app.command()(demo.demo)
app.command(cls=PlaceCommand)(locate.locate)
app.command()(new.new)
app.add_typer(book.app, name="book")
app.command()(rank.rank)
app.command()(compare.compare)
app.command()(ready.ready)
app.command()(sheet.sheet)
app.command()(debrief.debrief)
app.command(cls=PlaceCommand)(coverage.coverage)
app.command(cls=PlaceCommand)(skyline.skyline)
app.command()(scout.scout)
app.command(cls=PlaceCommand)(tiles.tiles)
app.command()(defaults.defaults)
