"""JSON of ``reach``: the keys and types that were promised, no NaN, and equal to what was computed."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING, Any

import pytest

from pathprofile.station.catalogue import MODES

if TYPE_CHECKING:
    from collections.abc import Callable

NUMBER = (int, float)
MAYBE = (int, float, type(None))
TEXT = (str,)
WORD = (str, type(None))

# The shape as promised, key by key; a list stands for a list of such things, ``...`` for any number of keys.
END = {
    "label": TEXT,
    "latitude_deg": NUMBER,
    "longitude_deg": NUMBER,
    "uncertainty_m": NUMBER,
    "ground_m": NUMBER,
    "antenna_agl_m": NUMBER,
}
HEIGHTS = {"from": MAYBE, "to": MAYBE, "both": MAYBE}
SHAPE: dict[str, Any] = {
    "schema": TEXT,
    "inputs": {
        "from": END,
        "to": END,
        "frequency_mhz": NUMBER,
        "polarization": TEXT,
        "date": TEXT,
        "delta_n": NUMBER,
        "n0": NUMBER,
        "declination_deg": NUMBER,
        "step_m": NUMBER,
        "tiles": [{"name": TEXT, "checksum": TEXT}],
        "versions": {"pathprofile": TEXT},
    },
    "path": {
        "distance_m": NUMBER,
        "azimuth_deg": NUMBER,
        "back_azimuth_deg": NUMBER,
        "magnetic_azimuth_deg": NUMBER,
        "magnetic_back_azimuth_deg": NUMBER,
    },
    "profile": {
        "distance_m": [NUMBER],
        "latitude_deg": [NUMBER],
        "longitude_deg": [NUMBER],
        "ground_m": [NUMBER],
        "void_points": (int,),
        "bridged_m": NUMBER,
        "sources": [TEXT],
    },
    "sightline": {
        "verdict": TEXT,
        "k_factor": NUMBER,
        "minimum_clearance_m": NUMBER,
        "minimum_fresnel_ratio": NUMBER,
        "limiting": {
            "distance_m": NUMBER,
            "latitude_deg": NUMBER,
            "longitude_deg": NUMBER,
            "ground_m": NUMBER,
            "clearance_m": NUMBER,
            "region": TEXT,
        },
        "from_takeoff_deg": NUMBER,
        "to_takeoff_deg": NUMBER,
        "from_horizon_m": MAYBE,
        "to_horizon_m": MAYBE,
        "obstacles": [{"distance_m": NUMBER, "ground_m": NUMBER, "clearance_m": NUMBER, "radius_m": MAYBE}],
        "height_for_sight_m": HEIGHTS,
        "height_for_fresnel_m": HEIGHTS,
    },
    "loss": {
        "primary": TEXT,
        "loss_db": NUMBER,
        "free_space_db": NUMBER,
        "mechanism": TEXT,
        "methods": {...: NUMBER},
        "abstained": {...: TEXT},
    },
    "warnings": [TEXT],
    "links": [
        {
            "from": TEXT,
            "to": TEXT,
            "mode": TEXT,
            "eirp_dbm": NUMBER,
            "path_loss_db": NUMBER,
            "level_dbm": NUMBER,
            "s_reading": WORD,
            "noise_dbm": NUMBER,
            "snr_db": NUMBER,
            "required_snr_db": NUMBER,
            "margin_db": NUMBER,
            "comfortable_margin_db": NUMBER,
            "chance": NUMBER,
            "sigma_db": NUMBER,
            "verdict": TEXT,
            "terms": [{"name": TEXT, "value_db": NUMBER, "source": TEXT}],
        }
    ],
    "pair": {"chance": NUMBER, "verdict": TEXT},
    "modes": [{"band": TEXT, "mode": TEXT, "chance": MAYBE, "verdict": WORD}],
    "changes": [{"what": TEXT, "gain_db": NUMBER, "chance": NUMBER, "verdict": TEXT}],
    "assumed": [{"station": TEXT, "what": TEXT, "source": TEXT}],
    "exposure": [{"station": TEXT, "eirp_w": NUMBER, "words": TEXT}],
    "cautions": [TEXT],
}


def check(found: Any, shape: Any, where: str = "$") -> None:
    if isinstance(shape, dict):
        assert isinstance(found, dict), where
        if ... in shape:
            shape = dict.fromkeys(found, shape[...])
        for key, inner in shape.items():
            assert key in found, f"{where}.{key} is missing"
            check(found[key], inner, f"{where}.{key}")
    elif isinstance(shape, list):
        assert isinstance(found, list), where
        for index, each in enumerate(found):
            check(each, shape[0], f"{where}[{index}]")
    else:
        assert isinstance(found, shape), f"{where} = {found!r}"
        assert not isinstance(found, bool), where
        assert not isinstance(found, float) or math.isfinite(found), where


def read(text: str) -> dict[str, Any]:
    """JSON as a strict reader takes it: no NaN, no Infinity."""

    def refuse(word: str) -> None:
        raise AssertionError(f"{word} in the JSON")

    document: dict[str, Any] = json.loads(text, parse_constant=refuse)
    return document


CASES = {
    "long": [],
    "fm": ["--mode", "fm", "--frequency", "146.52"],
    "23cm": ["--frequency", "23cm", "--from-antenna", "16dBi"],
    "6m": ["--frequency", "6m", "--k", "1"],
    "clutter": ["--clutter", "10m", "--obstacle", "12.4km:18m", "--sea", "20km-65km"],
    "tall": ["--from-height", "2000m", "--to-height", "2500"],
}


@pytest.mark.parametrize("name", CASES)
def test_shape(reach: Callable, name: str) -> None:
    found = read(reach("--json", *CASES[name]).answer())
    assert found["schema"] == "pathprofile.reach/1"
    check(found, SHAPE)


def test_shape_in_sight(reach: Callable) -> None:
    found = read(reach("--json", a="47.50250,-21.49917", b="47.61167,-21.38250").answer())
    check(found, SHAPE)
    assert found["sightline"]["verdict"] in {"clear", "partial"}


@pytest.fixture
def long_path(reach: Callable) -> dict[str, Any]:
    return read(reach("--json", "--mast-limit", "30m").answer())


def test_null_has_a_reason(long_path: dict[str, Any]) -> None:
    """443 m of ridge above the line: no mast of 30 m clears it."""
    for which in ("height_for_sight_m", "height_for_fresnel_m"):
        heights = long_path["sightline"][which]
        for end in ("from", "to", "both"):
            assert heights[end] is None
            assert heights["reasons"][end]


def test_verdicts_are_the_promised_words(long_path: dict[str, Any]) -> None:
    contact = {"solid", "workable", "marginal", "unlikely"}
    assert long_path["sightline"]["verdict"] == "obstructed"
    assert long_path["sightline"]["limiting"]["region"] in {"from_foreground", "mid_path", "to_foreground"}
    assert {link["verdict"] for link in long_path["links"]} <= contact
    assert {row["verdict"] for row in long_path["modes"]} <= contact | {None}
    assert all(row["reason"] for row in long_path["modes"] if row["verdict"] is None)
    assert {row["mode"] for row in long_path["modes"]} == set(MODES)
    assert {"6 m", "2 m", "70 cm", "23 cm"} <= {row["band"] for row in long_path["modes"]}


def test_arrays_belong_together(long_path: dict[str, Any]) -> None:
    profile = long_path["profile"]
    count = len(profile["distance_m"])
    assert count >= 33
    assert {len(profile[key]) for key in ("latitude_deg", "longitude_deg", "ground_m")} == {count}
    assert profile["distance_m"][0] == 0.0
    assert profile["distance_m"][-1] == pytest.approx(long_path["path"]["distance_m"], abs=1e-6)
    assert profile["distance_m"] == sorted(profile["distance_m"])
    assert profile["ground_m"][0] == pytest.approx(long_path["inputs"]["from"]["ground_m"])


def test_every_term_of_a_link_adds_up(long_path: dict[str, Any]) -> None:
    for link in long_path["links"]:
        planes = {
            plane: math.fsum(term["value_db"] for term in link["terms"] if term["plane"] == plane)
            for plane in ("eirp", "level", "noise")
        }
        assert planes["eirp"] == pytest.approx(link["eirp_dbm"], abs=1e-9)
        assert planes["eirp"] + planes["level"] == pytest.approx(link["level_dbm"], abs=1e-9)
        assert planes["noise"] == pytest.approx(link["noise_dbm"], abs=1e-9)
        assert link["level_dbm"] - link["noise_dbm"] == pytest.approx(link["snr_db"], abs=1e-9)
        assert link["snr_db"] - link["required_snr_db"] == pytest.approx(link["margin_db"], abs=1e-9)


def test_checksums_are_those_of_the_files(long_path: dict[str, Any], dem: str) -> None:
    import hashlib
    from pathlib import Path

    sums = {hashlib.sha256(path.read_bytes()).hexdigest() for path in Path(dem).iterdir() if path.is_file()}
    tiles = long_path["inputs"]["tiles"]
    assert {"N46W021", "N47W021"} <= {tile["name"][:7] for tile in tiles}
    assert {tile["checksum"].removeprefix("sha256:") for tile in tiles} <= sums


def test_json_stands_alone_on_standard_out(reach: Callable, alone: Any) -> None:
    ran = reach("--json", "--chart", "path.png")
    check(read(ran.answer()), SHAPE)
    assert ran.out.count("\n") == 1
    assert ran.made == ("path.png",)
