"""Maps and skylines from the command line, and one day for all pages of a trip."""

from __future__ import annotations

import json
import math
import re
from typing import TYPE_CHECKING

import pytest
import rasterio.warp
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
    folder.chmod(0o700)  # else it is not used under a umask that lets the group write
    monkeypatch.setattr(asked, "compile_cache", lambda: folder)


@pytest.fixture
def book(alone: Path) -> str:
    (alone / "day.toml").write_text(BOOK, encoding="utf-8")
    return "day.toml"


def declination_deg(year: float) -> float:
    """From the package pygeomag, called directly."""
    return float(GeoMag(coefficients_file="wmm/WMM_2025.COF").calculate(*GULL_TOR, 0.0, year).d)


def test_coverage_says_what_its_json_holds(run: Callable, dem: str, alone: Path) -> None:
    (alone / "map.tif").write_bytes(b"an older one")
    words = ("coverage", f"{GULL_TOR[0]},{GULL_TOR[1]}", "--radius", "20km", "--cell", "500m", "--dem", dem)
    words += ("--from-height", "6", "--to-height", "10", "--frequency", "1296")
    said = run(*words, "--raster", "map.tif")
    assert said.made == ()  # nothing beside it
    assert "Raster: map.tif (in place of an older one)\n" in said.out
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
        assert raster.crs is not None
        west, south, east, north = rasterio.warp.transform_bounds(raster.crs, "EPSG:4326", *raster.bounds)
        assert west < GULL_TOR[1] < east
        assert south < GULL_TOR[0] < north


@pytest.mark.parametrize("command", ["coverage", "skyline"])
def test_a_site_that_is_no_place(run: Callable, dem: str, command: str) -> None:
    said = run(command, "nowhere at all", "--dem", dem, "--json")
    assert "nowhere at all" in said.refusal()


def test_coverage_in_words_alone(run: Callable, dem: str) -> None:
    """The ground ends 28 km north: a segment of the circle of 45 km that far off is unknown."""
    words = ("coverage", f"{GULL_TOR[0]},{GULL_TOR[1]}", "--dem", dem, "--cell", "1500m")
    said = run(*words, "--radius", "45km", "--to-power", "50", "--from-antenna", "9dBd")
    assert not said.made
    text = " ".join(said.answer().split())
    half = math.acos(28.0 / 45.0)  # area of a segment: (θ − sin θ cos θ) / π of the circle
    share = (half - math.sin(half) * math.cos(half)) / math.pi
    unknown = re.search(
        r" of the known ground; (\d+) % of the circle unknown\.|all over the known ground; (\d+) %", text
    )
    assert unknown is not None, text
    assert float(unknown[1] or unknown[2]) == pytest.approx(100.0 * share, abs=2.0)
    assert "out to 45 km / 28 mi: " in text
    assert "One method alone, ITU-R P.1812-8: ask 'reach' for the second opinion" in text
    assert "A station there: 50 W; assumed antenna 5 dBi, 8 m up, noise residential." in text
    assert "You: antenna 11.15 dBi; assumed 25 W, 8 m up, noise rural." in text
    assert "--chart" in text
    assert max(map(len, said.out.splitlines())) <= 79


def test_coverage_names_the_radius_asked_and_both_stations(run: Callable, dem: str) -> None:
    words = ("coverage", f"{GULL_TOR[0]},{GULL_TOR[1]}", "--dem", dem, "--radius", "3km", "--to-power", "50")
    said = run(*words)
    assert ", out to 3.0 km / 1.9 mi: " in said.answer()
    again = run(*words, "--json")
    assert "compiling" not in again.err
    found = json.loads(again.answer())
    assert found["radius_m"] == 2970.0  # the last ring of 90 m
    assert found["asked_radius_m"] == 3000.0
    assert found["unknown_share"] == 0.0
    assert found["method"] == "ITU-R P.1812-8"
    there = found["stations"]["there"]
    assert there["power_w"] == 50.0
    assert "power" not in there["assumed"]
    assert {"antenna gain", "antenna height", "noise"} <= set(there["assumed"])
    assert there["antenna_agl_m"] == found["receiver_agl_m"]
    assert "power" in found["stations"]["you"]["assumed"]


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
    """Dip √(2h/a) of the sea's horizon from 50 m, a 8 494.7 km: 0.197° at 29.1 km (closed form)."""
    # the last tile ends 0.05° north of the site, 5.6 km
    words = ("skyline", "47.95,-21.0", "--dem", dem, "--from-height", "50")
    said = run(*words, "--radius", "30km").answer()
    rows = re.findall(r"^ *(\d+) +\d+ +(-?[\d.]+)° +(\S+)(.*)$", said, re.MULTILINE)
    assert len(rows) == 16
    cut = {row[0]: row for row in rows if "at least" in row[3]}
    assert cut["0"][1:] == ("-0.20", "-", "  at least; map ends at 5.6 km")
    assert all(float(row[1]) >= -0.20 for row in rows)
    assert "it must be higher there" in " ".join(said.split())
    assert "--sea-where-missing" in said
    assert max(map(len, said.splitlines())) <= 79
    near = run(*words, "--radius", "4km").answer()
    assert "at least; looked only to 4.0 km" in near
    assert "give a greater --radius" in near
    whole = run(*words, "--radius", "30km", "--sea-where-missing").answer()
    assert "at least" not in whole


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
    between = json.loads(run("locate", "Gull Tor", "Norwater", "--book", book, "--json").answer())["between"]
    assert between["from_declination_deg"] == pytest.approx(declination_deg(2025.162), abs=0.01)
    assert pages["reach"]["declination_deg"] == pytest.approx(declination_deg(2025.162), abs=0.01)
    assert pages["later"]["declination_deg"] == pytest.approx(declination_deg(2029.162), abs=0.01)
    assert pages["skyline"]["declination_deg"] == pytest.approx(declination_deg(2025.162), abs=0.01)


def test_directions_to_a_vague_place_are_magnetic_too(run: Callable, dem: str) -> None:
    said = run("reach", f"{GULL_TOR[0]},{GULL_TOR[1]}", "HN96", "--dem", dem, "--date", "2025-03-01").answer()
    row = re.search(r"point (\d+) magnetic \((\d+) true\)", said)
    assert row is not None, said
    assert (int(row[1]) - int(row[2])) % 360 == pytest.approx(-declination_deg(2025.162), abs=1.0)
