"""Options shared by commands: one name, one meaning, one unit."""

from __future__ import annotations

from typing import Annotated

import typer

__all__ = [
    "N0",
    "AcceptDatums",
    "BandWanted",
    "Book",
    "Cell",
    "Chart",
    "Charts",
    "Clear",
    "Clutter",
    "Csv",
    "Date",
    "DeltaN",
    "Dem",
    "Frequency",
    "FromAntenna",
    "FromFeedline",
    "FromGround",
    "FromHeight",
    "FromNoise",
    "FromPlace",
    "FromPower",
    "Json",
    "K",
    "MastLimit",
    "Mode",
    "ModeWanted",
    "NoiseSigma",
    "Obstacle",
    "PathSigma",
    "Polarization",
    "Quiet",
    "Radius",
    "RefractivityMapsDir",
    "Save",
    "Sea",
    "SeaFromTerrain",
    "SeaWhereHole",
    "SeaWhereMissing",
    "Step",
    "StrictHoles",
    "SweepK",
    "ToAntenna",
    "ToFeedline",
    "ToGround",
    "ToHeight",
    "ToNoise",
    "ToPlace",
    "ToPower",
]

_PATH = "The path"
_ENDS = "Both ends (what you leave out is assumed, and said so)"
_GROUND = "The ground between"
_AIR = "The air"
_ODDS = "The odds"

_NOTATIONS = "degrees, locator, UTM, MGRS, or a name from the book"


def _own(flag: str, text: str, metavar: str, panel: str = _GROUND) -> typer.models.OptionInfo:
    option: typer.models.OptionInfo = typer.Option(
        flag, metavar=metavar, help=text, show_default=False, rich_help_panel=panel
    )
    return option


FromPlace = Annotated[str, typer.Argument(metavar="FROM", help=f"Where you are: {_NOTATIONS}.")]
ToPlace = Annotated[str, typer.Argument(metavar="TO", help="The other station, in the same notations.")]
Dem = Annotated[
    list[str] | None,
    _own(
        "--dem",
        "Elevation tiles, folder or file; may be repeated. Else PATHPROFILE_DEM, else the data folder.",
        "DIR",
        _PATH,
    ),
]
Book = Annotated[str | None, _own("--book", "Trip book with stations and sites, by name.", "FILE", _PATH)]
Frequency = Annotated[
    str, typer.Option("--frequency", metavar="MHZ", help="Frequency in MHz, or a band: 6m, 2m, 70cm, 23cm.")
]
Mode = Annotated[
    str | None,
    _own(
        "--mode", "fm, ssb, morse, packet-1200, weak-digital … Default: SSB low in a band, else FM.", "MODE"
    ),
]
Polarization = Annotated[
    str | None, _own("--polarization", "vertical or horizontal, at both ends. Default: the mode's.", "WAY")
]
Chart = Annotated[str | None, _own("--chart", "Draw the picture into this file: .png, .svg or .pdf.", "FILE")]
Json = Annotated[bool, typer.Option("--json", help="Print the whole result as JSON instead of text.")]
Quiet = Annotated[bool, typer.Option("--quiet", help="Keep warnings to yourself.")]
Date = Annotated[
    str | None,
    _own(
        "--date",
        "Day of the contact, for magnetic north. Default: the trip's day with a book, else today.",
        "YYYY-MM-DD",
    ),
]

PathSigma = Annotated[
    float | None,
    _own("--path-sigma", "Standard deviation of the path loss in dB, instead of 8.", "DB", _ODDS),
]
NoiseSigma = Annotated[
    float | None,
    _own(
        "--noise-sigma",
        "Standard deviation of the noise at both ends in dB, instead of 6, or 3 where measured.",
        "DB",
        _ODDS,
    ),
]

