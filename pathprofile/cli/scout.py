"""``pathprofile scout``: better ground for the mast, near a spot or inside a boundary."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Annotated, Any

import typer

from pathprofile.cli import options
from pathprofile.cli.width import wrapped
from pathprofile.errors import OutOfRangeError

if TYPE_CHECKING:
    from pathprofile.area.scout import GoodGround, Scouting
    from pathprofile.area.work import State

_WORTH_A_WALK = 0.05
"""Gain of the weighted sum of chances."""


def scout(
    *,
    around: Annotated[
        str | None,
        typer.Option("--around", metavar="SITE", help="The spot you have: a site of the book, or a place."),
    ] = None,
    within: Annotated[
        str | None, typer.Option("--within", metavar="DISTANCE", help="How far you would walk: 2km.")
    ] = None,
    area: Annotated[
        str | None, typer.Option("--area", metavar="FILE", help="Look inside this boundary (GeoJSON).")
    ] = None,
    mask: Annotated[
        str | None, typer.Option("--mask", metavar="FILE", help="Land you may enter (GeoJSON), nothing else.")
    ] = None,
    book: options.Book = None,
    dem: options.Dem = None,
    band: options.BandWanted = None,
    mode: options.ModeWanted = None,
    date: options.Date = None,
    scheduler: Annotated[
        str | None, typer.Option("--scheduler", metavar="ADDRESS", help="A dask scheduler, tcp://host:port.")
    ] = None,
    resume: Annotated[
        str | None, typer.Option("--resume", metavar="DIR", help="Keep finished pieces here, and use them.")
    ] = None,
    as_json: options.Json = False,
) -> None:
    """Find better ground for the stations of the book: where, what it gains, and why."""
    from pathprofile.area.cluster import engine_for
    from pathprofile.area.mask import read_mask
    from pathprofile.area.scout import scout as look
    from pathprofile.cli import asked
    from pathprofile.cli.outing import outing
    from pathprofile.cli.parties import party_named
    from pathprofile.quantities import parse_distance_m
    from pathprofile.trip.pairs import workers_for

    if around is None and area is None:
        raise OutOfRangeError("scout needs --around SITE with --within DISTANCE, or --area FILE.geojson")
    trip = outing(book, date, band, mode)
    inside = None if area is None else read_mask(area)
    spot = around if around is not None else (trip.book.sites[0].name if trip.book.sites else None)
    if spot is None:
        raise OutOfRangeError("scout needs --around SITE: the book has no site whose set-ups could be taken")
    you, _ = party_named(spot, trip.book, "open")
    with asked.open_terrain(dem or trip.dem) as terrain, engine_for(scheduler) as engine:
        found = look(
            you,
            trip.stations,
            terrain,
            trip.terms,
            within_m=None if within is None else parse_distance_m(within),
            area=inside,
            mask=None if mask is None else read_mask(mask),
            workers=workers_for(),
            threads=workers_for(),
            engine=engine,
            resume=resume,
            cache_dir=asked.compile_cache(),
            progress=_show,
        )
    if as_json:
        from pathprofile.export.reach_json import to_json

        typer.echo(to_json(_document(found)))
        return
    typer.echo("\n".join(_lines(found)))


def _show(stage: str, state: State) -> None:
    if not sys.stderr.isatty():
        return
    left = "" if state.left_s is None else f", {state.left_s:.0f} s left"
    end = "\n" if state.done >= state.total else ""
    sys.stderr.write(f"\r{stage}: {state.done:.0f} of {state.total:.0f}{left}      {end}")
    sys.stderr.flush()


def _lines(found: Scouting) -> list[str]:
    lines = wrapped(
        f"{found.looked_at} places looked at. Chances times weights, added up: from the spot "
        f"{found.spot_contacts:.1f} of a possible {found.wanted_weight:g}."
    )
    worth = [place for place in found.places if place.gain >= _WORTH_A_WALK]
    if not worth:
        lines.append("Nothing nearby is worth the walk.")
    for number, place in enumerate(worth or found.places[:1], 1):
        where = f"{place.location.latitude_deg:.5f} {place.location.longitude_deg:.5f}"
        lines += wrapped(
            f"{number}. {where}: {place.ground_m:.0f} m, {place.distance_m:.0f} m {_way(place)}, "
            f"{place.contacts:.1f} ({place.gain:+.1f}); {'; '.join(place.why)}",
            further=3,
        )
    for note in found.notes:
        lines += wrapped(note)
    for name, reason in found.left_out:
        lines += wrapped(f"left out: {name}: {reason}")
    return lines


def _way(place: GoodGround) -> str:
    from pathprofile.changes.ranking import compass_word

    return compass_word(place.azimuth_deg)


def _document(found: Scouting) -> dict[str, Any]:
    return {
        "schema": "pathprofile.scout/1",
        "spot": {
            "latitude_deg": found.spot.latitude_deg,
            "longitude_deg": found.spot.longitude_deg,
            "ground_m": found.spot_ground_m,
            "contacts": found.spot_contacts,
        },
        "wanted_weight": found.wanted_weight,
        "places": [
            {
                "latitude_deg": place.location.latitude_deg,
                "longitude_deg": place.location.longitude_deg,
                "ground_m": place.ground_m,
                "slope_deg": place.slope_deg,
                "distance_m": place.distance_m,
                "azimuth_deg": place.azimuth_deg,
                "found_as": place.found_as,
                "contacts": place.contacts,
                "gain": place.gain,
                "why": list(place.why),
            }
            for place in found.places
        ],
        "cell_m": found.cell_m,
        "looked_at": found.looked_at,
        "left_out": [{"station": name, "reason": reason} for name, reason in found.left_out],
        "notes": list(found.notes),
    }
