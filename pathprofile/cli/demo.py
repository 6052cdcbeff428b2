"""``pathprofile demo``: the main job on the embedded sample, no arguments needed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

from pathprofile.cli import options

if TYPE_CHECKING:
    from pathprofile.link.ends import SurroundingsName

FROM, TO = "Gull Tor", "Marsh End"


def demo(*, chart: options.Chart = None, as_json: options.Json = False) -> None:
    """Do the main job on an invented island: Gull Tor to Marsh End, 161 km, 2 m SSB."""
    from pathprofile.cli import asked
    from pathprofile.cli.reach import CHART_SUFFIXES, deliver
    from pathprofile.cli.width import wrapped
    from pathprofile.contact import Party, contact
    from pathprofile.places import parse_location
    from pathprofile.sample import sample_dir, sample_places
    from pathprofile.station import Station

    picture = chart or "pathprofile-demo.png"
    asked.check_output(picture, CHART_SUFFIXES)
    places = sample_places()
    sides: tuple[tuple[str, str, str, str, str, SurroundingsName], ...] = (
        (FROM, "6m", "10W", "log-periodic", "RG-58 9m", "open"),
        (TO, "10m", "50W", "7-element beam", "RG-213 15m", "suburb"),
    )
    you, them = (
        Party(
            asked.station_of(
                Station(name=name, place=name),
                144.3,
                height=height,
                power=power,
                antenna=antenna,
                feedline=line,
            ),
            parse_location(f"{places[name].latitude_deg:.5f} {places[name].longitude_deg:.5f}", label=name),
            surroundings,
        )
        for name, height, power, antenna, line, surroundings in sides
    )
    with asked.open_terrain([str(sample_dir())]) as terrain:
        found = contact(you, them, terrain, date=asked.day(None), frequency_mhz=144.3, mode="ssb")
        deliver(found, terrain, chart=picture, as_json=as_json, quiet=False)
    if not as_json:
        typer.echo("\n".join(wrapped("The island, its places and its stations are invented.")))
