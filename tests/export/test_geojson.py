"""GeoJSON read by GDAL and held against RFC 7946, rule by rule."""

from __future__ import annotations

import itertools
import json
import math
import struct
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np
import pyogrio
import pytest
from geographiclib.geodesic import Geodesic

from pathprofile.contact import Contact
from pathprofile.errors import OutputError
from pathprofile.export.entries import NoResult
from pathprofile.export.geojson import SCHEMA, geojson_document, write_geojson
from pathprofile.export.lines import cut_at_antimeridian, map_points
from pathprofile.geodesy import points_along
from pathprofile.geodesy.geodesic import PathPoints
from pathprofile.places import Location

if TYPE_CHECKING:
    from pathlib import Path

Rename = Callable[[Contact, str, str], Contact]


def ends_of(one: Contact) -> tuple[Location, Location]:
    return one.reach.from_end.location, one.reach.to_end.location


def of_kind(document: dict[str, Any], kind: str) -> list[dict[str, Any]]:
    return [feature for feature in document["features"] if feature["properties"]["kind"] == kind]


def check_position(position: Any) -> None:
    """RFC 7946 §3.1.1: longitude, latitude, as numbers; §4: WGS 84 in decimal degrees."""
    longitude, latitude = position
    assert all(type(number) in {int, float} and math.isfinite(number) for number in position)
    assert -180.0 <= longitude <= 180.0
    assert -90.0 <= latitude <= 90.0


def check_rfc7946(document: Any) -> None:
    assert document["type"] == "FeatureCollection"  # §3.3
    assert isinstance(document["features"], list)
    assert "crs" not in document  # §4: the old member is gone
    assert not {"coordinates", "geometry", "properties"} & set(document)  # §7.1
    for feature in document["features"]:
        assert feature["type"] == "Feature"  # §3.2
        assert {"type", "geometry", "properties"} == set(feature)
        geometry = feature["geometry"]
        if geometry is None:  # §3.2: unlocated
            continue
        assert set(geometry) == {"type", "coordinates"}
        coordinates = geometry["coordinates"]
        lines = {"LineString": [coordinates], "MultiLineString": coordinates, "Point": []}[geometry["type"]]
        if geometry["type"] == "Point":  # §3.1.2
            check_position(coordinates)
        for line in lines:
            assert len(line) >= 2  # §3.1.4
            for position in line:
                check_position(position)
            for before, after in itertools.pairwise(line):
                assert abs(after[0] - before[0]) < 180.0  # §3.1.9


def test_obeys_rfc_7946_and_has_no_nan(island_contacts: tuple[Contact, ...]) -> None:
    known = NoResult("Far Skerry", "no 70 cm antenna", Location(46.5, -21.0, "Far Skerry"))
    without = [known, NoResult("?", "x")]
    document = geojson_document([*island_contacts, *without])
    text = json.dumps(document, allow_nan=False)
    check_rfc7946(json.loads(text))
    assert len(of_kind(document, "path")) == 4
    assert len(of_kind(document, "site")) == 1
    assert len(of_kind(document, "station")) == 4
    assert [feature["geometry"] is None for feature in of_kind(document, "no_result")] == [False, True]
    assert of_kind(document, "no_result")[0]["properties"]["reason"] == "no 70 cm antenna"
    assert {feature["properties"]["schema"] for feature in document["features"]} == {SCHEMA}


def test_keys_carry_their_unit(marsh_end: Contact) -> None:
    properties = of_kind(geojson_document(marsh_end), "path")[0]["properties"]
    unitless = {"chance", "comfortable_chance", "second_chance"}
    for key, value in properties.items():
        if isinstance(value, float) and key not in unitless:
            assert key.endswith(("_m", "_deg", "_db", "_mhz", "_ratio")), key


def test_values_are_those_of_the_contact(marsh_end: Contact) -> None:
    properties = of_kind(geojson_document(marsh_end), "path")[0]["properties"]
    assert properties["distance_m"] == pytest.approx(marsh_end.reach.leg.distance_m, abs=0.05)
    assert properties["loss_db"] == pytest.approx(marsh_end.reach.loss.loss_db, abs=0.005)
    assert properties["verdict"] == marsh_end.link.pair.verdict.word
    assert marsh_end.link.out is not None
    assert properties["out_margin_db"] == pytest.approx(marsh_end.link.out.budget.margin_db, abs=0.005)