BandWanted = Annotated[
    list[str] | None,
    _own("--band", "A band wanted, best first; may be repeated. Else the book's.", "BAND", _PATH),
]
ModeWanted = Annotated[
    list[str] | None,
    _own("--mode-wanted", "A mode wanted, best first; may be repeated. Else the book's.", "MODE", _PATH),
]
Save = Annotated[
    list[str] | None,
    _own("--save", "Save into .gpx, .kml, .geojson or .csv; may be repeated.", "FILE", _PATH),
]
Charts = Annotated[str | None, _own("--charts", "Draw every pair into this folder.", "DIR", _PATH)]
Csv = Annotated[bool, typer.Option("--csv", help="Print a table with commas instead of text.")]
Radius = Annotated[
    str, typer.Option("--radius", metavar="DISTANCE", help="How far round the site.", rich_help_panel=_PATH)
]
Cell = Annotated[
    str, typer.Option("--cell", metavar="DISTANCE", help="Side of a cell of the map.", rich_help_panel=_PATH)
]
FromHeight = Annotated[
    str | None, _own("--from-height", "Your antenna above ground: 6, 6m, 20ft.", "HEIGHT", _ENDS)
]
ToHeight = Annotated[str | None, _own("--to-height", "Their antenna above ground.", "HEIGHT", _ENDS)]
FromPower = Annotated[str | None, _own("--from-power", "Your power at the radio: 10 or 10W.", "POWER", _ENDS)]
ToPower = Annotated[str | None, _own("--to-power", "Their power, likewise.", "POWER", _ENDS)]
FromAntenna = Annotated[
    str | None,
    _own(
        "--from-antenna", "Your antenna: a kind ('5-element beam') or its gain (9dBi, 7dBd).", "KIND", _ENDS
    ),
]
ToAntenna = Annotated[str | None, _own("--to-antenna", "Their antenna, likewise.", "KIND", _ENDS)]
FromFeedline = Annotated[
    str | None, _own("--from-feedline", "Your coax: 'RG-213 12m', or its loss: 2.5dB.", "COAX", _ENDS)
]
ToFeedline = Annotated[str | None, _own("--to-feedline", "Their coax, likewise.", "COAX", _ENDS)]
FromNoise = Annotated[
    str | None,
    _own(
        "--from-noise",
        "Noise where you are: 'quiet rural', 'city' …; S3 on SSB; or -120dBm/2.4kHz.",
        "NOISE",
        _ENDS,
    ),
]
ToNoise = Annotated[str | None, _own("--to-noise", "Noise where they are, likewise.", "NOISE", _ENDS)]
FromGround = Annotated[
    str | None, _own("--from-ground", "Ground height at FROM, instead of the map's.", "HEIGHT", _ENDS)
]
ToGround = Annotated[
    str | None, _own("--to-ground", "Ground height at TO, instead of the map's.", "HEIGHT", _ENDS)
]
MastLimit = Annotated[
    str | None,
    _own(
        "--mast-limit",
        "Highest mast worth naming (100m); lets a height go beyond the book's limit.",
        "HEIGHT",
        _ENDS,
    ),
]

Clutter = Annotated[
    str,
    typer.Option(
        "--clutter", metavar="HEIGHT", help="Trees or roofs along the whole path.", rich_help_panel=_GROUND
    ),
]
Clear = Annotated[
    str,
    typer.Option(
        "--clear", metavar="DISTANCE", help="No clutter this close to an antenna.", rich_help_panel=_GROUND
    ),
]
Obstacle = Annotated[
    list[str] | None,
    _own("--obstacle", "Something the map lacks: 12.4km:18m. May be repeated.", "WHERE:HEIGHT"),
]
Sea = Annotated[
    list[str] | None, _own("--sea", "A stretch of sea: 20km-65km. May be repeated.", "START-STOP")
]
SeaFromTerrain = Annotated[
    bool,
    typer.Option("--sea-from-terrain", help="Look for sea and coast in the tiles.", rich_help_panel=_GROUND),
]
Step = Annotated[str | None, _own("--step", "Sampling step, instead of the finest cell's.", "DISTANCE")]
StrictHoles = Annotated[
    bool, typer.Option("--strict-holes", help="Refuse any hole in the map.", rich_help_panel=_GROUND)
]
SeaWhereMissing = Annotated[
    bool, typer.Option("--sea-where-missing", help="Missing tiles are sea.", rich_help_panel=_GROUND)
]
SeaWhereHole = Annotated[
    bool, typer.Option("--sea-where-hole", help="Holes too wide to bridge are sea.", rich_help_panel=_GROUND)
]
AcceptDatums = Annotated[
    bool,
    typer.Option(
        "--accept-mixed-datums",
        help="Allow tiles that count heights from different zeros.",
        rich_help_panel=_GROUND,
    ),
]

K = Annotated[float | None, _own("--k", "Effective Earth radius factor, instead of 4/3.", "K", _AIR)]
DeltaN = Annotated[float | None, _own("--delta-n", "Refractivity lapse in N/km, instead of --k.", "N", _AIR)]
N0 = Annotated[float | None, _own("--n0", "Surface refractivity at sea level (325).", "N", _AIR)]
SweepK = Annotated[
    bool, typer.Option("--sweep-k", help="Add the answer for other air, k 2/3 to 4.", rich_help_panel=_AIR)
]
RefractivityMapsDir = Annotated[
    str | None,
    _own("--refractivity-maps", "Folder with your copy of the ITU maps DN50.TXT and N050.TXT.", "DIR", _AIR),
]
