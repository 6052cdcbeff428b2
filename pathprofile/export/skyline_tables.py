"""The skyline as CSV, a row a bearing, and as JSON with the stations against it."""

from __future__ import annotations

import csv
import io
import math
from typing import TYPE_CHECKING, Any

import numpy as np

from pathprofile.export.files import write_export
from pathprofile.export.reach_json import to_json
from pathprofile.export.text import one_line

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from pathlib import Path

    import numpy.typing as npt

    from pathprofile.area.landmarks import OnSkyline
    from pathprofile.area.skyline import Skyline

__all__ = [
    "SCHEMA",
    "SKYLINE_COLUMNS",
    "skyline_csv",
    "skyline_document",
    "write_skyline_csv",
    "write_skyline_json",
]

SCHEMA = "pathprofile.skyline/1"
SKYLINE_COLUMNS = (
    "azimuth_deg",
    "magnetic_azimuth_deg",
    "elevation_deg",
    "distance_m",
    "ground_m",
    "reach_m",
    "least_elevation_deg",
    "open_end",
)
"""Columns of `skyline_csv`; empty where unknown. ``reach_m`` is how far the ground is known.

Where ``open_end`` is 1 (JSON: true) that is nearer than the horizon: ``elevation_deg``, ``distance_m`` and
``ground_m`` are those of the highest ground known, and the horizon is at ``least_elevation_deg`` at least."""

_DECIMALS = (6, 6, 4, 1, 2, 1, 4)


def skyline_csv(skyline: Skyline, *, declination_deg: float | None = None) -> str:
    """Table of the horizon (RFC 4180), a row a bearing.

    Parameters
    ----------
    skyline : Skyline
    declination_deg : float, optional
        Magnetic declination at the site, east positive; without it that column stays empty [degrees].

    Returns
    -------
    str
        CSV with `SKYLINE_COLUMNS`.
    """
    written = io.StringIO(newline="")
    table = csv.writer(written, lineterminator="\r\n")
    table.writerow(SKYLINE_COLUMNS)
    columns = _columns(skyline, declination_deg)
    for row in zip(*(columns[name] for name in SKYLINE_COLUMNS), strict=True):
        table.writerow(["" if value is None else f"{value:.10g}" for value in row])  # a flag as 0 or 1
    return written.getvalue()


def skyline_document(
    skyline: Skyline,
    *,
    declination_deg: float | None = None,
    stations: Iterable[OnSkyline] = (),
    tiles: Sequence[Mapping[str, object]] = (),
    versions: Mapping[str, str] | None = None,
) -> dict[str, Any]:
    """Whole skyline as plain lists, numbers and text.

    Parameters
    ----------
    skyline : Skyline
    declination_deg : float, optional
        Magnetic declination at the site, east positive [degrees].
    stations : iterable of OnSkyline
        Stations against the skyline.
    tiles : sequence of mapping
        Name and checksum of each elevation tile read.
    versions : mapping of str to str, optional
        Program and data versions.

    Returns
    -------
    dict
        ``schema`` "pathprofile.skyline/1": keys may be added to it, never changed. Unknown figures are None.
    """
    site = skyline.site
    return {
        "schema": SCHEMA,
        "inputs": {
            "site": {
                "label": one_line(site.label),
                "latitude_deg": site.latitude_deg,
                "longitude_deg": site.longitude_deg,
            },
            "eye_amsl_m": skyline.eye_amsl_m,
            "effective_radius_m": skyline.effective_radius_m,
            "looked_m": skyline.looked_m,
            "declination_deg": declination_deg,
            "tiles": [dict(tile) for tile in tiles],
            "versions": dict(versions or {}),
        },
        "skyline": _columns(skyline, declination_deg),
        "stations": [
            {
                "name": one_line(one.landmark.name),
                "distance_m": one.landmark.distance_m,
                "azimuth_deg": one.landmark.azimuth_deg,
                "magnetic_azimuth_deg": None
                if declination_deg is None
                else (one.landmark.azimuth_deg - declination_deg) % 360.0,
                "elevation_deg": _number(one.elevation_deg),
                "horizon_elevation_deg": _number(one.horizon_deg),
                "horizon_distance_m": _number(one.horizon_m),
                "stands": one.stands,
                "open_end": one.open_end,
            }
            for one in stations
        ],
        "notes": list(skyline.notes),
    }


def write_skyline_csv(
    path: Path | str, skyline: Skyline, *, declination_deg: float | None = None, overwrite: bool = True
) -> None:
    """Write `skyline_csv` into a file.

    Parameters
    ----------
    path : Path or str
        A name ending in ``.csv``.
    skyline, declination_deg
        As for `skyline_csv`.
    overwrite : bool
        Whether an existing file may be replaced.

    Raises
    ------
    OutputError
        For another ending, or a file that cannot be written.
    """
    text = skyline_csv(skyline, declination_deg=declination_deg)
    write_export(path, text.encode("utf-8"), "CSV", (".csv",), overwrite=overwrite)


def write_skyline_json(path: Path | str, skyline: Skyline, *, overwrite: bool = True, **more: Any) -> None:
    """Write `skyline_document` into a file.

    Parameters
    ----------
    path : Path or str
        A name ending in ``.json``.
    skyline : Skyline
    overwrite : bool
        Whether an existing file may be replaced.
    **more
        The other parameters of `skyline_document`.

    Raises
    ------
    OutputError
        For another ending, or a file that cannot be written.
    """
    text = to_json(skyline_document(skyline, **more), indent=1) + "\n"
    write_export(path, text.encode("utf-8"), "JSON", (".json",), overwrite=overwrite)


def _columns(skyline: Skyline, declination_deg: float | None) -> dict[str, list[Any]]:
    unknown = np.full(skyline.azimuth_deg.size, np.nan)
    magnetic = unknown if declination_deg is None else _turned(skyline.azimuth_deg, declination_deg)
    arrays = (
        skyline.azimuth_deg,
        magnetic,
        skyline.elevation_deg,
        skyline.distance_m,
        skyline.ground_m,
        skyline.reach_m,
        skyline.least_deg,
    )
    numbers = {
        name: [_number(value) for value in np.round(array, decimals).tolist()]
        for name, array, decimals in zip(SKYLINE_COLUMNS[:-1], arrays, _DECIMALS, strict=True)
    }
    return {**numbers, "open_end": skyline.open_end.tolist()}


def _turned(azimuth_deg: npt.NDArray[np.float64], declination_deg: float) -> npt.NDArray[np.float64]:
    """Magnetic azimuths, 0 rather than 360 where they are rounded."""
    return np.round(azimuth_deg - declination_deg, _DECIMALS[1]) % 360.0


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None
