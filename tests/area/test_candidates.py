"""Candidates on ground made of formulas: where tops and edges are is known beforehand."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from pathprofile import geodesy
from pathprofile.area.candidates import Field, candidates, edge_breaks, field_within, prominence_m
from pathprofile.area.mask import mask_from
from pathprofile.errors import LocationError, OutOfRangeError

if TYPE_CHECKING:
    from collections.abc import Callable

LATITUDE, LONGITUDE = 46.0, 9.0
CELL_M = 50.0


def metres(latitude: Any, longitude: Any) -> tuple[Any, Any]:
    """East and north of the middle; good to centimetres over 2 km."""
    north_m = geodesy.inverse(LATITUDE, LONGITUDE, LATITUDE + 0.01, LONGITUDE).distance_m * 100.0
    east_m = geodesy.inverse(LATITUDE, LONGITUDE, LATITUDE, LONGITUDE + 0.01).distance_m * 100.0
    return (longitude - LONGITUDE) * east_m, (latitude - LATITUDE) * north_m


@pytest.fixture
def field(ground: Any) -> Callable[..., Field]:
    def make(height: Callable[[Any, Any], Any], radius_m: float = 1500.0, **more: Any) -> Field:
        store = ground(lambda latitude, longitude: height(*metres(latitude, longitude)))
        return field_within(LATITUDE, LONGITUDE, radius_m, CELL_M, store, **more)

    return make


def plateau(x: Any, y: Any) -> Any:
    """Flat to 500 m each way, then 20° down, with a knoll of 3 m in the middle."""
    beyond = np.maximum(np.maximum(np.abs(x), np.abs(y)) - 500.0, 0.0)
    return 400.0 - math.tan(math.radians(20.0)) * beyond + 3.0 * np.exp(-(x**2 + y**2) / 100.0**2)


def xy(field: Field, rows: Any, columns: Any) -> tuple[np.ndarray, np.ndarray]:
    half = field.grid.half
    return (np.asarray(columns) - half) * CELL_M, (half - np.asarray(rows)) * CELL_M


def test_round_and_no_farther(field: Any) -> None:
    flat = field(lambda x, y: 100.0 + 0.0 * x * y)
    rows, columns = np.nonzero(flat.allowed)
    x, y = xy(flat, rows, columns)
    assert np.hypot(x, y).max() <= 1500.0
    assert rows.size == pytest.approx(math.pi * 30.0**2, rel=0.02)  # nodes 50 m apart in a circle of 1.5 km
    square = field(lambda x, y: 100.0 + 0.0 * x * y, round_shape=False)
    assert square.allowed.all()


@pytest.mark.parametrize(("slope_deg", "usable"), [(24.0, True), (26.0, False)])
def test_ground_over_25_degrees_is_left_out(field: Any, slope_deg: float, usable: bool) -> None:
    def half_steep(x: Any, y: Any) -> Any:
        return 500.0 + 0.0 * y + math.tan(math.radians(slope_deg)) * np.minimum(x, 0.0)

    found = field(half_steep)
    middle = found.grid.half
    assert found.slope_deg[middle, middle - 10] == pytest.approx(slope_deg, abs=0.05)
    assert found.slope_deg[middle, middle + 10] == pytest.approx(0.0, abs=1e-6)
    assert found.allowed[middle, middle - 10] == usable
    assert found.allowed[middle, middle + 10]


def test_water_and_holes_are_left_out(field: Any) -> None:
    coast = field(lambda x, y: np.where(x < 0.0, 0.0, 5.0 + 0.01 * x) + 0.0 * y)
    middle = coast.grid.half
    assert not coast.allowed[:, : middle - 1].any()
    assert coast.allowed[middle, middle + 2]
    holed = field(lambda x, y: np.where(np.hypot(x, y) < 200.0, np.nan, 300.0))
    x, y = xy(holed, *np.nonzero(holed.allowed))
    assert np.hypot(x, y).min() > 200.0 + 0.9 * CELL_M - 1e-6  # nor beside a hole, where the slope is unknown


def test_tops(field: Any) -> None:
    def two_hills(x: Any, y: Any) -> Any:
        return (
            100.0
            + 80.0 * np.exp(-((x - 600.0) ** 2 + (y - 200.0) ** 2) / 200.0**2)
            + 40.0 * np.exp(-((x + 700.0) ** 2 + (y + 300.0) ** 2) / 200.0**2)
        )

    hills = field(two_hills, round_shape=False)
    prominence = prominence_m(hills)
    x, y = xy(hills, *np.nonzero(prominence > 5.0))
    assert sorted(zip(x.tolist(), y.tolist(), strict=True)) == [(-700.0, -300.0), (600.0, 200.0)]
    # 80 m and 40 m less the mean of a square of 1050 m: ∫∫ of the hill over its area
    for height_m, at in ((80.0, (600.0, 200.0)), (40.0, (-700.0, -300.0))):
        row, column = hills.grid.half - int(at[1] / CELL_M), hills.grid.half + int(at[0] / CELL_M)
        mean_m = height_m * math.pi * 200.0**2 / 1050.0**2
        assert prominence[row, column] == pytest.approx(height_m - mean_m, abs=0.6)


def test_of_a_flat_top_only_the_middle_counts(field: Any) -> None:
    found = prominence_m(field(lambda x, y: 100.0 + 50.0 * (np.hypot(x, y) < 260.0), round_shape=False))
    x, y = xy(field(plateau), *np.nonzero(found))
    assert (x.tolist(), y.tolist()) == ([0.0], [0.0])


class TestEdges:
    def test_face_the_station(self, field: Any) -> None:
        found = field(plateau)
        x, y = xy(found, *np.nonzero(edge_breaks(found, 90.0)))
        brink = np.abs(y) < 400.0
        assert brink.sum() > 10
        # two cells ahead and back put the sharpest break on the brink itself
        assert x[brink].tolist() == [500.0] * int(brink.sum())

    def test_break_is_the_difference_of_slopes(self, field: Any) -> None:
        found = field(plateau)
        middle = found.grid.half
        breaks = edge_breaks(found, 90.0)
        assert breaks[middle - 5, middle + 10] == pytest.approx(math.tan(math.radians(20.0)), abs=1e-3)

    @pytest.mark.parametrize("azimuth_deg", [0.0, 180.0, 270.0])
    def test_other_sides_do_not(self, field: Any, azimuth_deg: float) -> None:
        found = field(plateau)
        x, y = xy(found, *np.nonzero(edge_breaks(found, azimuth_deg)))
        ahead = x * math.sin(math.radians(azimuth_deg)) + y * math.cos(math.radians(azimuth_deg))
        across = x * math.cos(math.radians(azimuth_deg)) - y * math.sin(math.radians(azimuth_deg))
        away_from_corners = np.abs(across) < 400.0
        assert away_from_corners.sum() > 10
        assert ahead[away_from_corners] == pytest.approx(500.0, abs=1e-6)
        assert ahead.min() > 0.0  # never the far side

    def test_a_plain_slope_has_none(self, field: Any) -> None:
        found = field(lambda x, y: 500.0 - 0.2 * x + 0.0 * y)
        assert not edge_breaks(found, 90.0).any()


class TestChoice:
    def test_kinds_and_number(self, field: Any) -> None:
        found = candidates(field(plateau), {"Eastby": 90.0, "Northam": 2.0, "Northend": 358.0}, most=200)
        kinds = set(found.found_as)
        assert {"top", "grid", "edge toward Eastby"} <= kinds
        assert len([kind for kind in kinds if kind.startswith("edge toward North")]) == 1  # one direction
        assert len(found.found_as) <= 200
        nodes = set(zip(found.row.tolist(), found.column.tolist(), strict=True))
        assert len(nodes) == len(found.found_as)

    def test_keeps_within_the_mask_exactly(self, field: Any) -> None:
        east, north = (geodesy.direct(LATITUDE, LONGITUDE, azimuth, 1020.0) for azimuth in (90.0, 0.0))
        ring = [
            [LONGITUDE, LATITUDE],
            [float(east[1]), LATITUDE],
            [LONGITUDE, float(north[0])],
            [LONGITUDE, LATITUDE],
        ]
        mask = mask_from({"type": "Polygon", "coordinates": [ring]})
        masked = field(plateau, masks=(mask,))
        found = candidates(masked, {"Eastby": 90.0}, most=300)
        latitude, longitude = masked.grid.places(found.row, found.column)
        assert mask.holds(latitude, longitude).all()
        x, y = xy(masked, found.row, found.column)
        # the triangle x ≥ 0, y ≥ 0, x + y ≤ 1020 m; its edges are a few mm off straight
        assert x.min() >= 0.0
        assert y.min() >= 0.0
        assert (x + y).max() <= 1020.0 + 0.1

    def test_same_again(self, field: Any) -> None:
        first, second = (candidates(field(plateau), {"Eastby": 90.0}) for _ in range(2))
        assert np.array_equal(first.row, second.row)
        assert np.array_equal(first.column, second.column)
        assert first.found_as == second.found_as


class TestNothingLeft:
    def test_mask_elsewhere(self, field: Any) -> None:
        away = [[20.0, 50.0], [21.0, 50.0], [20.0, 51.0]]
        mask = mask_from({"type": "Polygon", "coordinates": [away]})
        with pytest.raises(LocationError, match="no point of the ground in it: it is empty, elsewhere"):
            field(plateau, masks=(mask,))

    def test_all_too_steep(self, field: Any) -> None:
        with pytest.raises(LocationError, match="steeper than 25°"):
            field(lambda x, y: 2000.0 + 0.6 * x + 0.0 * y)

    def test_no_ground(self, field: Any) -> None:
        with pytest.raises(LocationError, match="no elevation tile"):
            field(lambda x, y: np.nan + 0.0 * x * y)

    @pytest.mark.parametrize("radius_m", [0.0, math.nan, 1e9])
    def test_impossible_radius(self, field: Any, radius_m: float) -> None:
        with pytest.raises(OutOfRangeError, match="radius"):
            field(plateau, radius_m=radius_m)

    def test_too_few_wanted(self, field: Any) -> None:
        with pytest.raises(OutOfRangeError, match="give 12 or more"):
            candidates(field(plateau), {}, most=3)
