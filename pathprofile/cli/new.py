"""``pathprofile new``: a trip book to fill in."""

from __future__ import annotations

from typing import Annotated

import typer

from pathprofile.cli.width import shown


def new(
    path: Annotated[str, typer.Argument(metavar="FILE", help="Where to write it: trip.toml.")],
    *,
    replace: Annotated[bool, typer.Option("--replace", help="Write over an existing file.")] = False,
) -> None:
    """Write a commented trip book to fill in: your set-ups, sites, stations."""
    from pathlib import Path

    from pathprofile.errors import OutputError
    from pathprofile.trip.starter import write_starter

    if not replace and Path(path).is_file():
        raise OutputError(
            f"cannot write {path!r}: it exists already; choose another name, or --replace to write over it"
        )
    write_starter(path, overwrite=replace)
    typer.echo(shown(f"Wrote {path}. Fill it in, then: pathprofile rank SITE --book {path}"))
