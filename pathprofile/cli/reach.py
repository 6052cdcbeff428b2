"""``pathprofile reach``: the whole answer for one path, in words, as JSON, and as a picture."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import typer

from pathprofile.cli import options
from pathprofile.cli.width import shown, wrapped

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable

    from pathprofile.changes import Changes
    from pathprofile.contact import Contact, Party
    from pathprofile.terrain.store import TerrainStore

_A_POINT_M = 1000.0
CHART_SUFFIXES = (".png", ".svg", ".pdf")


def reach(
    from_place: options.FromPlace,
    to_place: options.ToPlace,
    *,
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
    from_ground: options.FromGround = None,
    to_ground: options.ToGround = None,
    mast_limit: options.MastLimit = None,
    clutter: options.Clutter = "0m",
    clear: options.Clear = "50m",
    obstacle: options.Obstacle = None,
    sea: options.Sea = None,
    sea_from_terrain: options.SeaFromTerrain = False,
    step: options.Step = None,
    strict_holes: options.StrictHoles = False,
    sea_where_missing: options.SeaWhereMissing = False,
    sea_where_hole: options.SeaWhereHole = False,
    accept_mixed_datums: options.AcceptDatums = False,
    k: options.K = None,
    delta_n: options.DeltaN = None,
    n0: options.N0 = None,
    refractivity_maps: options.RefractivityMapsDir = None,
    sweep_k: options.SweepK = False,
    path_sigma: options.PathSigma = None,
    noise_sigma: options.NoiseSigma = None,
    date: options.Date = None,
    chart: options.Chart = None,
    as_json: options.Json = False,
    quiet: options.Quiet = False,
) -> None:
    """Say whether FROM can reach TO: the contact both ways, what limits it, what would change it."""
    from pathprofile.cli import asked
    from pathprofile.cli.parties import book_in_use, parties
    from pathprofile.contact import MAST_LIMIT_M, contact
    from pathprofile.errors import TerrainGapError
    from pathprofile.quantities import parse_distance_m, parse_frequency_mhz, parse_height_m
    from pathprofile.reach import GroundOptions

    asked.check_output(chart, CHART_SUFFIXES)
    frequency_mhz = parse_frequency_mhz(frequency)
    mast_limit_m = asked.height_or_none(mast_limit)
    the_book = book_in_use(book, quiet=quiet)
    when = asked.contact_day(date, the_book)
    sides = parties(
        from_place,
        to_place,
        the_book,
        frequency_mhz,
        mode=mode,
        polarization=polarization,
        heights=(from_height, to_height),
        powers=(from_power, to_power),
        antennas=(from_antenna, to_antenna),
        feedlines=(from_feedline, to_feedline),
        noises=(from_noise, to_noise),
        mast_limit_m=mast_limit_m,
    )
    ground = GroundOptions(
        step_m=asked.distance_or_none(step),
        strict_holes=strict_holes,
        sea_where_missing=sea_where_missing,
        sea_where_hole=sea_where_hole,
        accept_mixed_datums=accept_mixed_datums,
        from_ground_m=_ground(from_ground, sides.ground_m[0]),
        to_ground_m=_ground(to_ground, sides.ground_m[1]),
        clutter_m=parse_height_m(clutter),
        clear_round_antenna_m=parse_distance_m(clear, zero=True),
        obstacles=asked.obstacles_of(obstacle),
        sea_m=asked.sea_of(sea),
        sea_from_terrain=sea_from_terrain,
    )
    air = asked.atmosphere_of(
        k, delta_n, n0, refractivity_maps, asked.middle_of(sides.you.location, sides.them.location)
    )
    with asked.open_terrain(dem or sides.dem) as terrain:
        answer: Callable[..., Contact] = contact
        ends = (sides.you.location, sides.them.location)
        if any(end.cell is not None or end.uncertainty_m > _A_POINT_M for end in ends):
            from pathprofile.trip.placed import placed_contact  # what areas need loads slowly

            if _only_directions(sides.you, sides.them, when, as_json=as_json, chart=chart):
                return
            answer = placed_contact
        try:
            found = answer(
                sides.you,
                sides.them,
                terrain,
                date=when,
                frequency_mhz=frequency_mhz,
                mode=mode,
                atmosphere=air,
                options=ground,
                mast_limit_m=MAST_LIMIT_M if mast_limit_m is None else mast_limit_m,
                path_sigma_db=path_sigma,
                noise_sigma_db=noise_sigma,
            )
        except TerrainGapError as gap:
            raise TerrainGapError(f"{asked.mistyped(terrain, ends)}{gap}") from None
        deliver(found, terrain, chart=chart, as_json=as_json, quiet=quiet, with_k=sweep_k)


def _only_directions(you: Party, them: Party, when: dt.date, *, as_json: bool, chart: str | None) -> bool:
    """Answer with directions alone where a place is too vague for anything else."""
    from pathprofile.geodesy import declination, inverse
    from pathprofile.trip.areas import direction_span, too_vague

    reasons = [reason for party in (you, them) if (reason := too_vague(party.location)) is not None]
    if not reasons:
        return False
    here, there = you.location, them.location
    leg = inverse(here.latitude_deg, here.longitude_deg, there.latitude_deg, there.longitude_deg)
    north = declination(here.latitude_deg, here.longitude_deg, when).declination_deg
    magnetic_deg = (leg.azimuth_deg - north) % 360.0
    span = direction_span(here, there)
    if as_json:
        from pathprofile.export.reach_json import to_json

        path = {
            "distance_m": leg.distance_m,
            "azimuth_deg": leg.azimuth_deg,
            "magnetic_azimuth_deg": magnetic_deg,
        }
        typer.echo(
            to_json(
                {
                    "schema": "pathprofile.directions/1",
                    "path": {**path, "back_azimuth_deg": leg.back_azimuth_deg},
                    "pair": {"chance": None, "verdict": None, "text": "; ".join(reasons)},
                    "warnings": reasons,
                }
            )
        )
    else:
        said = [f"NO VERDICT: {'; '.join(reasons)}."]
        said.append(
            f"To its middle {leg.distance_m / 1000:.0f} km, point {round(magnetic_deg) % 360:03d} magnetic "
            f"({round(leg.azimuth_deg) % 360:03d} true)."
        )
        if span is not None:
            said.append(f"All of it: {span.text} (true).")
        typer.echo("\n".join(line for text in said for line in wrapped(text)))
    if chart is not None:
        typer.echo("no picture: there is no single path to draw", err=True)
    return True


def _ground(said: str | None, in_book_m: float | None) -> float | None:
    """Ground height of an end: the command line's, else the book's."""
    from pathprofile.cli.asked import height_or_none

    return in_book_m if said is None else height_or_none(said, lowest_m=-500.0)


def deliver(
    found: Contact,
    terrain: TerrainStore,
    *,
    chart: str | None,
    as_json: bool,
    quiet: bool,
    with_k: bool = False,
) -> None:
    """Draw, then print: an answer on standard out means that the picture is there too."""
    from pathprofile.changes import what_would_change
    from pathprofile.cli.asked import in_place_of
    from pathprofile.reach import sweep_k

    instead = in_place_of(chart)
    changes = what_would_change(found, terrain)
    steps = sweep_k(found.reach) if with_k else ()
    if chart is not None:
        draw(found, chart, changes)
    if as_json:
        from pathprofile.export.contact_json import contact_document
        from pathprofile.export.reach_json import to_json

        document = contact_document(found, changes, tiles=_tiles(found, terrain))
        document["warnings"] = list(dict.fromkeys((*terrain.warnings, *document["warnings"])))
        if steps:
            document["k_sweep"] = [step._asdict() for step in steps]
        typer.echo(to_json(document))
    else:
        from pathprofile.cli.answer import answer_lines

        below = 1 + len(steps) + (chart is not None)
        typer.echo("\n".join(answer_lines(found, changes, below=below)))
        for step in steps:
            typer.echo(f"With k {step.k_factor:.2f}: loss {step.loss_db:.0f} dB, {step.verdict}.")
        if chart is not None:
            typer.echo(shown(f"Picture: {chart}{instead}"))
    if not quiet:
        for text in dict.fromkeys((*terrain.warnings, *found.reach.warnings)):
            typer.echo(shown(f"warning: {text}"), err=True)


def draw(found: Contact, chart: str, changes: Changes | None = None) -> None:
    """Draw the picture of one contact into a file."""
    from pathprofile.cli.answer import headline, margin_line, parted_lines, picture_caution
    from pathprofile.draw.path_chart import save_path_chart

    grave = [text for text in found.reach.warnings if text.startswith("DOUBTFUL")]
    save_path_chart(
        found.reach,
        chart,
        headline=headline(found),
        header_lines=(
            found.link.who_hears_whom,
            f"{margin_line(found)}.",
            *grave[:1],
            *parted_lines(found),
            *(text for text in found.doubts if "is an area" in text),
        ),
        caution=picture_caution(found, changes),
        aim=found.aim,
    )


def _tiles(found: Contact, terrain: TerrainStore) -> list[dict[str, Any]]:
    return [
        {
            "name": tile.name,
            "checksum": terrain.checksum(tile),
            "vertical_datum": tile.vertical_datum,
            "model_kind": tile.model_kind,
            "cell_m": tile.cell_m,
        }
        for tile in found.reach.profile.tiles
    ]
