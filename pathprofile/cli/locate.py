"""``pathprofile locate``: one place in every notation; two places: how far and which way."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, NamedTuple

import typer

from pathprofile.cli import options
from pathprofile.errors import LocationError

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from pathprofile.places import Location
    from pathprofile.trip.book import Book

_TWO_COLUMNS = 60


def locate(
    place: Annotated[
        str,
        typer.Argument(metavar="PLACE", help="Degrees, locator, UTM, MGRS, or a name from the book."),
    ],
    other: Annotated[str | None, typer.Argument(metavar="[OTHER]", help="A second place.")] = None,
    *,
    dem: options.Dem = None,
    book: options.Book = None,
    date: options.Date = None,
    as_json: options.Json = False,
) -> None:
    """Show a place in every notation, and its ground; for two, add distance and azimuth out and back."""
    from pathprofile.cli.asked import contact_day
    from pathprofile.cli.named import named_places

    typed = [text for text in (place, other) if text is not None]
    places, in_use = named_places(typed, book)
    grounds = _grounds(places, dem, in_use)
    between = _between(places[0], places[1], contact_day(date, in_use)) if len(places) == 2 else None
    if as_json:
        from pathprofile.export.reach_json import to_json

        document = {
            "schema": "pathprofile.locate/1",
            "places": [
                {**_document(each), "ground_m": ground_m}
                for each, ground_m in zip(places, grounds, strict=True)
            ],
            "between": None if between is None else _between_document(between),
        }
        typer.echo(to_json(document, indent=1))
        return
    for text, each, ground_m in zip(typed, places, grounds, strict=True):
        # A place from the book is written there otherwise than it was asked for.
        typer.echo(text if each.text == text else f"{each.label}: {each.text}")
        _show(each)
        if ground_m is not None:
            centre = "" if each.cell is None else ", at the centre"
            _row("ground", f"{ground_m:.0f} m / {ground_m / 0.3048:.0f} ft above the sea{centre}")
        elif dem:
            _row("ground", "unknown: not on these tiles")
    if between is not None:
        _show_between(between)


def _grounds(
    places: Sequence[Location], dem: Sequence[str] | None, in_use: Book | None
) -> list[float | None]:
    """Ground at each place; None where no tile holds it, and for all where there are no tiles.

    Raises
    ------
    TerrainError
        When tiles that were asked for cannot be read; those that only happen to be there are passed over.
    """
    import math

    from pathprofile.cli.asked import elevation_paths, open_terrain
    from pathprofile.errors import PathProfileError

    nothing: list[float | None] = [None] * len(places)
    try:
        folders = dem or _folders(in_use)
        if not elevation_paths(folders):
            return nothing
        with open_terrain(folders) as terrain:
            heights = [float(terrain.elevation_m(each.latitude_deg, each.longitude_deg)) for each in places]
    except PathProfileError:
        if dem:
            raise
        return nothing
    return [None if math.isnan(height_m) else height_m for height_m in heights]


def _folders(in_use: Book | None) -> list[str]:
    """Folders of tiles of the book in use, else of the one in the current folder."""
    if in_use is None:
        from pathprofile.trip import find_book, read_book

        path = find_book()
        if path is None:
            return []
        in_use = read_book(path)
    return [str(folder) for folder in in_use.tile_folders()]


def _document(place: Location) -> dict[str, object]:
    from pathprofile.places import notations

    cell = place.cell
    return {
        "label": place.label,
        "latitude_deg": place.latitude_deg,
        "longitude_deg": place.longitude_deg,
        "uncertainty_m": place.uncertainty_m,
        "cell": None if cell is None else cell._asdict(),
        "notations": notations(place),
    }


def _show(place: Location) -> None:
    from pathprofile.places import notations

    for name, text in notations(place).items():
        _row(name, text)
    if place.cell is not None:
        north_south = (place.cell.north_deg - place.cell.south_deg) * 111.2
        _row("this is a cell", f"{north_south:.3g} km north to south; its centre is shown")
    _row("good to", _size(place.uncertainty_m))


def _row(name: str, text: str) -> None:
    """Name and value; the value on a line of its own where the terminal is narrow."""
    from pathprofile.cli.width import text_width, wrapped

    if text_width() < _TWO_COLUMNS:
        typer.echo("\n".join([f"  {name}", *wrapped(text, 4)]))
    else:
        typer.echo("\n".join(wrapped(f"{name:<30}{text}", 2, 32)))


def _size(radius_m: float) -> str:
    return f"±{radius_m / 1000:.3g} km" if radius_m >= 1000 else f"±{radius_m:.3g} m"


class _Bearing(NamedTuple):
    """Direction of one place from another; ``grid_azimuth_deg`` is None where UTM has no grid."""

    azimuth_deg: float
    magnetic_azimuth_deg: float
    grid_azimuth_deg: float | None
    declination_deg: float


class _Between(NamedTuple):
    """How far, and which way: out from the first place, back from the second."""

    distance_m: float
    out: _Bearing
    back: _Bearing


def _between(a: Location, b: Location, when: dt.date) -> _Between:
    from pathprofile.geodesy import inverse

    leg = inverse(a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg)
    return _Between(
        leg.distance_m, _bearing(a, leg.azimuth_deg, when), _bearing(b, leg.back_azimuth_deg, when)
    )


def _bearing(place: Location, azimuth_deg: float, when: dt.date) -> _Bearing:
    from pathprofile.geodesy import declination, grid_azimuth_deg, grid_convergence_deg, magnetic_azimuth_deg

    point = (place.latitude_deg, place.longitude_deg)
    north = declination(*point, when)
    if north.warning:
        typer.echo(f"warning: {north.warning}", err=True)
    try:
        on_grid_deg = grid_azimuth_deg(azimuth_deg, grid_convergence_deg(*point))
    except LocationError:
        on_grid_deg = None  # too near a pole
    magnetic_deg = magnetic_azimuth_deg(azimuth_deg, north.declination_deg)
    return _Bearing(azimuth_deg, magnetic_deg, on_grid_deg, north.declination_deg)


def _between_document(between: _Between) -> dict[str, float | None]:
    document: dict[str, float | None] = {"distance_m": between.distance_m}
    for way, end, bearing in (("", "from", between.out), ("back_", "to", between.back)):
        document[f"{way}azimuth_deg"] = bearing.azimuth_deg
        document[f"magnetic_{way}azimuth_deg"] = bearing.magnetic_azimuth_deg
        document[f"grid_{way}azimuth_deg"] = bearing.grid_azimuth_deg
        document[f"{end}_declination_deg"] = bearing.declination_deg
    return document


def _show_between(between: _Between) -> None:
    distance_m = between.distance_m
    typer.echo(f"{distance_m / 1000:.3f} km / {distance_m / 1609.344:.3f} mi apart")
    typer.echo(f"  {'azimuth':<12}{'true':>9}{'magnetic':>11}{'grid':>9}   declination")
    for way, bearing in (("out", between.out), ("back", between.back)):
        on_grid = "none" if bearing.grid_azimuth_deg is None else f"{bearing.grid_azimuth_deg:.2f}°"
        declination_deg = bearing.declination_deg
        typer.echo(
            f"  {way:<12}{bearing.azimuth_deg:>8.2f}°{bearing.magnetic_azimuth_deg:>10.2f}°{on_grid:>9}"
            f"   {abs(declination_deg):.2f}° {'E' if declination_deg >= 0 else 'W'}"
        )
