"""The JSON document of a path: the shape that was promised, null for NaN, and the way back."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from pathprofile.export.reach_json import SCHEMA, reach_document, to_json

if TYPE_CHECKING:
    from pathprofile.contact import Contact
    from pathprofile.reach import Reach

# The promised shape: keys may be added, never changed.
END = {"label", "latitude_deg", "longitude_deg", "uncertainty_m", "ground_m", "antenna_agl_m"}
SHAPE = {
    "inputs": {
        "from",
        "to",
        "frequency_mhz",
        "polarization",
        "date",
        "delta_n",
        "n0",
        "declination_deg",
        "step_m",
        "tiles",
        "versions",
    },
    "path": {
        "distance_m",
        "azimuth_deg",
        "back_azimuth_deg",
        "magnetic_azimuth_deg",
        "magnetic_back_azimuth_deg",
    },
    "profile": {
        "distance_m",
        "latitude_deg",
        "longitude_deg",
        "ground_m",
        "void_points",
        "bridged_m",
        "sources",
    },
    "sightline": {
        "verdict",
        "k_factor",
        "minimum_clearance_m",
        "minimum_fresnel_ratio",
        "limiting",
        "from_takeoff_deg",
        "to_takeoff_deg",
        "from_horizon_m",
        "to_horizon_m",
        "obstacles",
        "height_for_sight_m",
        "height_for_fresnel_m",
    },
    "loss": {"primary", "loss_db", "free_space_db", "mechanism", "methods", "abstained"},
}
UNITS = ("_m", "_deg", "_db", "_mhz", "_dbm", "_uv", "_w", "_factor")
WITHOUT_UNIT = {"delta_n", "n0", "minimum_fresnel_ratio", "nu", "from", "to", "both"}


@pytest.fixture
def path(marsh_end: Contact) -> Reach:
    return marsh_end.reach


def read_back(document: dict[str, Any]) -> dict[str, Any]:
    def refuse(name: str) -> None:
        raise AssertionError(f"{name} is no JSON (RFC 8259 §6)")

    read: dict[str, Any] = json.loads(to_json(document), parse_constant=refuse)
    return read


def numbers(value: Any, key: str = "") -> list[tuple[str, float]]:
    """Every number with the nearest key above it."""
    if isinstance(value, dict):
        return [found for name, item in value.items() for found in numbers(item, name)]
    if isinstance(value, list):
        return [found for item in value for found in numbers(item, key)]
    return [(key, value)] if isinstance(value, int | float) and not isinstance(value, bool) else []


def test_shape(path: Reach) -> None:
    document = read_back(reach_document(path))
    assert document["schema"] == SCHEMA == "pathprofile.reach/1"
    for part, keys in SHAPE.items():
        assert keys <= set(document[part]), part
    for end in ("from", "to"):
        assert set(document["inputs"][end]) >= END
    seen = document["sightline"]
    limiting = {"distance_m", "latitude_deg", "longitude_deg", "ground_m", "clearance_m", "region"}
    assert limiting <= set(seen["limiting"])
    assert seen["limiting"]["region"] in {"from_foreground", "mid_path", "to_foreground"}
    assert seen["verdict"] in {"clear", "partial", "obstructed"}
    assert seen["obstacles"]
    for obstacle in seen["obstacles"]:
        assert {"distance_m", "ground_m", "clearance_m", "radius_m"} <= set(obstacle)
    for heights in ("height_for_sight_m", "height_for_fresnel_m"):
        assert {"from", "to", "both"} <= set(seen[heights])
    assert isinstance(document["warnings"], list)


def test_round_trip_is_exact(path: Reach) -> None:
    document = reach_document(path, tiles=[{"name": "N47W022", "sha256": "0"}], versions={"pathprofile": "1"})
    read = read_back(document)
    assert read == document
    assert read["inputs"]["tiles"] == [{"name": "N47W022", "sha256": "0"}]
    assert read["path"]["distance_m"] == path.leg.distance_m
    assert read["path"]["magnetic_back_azimuth_deg"] == path.to_end.magnetic_azimuth_deg
    np.testing.assert_array_equal(read["profile"]["ground_m"], path.profile.ground_m)
    assert read["loss"]["methods"] == dict(path.loss.methods)
    assert read["inputs"]["date"] == "2026-11-24"


def test_numbers_carry_units(path: Reach) -> None:
    document = read_back(reach_document(path))
    assert {name for name, _ in numbers(document["loss"].pop("methods"))} == set(path.loss.methods)
    document["loss"].pop("not_exceeded_db")
    document["loss"].pop("second_opinion_not_exceeded_db")
    for counted in ("void_points",):
        document["profile"].pop(counted)
    document["sightline"].pop("obstacles_found")
    for key, _ in numbers(document):
        assert key.endswith(UNITS) or key in WITHOUT_UNIT, key


def test_clearances_are_positive_above_the_ground(path: Reach) -> None:
    """Marsh End is far behind its horizon: the line runs through the ground."""
    seen = read_back(reach_document(path))["sightline"]
    assert seen["verdict"] == "obstructed"
    assert seen["minimum_clearance_m"] < 0.0
    assert seen["limiting"]["clearance_m"] < 0.0


def test_limiting_place_lies_on_the_profile(path: Reach) -> None:
    document = read_back(reach_document(path))
    limiting, profile = document["sightline"]["limiting"], document["profile"]
    at = int(np.argmin(np.abs(np.array(profile["distance_m"]) - limiting["distance_m"])))
    for key in ("latitude_deg", "longitude_deg", "ground_m"):
        assert limiting[key] == pytest.approx(profile[key][at])


def test_unknown_is_null_and_never_nan(path: Reach) -> None:
    loss = replace(path.loss, second_opinion=None, without_troposcatter_db=None, loss_db=math.nan)
    seen = replace(path.sightline, from_takeoff_deg=math.inf)
    document = read_back(reach_document(replace(path, loss=loss, sightline=seen)))
    assert document["loss"]["loss_db"] is None
    assert document["loss"]["second_opinion_db"] is None
    assert document["loss"]["disagreement_db"] is None
    assert document["sightline"]["from_takeoff_deg"] is None


def test_height_out_of_reach_is_null_with_the_reason(path: Reach) -> None:
    heights = path.sightline.height_for_fresnel_m
    seen = replace(path.sightline, height_for_fresnel_m=replace(heights, from_m=None, from_reason="too high"))
    written = read_back(reach_document(replace(path, sightline=seen)))["sightline"]["height_for_fresnel_m"]
    assert written["from"] is None
    assert written["reasons"]["from"] == "too high"


def test_to_json_takes_arrays_mappings_and_text_no_file_can_hold() -> None:
    text = to_json(
        {
            "array": np.array([1.0, math.nan]),
            "whole": np.int16(3),
            "yes": np.bool_(True),
            "view": MappingProxyType({1: -math.inf}),
            "text": "a \ud800 b \u202e 東京",
        }
    )
    assert json.loads(text) == {
        "array": [1.0, None],
        "whole": 3,
        "yes": True,
        "view": {"1": None},
        "text": "a ? b \u202e 東京",
    }
    text.encode("utf-8")
