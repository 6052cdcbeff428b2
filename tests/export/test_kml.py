"""KML read by GDAL and held against the rules of KML 2.2 (OGC 07-147r2)."""

from __future__ import annotations

import html
import re
import struct
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import pyogrio
import pytest
from defusedxml import ElementTree
from geographiclib.geodesic import Geodesic

from pathprofile.contact import Contact
from pathprofile.errors import OutputError
from pathprofile.export.entries import NoResult
from pathprofile.export.kml import PATTERNS, kml_document, write_kml
from pathprofile.export.lines import dashed, map_points
from pathprofile.link.words import Verdict
from pathprofile.places import Location

if TYPE_CHECKING:
    from pathlib import Path

Rename = Callable[[Contact, str, str], Contact]
K = "{http://www.opengis.net/kml/2.2}"
# The schema's AbstractFeatureType is a sequence; those elements that we use, in its order.
ORDER = ["name", "description", "styleUrl", "Style", "ExtendedData"]
SHAPES = {"Point", "LineString", "MultiGeometry"}


def check_kml22(document: bytes) -> None:
    root = ElementTree.fromstring(document)
    assert root.tag == f"{K}kml"
    assert [child.tag for child in root] == [f"{K}Document"]
    styles = {style.attrib["id"] for style in root.iter(f"{K}Style")}
    for colour in root.iter(f"{K}color"):
        assert re.fullmatch("[0-9a-f]{8}", colour.text)
    for url in root.iter(f"{K}styleUrl"):
        assert url.text.removeprefix("#") in styles
    for kind in ("Document", "Folder", "Placemark"):
        for feature in root.iter(K + kind):
            tags = [child.tag.removeprefix(K) for child in feature]
            ranks = [ORDER.index(tag) if tag in ORDER else len(ORDER) for tag in tags]
            assert ranks == sorted(ranks)
            assert sum(tag in SHAPES for tag in tags) == (kind == "Placemark")
    for text in root.iter(f"{K}coordinates"):
        for longitude, latitude in (map(float, pair.split(",")) for pair in text.text.split(" ")):
            assert -180.0 <= longitude <= 180.0
            assert -90.0 <= latitude <= 90.0


def with_verdict(one: Contact, word: str) -> Contact:
    pair = replace(one.link.pair, verdict=Verdict(word, 0.5))  # type: ignore[arg-type]
    return replace(one, link=replace(one.link, pair=pair))


def paths(document: bytes) -> dict[str, list[ElementTree.Element]]:
    """Placemarks of paths by the name of their folder."""
    root = ElementTree.fromstring(document)
    return {
        folder.findtext(f"{K}name"): [
            mark for mark in folder.iter(f"{K}Placemark") if mark.find(f"{K}styleUrl") is not None
        ]
        for folder in root.iter(f"{K}Folder")
    }


@pytest.mark.parametrize("word", list(PATTERNS))
def test_paths_go_by_verdict(marsh_end: Contact, word: str) -> None:
    document = kml_document(with_verdict(marsh_end, word))
    check_kml22(document)
    (mark,) = paths(document)[f"Paths: {word}"]
    assert mark.findtext(f"{K}styleUrl") == f"#{word}"
    assert f"Gull Tor → Marsh End: {word}" in mark.findtext(f"{K}name")
    pieces = list(mark.iter(f"{K}LineString"))
    assert len(pieces) == PATTERNS[word].dashes


def test_verdicts_differ_without_colour() -> None:
    """Width and dashes alone, and lightness for those who see no hue (WCAG 2.1 relative luminance)."""
    assert len({(p.width, p.dashes) for p in PATTERNS.values()}) == 4

    def luminance(rgb: str) -> float:
        parts = [int(rgb[i : i + 2], 16) / 255.0 for i in (0, 2, 4)]
        linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    dark, light = (luminance(PATTERNS[word].rgb) for word in ("unlikely", "solid"))
    assert (light + 0.05) / (dark + 0.05) > 4.5


def test_colours_are_alpha_blue_green_red(marsh_end: Contact) -> None:
    """KML 2.2 §16.6: aabbggrr."""
    root = ElementTree.fromstring(kml_document(marsh_end))
    style = next(style for style in root.iter(f"{K}Style") if style.attrib["id"] == "solid")
    assert PATTERNS["solid"].rgb == "f7bd3e"
    assert next(style.iter(f"{K}color")).text == "ff3ebdf7"


def test_dashes_cover_the_path_from_end_to_end(marsh_end: Contact) -> None:
    points = map_points(marsh_end.reach.from_end.location, marsh_end.reach.to_end.location)
    dashes = dashed(points, 12, 0.65)
    lengths = [float(dash.distance_m[-1] - dash.distance_m[0]) for dash in dashes]
    assert lengths == pytest.approx([lengths[0]] * 12)
    gaps = [float(b.distance_m[0] - a.distance_m[-1]) for a, b in pairwise(dashes)]
    assert gaps == pytest.approx([lengths[0] * 0.35 / 0.65] * 11)
    assert (dashes[0].distance_m[0], dashes[-1].distance_m[-1]) == (0.0, points.distance_m[-1])
    start = marsh_end.reach.from_end.location
    for dash in dashes:
        for at, latitude, longitude in zip(*dash, strict=True):
            away = Geodesic.WGS84.Inverse(start.latitude_deg, start.longitude_deg, latitude, longitude)
            assert away["s12"] == pytest.approx(at, abs=1.0)


