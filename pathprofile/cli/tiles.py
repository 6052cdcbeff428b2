"""``pathprofile tiles``: which elevation tiles a trip needs, and what is wrong with those at hand."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING, Annotated

import typer

from pathprofile.cli import options
from pathprofile.cli.width import shown
from pathprofile.errors import LocationError, TerrainError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pathprofile.terrain.needs import SquareReport
    from pathprofile.trip.book import Book


def tiles(
    places: Annotated[
        list[str] | None,
        typer.Argument(metavar="A B …", help="Places, or names from the book; every pair is a path."),
    ] = None,
    *,
    book: options.Book = None,
    dem: options.Dem = None,
    as_json: options.Json = False,
) -> None:
    """Say which tiles these paths, or those of a book, need; exit code 1 if one of them is missing."""
    from pathprofile.cli.asked import elevation_paths, open_terrain
    from pathprofile.cli.named import named_places
    from pathprofile.terrain.needs import needed_tiles, tile_report

    if places:
        found, in_use = named_places(places, book)
        points = [(place.latitude_deg, place.longitude_deg) for place in found]
        lines = [list(pair) for pair in itertools.combinations(points, 2)] or [points]
        folders = _folders(in_use)
    else:
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
                needed = tuple(square.name for square in report if not _is_edge(square))
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
    else:
        if report:
            _show(report)
        else:
            typer.echo(f"Needed: {' '.join(needed)}")
        for text in complaints:
            typer.echo(shown(f"warning: {text}"), err=True)
    if not report or not all(square.present for square in report):
        raise typer.Exit(1)


def _show(report: Sequence[SquareReport]) -> None:
    edges = sum(map(_is_edge, report))
    missing = [square.name for square in report if not square.present]
    count = len(report) - edges
    touched = f", {edges} more touched on the edge of a neighbour" if edges else ""
    typer.echo(f"{count} tile{'s' * (count != 1)} needed, {count - len(missing)} present{touched}.")
    typer.echo(f"{'tile':<10}{'cell':>7}{'holes':>9}{'on paths':>10}  {'heights from':<14}{'kind':<10}file")
    for square in report:
        typer.echo(_line(square))
    if missing:
        typer.echo(f"MISSING: {' '.join(missing)} (README: getting terrain)")


def _is_edge(square: SquareReport) -> bool:
    """Whether paths only touch the square's edge, whose heights the tile next to it holds."""
    return square.present and not square.files


def _folders(book: Book | None) -> list[str]:
    return [] if book is None else [str(folder) for folder in book.tile_folders()]


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
        typer.echo(shown(f"warning: {station}: {reason}"), err=True)
    lines = [
        list(zip(path.latitude_deg.tolist(), path.longitude_deg.tolist(), strict=True))
        for path in paths.paths
    ]
    return lines, _folders(book)


def _line(square: SquareReport) -> str:
    if _is_edge(square):
        return f"{square.name:<10}on the edge of its neighbour, which is enough"
    if not square.files:
        return f"{square.name:<10}missing"
    kinds = {"surface": "surface", "bare": "bare", "unknown": "unknown"}
    part = "" if square.present else f"  ({square.covered_share:.0%} of the paths)"
    return (
        f"{square.name:<10}{square.cell_m or 0:>5.0f} m{square.holes:>9}{square.holes_on_paths:>10}  "
        f"{'/'.join(square.vertical_datums) or 'unknown':<14}"
        f"{'/'.join(kinds[kind] for kind in square.model_kinds):<10}{shown(', '.join(square.files))}{part}"
    )
