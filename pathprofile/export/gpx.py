"""Site and stations as GPX waypoints, for a receiver or a telephone."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from typing import TYPE_CHECKING

from pathprofile.export.entries import entries, foreword, stops
from pathprofile.export.files import write_export
from pathprofile.export.markup import add, as_bytes

if TYPE_CHECKING:
    from pathlib import Path

    from pathprofile.export.entries import Answers, Stop

__all__ = ["gpx_document", "write_gpx"]

NAMESPACE = "http://www.topografix.com/GPX/1/1"
SUFFIXES = (".gpx",)


def gpx_document(answers: Answers) -> bytes:
    """GPX 1.1 waypoints of one answer or many.

    Parameters
    ----------
    answers : Contact, PairAnswer or NoResult, or iterable of them
        Whole contacts, rows of a ranking or comparison, names without an answer.

    Returns
    -------
    bytes
        A waypoint a site and a station; those of stations tell distance, azimuths, odds and mode, or why
        there is no answer. Stations without a place are named in the file's description. There is no time in
        it, so equal results give equal files.

    References
    ----------
    .. [1] GPX 1.1 schema, http://www.topografix.com/GPX/1/1/gpx.xsd (order of elements; longitude from −180
       up to, but not including, 180).
    """
    found = entries(answers)
    root = ET.Element("gpx", {"xmlns": NAMESPACE, "version": "1.1", "creator": "pathprofile"})
    head = add(root, "metadata")
    add(head, "name", "Sites and stations")
    add(head, "desc", " ".join(foreword(found)))
    for stop in stops(found):
        _waypoint(root, stop)
    return as_bytes(root)


def write_gpx(path: Path | str, answers: Answers, *, overwrite: bool = True) -> None:
    """Write `gpx_document` into a file; see there.

    Raises
    ------
    OutputError
        For a name that does not end in ``.gpx``, or a file that cannot be written.
    """
    write_export(path, gpx_document(answers), "GPX", SUFFIXES, overwrite=overwrite)


def _waypoint(root: ET.Element, stop: Stop) -> None:
    longitude = f"{stop.where.longitude_deg:.6f}"
    if longitude == "180.000000":  # the schema has the date line as −180 only
        longitude = "-180.000000"
    point = add(root, "wpt", lat=f"{stop.where.latitude_deg:.6f}", lon=longitude)
    if stop.ground_m is not None:
        add(point, "ele", f"{stop.ground_m:.1f}")
    add(point, "name", stop.name)
    add(point, "desc", ("; " if stop.kind == "site" else " ").join(stop.words))
    add(point, "type", stop.kind)
