"""Paths by verdict, obstacles and places as KML."""

from __future__ import annotations

import html
import xml.etree.ElementTree as ET
from typing import TYPE_CHECKING, NamedTuple

from pathprofile.export.entries import entries, foreword, stops
from pathprofile.export.files import write_export
from pathprofile.export.lines import cut_at_antimeridian, dashed, map_points
from pathprofile.export.markup import add, as_bytes
from pathprofile.export.text import one_line

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from pathprofile.export.entries import Answers, Entry
    from pathprofile.export.lines import Line

__all__ = ["PATTERNS", "kml_document", "write_kml"]

NAMESPACE = "http://www.opengis.net/kml/2.2"
SUFFIXES = (".kml",)
# Strangers' words, kept out of what viewers may render.
_STRANGERS = {"site", "station", "notes", "reason", "area"}


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


def kml_document(answers: Answers) -> bytes:
    """KML 2.2 document of one answer or many.

    Parameters
    ----------
    answers : Contact, PairAnswer or NoResult, or iterable of them
        Whole contacts, rows of a ranking or comparison, names without an answer.

    Returns
    -------
    bytes
        Folders of sites, stations, and paths by verdict; each path with its obstacles. Stations without a
        place are named in the document's description. KML knows no dashed lines, so the dashes are pieces of
        the path.

    Notes
    -----
    Viewers show descriptions as HTML: markup in a name is escaped there twice, once for each reader.

    References
    ----------
    .. [1] OGC 07-147r2, KML 2.2 (colours as alpha, blue, green, red; longitude, latitude).
    """
    found = entries(answers)
    root = ET.Element("kml", {"xmlns": NAMESPACE})
    document = add(root, "Document")
    add(document, "name", "Paths, sites and stations")
    _describe(document, foreword(found))
    for word, pattern in PATTERNS.items():
        style = add(add(document, "Style", id=word), "LineStyle")
        red, green, blue = (pattern.rgb[i : i + 2] for i in (0, 2, 4))
        add(style, "color", f"ff{blue}{green}{red}")
        add(style, "width", f"{pattern.width:g}")
    folders = {kind: _folder(document, title) for kind, title in (("site", "Sites"), ("station", "Stations"))}
    for stop in stops(found):
        mark = _placemark(folders[stop.kind], stop.name, stop.words)
        _point(mark, stop.where.latitude_deg, stop.where.longitude_deg)
    for word in PATTERNS:
        chosen = [entry for entry in found if entry.verdict == word]
        if chosen:
            folder = _folder(document, f"Paths: {word}")
            for entry in chosen:
                _path(folder, entry, word)
    return as_bytes(root)


def write_kml(path: Path | str, answers: Answers, *, overwrite: bool = True) -> None:
    """Write `kml_document` into a file; see there.

    Raises
    ------
    OutputError
        For a name that does not end in ``.kml``, or a file that cannot be written.
    """
    write_export(path, kml_document(answers), "KML", SUFFIXES, overwrite=overwrite)


def _path(folder: ET.Element, entry: Entry, word: str) -> None:
    if entry.site_at is None or entry.station_at is None:
        return
    pattern = PATTERNS[word]
    mark = _placemark(folder, entry.title, entry.words)
    add(mark, "styleUrl", f"#{word}")
    data = add(mark, "ExtendedData")
    for key, value in entry.facts.items():
        if value is not None and key not in _STRANGERS:
            add(add(data, "Data", name=key), "value", str(value))
    points = map_points(entry.site_at, entry.station_at)
    pieces = [points] if pattern.dashes == 1 else dashed(points, pattern.dashes, pattern.drawn)
    lines = [line for piece in pieces for line in cut_at_antimeridian(piece)]
    holder = mark if len(lines) == 1 else add(mark, "MultiGeometry")
    for line in lines:
        _line(holder, line)
    for obstacle in entry.marks:
        side = "below" if obstacle.clearance_m >= 0.0 else "above"
        mark = _placemark(
            folder,
            f"Obstacle at {obstacle.distance_m / 1000:.1f} km, {obstacle.ground_m:.0f} m",
            [entry.title, f"{abs(obstacle.clearance_m):.0f} m {side} the line between the antennas."],
        )
        _point(mark, obstacle.latitude_deg, obstacle.longitude_deg)


def _folder(document: ET.Element, title: str) -> ET.Element:
    folder = add(document, "Folder")
    add(folder, "name", title)
    return folder


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