def test_line_follows_the_geodesic(marsh_end: Contact) -> None:
    """Midway between neighbours the straight line on the map is within 0.5 m of the geodesic."""
    line = of_kind(geojson_document(marsh_end), "path")[0]["geometry"]["coordinates"]
    ends = marsh_end.reach.from_end.location, marsh_end.reach.to_end.location
    assert tuple(line[0]) == pytest.approx((ends[0].longitude_deg, ends[0].latitude_deg), abs=1e-6)
    whole = Geodesic.WGS84.InverseLine(
        ends[0].latitude_deg, ends[0].longitude_deg, ends[1].latitude_deg, ends[1].longitude_deg
    )
    for i, (before, after) in enumerate(itertools.pairwise(line)):
        expected = whole.Position(whole.s13 * (i + 0.5) / (len(line) - 1))
        middle = ((before[1] + after[1]) / 2.0, (before[0] + after[0]) / 2.0)
        off = Geodesic.WGS84.Inverse(expected["lat2"], expected["lon2"], *middle)["s12"]
        assert off < 0.5


def test_obstacles_lie_on_the_path(marsh_end: Contact) -> None:
    found = of_kind(geojson_document(marsh_end), "obstacle")
    assert found
    start = marsh_end.reach.from_end.location
    for feature, obstacle in zip(found, marsh_end.reach.obstacles.kept, strict=True):
        longitude, latitude = feature["geometry"]["coordinates"]
        away = Geodesic.WGS84.Inverse(start.latitude_deg, start.longitude_deg, latitude, longitude)
        assert away["s12"] == pytest.approx(feature["properties"]["distance_m"], abs=1.0)
        assert away["azi1"] % 360 == pytest.approx(marsh_end.reach.leg.azimuth_deg, abs=0.01)
        assert feature["properties"]["clearance_m"] == pytest.approx(obstacle.clearance_m, abs=0.05)


def test_date_line_is_cut_where_the_path_crosses_it(date_line: Contact) -> None:
    """RFC 7946 §3.1.9; the crossing from geographiclib's own search along the geodesic."""
    document = json.loads(json.dumps(geojson_document(date_line)))
    check_rfc7946(document)
    geometry = of_kind(document, "path")[0]["geometry"]
    assert geometry["type"] == "MultiLineString"
    west, east = geometry["coordinates"]
    assert (west[-1][0], east[0][0]) == (180.0, -180.0)
    assert west[-1][1] == east[0][1]
    line = Geodesic.WGS84.InverseLine(10.31, 179.7213, 10.68, -179.7642)
    low, high = 0.0, line.s13
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if line.Position(middle)["lon2"] > 0.0 else (low, middle)
    assert west[-1][1] == pytest.approx(line.Position(low)["lat2"], abs=2e-6)


@pytest.mark.parametrize(
    ("longitudes", "expected"),
    [
        ([179.0, -179.0], [[179.0, 180.0], [-180.0, -179.0]]),
        ([-179.0, 179.0], [[-179.0, -180.0], [180.0, 179.0]]),
        ([179.0, 180.0], [[179.0, 180.0]]),
        ([179.0, -180.0], [[179.0, 180.0]]),
        ([180.0, -179.0], [[-180.0, -179.0]]),
        ([-180.0, 179.0], [[180.0, 179.0]]),
        ([179.0, 180.0, -179.0], [[179.0, 180.0], [-180.0, -179.0]]),
        ([179.0, -179.0, 179.0], [[179.0, 180.0], [-180.0, -179.0, -180.0], [180.0, 179.0]]),
        ([10.0, 11.0], [[10.0, 11.0]]),
    ],
)
def test_cut(longitudes: list[float], expected: list[list[float]]) -> None:
    points = PathPoints(
        np.arange(len(longitudes), dtype=float), np.arange(len(longitudes), dtype=float), np.array(longitudes)
    )
    lines = cut_at_antimeridian(points)
    assert [[x for x, _ in line] for line in lines] == expected


