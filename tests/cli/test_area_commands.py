"""Maps and skylines from the command line, and one day for all pages of a trip."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

import pytest
import rasterio
from geographiclib.geodesic import Geodesic
from pygeomag import GeoMag

from pathprofile.cli import asked

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

GULL_TOR = (47.74833, -21.00083)
NORWATER = (47.86250, -21.12833)
BOOK = f"""
[trip]
bands = ["2 m"]
date = 2025-03-01

[my_set_ups.ssb]
bands = ["2 m"]
modes = ["ssb"]
height_m = 4

[[sites]]
name = "Gull Tor"
place = "{GULL_TOR[0]} {GULL_TOR[1]}"

[[stations]]
name = "Norwater"
place = "{NORWATER[0]} {NORWATER[1]}"
"""


@pytest.fixture(autouse=True)
def compiled_once(monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest) -> None:
    assert request.config.cache is not None
    folder = request.config.cache.mkdir("pathprofile-compiled")
    monkeypatch.setattr(asked, "compile_cache", lambda: folder)


@pytest.fixture
def book(alone: Path) -> str:
    (alone / "day.toml").write_text(BOOK, encoding="utf-8")
    return "day.toml"


def declination_deg(year: float) -> float:
    """From the package pygeomag, called directly."""
    return float(GeoMag(coefficients_file="wmm/WMM_2025.COF").calculate(*GULL_TOR, 0.0, year).d)


def test_coverage_says_what_its_json_holds(run: Callable, dem: str) -> None:
    words = ("coverage", f"{GULL_TOR[0]},{GULL_TOR[1]}", "--radius", "20km", "--cell", "500m", "--dem", dem)
    words += ("--from-height", "6", "--to-height", "10", "--frequency", "1296")
    said = run(*words, "--raster", "map.tif")
    assert said.made == ("map.tif",)
    text = " ".join(said.answer().split())
    assert "1296 MHz SSB, horizontal. Antennas above ground: 6 m (20 ft) here, 10 m (33 ft) there." in text
    assert "Weaker direction: " in text or "alike" in text
    found = json.loads(run(*words, "--json").answer())
    assert sum(found["shares"].values()) == pytest.approx(1.0)
    for word, share in found["shares"].items():
        stated = re.search(rf"\b{word} (\d+|under 1|over 99) %", text, re.IGNORECASE)
        assert (stated is not None) == (share > 0.0), (word, text)
        if stated is not None and stated[1].isdigit():
            assert float(stated[1]) == pytest.approx(100.0 * share, abs=0.5)
    with rasterio.open("map.tif") as raster:
        assert raster.count >= 1


@pytest.mark.parametrize("command", ["coverage", "skyline"])
def test_a_site_that_is_no_place(run: Callable, dem: str, command: str) -> None:
    said = run(command, "nowhere at all", "--dem", dem, "--json")
    assert "nowhere at all" in said.refusal()


def test_coverage_with_nothing_to_write(run: Callable, dem: str) -> None:
    said = run("coverage", "47.748,-21.001", "--dem", dem)
    assert "--chart" in said.refusal()
    assert "--raster" in said.refusal()


def test_skyline_points_by_the_compass_of_the_day(run: Callable, dem: str, book: str) -> None:
    said = run("skyline", "Gull Tor", "--book", book, "--radius", "30km", "--dem", dem).answer()
    row = re.search(r"^ *(\d+) +(\d+)  Norwater: (-?[\d.]+)°, (.*)$", said, re.MULTILINE)
    assert row is not None, said
    true_deg = Geodesic.WGS84.Inverse(*GULL_TOR, *NORWATER)["azi1"] % 360.0
    assert int(row[1]) == round(true_deg)
    assert int(row[2]) == round(true_deg - declination_deg(2025.162))
    north = re.search(r"^ *0 +(\d+) +-?[\d.]+° ", said, re.MULTILINE)
    assert north is not None
    assert int(north[1]) == round(-declination_deg(2025.162)) % 360


def test_skyline_marks_bearings_on_which_the_map_ends_over_the_sea(run: Callable, dem: str) -> None:
    """Dip √(2h/a) of the sea's horizon from 504 m, a 8 494.7 km: 0.624° (closed form)."""
    words = ("skyline", f"{GULL_TOR[0]},{GULL_TOR[1]}", "--dem", dem, "--from-height", "4")
    said = run(*words, "--radius", "95km").answer()
    rows = re.findall(r"^ *(\d+) +\d+ +(-?[\d.]+)° +(\S+)(.*)$", said, re.MULTILINE)
    assert len(rows) == 16
    cut = {row[0]: row for row in rows if "at least" in row[3]}
    assert cut["0"][1:] == ("-0.62", "-", "  at least; map ends at 28.0 km")
    assert all(float(row[1]) > -0.63 for row in rows)
    assert "it must be higher there" in " ".join(said.split())
    assert "--sea-where-missing" in said
    near = run(*words, "--radius", "20km").answer()
    assert "at least; looked only to 20.0 km" in near
    assert "give a greater --radius" in near
    whole = run(*words, "--radius", "95km", "--sea-where-missing").answer()
    assert "at least" not in whole
    assert max(map(len, said.splitlines())) <= 79


def test_skyline_to_a_station_off_the_tiles(run: Callable, dem: str, alone: Path) -> None:
    (alone / "far.toml").write_text(
        BOOK.replace(f"{NORWATER[0]} {NORWATER[1]}", "49.5 -21.1"), encoding="utf-8"
    )
    said = run("skyline", "Gull Tor", "--book", "far.toml", "--radius", "30km", "--dem", dem).answer()
    assert "Norwater: outside the elevation tiles" in said
    assert "nan" not in said


def test_every_command_takes_the_day_of_the_trip(run: Callable, dem: str, book: str) -> None:
    """Else two pages of one trip could differ by a degree: the declination moves by the year."""
    words = ("--book", book, "--dem", dem, "--json")
    pages = {
        "reach": json.loads(run("reach", "Gull Tor", "Norwater", *words).answer())["inputs"],
        "later": json.loads(run("reach", "Gull Tor", "Norwater", *words, "--date", "2029-03-01").answer())[
            "inputs"
        ],
        "skyline": json.loads(run("skyline", "Gull Tor", *words, "--radius", "30km").answer())["inputs"],
    }
    assert pages["reach"]["declination_deg"] == pytest.approx(declination_deg(2025.162), abs=0.01)
    assert pages["later"]["declination_deg"] == pytest.approx(declination_deg(2029.162), abs=0.01)
    assert pages["skyline"]["declination_deg"] == pytest.approx(declination_deg(2025.162), abs=0.01)


def test_directions_to_a_vague_place_are_magnetic_too(run: Callable, dem: str) -> None:
    said = run("reach", f"{GULL_TOR[0]},{GULL_TOR[1]}", "HN96", "--dem", dem, "--date", "2025-03-01").answer()
    row = re.search(r"point (\d+) magnetic \((\d+) true\)", said)
    assert row is not None, said
    assert (int(row[1]) - int(row[2])) % 360 == pytest.approx(-declination_deg(2025.162), abs=1.0)
