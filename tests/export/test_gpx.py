"""GPX read by gpxpy, by GDAL, and held against the rules of the GPX 1.1 schema."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import gpxpy
import pyogrio
import pytest
from defusedxml import ElementTree

from pathprofile.contact import Contact
from pathprofile.errors import OutputError
from pathprofile.export.entries import NoResult
from pathprofile.export.gpx import gpx_document, write_gpx
from pathprofile.link.cautions import CAUTIONS
from pathprofile.places import Location

if TYPE_CHECKING:
    from pathlib import Path

Rename = Callable[[Contact, str, str], Contact]
G = "{http://www.topografix.com/GPX/1/1}"
# wptType of http://www.topografix.com/GPX/1/1/gpx.xsd is a sequence; those that we use, in its order.
ORDER = ["ele", "time", "name", "cmt", "desc", "src", "link", "sym", "type"]


def check_gpx11(document: bytes) -> None:
    root = ElementTree.fromstring(document)
    assert root.tag == f"{G}gpx"
    assert root.attrib["version"] == "1.1"
    assert root.attrib["creator"]
    children = [child.tag for child in root]
    assert children == [f"{G}metadata"] + [f"{G}wpt"] * (len(children) - 1)  # gpxType is a sequence
    assert [child.tag for child in root[0]] == [f"{G}name", f"{G}desc"]
    for point in root[1:]:
        assert set(point.attrib) == {"lat", "lon"}
        for name, low, high in (("lat", -90.0, 90.0), ("lon", -180.0, 180.0)):
            assert re.fullmatch(r"-?\d+\.\d+", point.attrib[name])  # xsd:decimal knows no exponent
            assert low <= float(point.attrib[name]) <= high
        assert float(point.attrib["lon"]) < 180.0  # longitudeType: maxExclusive
        tags = [child.tag.removeprefix(G) for child in point]
        assert tags == [tag for tag in ORDER if tag in tags]


def test_waypoints_tell_distance_azimuths_odds_and_mode(island_contacts: tuple[Contact, ...]) -> None:
    document = gpx_document(island_contacts)
    check_gpx11(document)
    points = gpxpy.parse(document).waypoints
    assert [point.type for point in points] == ["site"] + ["station"] * 4
    assert points[0].name == "Gull Tor"
    for point, one in zip(points[1:], island_contacts, strict=True):
        where, reach = one.reach.to_end.location, one.reach
        assert (point.latitude, point.longitude) == pytest.approx(
            (where.latitude_deg, where.longitude_deg), abs=1e-6
        )
        assert point.elevation == pytest.approx(reach.to_end.ground_m, abs=0.05)
        assert point.name == one.them.station.name
        text = point.description
        assert f"{reach.leg.distance_m / 1000:.1f} km from Gull Tor" in text
        for end in (reach.from_end, reach.to_end):
            assert f"{round(end.magnetic_azimuth_deg) % 360:03d}° magnetic" in text
            assert f"{round(end.azimuth_deg) % 360:03d}° true" in text
        assert one.link.pair.verdict.text[1:] in text
        assert f"{reach.frequency_mhz:g} MHz" in text
    assert "SSB" in points[1].description
    assert "packet 9600" in points[4].description


def test_head_has_the_day_and_the_cautions_and_no_clock(marsh_end: Contact) -> None:
    text = gpxpy.parse(gpx_document(marsh_end)).description
    assert "Magnetic azimuths hold for 2026-11-24." in text
    assert all(caution in text for caution in CAUTIONS)
    assert b"<time>" not in gpx_document(marsh_end)
    assert gpx_document(marsh_end) == gpx_document([marsh_end])


def test_stations_without_an_answer_are_not_dropped(marsh_end: Contact) -> None:
    without = [
        NoResult("Far Skerry", "no 70 cm antenna", Location(46.5, -21.0, "Far Skerry")),
        NoResult("Nobody Knows", "no place given"),
    ]
    read = gpxpy.parse(gpx_document([marsh_end, *without]))
    assert read.waypoints[-1].name == "Far Skerry"
    assert read.waypoints[-1].description == "No answer: no 70 cm antenna"
    assert "Not answered: Nobody Knows: no place given." in read.description


def test_a_station_heard_from_two_sites_is_one_waypoint(marsh_end: Contact, rename: Rename) -> None:
    twice = [marsh_end, rename(marsh_end, "Second Site", "Marsh End")]
    points = gpxpy.parse(gpx_document(twice)).waypoints
    assert [point.name for point in points] == ["Gull Tor", "Second Site", "Marsh End"]
    assert "from Gull Tor" in points[2].description
    assert "from Second Site" in points[2].description


def test_azimuth_of_almost_360_is_000(marsh_end: Contact) -> None:
    end = replace(marsh_end.reach.from_end, azimuth_deg=359.7)
    document = gpx_document(replace(marsh_end, reach=replace(marsh_end.reach, from_end=end)))
    assert "000° true" in gpxpy.parse(document).waypoints[1].description


def test_longitude_180_is_written_as_the_schema_has_it() -> None:
    document = gpx_document([NoResult("Line Cay", "asked only", Location(10.0, 180.0))])
    check_gpx11(document)
    assert gpxpy.parse(document).waypoints[0].longitude == -180.0


def test_gdal_reads_it(tmp_path: Path, island_contacts: tuple[Contact, ...]) -> None:
    write_gpx(tmp_path / "day.gpx", island_contacts)
    info, _, shapes, fields = pyogrio.raw.read(tmp_path / "day.gpx", layer="waypoints")
    columns = dict(zip(info["fields"], fields, strict=True))
    assert len(shapes) == 5
    assert list(columns["name"][1:]) == [one.them.station.name for one in island_contacts]


def test_hostile_names(marsh_end: Contact, rename: Rename, hostile_name: str) -> None:
    where = Location(46.5, -21.0)
    document = gpx_document(
        [rename(marsh_end, hostile_name, hostile_name), NoResult(hostile_name, hostile_name, where)]
    )
    check_gpx11(document)
    points = gpxpy.parse(document).waypoints
    assert len(points) == 3
    assert points[0].name == points[2].name
    for point in points:
        assert not set(point.name + point.description) & set("\n\r\t\x00\x07\x1b\u202e\u2066\uffff")
    if hostile_name.startswith("<b>"):
        assert points[0].name == hostile_name
        assert b"<b>" not in document


def test_refuses_in_one_line_and_writes_nothing(tmp_path: Path, marsh_end: Contact) -> None:
    with pytest.raises(
        OutputError, match=r"cannot write GPX into .*day\.xml': give a name that ends in \.gpx"
    ):
        write_gpx(tmp_path / "day.xml", marsh_end)
    with pytest.raises(OutputError, match="there is no folder"):
        write_gpx(tmp_path / "none" / "day.gpx", marsh_end)
    assert list(tmp_path.iterdir()) == []