def test_date_line_is_cut_in_dashes_too(date_line: Contact) -> None:
    for word in PATTERNS:
        document = kml_document(with_verdict(date_line, word))
        check_kml22(document)
        for line in ElementTree.fromstring(document).iter(f"{K}LineString"):
            longitudes = [float(pair.split(",")[0]) for pair in line.findtext(f"{K}coordinates").split(" ")]
            assert np.abs(np.diff(longitudes)).max() < 180.0


def test_extended_data_has_units_and_values(marsh_end: Contact) -> None:
    root = ElementTree.fromstring(kml_document(marsh_end))
    data = {each.attrib["name"]: each.findtext(f"{K}value") for each in root.iter(f"{K}Data")}
    assert float(data["distance_m"]) == pytest.approx(marsh_end.reach.leg.distance_m, abs=0.05)
    assert float(data["azimuth_deg"]) == pytest.approx(marsh_end.reach.leg.azimuth_deg, abs=0.005)
    assert data["mode"] == "ssb"


def test_obstacles_say_how_high_and_on_which_side(marsh_end: Contact) -> None:
    root = ElementTree.fromstring(kml_document(marsh_end))
    marks = [m for m in root.iter(f"{K}Placemark") if m.findtext(f"{K}name").startswith("Obstacle")]
    for mark, obstacle in zip(marks, marsh_end.reach.obstacles.kept, strict=True):
        assert f"{obstacle.distance_m / 1000:.1f} km" in mark.findtext(f"{K}name")
        side = "above" if obstacle.clearance_m < 0 else "below"
        assert f"{abs(obstacle.clearance_m):.0f} m {side} the line" in mark.findtext(f"{K}description")


def test_gdal_reads_it(tmp_path: Path, island_contacts: tuple[Contact, ...]) -> None:
    without = [NoResult("Far Skerry", "no 70 cm antenna", Location(46.5, -21.0))]
    write_kml(tmp_path / "day.kml", [*island_contacts, *without])
    layers = [name for name, _ in pyogrio.list_layers(tmp_path / "day.kml")]
    assert layers[:2] == ["Sites", "Stations"]
    info, _, shapes, fields = pyogrio.raw.read(tmp_path / "day.kml", layer="Stations")
    columns = dict(zip(info["fields"], fields, strict=True))
    assert info["crs"] == "EPSG:4326"
    assert list(columns["Name"]) == [one.them.station.name for one in island_contacts] + ["Far Skerry"]
    for shape, one in zip(shapes[:-1], island_contacts, strict=True):
        where = one.reach.to_end.location
        assert struct.unpack_from("<2d", shape, 5) == pytest.approx(
            (where.longitude_deg, where.latitude_deg), abs=1e-6
        )
    lines = sum(len(pyogrio.raw.read(tmp_path / "day.kml", layer=name)[2]) for name in layers[2:])
    assert lines == sum(1 + len(one.reach.obstacles.kept) for one in island_contacts)


def test_stations_without_a_place_are_named(marsh_end: Contact) -> None:
    root = ElementTree.fromstring(kml_document([marsh_end, NoResult("Nobody Knows", "no place given")]))
    assert "Not answered: Nobody Knows: no place given." in root[0].findtext(f"{K}description")


def test_hostile_names(marsh_end: Contact, rename: Rename, hostile_name: str) -> None:
    document = kml_document(
        [
            rename(marsh_end, hostile_name, hostile_name),
            NoResult(hostile_name, hostile_name, Location(46.5, -21.0)),
        ]
    )
    check_kml22(document)
    root = ElementTree.fromstring(document)
    names = [mark.findtext(f"{K}name") for mark in root.iter(f"{K}Placemark")]
    assert names[0] == names[1] == names[2]
    for element in root.iter():
        assert not set(element.text or "") & set("\x00\x07\x1b\u202e\u2066\uffff")
    for text in (element.text for element in root.iter(f"{K}description")):
        # A viewer takes this for HTML: only our own line break may be a tag.
        assert re.findall(r"<[^>]*>?", text) == ["<br/>"] * text.count("<br/>")
    if hostile_name.startswith("<b>"):
        assert names[0] == hostile_name
        assert any(hostile_name in html.unescape(e.text) for e in root.iter(f"{K}description"))


def test_equal_contacts_give_equal_bytes(island_contacts: tuple[Contact, ...]) -> None:
    assert kml_document(island_contacts) == kml_document(iter(island_contacts))


def test_refuses_in_one_line_and_writes_nothing(tmp_path: Path, marsh_end: Contact) -> None:
    with pytest.raises(
        OutputError, match=r"cannot write KML into .*day\.kmz': give a name that ends in \.kml"
    ):
        write_kml(tmp_path / "day.kmz", marsh_end)
    with pytest.raises(OutputError, match="there is no folder"):
        write_kml(tmp_path / "none" / "day.kml", marsh_end)
    assert list(tmp_path.iterdir()) == []
