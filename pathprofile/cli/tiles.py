"""``pathprofile tiles``: which elevation tiles a trip needs, and what is wrong with those at hand."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING, Annotated

import typer

from pathprofile.cli import options
from pathprofile.errors import LocationError, TerrainError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pathprofile.terrain.needs import SquareReport


def tiles(
    places: Annotated[
        list[str] | None, typer.Argument(metavar="A B …", help="Places; every pair is a path.")
    ] = None,
    *,
    book: options.Book = None,
    dem: options.Dem = None,
    as_json: options.Json = False,
) -> None:
    """Say which one-degree tiles these paths, or all paths of a book, need and what there is of them."""
    from pathprofile.cli.asked import elevation_paths, open_terrain
    from pathprofile.places import parse_location
    from pathprofile.terrain.needs import needed_tiles, tile_report

    found = [parse_location(text) for text in places or []]
    points = [(place.latitude_deg, place.longitude_deg) for place in found]
    lines = [list(pair) for pair in itertools.combinations(points, 2)] or [points]
    if not found:
        lines, folders = _paths_of_book(book)
        dem = dem or folders
    needed = needed_tiles(lines)
    report: tuple[SquareReport, ...] = ()
    complaints = ["no elevation tiles yet: put these into one folder and name it with --dem"]
    if elevation_paths(dem):
        try:
            with open_terrain(dem) as terrain:
                report = tile_report(terrain, lines)
                complaints = list(terrain.warnings)
        except TerrainError as error:
            raise TerrainError(f"{error} (needed: {' '.join(needed)})") from error
    if as_json:
        from dataclasses import asdict

        from pathprofile.export.reach_json import to_json

        document = {
            "schema": "pathprofile.tiles/1",
            "needed": list(needed),
            "tiles": [asdict(square) for square in report],
            "warnings": complaints,
        }
        typer.echo(to_json(document, indent=1))
        return
    if report:
        _show(report)
    else:
        typer.echo(f"Needed: {' '.join(needed)}")
    for text in complaints:
        typer.echo(f"warning: {text}", err=True)


def _show(report: Sequence[SquareReport]) -> None:
    missing = [square.name for square in report if not square.present]
    typer.echo(f"{len(report)} tiles needed, {len(report) - len(missing)} present.")
    typer.echo(f"{'tile':<10}{'cell':>7}{'holes':>9}{'on paths':>10}  {'heights from':<14}{'kind':<10}file")
    for square in report:
        typer.echo(_line(square))
    if missing:
        typer.echo(f"MISSING: {' '.join(missing)} (README: getting terrain)")


def _paths_of_book(given: str | None) -> tuple[list[list[tuple[float, float]]], list[str]]:
    """Lines of all pairs of the book in use, and its folders of tiles."""
    from pathprofile.cli.parties import book_in_use
    from pathprofile.trip.tiles import tiles_for

    book = book_in_use(given)
    if book is None:
        raise LocationError(
            "no places and no book: give two places or more, as 'pathprofile tiles 46.5,-21.0 47.7,-21.2'"
        )
    paths = tiles_for(book)
    for station, reason in dict.fromkeys((station, reason) for _, station, reason in paths.left_out):
        typer.echo(f"warning: {station}: {reason}", err=True)
    lines = [
        list(zip(path.latitude_deg.tolist(), path.longitude_deg.tolist(), strict=True))
        for path in paths.paths
    ]
    return lines, [str(folder) for folder in book.tile_folders()]


def _line(square: SquareReport) -> str:
    if not square.files:
        return f"{square.name:<10}missing"
    kinds = {"surface": "surface", "bare": "bare", "unknown": "unknown"}
    part = "" if square.present else f"  ({square.covered_share:.0%} of the paths)"
    return (
        f"{square.name:<10}{square.cell_m or 0:>5.0f} m{square.holes:>9}{square.holes_on_paths:>10}  "
        f"{'/'.join(square.vertical_datums) or 'unknown':<14}"
        f"{'/'.join(kinds[kind] for kind in square.model_kinds):<10}{', '.join(square.files)}{part}"
    )
