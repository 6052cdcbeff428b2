"""The commands of a day out on the sample island, and what they refuse."""

from __future__ import annotations

import csv
import datetime as dt
import json
from typing import TYPE_CHECKING, Any

import maidenhead
import pytest
from geographiclib.geodesic import Geodesic

from pathprofile.cli import asked

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

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
    (alone / "pictures").mkdir()
    for older in ("a.gpx", "pictures/Gull-Tor-to-Flaxmill.png"):
        (alone / older).write_text("older")
    ran = trip("rank", "Gull Tor", "--save", "a.geojson", "--save", "a.gpx", "--charts", "pictures")
    ran.answer()
    assert "saved a.geojson\nsaved a.gpx (in place of an older one)\n" in ran.err
    assert "draws in place of an older picture in pictures\n" in ran.err
    drawn = sorted(path.name for path in (alone / "pictures").iterdir())
    assert len(drawn) == 3
    assert "Gull-Tor-to-Flaxmill.png" in drawn
    saved = json.loads((alone / "a.geojson").read_text())
    kinds = [feature["properties"]["kind"] for feature in saved["features"]]
    assert kinds.count("path") == 3
    assert kinds.count("obstacle") == 0
    assert "Magnetic azimuths hold for 2026-06-14." in saved["notes"]
    assert "somewhere in this square (HN96nn)" in (alone / "a.gpx").read_text()


@pytest.mark.parametrize(
    ("parts", "arguments", "said"),
    [
        ((SITES,), ("rank", "Gull Tor"), "no station in day.toml: add [[stations]] with name = "),
        ((STATIONS,), ("rank", "Marsh End", "--sites"), "no site in day.toml: add [[sites]] with name = "),
        ((), ("ready",), "no site in day.toml: add [[sites]]"),
        ((SITES,), ("ready",), "no station in day.toml: add [[stations]]"),
        ((SITES,), ("compare",), "no station in day.toml: add [[stations]]"),
        ((), ("sheet", "Gull Tor", "--out", "a.html"), "no site in day.toml: add [[sites]]"),
        (
            (SITES, STATIONS),
            ("rank", "marsh end"),
            "'marsh end' is a station: rank the sites for it with --sites",
        ),
        (
            (SITES, STATIONS),
            ("rank", "Gull Tor", "--sites"),
            "'Gull Tor' is a site: rank its stations without --sites",
        ),
        ((SITES, STATIONS), ("rank", "Gull Tor", "--csv", "--json"), "--csv and --json together: give one"),
        ((SITES, STATIONS), ("compare", "--csv", "--json"), "--csv and --json together: give one"),
        (
            (SITES, STATIONS),
            ("compare", "Gull Tor", "Gull tor"),
            "'Gull Tor' and 'Gull tor' are the same site",
        ),
    ],
)
def test_what_cannot_be_answered_is_said_in_one_line(
    run: Callable[..., Any],
    book: Callable[..., str],
    parts: tuple[str, ...],
    arguments: tuple[str, ...],
    said: str,
) -> None:
    """No elevation tiles are at hand either: the book is what is complained about."""
    assert run(*arguments, "--book", book(*parts)).refusal().startswith(said)


def test_compare_says_where_to_go_first(trip: Callable[..., Any]) -> None:
    said = trip("compare").answer()
    assert said.split("\n", 1)[0].startswith(("Gull Tor", "Ravel Head"))
    assert max(map(len, said.splitlines())) <= 79
    document = json.loads(trip("compare", "--json").answer())
    assert document["pick"] in document["sites"]
    assert len(document["matrix"]) == 2
    assert {len(row) for row in document["matrix"]} == {3}
    rows = list(csv.DictReader(trip("compare", "Ravel Head", "Gull Tor", "--csv").answer().splitlines()))
    assert [row["site"] for row in rows] == ["Ravel Head"] * 3 + ["Gull Tor"] * 3


def test_ready_looks_at_everything(trip: Callable[..., Any]) -> None:
    document = json.loads(trip("ready", "--json").answer())
    looked = [check["what"] for check in document["checks"]]
    assert looked == ["tiles", "declination", "sheet", "clock", "positions", "equipment"]
    (positions,) = [check for check in document["checks"] if check["what"] == "positions"]
    assert positions["sentence"] == "2 of 3 stations are points, 1 are areas"


def test_a_new_book_is_written_once_and_can_be_read(run: Callable[..., Any], alone: Path, dem: str) -> None:
    run("new", "trip.toml").answer()
    text = (alone / "trip.toml").read_text()
    assert run("new", "trip.toml").code == 2
    assert (alone / "trip.toml").read_text() == text
    assert run("ready", "--book", "trip.toml", "--dem", dem).code in {0, 1}


LOG = "station,mode,frequency,sent,received,heard\nMarsh End,ssb,144.300,57,55,y\nFlaxmill,ssb,144.300,,,n\n"


def test_a_sheet_and_its_debrief(
    trip: Callable[..., Any], run: Callable[..., Any], alone: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (alone / "out").mkdir()
    said = trip("sheet", "Gull Tor", "--out", "out/a.html").answer()
    assert "Sheet: out/a.html, 3 stations to call." in said
    assert "in place of" not in said
    with monkeypatch.context() as eve:
        eve.setattr(asked, "day", lambda _: dt.date(2026, 6, 13))  # the prediction of a past day is kept
        again = trip("sheet", "Gull Tor", "--out", "out/a.html").answer()
    assert "Sheet: out/a.html (in place of an older one), 3 stations to call." in again
    assert ".prediction.json (in place of an older one)\n" in again
    assert "(a cell!)" in (alone / "out/a.html").read_text(encoding="utf-8")
    saved = "day-Gull-Tor-2026-06-14.prediction.json"
    assert f"Prediction for the debrief: out/{saved}" in said
    assert not (alone / saved).exists()  # nothing is left beside the book
    (alone / "out/log.csv").write_text(LOG)
    told = run("debrief", "day.toml", "out/log.csv").answer()  # found beside the log
    for name in (saved, "log.csv"):
        (alone / "out" / name).rename(alone / name)
    assert "Gull Tor, 2026-06-14" in told
    assert "Not in the log: Tarn of the long name gateway." in told
    document = json.loads(run("debrief", "day.toml", "log.csv", "--json").answer())
    assert document["schema"] == "pathprofile.debrief/1"
    made = {contact["station"]: contact["made"] for contact in document["days"][0]["contacts"]}
    assert made == {"Marsh End": True, "Flaxmill": False}

    twice = ("debrief", "day.toml", "log.csv", "log.csv", "--prediction", saved, "--prediction", saved)
    assert "is given twice, with the same log" in run(*twice).refusal()
    assert (
        run("debrief", "day.toml", "log.csv", "log.csv").refusal().startswith("2 logs: say with --prediction")
    )
    assert "1 logs and 2 predictions" in run(*twice[:3], *twice[4:]).refusal()
    assert "log2.csv" in run("debrief", "day.toml", "log2.csv").refusal()
    assert "no prediction" in run("debrief", "day.toml", "log.csv", "--site", "Ravel Head").refusal()
    (alone / "broken.csv").write_text("what,is,this\n1,2,3\n")
    assert "broken.csv" in run("debrief", "day.toml", "broken.csv").refusal()
