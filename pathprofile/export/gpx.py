"""Site and stations as GPX waypoints, for a receiver or a telephone."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from typing import TYPE_CHECKING

from pathprofile.export.entries import NoResult, each_contact, foreword, path_name, station_words, stops
from pathprofile.export.files import write_export
from pathprofile.export.markup import add, as_bytes

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from pathprofile.contact import Contact
    from pathprofile.places import Location

__all__ = ["gpx_document", "write_gpx"]

NAMESPACE = "http://www.topografix.com/GPX/1/1"
SUFFIXES = (".gpx",)


def gpx_document(contacts: Contact | Iterable[Contact], without: Iterable[NoResult] = ()) -> bytes:
    """GPX 1.1 waypoints of one contact or many.

    Parameters
    ----------
    contacts : Contact or iterable of Contact
    without : iterable of NoResult
        Stations without an answer: a waypoint with the reason, or named in the file's description where
        their place is not known.

    Returns
    -------
    bytes
        A waypoint a site and a station; those of stations tell distance, azimuths, odds and mode. There is no
        time in it, so equal results give equal files.

    References
    ----------
    .. [1] GPX 1.1 schema, http://www.topografix.com/GPX/1/1/gpx.xsd (order of elements; longitude from −180
       up to, but not including, 180).
    """
    contacts, without = each_contact(contacts), tuple(without)
    root = ET.Element("gpx", {"xmlns": NAMESPACE, "version": "1.1", "creator": "pathprofile"})
    head = add(root, "metadata")
    add(head, "name", "Stations and sites")
    unplaced = [one for one in without if one.location is None]
    add(head, "desc", " ".join(foreword(contacts, unplaced)))
    for stop in stops(contacts):
        if stop.kind == "site":
            words = [path_name(contact) for contact in stop.contacts]
            text = f"Site at {stop.end.ground_m:.0f} m. " + "; ".join(words)
        else:
            text = " ".join(station_words(contact) for contact in stop.contacts)
        _waypoint(root, stop.end.location, stop.name, text, stop.kind, stop.end.ground_m)
    for one in without:
        if one.location is not None:
            _waypoint(root, one.location, one.name, f"No answer: {one.reason}", "station", None)
    return as_bytes(root)


def write_gpx(
    path: Path | str,
    contacts: Contact | Iterable[Contact],
    without: Iterable[NoResult] = (),
    *,
    overwrite: bool = True,
) -> None:
    """Write `gpx_document` into a file; see there.

    Raises
    ------
    OutputError
        For a name that does not end in ``.gpx``, or a file that cannot be written.
    """
    write_export(path, gpx_document(contacts, without), "GPX", SUFFIXES, overwrite=overwrite)


def _waypoint(
    root: ET.Element, where: Location, name: str, text: str, kind: str, ground_m: float | None
) -> None:
    longitude = f"{where.longitude_deg:.6f}"
    if longitude == "180.000000":  # the schema has the date line as −180 only
        longitude = "-180.000000"
    point = add(root, "wpt", lat=f"{where.latitude_deg:.6f}", lon=longitude)
    if ground_m is not None:
        add(point, "ele", f"{ground_m:.1f}")
    add(point, "name", name)
    add(point, "desc", text)
    add(point, "type", kind)
