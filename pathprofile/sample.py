"""The sample island that ships with the package: its files and its places, all of them invented."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path

from pathprofile.errors import PathProfileError

__all__ = ["SamplePlace", "sample_dir", "sample_places"]

_HERE = Path(__file__).resolve().parent


@dataclass(frozen=True)
class SamplePlace:
    """An invented place on the sample island, WGS 84."""

    name: str
    latitude_deg: float
    longitude_deg: float
    kind: str
    note: str


def sample_dir() -> Path:
    """Find the folder of sample elevation tiles.

    Returns
    -------
    Path
        ``pathprofile/sample_dem`` of an installed package, or ``sample_dem`` of a source checkout.

    Raises
    ------
    PathProfileError
        If neither holds ``places.toml``.
    """
    candidates = (_HERE / "sample_dem", _HERE.parent / "sample_dem")
    for folder in candidates:
        if (folder / "places.toml").is_file():
            return folder
    looked = " nor ".join(repr(str(folder)) for folder in candidates)
    raise PathProfileError(
        f"no sample data: neither {looked} holds places.toml; "
        "install pathprofile again, or name your own elevation files"
    )


def sample_places() -> dict[str, SamplePlace]:
    """Read the places of the sample island.

    Returns
    -------
    dict of str to SamplePlace
        Keyed by name, in the order of the file: summits first.

    Raises
    ------
    PathProfileError
        If the sample data is missing.
    """
    with (sample_dir() / "places.toml").open("rb") as file:
        table = tomllib.load(file)
    return {entry["name"]: SamplePlace(**entry) for entry in table["place"]}
