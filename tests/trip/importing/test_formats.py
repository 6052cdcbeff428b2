"""GPX, KML and GeoJSON: points become stations, hostile files one clear line."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET

import pytest

from pathprofile.errors import StationError
from pathprofile.trip.importing.entry import Entry, Remark
from pathprofile.trip.importing.geojson import read_geojson
from pathprofile.trip.importing.gpx import read_gpx
from pathprofile.trip.importing.kml import read_kml

MARSH = (46.2975, -20.9375)
BOMB = (
    '<?xml version="1.0"?>\n<!DOCTYPE bomb [<!ENTITY a0 "ha">'
    + "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 10))
    + "]>\n<{root}><{point}><name>&a9;</name></{point}></{root}>"
)
OUTSIDE = '<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/passwd">]>\n<gpx><wpt><name>&e;</name></wpt></gpx>'


def test_waypoints_written_by_another_package_are_read() -> None:
    gpx_module = pytest.importorskip("gpxpy.gpx", reason="gpxpy writes the file for this test")
    gpx = gpx_module.GPX()
    gpx.waypoints.append(
        gpx_module.GPXWaypoint(*MARSH, name="Marsh End", description="<p>by the <b>marsh</b></p>")
    )
    gpx.waypoints.append(gpx_module.GPXWaypoint(47.0, -21.0))
    first, second = read_gpx(gpx.to_xml(), "a.gpx")
    assert isinstance(first, Entry)
    assert (first.name, first.notes) == ("Marsh End", "by the marsh")
    assert (first.location.latitude_deg, first.location.longitude_deg) == MARSH
    assert second == Remark(second.line, "", "there is no name; left out")


@pytest.mark.parametrize("prefix", ["", "g:"])
def test_waypoints_of_any_namespace_with_their_lines(prefix: str) -> None:
    space = 'xmlns:g="x"' if prefix else ""
    text = (
        f"\n<{prefix}gpx {space}>\n"
        f' <{prefix}wpt lat="46.2975" lon="-20.9375">\n'
        f" <{prefix}name>Marsh End</{prefix}name>\n </{prefix}wpt>\n"
        f' <{prefix}wpt lat="96" lon="-20"><{prefix}name>Off</{prefix}name></{prefix}wpt>\n'
        f" <{prefix}wpt><{prefix}name>Lost</{prefix}name></{prefix}wpt>\n"
        f"</{prefix}gpx>"
    )
    readings = list(read_gpx(text, "a.gpx"))
    assert [reading.line for reading in readings] == [3, 6, 7]
    assert "beyond 90" in readings[1].text  # type: ignore[union-attr]
    assert readings[2] == Remark(7, "Lost", "no latitude and longitude; left out")


def test_a_track_is_no_list_of_stations() -> None:
    (remark,) = read_gpx('<gpx><trk><trkseg><trkpt lat="1" lon="1"/></trkseg></trk></gpx>', "a.gpx")
    assert "no waypoints" in remark.text  # type: ignore[union-attr]


def kml(points: list[tuple[str, str]]) -> str:
    root = ET.Element("kml", xmlns="http://www.opengis.net/kml/2.2")
    folder = ET.SubElement(ET.SubElement(root, "Document"), "Folder")
    for name, coordinates in points:
        placemark = ET.SubElement(folder, "Placemark")
        ET.SubElement(placemark, "name").text = name
        ET.SubElement(ET.SubElement(placemark, "Point"), "coordinates").text = coordinates
    return ET.tostring(root, encoding="unicode")


def test_placemarks_are_read_longitude_first() -> None:
    first, second = read_kml(kml([("Marsh End", "  -20.9375,46.2975,0 "), ("Odd", "5")]), "a.kml")
    assert isinstance(first, Entry)
    assert (first.location.latitude_deg, first.location.longitude_deg) == MARSH
    assert second == Remark(1, "Odd", "no longitude and latitude in its coordinates; left out")


def test_lines_and_collections_in_kml_are_named() -> None:
    text = (
        "<kml><Placemark><name>Way</name><LineString/></Placemark>"
        "<Placemark><name>Two</name><MultiGeometry><Point/><Point/></MultiGeometry></Placemark></kml>"
    )
    assert [r.text for r in read_kml(text, "a.kml")] == [  # type: ignore[union-attr]
        "a line or an area, not a point; left out",
        "2 points in one; left out",
    ]


@pytest.mark.parametrize(
    "text",
    [
        BOMB.replace("{root}", "gpx").replace("{point}", "wpt"),
        OUTSIDE,
        "<!DOCTYPE gpx SYSTEM 'http://localhost/x.dtd'><gpx/>",
    ],
)
def test_entities_are_refused_before_they_are_expanded(text: str) -> None:
    with pytest.raises(
        StationError, match=r"a.gpx, line \d: it declares a document type.*remove the DOCTYPE"
    ):
        list(read_gpx(text, "a.gpx"))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("<gpx><wpt", "a.gpx, line 1: broken XML"),
        ("<gpx>\n<wpt></gpx>", "a.gpx, line 2: broken XML: mismatched tag"),
        ("<html></html>", "the outermost element is 'html', not 'gpx'"),
        ("<gpx>" + "<wpt>" * 100, "line 1: nested too deep"),
        ("<gpx><wpt>&undefined;</wpt></gpx>", "broken XML: undefined entity"),
    ],
)
def test_broken_xml_is_one_line(text: str, words: str) -> None:
    with pytest.raises(StationError, match=words):
        list(read_gpx(text, "a.gpx"))


def test_memory_stays_bounded_for_an_element_with_endless_children() -> None:
    text = '<gpx><wpt lat="46.2975" lon="-20.9375"><name>Marsh End</name>' + "<a/>" * 100_000 + "</wpt></gpx>"
    (entry,) = read_gpx(text, "a.gpx")
    assert isinstance(entry, Entry)


def test_features_are_read_longitude_first_with_their_properties() -> None:
    features = [
        {
            "type": "Feature",
            "geometry": {"type": "Point", "coordinates": [-20.9375, 46.2975, 4]},
            "properties": {"name": "Marsh End", "Dist (km)": "99", "power": "50 W", "notes": "x"},
        },
        {
            "type": "Feature",
            "geometry": {"type": "LineString", "coordinates": []},
            "properties": {"name": "Way"},
        },
        {"type": "Feature", "geometry": {"type": "Point", "coordinates": [[1]]}, "properties": None},
        "nonsense",
    ]
    text = json.dumps({"type": "FeatureCollection", "features": features}, indent=1)
    readings = list(read_geojson(text, "a.json"))
    entry = readings[0]
    assert isinstance(entry, Entry)
    assert (entry.location.latitude_deg, entry.location.longitude_deg) == MARSH
    assert entry.claim.distance_m == 99_000.0
    assert entry.set_up == {"power_w": 50}
    lines = text.split("\n")
    assert [r.line for r in readings] == [
        n for n, line in enumerate(lines, 1) if line in {"  {", '  "nonsense"'}
    ]
    assert [r.text for r in readings[1:]] == [  # type: ignore[union-attr]
        "no point but 'LineString'; left out",
        "no longitude and latitude in its coordinates; left out",
        "no point but 'None'; left out",
    ]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('{"type": "FeatureCollection",\n "features": [}', "a.json, line 2: broken JSON"),
        ("[" * 100_000, "a.json: broken JSON: nested too deep"),
        ('{"type": "Topology"}', "not GeoJSON with features; its type is 'Topology'"),
        ('{"type": "FeatureCollection", "features": 3}', "its features are not a list"),
        ('{"type": "Feature", "x": NaN}', "NaN is not JSON"),
        (
            '{"type": "FeatureCollection", "features": [], "crs": {"properties": {"name": "EPSG:25832"}}}',
            "its coordinates are not WGS 84 degrees",
        ),
    ],
)
def test_broken_geojson_is_one_line(text: str, words: str) -> None:
    with pytest.raises(StationError, match=words):
        list(read_geojson(text, "a.json"))


def test_the_digits_written_tell_how_well_a_place_is_known() -> None:
    geometry = '{"type": "Point", "coordinates": [-20.90, 46.30]}'
    text = f'{{"type": "Feature", "geometry": {geometry}, "properties": {{"name": "A"}}}}'
    (entry,) = read_geojson(text, "a.json")
    assert isinstance(entry, Entry)
    assert entry.location.uncertainty_m == pytest.approx(556, abs=1)  # half of 0.01 degrees of latitude
