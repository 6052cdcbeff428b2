"""A day at a site with a station that is known by its cell alone: nowhere a point, never a centre."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from types import SimpleNamespace
from typing import TYPE_CHECKING

import pytest

from pathprofile.changes.spots import Spot
from pathprofile.export.entries import entries
from pathprofile.export.sheet import sheet_html
from pathprofile.export.sheet.words import area_odds
from pathprofile.sample import sample_dir
from pathprofile.trip import read_book
from pathprofile.trip.day import Day, _moves, plan_day
from pathprofile.trip.from_book import terms_of
from pathprofile.trip.prediction import make_prediction

if TYPE_CHECKING:
    from pathprofile.terrain.store import TerrainStore

BOOK = """
[trip]
bands = ["2 m"]
modes = ["ssb", "morse"]

[my_set_ups.ssb]
bands = ["2 m"]
modes = ["ssb", "morse"]
antenna = { kind = "5-element beam" }
polarization = "horizontal"
height_m = 4
power_w = 1

[[sites]]
name = "Gull Tor"
place = "47.74833 -21.00083"

[[stations]]
name = "Flaxmill"
place = "HN96nn"

[[stations.set_ups]]
bands = ["2 m"]
modes = ["ssb", "morse"]
antenna = { kind = "3-element beam" }
polarization = "horizontal"
height_m = 4
power_w = 1

[[stations]]
name = "Marsh End"
place = "46.29750 -20.93750"
"""


@pytest.fixture(scope="module")
def day(tmp_path_factory: pytest.TempPathFactory, island: TerrainStore) -> Day:
    path = tmp_path_factory.mktemp("day") / "trip.toml"
    path.write_text(BOOK, encoding="utf-8")
    book = read_book(path)
    return plan_day(book, "Gull Tor", island, terms_of(book, date=dt.date(2026, 6, 14)))


def test_the_sheet_gives_a_cell_the_odds_of_its_low_and_high_ground(day: Day) -> None:
    (row,) = [row for row in day.ranking.rows if row.them == "Flaxmill"]
    assert row.cell is not None
    calls = {call.name: call for call in day.sheet.calls}
    cell = calls["Flaxmill"]
    assert cell.chance == row.chance
    assert cell.area is not None
    assert (cell.area.lowest, cell.area.highest) == (row.cell.lowest.pair, row.cell.highest.pair)
    assert cell.position_uncertain_m > 3000.0  # half the diagonal of 5' by 2.5', see the locator system
    assert calls["Marsh End"].area is None

    page = sheet_html(day.sheet)
    assert "(a cell!)" in page
    shown = area_odds(cell.area)
    assert shown.split()[::2] == ["low", "high"]
    assert shown.replace(">", "&gt;").replace("<", "&lt;") in page
    assert "Flaxmill is an area, not a point" in page


def test_nothing_on_page_one_stands_on_the_typical_point_alone(day: Day) -> None:
    key = next(call.key for call in day.sheet.calls if call.name == "Flaxmill")
    assert key not in {step.key for step in (*day.sheet.ladder.morse, *day.sheet.ladder.noise)}


def test_the_prediction_holds_the_odds_of_the_cell(day: Day) -> None:
    (row,) = [row for row in day.ranking.rows if row.them == "Flaxmill"]
    saved = next(
        each for each in make_prediction(day.contacts).rows if each.station == "Flaxmill" and each.asked
    )
    assert saved.chance == row.chance
    assert row.verdict is not None
    assert saved.verdict == row.verdict.word


def test_a_contact_of_the_day_is_exported_as_an_area(day: Day) -> None:
    found = {entry.station: entry for entry in entries(day.contacts)}
    assert str(found["Flaxmill"].facts["area"]).startswith("The station is somewhere in this square (HN96nn)")
    assert found["Marsh End"].facts["area"] is None


def test_the_sample_book_has_such_a_station() -> None:
    assert any(
        station.location().cell is not None for station in read_book(sample_dir() / "trip.toml").stations
    )


def test_no_spot_is_offered_for_a_contact_that_is_solid(day: Day) -> None:
    spot = Spot(47.749, -21.004, 200.0, 270.0, 20.0, 6.0, day.contacts[0].reach)
    found = {}
    for word in ("solid", "marginal"):
        one = day.contacts[0]
        pair = replace(one.link.pair, verdict=replace(one.link.pair.verdict, word=word))
        told = replace(one, link=replace(one.link, pair=pair))
        changes = SimpleNamespace(spots=(spot,))
        found[word] = _moves((told,), {told.them.station.name: changes})  # type: ignore[dict-item]
    assert found["solid"] == []
    assert [move.gain_db for move in found["marginal"]] == [6.0]
