"""Paths by verdict, obstacles and places as KML."""

from __future__ import annotations

import html
import xml.etree.ElementTree as ET
from typing import TYPE_CHECKING, NamedTuple

from pathprofile.export.entries import (
    NoResult,
    each_contact,
    facts,
    foreword,
    path_name,
    sight_words,
    station_words,
    stops,
)
from pathprofile.export.files import write_export
from pathprofile.export.lines import cut_at_antimeridian, dashed, map_points
from pathprofile.export.markup import add, as_bytes
from pathprofile.export.text import one_line

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from pathprofile.contact import Contact
    from pathprofile.export.lines import Line

__all__ = ["PATTERNS", "kml_document", "write_kml"]

NAMESPACE = "http://www.opengis.net/kml/2.2"
SUFFIXES = (".kml",)


class Pattern(NamedTuple):
    """How a path is drawn: colour as red, green, blue; width in pixels; dashes and the part of each drawn."""

    rgb: str
    width: float
    dashes: int = 1
    drawn: float = 1.0


PATTERNS = {
    "solid": Pattern("f7bd3e", 7.0),
    "workable": Pattern("f7bd3e", 3.5),
    "marginal": Pattern("fdfaf1", 3.5, dashes=12, drawn=0.65),
    "unlikely": Pattern("182038", 2.5, dashes=30, drawn=0.35),
}
"""By verdict. Width and dashes tell them apart without colour; the colours go from light to dark."""


def kml_document(contacts: Contact | Iterable[Contact], without: Iterable[NoResult] = ()) -> bytes:
    """KML 2.2 document of one contact or many.

    Parameters
    ----------
    contacts : Contact or iterable of Contact
    without : iterable of NoResult
        Stations without an answer: a placemark with the reason, or named in the document's description where
        their place is not known.

    Returns
    -------
    bytes
        Folders of sites, stations, and paths by verdict; each path with its obstacles. KML knows no dashed
        lines, so the dashes are pieces of the path.

    Notes
    -----
    Viewers show descriptions as HTML: markup in a name is escaped there twice, once for each reader.

    References
    ----------
    .. [1] OGC 07-147r2, KML 2.2 (colours as alpha, blue, green, red; longitude, latitude).
    """
    contacts, without = each_contact(contacts), tuple(without)
    root = ET.Element("kml", {"xmlns": NAMESPACE})
    document = add(root, "Document")
    add(document, "name", "Paths, sites and stations")
    _describe(document, foreword(contacts, [one for one in without if one.location is None]))
    for word, pattern in PATTERNS.items():
        style = add(add(document, "Style", id=word), "LineStyle")
        red, green, blue = (pattern.rgb[i : i + 2] for i in (0, 2, 4))
        add(style, "color", f"ff{blue}{green}{red}")
        add(style, "width", f"{pattern.width:g}")
    folders = {kind: add(document, "Folder") for kind in ("site", "station")}
    for folder, title in zip(folders.values(), ("Sites", "Stations"), strict=True):
        add(folder, "name", title)
    for stop in stops(contacts):
        words = [station_words(contact) for contact in stop.contacts]
        if stop.kind == "site":
            words = [path_name(contact) for contact in stop.contacts]
        mark = _placemark(folders[stop.kind], stop.name, words)
        _point(mark, stop.end.location.latitude_deg, stop.end.location.longitude_deg)
    for one in without:
        if one.location is not None:
            mark = _placemark(folders["station"], one.name, [f"No answer: {one.reason}"])
            _point(mark, one.location.latitude_deg, one.location.longitude_deg)
    for word in PATTERNS:
        chosen = [contact for contact in contacts if contact.link.pair.verdict.word == word]
        if chosen:
            folder = add(document, "Folder")
            add(folder, "name", f"Paths: {word}")
            for contact in chosen:
                _path(folder, contact)
    return as_bytes(root)


def write_kml(
    path: Path | str,
    contacts: Contact | Iterable[Contact],
    without: Iterable[NoResult] = (),
    *,
    overwrite: bool = True,
) -> None:
    """Write `kml_document` into a file; see there.

    Raises
    ------
    OutputError
        For a name that does not end in ``.kml``, or a file that cannot be written.
    """
    write_export(path, kml_document(contacts, without), "KML", SUFFIXES, overwrite=overwrite)


def _path(folder: ET.Element, contact: Contact) -> None:
    word = contact.link.pair.verdict.word
    pattern = PATTERNS[word]
    sight = sight_words(contact)
    words = [contact.link.who_hears_whom, f"{sight[0].upper()}{sight[1:]}.", *contact.reach.warnings]
    mark = _placemark(folder, path_name(contact), words)
    add(mark, "styleUrl", f"#{word}")
    data = add(mark, "ExtendedData")
    for key, value in facts(contact).items():
        if value is not None and key not in {"site", "station"}:  # names stay out of what viewers may render
            add(add(data, "Data", name=key), "value", str(value))
    points = map_points(contact.reach)
    pieces = [points] if pattern.dashes == 1 else dashed(points, pattern.dashes, pattern.drawn)
    lines = [line for piece in pieces for line in cut_at_antimeridian(piece)]
    holder = mark if len(lines) == 1 else add(mark, "MultiGeometry")
    for line in lines:
        _line(holder, line)
    for obstacle in contact.reach.obstacles.kept:
        place = contact.reach.place_at(obstacle.distance_m)
        side = "below" if obstacle.clearance_m >= 0.0 else "above"
        mark = _placemark(
            folder,
            f"Obstacle at {obstacle.distance_m / 1000:.1f} km, {obstacle.top_m:.0f} m",
            [path_name(contact), f"{abs(obstacle.clearance_m):.0f} m {side} the line between the antennas."],
        )
        _point(mark, place.latitude_deg, place.longitude_deg)


def _placemark(folder: ET.Element, name: str, words: Sequence[str]) -> ET.Element:
    mark = add(folder, "Placemark")
    add(mark, "name", name)
    _describe(mark, words)
    return mark


def _describe(parent: ET.Element, words: Sequence[str]) -> None:
    add(parent, "description", "<br/>".join(html.escape(one_line(text)) for text in words))


def _point(mark: ET.Element, latitude_deg: float, longitude_deg: float) -> None:
    add(add(mark, "Point"), "coordinates", f"{longitude_deg:.6f},{latitude_deg:.6f}")


def _line(parent: ET.Element, line: Line) -> None:
    shape = add(parent, "LineString")
    add(shape, "tessellate", "1")
    add(shape, "coordinates", " ".join(f"{longitude:.6f},{latitude:.6f}" for longitude, latitude in line))
