"""``pathprofile locate``: one place in every notation; two places: how far and which way."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from pathprofile.cli import options

if TYPE_CHECKING:
    from pathprofile.places import Location

_NAMES = {"decimal degrees": "degrees"}


def locate(
    place: Annotated[str, typer.Argument(metavar="PLACE", help="Degrees, locator, UTM or MGRS.")],
    other: Annotated[str | None, typer.Argument(metavar="[OTHER]", help="A second place.")] = None,
    *,
    date: options.Date = None,
    as_json: options.Json = False,
) -> None:
    """Show a place in every notation; for two, add distance and azimuth out and back."""
    from pathprofile.cli.asked import day
    from pathprofile.places import parse_location

    places = [parse_location(text) for text in (place, other) if text is not None]
    between = _between(places[0], places[1], day(date)) if len(places) == 2 else None
    if as_json:
        from pathprofile.export.reach_json import to_json

        document = {
            "schema": "pathprofile.locate/1",
            "places": [_document(each) for each in places],
            "between": between,
        }
        typer.echo(to_json(document, indent=1))
        return
    for each in places:
        _show(each)
    if between is not None:
        _show_between(between)


def _document(place: Location) -> dict[str, object]:
    from pathprofile.places import notations

    cell = place.cell
    return {
        "latitude_deg": place.latitude_deg,
        "longitude_deg": place.longitude_deg,
        "uncertainty_m": place.uncertainty_m,
        "cell": None if cell is None else cell._asdict(),
        "notations": notations(place),
    }


def _show(place: Location) -> None:
    from pathprofile.places import notations

    typer.echo(place.text)
    for name, text in notations(place).items():
        typer.echo(f"  {name:<30}{text}")
    if place.cell is not None:
        north_south = (place.cell.north_deg - place.cell.south_deg) * 111.2
        typer.echo(f"  {'this is a cell':<30}{north_south:.3g} km north to south; its centre is shown")
    typer.echo(f"  {'good to':<30}{_size(place.uncertainty_m)}")


def _size(radius_m: float) -> str:
    return f"±{radius_m / 1000:.3g} km" if radius_m >= 1000 else f"±{radius_m:.3g} m"


def _between(a: Location, b: Location, when: object) -> dict[str, float]:
    import datetime as dt

    from pathprofile.geodesy import (
        declination,
        grid_azimuth_deg,
        grid_convergence_deg,
        inverse,
        magnetic_azimuth_deg,
    )

    if not isinstance(when, dt.date):
        raise TypeError(when)
    leg = inverse(a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg)
    found = {"distance_m": leg.distance_m}
    for end, place, azimuth in (("", a, leg.azimuth_deg), ("back_", b, leg.back_azimuth_deg)):
        north = declination(place.latitude_deg, place.longitude_deg, when)
        if north.warning:
            typer.echo(f"warning: {north.warning}", err=True)
        found[f"{end}azimuth_deg"] = azimuth
        found[f"magnetic_{end}azimuth_deg"] = magnetic_azimuth_deg(azimuth, north.declination_deg)
        found[f"grid_{end}azimuth_deg"] = grid_azimuth_deg(
            azimuth, grid_convergence_deg(place.latitude_deg, place.longitude_deg)
        )
        found[f"{'to' if end else 'from'}_declination_deg"] = north.declination_deg
    return found


def _show_between(between: dict[str, float]) -> None:
    distance_m = between["distance_m"]
    typer.echo(f"{distance_m / 1000:.3f} km / {distance_m / 1609.344:.3f} mi apart")
    typer.echo(f"  {'azimuth':<12}{'true':>9}{'magnetic':>11}{'grid':>9}   declination")
    for way, end, where in (("out", "", "from"), ("back", "back_", "to")):
        declination = between[f"{where}_declination_deg"]
        typer.echo(
            f"  {way:<12}{between[f'{end}azimuth_deg']:>8.2f}°"
            f"{between[f'magnetic_{end}azimuth_deg']:>10.2f}°{between[f'grid_{end}azimuth_deg']:>8.2f}°"
            f"   {abs(declination):.2f}° {'E' if declination >= 0 else 'W'}"
        )