def test_cut_along_the_date_line_itself() -> None:
    along = PathPoints(np.arange(3.0), np.arange(3.0), np.array([180.0, -180.0, 180.0]))
    lines = cut_at_antimeridian(along)
    assert {abs(x) for line in lines for x, _ in line} == {180.0}
    assert sum(line[-1][1] - line[0][1] for line in lines) == 2.0


def test_cut_near_the_pole_keeps_the_length() -> None:
    points = points_along(88.0, 100.0, 88.5, -120.0, 400)
    lines = cut_at_antimeridian(points)
    length_m = sum(
        Geodesic.WGS84.Inverse(a[1], a[0], b[1], b[0])["s12"]
        for line in lines
        for a, b in itertools.pairwise(line)
    )
    assert length_m == pytest.approx(points.distance_m[-1], rel=1e-4)


def test_points_are_at_most_the_step_apart(marsh_end: Contact) -> None:
    assert np.diff(map_points(*ends_of(marsh_end)).distance_m).max() <= 2000.0


def test_gdal_reads_what_was_written(tmp_path: Path, island_contacts: tuple[Contact, ...]) -> None:
    path = tmp_path / "day.geojson"
    write_geojson(path, [*island_contacts, NoResult("Nobody", "no place")])
    info, _, shapes, fields = pyogrio.raw.read(path)
    columns = dict(zip(info["fields"], fields, strict=True))
    assert info["crs"] == "EPSG:4326"
    is_path = columns["kind"] == "path"
    assert is_path.sum() == 4
    assert list(columns["station"][is_path]) == [each.them.station.name for each in island_contacts]
    for shape, one in zip(shapes[is_path], island_contacts, strict=True):
        order, kind, count = struct.unpack_from("<BII", shape)
        assert (order, kind) == (1, 2)  # a little-endian LineString (OGC 06-103r4 §8.2.8)
        end = struct.unpack_from("<2d", shape, 9 + 16 * (count - 1))
        where = one.reach.to_end.location
        assert end == pytest.approx((where.longitude_deg, where.latitude_deg), abs=1e-6)
    assert None in list(shapes)


def test_hostile_names(tmp_path: Path, marsh_end: Contact, rename: Rename, hostile_name: str) -> None:
    path = tmp_path / "day.geojson"
    write_geojson(path, [rename(marsh_end, hostile_name, hostile_name), NoResult(hostile_name, hostile_name)])
    document = json.loads(path.read_text(encoding="utf-8"))
    check_rfc7946(document)
    for name in {feature["properties"].get("name", "") for feature in document["features"]} - {""}:
        assert not any(ord(character) < 32 or 0xD800 <= ord(character) < 0xE000 for character in name)
        assert not set(name) & set("\u202e\u2066\uffff")
    if hostile_name.startswith("cat"):
        assert of_kind(document, "site")[0]["properties"]["name"] == hostile_name


def test_equal_contacts_give_equal_bytes(tmp_path: Path, marsh_end: Contact) -> None:
    for name in ("a.geojson", "b.json"):
        write_geojson(tmp_path / name, marsh_end)
    assert (tmp_path / "a.geojson").read_bytes() == (tmp_path / "b.json").read_bytes()


def test_refuses_in_one_line_and_writes_nothing(tmp_path: Path, marsh_end: Contact) -> None:
    with pytest.raises(OutputError, match=r"GeoJSON into .*day\.txt': give a name that ends in \.geojson or"):
        write_geojson(tmp_path / "day.txt", marsh_end)
    with pytest.raises(OutputError, match="there is no folder"):
        write_geojson(tmp_path / "none" / "day.geojson", marsh_end)
    (tmp_path / "old.geojson").write_text("mine")
    with pytest.raises(OutputError, match="exists already"):
        write_geojson(tmp_path / "old.geojson", marsh_end, overwrite=False)
    assert [path.name for path in tmp_path.iterdir()] == ["old.geojson"]
    assert (tmp_path / "old.geojson").read_text() == "mine"
