"""Tables as CSV: a row a station, or a row a point of the profile.

Dialect (RFC 4180): UTF-8, commas, rows end in carriage return and line feed, cells in double quotes where
needed, one header row, decimal points, empty cells for what is unknown. Text that a spreadsheet would take
for a formula (a leading ``=``, ``+``, ``-`` or ``@``) has an apostrophe before it; numbers never do.
"""

from __future__ import annotations

import csv
import io
import math
from typing import TYPE_CHECKING

import numpy as np

from pathprofile.contact import Contact
from pathprofile.export.entries import FACTS, Fact, entries
from pathprofile.export.files import write_export
from pathprofile.export.text import safe_cell

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from pathprofile.export.entries import Answers, Entry

__all__ = [
    "PROFILE_COLUMNS",
    "STATION_COLUMNS",
    "profile_csv",
    "station_csv",
    "write_profile_csv",
    "write_station_csv",
]

SUFFIXES = (".csv",)
_BYTE_ORDER_MARK = b"\xef\xbb\xbf"

STATION_COLUMNS = (*FACTS, "station_latitude_deg", "station_longitude_deg", "station_uncertainty_m")
"""Columns of `station_csv`; ``reason`` says why a station has no answer."""

PROFILE_COLUMNS = (
    "site",
    "station",
    "distance_m",
    "latitude_deg",
    "longitude_deg",
    "ground_m",
    "clutter_m",
    "ground_with_bulge_m",
    "line_m",
    "clearance_m",
    "fresnel_m",
    "fresnel_ratio",
)
"""Columns of `profile_csv`; ``ground_with_bulge_m`` holds the clutter too."""


def station_csv(answers: Answers) -> str:
    """Table of one answer or many, a row each in the order given.

    Parameters
    ----------
    answers : Contact, PairAnswer or NoResult, or iterable of them
        Whole contacts, rows of a ranking or comparison, names without an answer.

    Returns
    -------
    str
        CSV with `STATION_COLUMNS`.
    """
    return _text(STATION_COLUMNS, ((*entry.facts.values(), *_place(entry)) for entry in entries(answers)))


def profile_csv(contacts: Contact | Iterable[Contact]) -> str:
    """Table of the ground under one path or several, a row a point.

    Parameters
    ----------
    contacts : Contact or iterable of Contact

    Returns
    -------
    str
        CSV with `PROFILE_COLUMNS`. Points that clutter or obstacles put between the samples are rows too.
    """

    def rows() -> Iterable[Sequence[Fact]]:
        for contact in (contacts,) if isinstance(contacts, Contact) else contacts:
            reach = contact.reach
            profile, seen, cluttered = reach.profile, reach.sightline, reach.survey.cluttered
            along_m = cluttered.distance_m
            turned = np.unwrap(profile.longitude_deg, period=360.0)
            longitude = (np.interp(along_m, profile.distance_m, turned) + 180.0) % 360.0 - 180.0
            columns = (
                np.round(along_m, 2),
                np.round(np.interp(along_m, profile.distance_m, profile.latitude_deg), 7),
                np.round(longitude, 7),
                np.round(cluttered.ground_m, 2),
                np.round(cluttered.clutter_m, 2),
                np.round(seen.ground_with_bulge_m, 2),
                np.round(seen.line_m, 2),
                np.round(seen.clearance_m, 2),
                np.round(seen.fresnel_m, 2),
                np.round(seen.fresnel_ratio, 4),
            )
            names = (contact.you.station.name, contact.them.station.name)
            for row in zip(*(column.tolist() for column in columns), strict=True):
                yield (*names, *row)

    return _text(PROFILE_COLUMNS, rows())


def write_station_csv(
    path: Path | str,
    answers: Answers,
    *,
    byte_order_mark: bool = False,
    overwrite: bool = True,
) -> None:
    """Write `station_csv` into a file.

    Parameters
    ----------
    path : Path or str
        A name ending in ``.csv``.
    answers
        As for `station_csv`.
    byte_order_mark : bool
        Begin with the mark by which some spreadsheets know UTF-8.
    overwrite : bool
        Whether an existing file may be replaced.

    Raises
    ------
    OutputError
        For another ending, or a file that cannot be written.
    """
    _write(path, station_csv(answers), byte_order_mark=byte_order_mark, overwrite=overwrite)


def write_profile_csv(
    path: Path | str,
    contacts: Contact | Iterable[Contact],
    *,
    byte_order_mark: bool = False,
    overwrite: bool = True,
) -> None:
    """Write `profile_csv` into a file; parameters and errors as for `write_station_csv`."""
    _write(path, profile_csv(contacts), byte_order_mark=byte_order_mark, overwrite=overwrite)


def _write(path: Path | str, text: str, *, byte_order_mark: bool, overwrite: bool) -> None:
    content = (_BYTE_ORDER_MARK if byte_order_mark else b"") + text.encode("utf-8")
    write_export(path, content, "CSV", SUFFIXES, overwrite=overwrite)


def _place(entry: Entry) -> tuple[Fact, Fact, Fact]:
    where = entry.station_at
    if where is None:
        return None, None, None
    return round(where.latitude_deg, 6), round(where.longitude_deg, 6), round(where.uncertainty_m, 1)


def _text(columns: Sequence[str], rows: Iterable[Sequence[Fact]]) -> str:
    written = io.StringIO(newline="")
    table = csv.writer(written, lineterminator="\r\n")
    table.writerow(columns)
    table.writerows([_cell(value) for value in row] for row in rows)
    return written.getvalue()


def _cell(value: Fact) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return safe_cell(value)
    return f"{value:.10g}" if math.isfinite(value) else ""
