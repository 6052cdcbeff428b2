"""``pathprofile skyline``: the horizon all round a site, and the stations against it."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Annotated, Any

import typer

from pathprofile.cli import options
from pathprofile.cli.width import shown

_NO_GROUND = "outside the elevation tiles, or in a hole"


def skyline(
    site: Annotated[
        str, typer.Argument(metavar="SITE", help="Where you are: a place, or a name from the book.")
    ],
    *,
    chart: options.Chart = None,
    radius: options.Radius = "160km",
    from_height: options.FromHeight = None,
    dem: options.Dem = None,
    book: options.Book = None,
    sea_where_missing: options.SeaWhereMissing = False,
    k: options.K = None,
    delta_n: options.DeltaN = None,
    date: options.Date = None,
    as_csv: options.Csv = False,
    as_json: options.Json = False,
) -> None:
    """Show horizon angle and distance all round, true and magnetic, and which stations stand above it."""
    from pathprofile.area.landmarks import against_skyline, landmarks
    from pathprofile.area.skyline import skyline as look_round
    from pathprofile.cli import asked
    from pathprofile.cli.outing import progress_on_terminal
    from pathprofile.cli.parties import book_in_use, party_named
    from pathprofile.geodesy import declination
    from pathprofile.link.assume import default_number
    from pathprofile.quantities import parse_distance_m
    from pathprofile.trip.pairs import workers_for

    asked.check_output(chart, (".png", ".svg", ".pdf"))
    the_book = book_in_use(book)
    you, ground_m = party_named(site, the_book, "open")
    stated = [set_up.height_m for set_up in you.station.set_ups if set_up.height_m is not None]
    height_m = asked.height_or_none(from_height) or (
        max(stated) if stated else default_number("antenna height")
    )
    when = asked.contact_day(date, the_book)
    north = declination(you.location.latitude_deg, you.location.longitude_deg, when)
    folders = dem or ([str(folder) for folder in the_book.tile_folders()] if the_book else None)
    with asked.open_terrain(folders) as terrain:
        found = look_round(
            you.location,
            terrain,
            antenna_agl_m=height_m,
            radius_m=parse_distance_m(radius),
            atmosphere=asked.atmosphere_of(k, delta_n, None, None, you.location),
            ground_m=ground_m,
            sea_where_missing=sea_where_missing,
            threads=workers_for(),
            cache_dir=asked.compile_cache(),
            progress=progress_on_terminal("bearings"),
        )
        stations = [
            against_skyline(found, landmark, antenna_amsl_m)
            for landmark, antenna_amsl_m in _marks(the_book, you.location, terrain, landmarks)
        ]
        checksums = terrain.checksums()
    instead = asked.in_place_of(chart)
    if chart is not None:
        from pathprofile.draw.skyline_chart import save_skyline_chart

        save_skyline_chart(
            found,
            chart,
            stations=stations,
            declination_deg=north.declination_deg,
            terrain=", ".join(sorted(Path(path).name for path in checksums)[:3]),
            date=when,
        )
    if as_json:
        from pathprofile.export.reach_json import to_json
        from pathprofile.export.skyline_tables import skyline_document

        tiles = [{"name": Path(path).name, "checksum": digest} for path, digest in checksums.items()]
        document = skyline_document(
            found, declination_deg=north.declination_deg, stations=stations, tiles=tiles
        )
        typer.echo(to_json(document))
    elif as_csv:
        from pathprofile.export.skyline_tables import skyline_csv

        typer.echo(skyline_csv(found, declination_deg=north.declination_deg), nl=False)
    else:
        _say(found, stations, north.declination_deg)
        if chart is not None:
            typer.echo(shown(f"Picture: {chart}{instead}"))
    for note in found.notes:
        typer.echo(shown(f"note: {note}"), err=True)


def _marks(book: Any, site: Any, terrain: Any, landmarks: Any) -> list[tuple[Any, float]]:
    """Stations of the book with the height of their antennas above sea level."""
    from pathprofile.cli.parties import placed_stations
    from pathprofile.link.assume import default_number

    if book is None:
        return []
    found = []
    for place in placed_stations(book):
        station = book.station(place.label)
        marks = landmarks(site, [place])
        ground_m = float(terrain.elevation_m(place.latitude_deg, place.longitude_deg))
        heights = [set_up.height_m for set_up in station.set_ups if set_up.height_m is not None]
        if marks:
            found.append(
                (marks[0], ground_m + (max(heights) if heights else default_number("antenna height")))
            )
    return found


def _say(found: Any, stations: list[Any], declination_deg: float) -> None:
    """Sixteen directions, then the stations, then what the picture says of bearings left open."""
    from pathprofile.cli.width import wrapped
    from pathprofile.draw import skyline_words as words

    typer.echo(f"{'true':>6}{'mag':>6}{'horizon':>10}{'km':>8}")

    def both(true_deg: float) -> str:
        return f"{round(true_deg) % 360:>6}{round(true_deg - declination_deg) % 360:>6}"

    count = found.azimuth_deg.size
    cut, open_end, least_deg = words.unreached(found), found.open_end, found.least_deg
    for index in range(0, count, max(1, count // 16)):
        row = both(found.azimuth_deg[index])
        if not math.isfinite(least_deg[index]):
            typer.echo(f"{row}{'unknown':>10}{'':>8}  {_NO_GROUND}")
        elif open_end[index]:
            why = "map ends at" if cut[index] else "looked only to"
            far = f"{why} {found.reach_m[index] / 1000:.1f} km"
            typer.echo(f"{row}{least_deg[index]:>9.2f}°{'-':>8}  at least; {far}")
        else:
            typer.echo(f"{row}{least_deg[index]:>9.2f}°{found.distance_m[index] / 1000:>8.1f}")
    stands = {"above": "above the horizon", "below": "below the horizon", "before": "nearer than the horizon"}
    for each in stations:
        how = f"{each.elevation_deg:.2f}°, {stands.get(each.stands, 'unknown')}"
        if not math.isfinite(each.elevation_deg):
            how = _NO_GROUND
        typer.echo(f"{both(each.landmark.azimuth_deg)}  {each.landmark.name}: {how}")
    for line in words.open_ends(found):
        typer.echo("\n".join(wrapped(line)))
    if open_end.any():
        remedies = []
        if (open_end & cut).any():
            remedies.append("add the tiles, or --sea-where-missing where it is open sea")
        if (open_end & ~cut).any():
            remedies.append("give a greater --radius")
        typer.echo("\n".join(wrapped(f"To close it: {'; '.join(remedies)}.")))
