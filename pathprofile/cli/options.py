"""Options shared by commands: one name, one meaning, one unit."""

from __future__ import annotations

from typing import Annotated

import typer

__all__ = [
    "AcceptDatums",
    "Band",
    "Chart",
    "Clutter",
    "Date",
    "Dem",
    "FromPlace",
    "Json",
    "ToPlace",
]

FromPlace = Annotated[
    str,
    typer.Argument(
        metavar="FROM",
        help="Where you are: degrees, locator, UTM, MGRS, or a name from the book.",
        show_default=False,
    ),
]
ToPlace = Annotated[
    str, typer.Argument(metavar="TO", help="The other station, in the same notations.", show_default=False)
]
Dem = Annotated[
    list[str] | None,
    typer.Option(
        "--dem",
        metavar="DIR",
        help="Elevation tiles, folder or file; may be repeated. Else PATHPROFILE_DEM, else the data folder.",
        show_default=False,
    ),
]
Band = Annotated[
    str, typer.Option("--frequency", metavar="MHZ", help="Frequency in MHz, or a band: 6m, 2m, 70cm, 23cm.")
]
Chart = Annotated[
    str | None,
    typer.Option(
        "--chart",
        metavar="FILE",
        help="Draw the path into this file: .png, .svg or .pdf.",
        show_default=False,
    ),
]
Json = Annotated[bool, typer.Option("--json", help="Print the whole result as JSON instead of text.")]
Date = Annotated[
    str | None,
    typer.Option(
        "--date", metavar="YYYY-MM-DD", help="Day of the contact, for magnetic north.", show_default="today"
    ),
]
Clutter = Annotated[
    str,
    typer.Option(
        "--clutter", metavar="HEIGHT", help="Trees or roofs along the path, 50 m clear round each antenna."
    ),
]
AcceptDatums = Annotated[
    bool, typer.Option("--accept-mixed-datums", help="Allow tiles whose heights count from different zeros.")
]
