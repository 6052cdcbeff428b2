"""``pathprofile coverage``: where a site is heard and hears, as a map and as a raster."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from pathprofile.cli import options
from pathprofile.cli.width import shown

if TYPE_CHECKING:
    from pathprofile.area.coverage import Coverage
    from pathprofile.area.verdicts import Needs
    from pathprofile.contact import Party
    from pathprofile.link.ends import End
    from pathprofile.link.evaluate import Link

_MAP_SUFFIXES = (".png", ".svg", ".pdf")
_RASTER_SUFFIXES = (".tif", ".tiff")
_PLACEHOLDER_LOSS_DB = 150.0


def coverage(
    site: Annotated[
        str, typer.Argument(metavar="SITE", help="Where you are: a place, or a name from the book.")
    ],
    *,
    radius: options.Radius = "160km",
    chart: options.Chart = None,
    raster: Annotated[
        str | None, typer.Option("--raster", metavar="FILE", help="Write a Cloud-Optimized GeoTIFF: .tif.")
    ] = None,
    dem: options.Dem = None,
    book: options.Book = None,
    frequency: options.Frequency = "2m",
    mode: options.Mode = None,
    polarization: options.Polarization = None,
    from_height: options.FromHeight = None,
    to_height: options.ToHeight = None,
    from_power: options.FromPower = None,
    to_power: options.ToPower = None,
    from_antenna: options.FromAntenna = None,
    to_antenna: options.ToAntenna = None,
    from_feedline: options.FromFeedline = None,
    to_feedline: options.ToFeedline = None,
    from_noise: options.FromNoise = None,
    to_noise: options.ToNoise = None,
    cell: options.Cell = "90m",
    time: Annotated[
        float, typer.Option("--time", metavar="PERCENT", help="Share of the year the loss is not exceeded.")
    ] = 50.0,
    in_sight: Annotated[bool, typer.Option("--in-sight", help="Add the edge of what is in sight.")] = False,
    sea_where_missing: options.SeaWhereMissing = False,
    k: options.K = None,
    delta_n: options.DeltaN = None,
    n0: options.N0 = None,
    date: options.Date = None,
    as_json: options.Json = False,
) -> None:
    """Map the contact verdict round a site, both ways, for a station like the one that --to-… describes."""
    import numpy as np

    from pathprofile.area.coverage import coverage as predict
    from pathprofile.area.verdicts import VerdictTable, needs_of, shares
    from pathprofile.cli import asked
    from pathprofile.cli.compiling import told_of_compiling
    from pathprofile.cli.outing import progress_on_terminal
    from pathprofile.cli.parties import book_in_use, placed_stations, site_and_stranger
    from pathprofile.quantities import parse_distance_m, parse_frequency_mhz
    from pathprofile.trip.pairs import workers_for

    asked.check_output(chart, _MAP_SUFFIXES)
    asked.check_output(raster, _RASTER_SUFFIXES)
    frequency_mhz = parse_frequency_mhz(frequency)
    the_book = book_in_use(book)
    you, them, ground_m = site_and_stranger(
        site,
        the_book,
        frequency_mhz,
        mode=mode,
        polarization=polarization,
        heights=(from_height, to_height),
        powers=(from_power, to_power),
        antennas=(from_antenna, to_antenna),
        feedlines=(from_feedline, to_feedline),
        noises=(from_noise, to_noise),
    )
    link = _link_anywhere(you, them, frequency_mhz, mode)
    air = asked.atmosphere_of(k, delta_n, n0, None, you.location)
    folders = dem or ([str(folder) for folder in the_book.tile_folders()] if the_book else None)
    kept = asked.compile_cache()
    with asked.open_terrain(folders) as terrain, told_of_compiling(kept):
        how: dict[str, Any] = {
            "radius_m": parse_distance_m(radius),
            "cell_m": parse_distance_m(cell),
            "atmosphere": air,
            "ground_m": ground_m,
            "sea_where_missing": sea_where_missing,
            "threads": workers_for(),
            "cache_dir": kept,
        }
        found = predict(
            you.location,
            terrain,
            frequency_mhz=frequency_mhz,
            antenna_agl_m=link.you.height_m,
            receiver_agl_m=link.them.height_m,
            polarization="horizontal" if link.you.polarization == "horizontal" else "vertical",
            time_percent=time,
            progress=progress_on_terminal("rays"),
            **how,
        )
        needs = needs_of(link)
        table = VerdictTable(needs)
        verdict = table.verdict(found.map_loss_db)
        seen = None
        if in_sight:
            from pathprofile.area.in_sight import in_sight as look

            seen = look(
                you.location,
                terrain,
                antenna_agl_m=link.you.height_m,
                target_agl_m=link.them.height_m,
                radials=found.azimuth_deg.size,
                **how,
            )
        tiles = {Path(path).name: digest for path, digest in terrain.checksums().items()}
        outputs = [
            (label, path, asked.in_place_of(path)) for label, path in (("Map", chart), ("Raster", raster))
        ]
        if raster is not None:
            from pathprofile.export.geotiff import write_coverage_geotiff

            write_coverage_geotiff(
                raster,
                found,
                verdicts=table,
                seen=seen,
                tiles=tiles,
                remarks=_remarks(link),
                threads=workers_for(),
            )
        if chart is not None:
            from pathprofile.area.landmarks import landmarks, relief_of
            from pathprofile.draw.coverage_map import save_coverage_map
            from pathprofile.station.catalogue import MODES

            stations = [] if the_book is None else placed_stations(the_book)
            relief_m = relief_of(found.grid, terrain)
            save_coverage_map(
                found,
                verdict,
                chart,
                needs=needs,
                relief_m=np.nan_to_num(relief_m) if sea_where_missing else relief_m,
                seen=seen,
                places=landmarks(you.location, stations),
                mode=MODES[link.mode].label,
                ends=(link.you, link.them),
                terrain=", ".join(sorted(tiles)[:3]),
                date=asked.contact_day(date, the_book),
            )
    parts = shares(verdict)
    if as_json:
        from pathprofile.export.reach_json import to_json

        typer.echo(to_json(_document(found, parts, needs, link)))
    else:
        _say(found, verdict, needs, link)
        for label, path, instead in outputs:
            if path is not None:
                typer.echo(shown(f"{label}: {path}{instead}"))
        if chart is None and raster is None:
            typer.echo("For the map: --chart FILE.png, or --raster FILE.tif.")
    for note in found.notes:
        typer.echo(shown(f"note: {note}"), err=True)


def _say(found: Coverage, verdict: Any, needs: Needs, link: Link) -> None:
    """Print what the picture says, in the same words."""
    from pathprofile.cli.width import wrapped
    from pathprofile.draw import coverage_words as words
    from pathprofile.draw.words import place_name
    from pathprofile.station.catalogue import MODES

    place = place_name(found.site, lambda _: True)
    said = [
        f"From {place}, out to {words.reach(found.radius_m)}: {words.headline(found, verdict)}.",
        *words.sentences(found, verdict, needs),
        words.set_up(found, MODES[link.mode].label),
        words.ends(link.you, link.them),
    ]
    for line in said:
        typer.echo("\n".join(wrapped(line)))


def _link_anywhere(you: Party, them: Party, frequency_mhz: float, mode: str | None) -> Link:
    """Both ends turned to each other, at a loss that only serves to read off what the contact needs."""
    from pathprofile.contact import customary_mode
    from pathprofile.errors import StationError
    from pathprofile.link.ends import NoFit, equip
    from pathprofile.link.evaluate import evaluate
    from pathprofile.link.path import PathFacts
    from pathprofile.station.catalogue import mode_name

    wanted = customary_mode(frequency_mhz) if mode is None else mode_name(mode)
    ends = []
    for party in (you, them):
        end = equip(party.station, frequency_mhz, wanted, unstated_surroundings=party.unstated)
        if isinstance(end, NoFit):
            raise StationError(end.reason)
        ends.append(replace(end, pointing_deg=None))
    return evaluate(ends[0], ends[1], PathFacts(frequency_mhz, _PLACEHOLDER_LOSS_DB))


def _remarks(link: Link) -> dict[str, object]:
    return {
        "MODE": link.mode,
        "YOUR_POWER_W": link.you.power_w,
        "YOUR_ANTENNA": link.you.antenna,
        "THEIR_POWER_W": link.them.power_w,
        "THEIR_ANTENNA": link.them.antenna,
        "YOUR_NOISE": link.you.noise.category,
        "THEIR_NOISE": link.them.noise.category,
    }


def _document(found: Coverage, parts: dict[str, float], needs: Needs, link: Link) -> dict[str, Any]:
    from pathprofile.draw.coverage_words import gap_share

    return {
        "schema": "pathprofile.coverage/1",
        "site": {
            "label": found.site.label,
            "latitude_deg": found.site.latitude_deg,
            "longitude_deg": found.site.longitude_deg,
            "ground_m": found.site_ground_m,
        },
        "radius_m": float(found.distance_m[-1]),
        "asked_radius_m": found.radius_m,
        "method": "ITU-R P.1812-8",
        "mode": link.mode,
        "frequency_mhz": found.frequency_mhz,
        "time_percent": found.time_percent,
        "antenna_agl_m": found.antenna_agl_m,
        "receiver_agl_m": found.receiver_agl_m,
        "polarization": found.polarization,
        "resolution_m": found.resolution_m,
        "greatest_loss_out_db": needs.out_loss_db,
        "greatest_loss_back_db": needs.back_loss_db,
        "shares": parts,
        "unknown_share": gap_share(found),
        "stations": {"you": _station(link.you), "there": _station(link.them)},
        "notes": list(found.notes),
    }


def _station(end: End) -> dict[str, Any]:
    """One end as the verdicts stand on it; ``assumed`` names what was not stated."""
    return {
        "power_w": None if end.receive_only else end.power_w,
        "antenna": end.antenna,
        "antenna_gain_dbi": end.gain_dbi,
        "antenna_agl_m": end.height_m,
        "feedline_loss_db": end.line_loss_db,
        "polarization": end.polarization,
        "noise": end.noise.category,
        "surroundings": end.surroundings,
        "assumed": [item.what for item in end.assumed],
    }
