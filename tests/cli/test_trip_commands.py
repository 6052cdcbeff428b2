"""The commands of a day out on the sample island, and what they refuse."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import maidenhead
import pytest
from geographiclib.geodesic import Geodesic

if TYPE_CHECKING:
    from collections.abc import Callable

MINE = """
[trip]
bands = ["2 m"]
modes = ["ssb", "packet-1200"]
date = 2026-06-14

[my_set_ups.ssb]
bands = ["2 m"]
modes = ["ssb", "packet-1200"]
antenna = { kind = "5-element beam" }
height_m = 4
power_w = 10
"""
SITES = """
[[sites]]
name = "Gull Tor"
place = "47.74833 -21.00083"

[[sites]]
name = "Ravel Head"
place = "47.07083 -21.03667"
"""
STATIONS = """
[[stations]]
name = "Marsh End"
place = "46.29750 -20.93750"

[[stations]]
name = "Flaxmill"
place = "HN96nn"

[[stations]]
name = "Tarn of the long name gateway"
place = "47.07583 -20.97083"

[[stations.set_ups]]
bands = ["2 m"]
modes = ["packet-1200"]
antenna = { kind = "collinear" }
height_m = 15
power_w = 25
"""


@pytest.fixture
def book(alone: Path) -> Callable[..., str]:
    """``book(SITES, STATIONS)``: a book of those parts beside nothing else."""

    def make(*parts: str) -> str:
        path = alone / "day.toml"
        path.write_text("".join((MINE, *parts)), encoding="utf-8")
        return str(path)

    return make


@pytest.fixture
def trip(run: Callable[..., Any], book: Callable[..., str], dem: str) -> Callable[..., Any]:
    """``trip("rank", "Gull Tor")``: a command on the book of two sites and three stations."""
    written = book(SITES, STATIONS)

    def call(command: str, *arguments: str) -> Any:
        return run(command, *arguments, "--book", written, "--dem", dem)

    return call


def test_rank_keeps_to_its_columns_and_tells_an_area(trip: Callable[..., Any]) -> None:
    said = trip("rank", "Gull Tor").answer()
    lines = said.splitlines()
    assert lines[0] == "From Gull Tor: 3 of 3 stations workable or better."
    assert max(map(len, lines)) <= 79
    text = " ".join(said.split())
    # Corners of the cell from the reference libraries maidenhead and geographiclib.
    south, west = maidenhead.to_location("HN96nn")
    legs = [
        Geodesic.WGS84.Inverse(47.74833, -21.00083, south + up / 24.0, west + along / 12.0)
        for up in (0, 1)
        for along in (0, 1)
    ]
    turns = sorted(leg["azi1"] for leg in legs)
    assert f"an area, not a point: true {turns[0]:.0f} to {turns[-1]:.0f}°" in text
    assert f"to {max(leg['s12'] for leg in legs) / 1000:.0f} km" in text
    row = next(line for line in lines if line[11:].startswith("Flaxmill"))
    assert "~132" in row
    assert "132.2" not in said


def test_rank_of_sites_is_for_a_station(trip: Callable[..., Any]) -> None:
    said = trip("rank", "Flaxmill", "--sites").answer()
    assert said.startswith("To Flaxmill: ")
    assert "from the site" in " ".join(said.split())
    assert max(map(len, said.splitlines())) <= 79


def test_rank_as_json_gives_the_span_and_the_extremes(trip: Callable[..., Any]) -> None:
    document = json.loads(trip("rank", "Gull Tor", "--json").answer())
    assert document["schema"] == "pathprofile.rank/1"
    rows = {row["to"]: row for row in document["rows"]}
    cell = rows["Flaxmill"]
    assert cell["nearest_m"] < cell["distance_m"] < cell["farthest_m"]
    assert cell["first_azimuth_deg"] < cell["azimuth_deg"] < cell["last_azimuth_deg"]
    assert cell["cell"]["worst"]["chance"] <= cell["chance"] <= cell["cell"]["best"]["chance"]
    assert rows["Marsh End"]["nearest_m"] is None
    assert rows["Marsh End"]["cell"] is None


def test_rank_as_csv_keeps_the_cell(trip: Callable[..., Any]) -> None:
    rows = {
        row["station"]: row for row in csv.DictReader(trip("rank", "Gull Tor", "--csv").answer().splitlines())
    }
    assert float(rows["Flaxmill"]["station_uncertainty_m"]) > 3000.0
    assert float(rows["Marsh End"]["station_uncertainty_m"]) < 10.0
    assert {row["date"] for row in rows.values()} == {"2026-06-14"}


def test_rank_saves_and_draws(trip: Callable[..., Any], alone: Path) -> None:
    ran = trip("rank", "Gull Tor", "--save", "a.geojson", "--save", "a.gpx", "--charts", "pictures")
    ran.answer()
    drawn = sorted(path.name for path in (alone / "pictures").iterdir())
    assert len(drawn) == 3
    assert "Gull-Tor-to-Flaxmill.png" in drawn
    saved = json.loads((alone / "a.geojson").read_text())
    kinds = [feature["properties"]["kind"] for feature in saved["features"]]
    assert kinds.count("path") == 3
    assert kinds.count("obstacle") == 0
    assert "Magnetic azimuths hold for 2026-06-14." in saved["notes"]
    assert "somewhere in this square (HN96nn)" in (alone / "a.gpx").read_text()
