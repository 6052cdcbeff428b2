"""Masks: inside is inside, by inequalities and by a general raster library; bad files get one line."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from pathprofile.area.mask import mask_from, read_mask
from pathprofile.errors import LocationError

if TYPE_CHECKING:
    from pathlib import Path


def box(west: float, south: float, east: float, north: float) -> list[list[float]]:
    return [[west, south], [east, south], [east, north], [west, north], [west, south]]


def polygon(*rings: list[list[float]]) -> dict[str, Any]:
    return {"type": "Polygon", "coordinates": list(rings)}


def lattice(south: float, north: float, west: float, east: float, side: int = 41) -> Any:
    latitude, longitude = np.meshgrid(
        np.linspace(south, north, side) + 1e-4, np.linspace(west, east, side) + 1e-4, indexing="ij"
    )
    return latitude, longitude


def test_polygon_with_a_hole() -> None:
    mask = mask_from(polygon(box(10.0, 45.0, 11.0, 46.0), box(10.4, 45.4, 10.6, 45.8)))
    latitude, longitude = lattice(44.5, 46.5, 9.5, 11.5)
    outer = (latitude > 45.0) & (latitude < 46.0) & (longitude > 10.0) & (longitude < 11.0)
    hole = (latitude > 45.4) & (latitude < 45.8) & (longitude > 10.4) & (longitude < 10.6)
    assert np.array_equal(mask.holds(latitude, longitude), outer & ~hole)


def test_several_polygons_overlapping_or_not() -> None:
    content = {
        "type": "FeatureCollection",
        "features": [
            {"type": "Feature", "properties": {}, "geometry": polygon(box(10.0, 45.0, 10.5, 45.5))},
            {"type": "Feature", "properties": {}, "geometry": None},
            {
                "type": "Feature",
                "properties": {},
                "geometry": {
                    "type": "MultiPolygon",
                    "coordinates": [[box(10.2, 45.2, 10.8, 45.8)], [box(11.0, 45.0, 11.2, 45.2)]],
                },
            },
        ],
    }
    latitude, longitude = lattice(44.9, 45.9, 9.9, 11.3)
    inside = np.zeros(latitude.shape, bool)
    for west, south, east, north in (
        (10.0, 45.0, 10.5, 45.5),
        (10.2, 45.2, 10.8, 45.8),
        (11.0, 45.0, 11.2, 45.2),
    ):
        inside |= (latitude > south) & (latitude < north) & (longitude > west) & (longitude < east)
    assert np.array_equal(mask_from(content).holds(latitude, longitude), inside)


@pytest.mark.filterwarnings("ignore:Use `@` matmul:PendingDeprecationWarning")  # in the library itself
@pytest.mark.parametrize("seed", range(5))
def test_any_star_as_the_raster_library_burns_it(seed: int) -> None:
    from rasterio.features import geometry_mask
    from rasterio.transform import from_origin

    rng = np.random.default_rng(seed)
    turn = np.sort(rng.uniform(0.0, 2.0 * np.pi, 30))
    far = rng.uniform(0.1, 0.5, 30)
    ring = np.column_stack([10.5 + far * np.cos(turn), 45.5 + far * np.sin(turn)]).tolist()
    star = polygon([*ring, ring[0]])
    step = 0.01
    burnt = geometry_mask([star], (110, 110), from_origin(9.95, 46.05, step, step), invert=True)
    latitude, longitude = np.meshgrid(
        46.05 - step * (np.arange(110) + 0.5), 9.95 + step * (np.arange(110) + 0.5), indexing="ij"
    )
    assert np.array_equal(mask_from(star).holds(latitude, longitude), burnt)
    assert burnt.sum() > 1000


def test_across_the_180th_meridian() -> None:
    for ring in (box(179.5, -17.0, -179.5, -16.0), box(179.5, -17.0, 180.5, -16.0)):
        mask = mask_from(polygon(ring))
        found = mask.holds([-16.5] * 5, [179.4, 179.6, -179.9, -179.6, -179.4])
        assert found.tolist() == [False, True, True, True, False]


def test_outline_lies_on_the_edges() -> None:
    latitude, longitude = mask_from(polygon(box(10.0, 45.0, 11.0, 46.0))).outline_deg
    assert (latitude.min(), latitude.max(), longitude.min(), longitude.max()) == (45.0, 46.0, 10.0, 11.0)
    on_edge = np.isclose(latitude % 1.0, 0.0) | np.isclose(longitude % 1.0, 0.0)
    assert on_edge.all()


class TestCoordinateSystems:
    @pytest.mark.parametrize("name", ["urn:ogc:def:crs:EPSG::25832", "EPSG:25832"])
    def test_another_known_system(self, name: str) -> None:
        """Places brought into UTM zone 32 by PROJ lie where inequalities in metres say."""
        from pyproj import Transformer

        content = polygon(box(600_000.0, 5_000_000.0, 610_000.0, 5_020_000.0))
        content["crs"] = {"type": "name", "properties": {"name": name}}
        latitude, longitude = lattice(45.1, 45.4, 10.2, 10.5)
        x, y = Transformer.from_crs("EPSG:4326", "EPSG:25832", always_xy=True).transform(longitude, latitude)
        inside = (x > 600_000.0) & (x < 610_000.0) & (y > 5_000_000.0) & (y < 5_020_000.0)
        mask = mask_from(content)
        assert np.array_equal(mask.holds(latitude, longitude), inside)
        assert inside.any()
        assert mask.outline_deg[0].min() == pytest.approx(45.14, abs=0.02)

    @pytest.mark.parametrize(
        "name", ["urn:ogc:def:crs:OGC:1.3:CRS84", "urn:ogc:def:crs:EPSG::4326", "EPSG:4326"]
    )
    def test_names_of_the_usual_one(self, name: str) -> None:
        content = polygon(box(10.0, 45.0, 11.0, 46.0))
        content["crs"] = {"type": "name", "properties": {"name": name}}
        assert mask_from(content).holds([45.5], [10.5]).all()

    @pytest.mark.parametrize(
        ("crs", "reason"),
        [
            (
                {"type": "name", "properties": {"name": "my own grid"}},
                "'my own grid', which is not understood",
            ),
            ({"type": "link", "properties": {"href": "x"}}, "not understood"),
            ({"type": "name", "properties": {"name": "EPSG:999999"}}, "EPSG:999999, which is not known here"),
        ],
    )
    def test_one_that_is_not_known(self, crs: object, reason: str) -> None:
        with pytest.raises(LocationError, match=reason):
            mask_from({**polygon(box(10.0, 45.0, 11.0, 46.0)), "crs": crs})

    def test_metres_beyond_any_system(self) -> None:
        content = polygon([[1e300, 0.0], [0.0, 1e300], [1.0, 1.0]])
        content["crs"] = {"type": "name", "properties": {"name": "EPSG:25832"}}
        with pytest.raises(LocationError, match=r"a corner at 1e\+300, which is nowhere on Earth"):
            mask_from(content)

    def test_metres_without_a_name(self) -> None:
        with pytest.raises(LocationError, match=r"610000 5.02e\+06, which is no longitude and latitude"):
            mask_from(polygon(box(600_000.0, 5_000_000.0, 610_000.0, 5_020_000.0)))


def nested(depth: int) -> dict[str, Any]:
    """Collections within collections."""
    content: dict[str, Any] = polygon(box(10.0, 45.0, 11.0, 46.0))
    for _ in range(depth):
        content = {"type": "GeometryCollection", "geometries": [content]}
    return content


class TestBadInput:
    @pytest.mark.parametrize(
        ("content", "reason"),
        [
            ({"type": "FeatureCollection", "features": []}, "is empty: it holds no polygon"),
            ({"type": "Polygon", "coordinates": []}, "is empty: it holds no polygon"),
            (polygon([[1.0, 2.0], [1.0, 2.0], [1.0, 2.0], [1.0, 2.0]]), "no area"),
            ({"type": "LineString", "coordinates": [[1, 2], [3, 4]]}, "'LineString': give Polygon"),
            ({"type": "Polygon"}, "without a list of coordinates"),
            ({"type": "FeatureCollection", "features": [3]}, "no GeoJSON object"),
            (polygon([[1.0, 2.0], [2.0, 2.0]]), "ring of 2 points"),
            (polygon([["a", 2.0], [2.0, 2.0], [2.0, 3.0]]), "no list of positions"),
            ({"type": "Polygon", "coordinates": [5]}, "no list of positions"),
            ([1, 2], "no GeoJSON object"),
            ({"type": "MultiPolygon", "coordinates": [5]}, "a polygon that is no list of rings"),
            (polygon([[1.0, 10**400], [2.0, 2.0], [2.0, 3.0]]), "no list of positions"),
            ({"type": "x" * 5000}, "holds a 'x{50,60}: give Polygon"),
            (nested(3000), "nested too deep"),
        ],
    )
    def test_content(self, content: object, reason: str) -> None:
        with pytest.raises(LocationError, match=reason):
            mask_from(content, "land.geojson")

    def test_files(self, tmp_path: Path) -> None:
        with pytest.raises(LocationError, match="cannot be read"):
            read_mask(tmp_path / "none.geojson")
        (tmp_path / "text.geojson").write_text("{not json", encoding="utf-8")
        with pytest.raises(LocationError, match="is no GeoJSON"):
            read_mask(tmp_path / "text.geojson")
        (tmp_path / "bytes.geojson").write_bytes(b"\xff\xfe\x00\x01")
        with pytest.raises(LocationError, match="is no text"):
            read_mask(tmp_path / "bytes.geojson")
        good = tmp_path / "good.geojson"
        good.write_text("\ufeff" + json.dumps(polygon(box(10.0, 45.0, 11.0, 46.0))), encoding="utf-8")
        assert read_mask(good).holds(45.5, 10.5)
