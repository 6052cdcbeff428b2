"""What rank, compare and scout print: both verdicts, in the width there is."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest

from pathprofile.area.scout import GoodGround, Scouting
from pathprofile.cli.compare import comparison_lines
from pathprofile.cli.rank import ranking_lines
from pathprofile.cli.scout import _lines
from pathprofile.contact import Party
from pathprofile.link.evaluate import Pair
from pathprofile.link.words import verdict
from pathprofile.places import Location
from pathprofile.station import Station
from pathprofile.trip.answer import Directions, PairAnswer
from pathprofile.trip.comparing import compare
from pathprofile.trip.ranking import Ranking
from pathprofile.trip.terms import Terms, Wanted


def parted_answers() -> list[PairAnswer]:
    """Made-up rows: methods that part, solid odds of bare copy, an area, nothing."""
    at = Location(46.2, -21.3)
    unlikely, workable, bare = (
        Pair(chance, easy, verdict(chance, easy)) for chance, easy in ((0.02, 0.0), (0.88, 0.6), (0.97, 0.8))
    )
    ways = Directions(132_000.0, 0.63, 359.1, 180.6, 179.4, None)
    mode = Wanted(144.3, "ssb")
    known = {"directions": ways, "mode": mode, "weaker": "you → them", "limits": "clear line of sight"}
    return [
        PairAnswer(
            "Gull Tor",
            "Flaxmill by the Long Water",
            at,
            at,
            pair=workable,
            methods_part=True,
            second=unlikely,
            apart_db=38.0,
            **known,
        ),
        PairAnswer("Gull Tor", "Oakenby", at, at, pair=bare, second=bare, apart_db=3.0, **known),
        PairAnswer("Gull Tor", "Sandry", at, at, reason="no elevation data there; get tile N46W022"),
    ]


@pytest.mark.parametrize("columns", [40, 55, 79])
def test_rank_shows_both_verdicts_in_any_width(monkeypatch: pytest.MonkeyPatch, columns: int) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    rows = tuple(parted_answers())
    you = Party(Station(name="Gull Tor", place="x"), Location(46.2, -21.3))
    lines = ranking_lines(Ranking("Gull Tor", rows, ()), (), you, by_site=False)
    assert max(map(len, lines)) <= columns
    text = " ".join(" ".join(lines).split())
    assert "workable or unlikely: about 9 in 10 or below 1 in 20 (methods part by 38 dB)" in text
    assert "2 of 3 stations workable or better, 1 of them by one of two methods only." in text
    assert "over 19 in 20 for just readable copy" in text
    assert text.count("SSB on 2 m") == 2
    assert sum(line.startswith("workable? ") for line in lines) == 1


@pytest.mark.parametrize("columns", [40, 79])
@pytest.mark.parametrize("sites", [1, 2, 9])
def test_compare_marks_parted_methods_in_any_width(
    monkeypatch: pytest.MonkeyPatch, columns: int, sites: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    names = [f"Hill {number}" for number in range(sites)]
    matrix = tuple(tuple(replace(row, you=name) for row in parted_answers()) for name in names)
    terms = Terms(dt.date(2026, 6, 14), (Wanted(144.3, "ssb"),), weights={"Flaxmill by the Long Water": 3.0})
    found = compare(
        [Party(Station(name=name, place="x"), Location(46.2, -21.3)) for name in names],
        [Party(Station(name=row.them, place="x"), row.them_at) for row in matrix[0]],
        None,  # type: ignore[arg-type]
        terms,
        desk=_Told([answer for row in matrix for answer in row]),  # type: ignore[arg-type]
    )
    lines = comparison_lines(found, ())
    assert max(map(len, lines)) <= columns
    text = " ".join(" ".join(lines).split())
    assert (
        "? Hill 0 to Flaxmill by the Long Water: workable or unlikely: about 9 in 10 or below 1 in 20" in text
    )
    assert "Of what Hill 0 reaches (weight 4), weight 3 is within reach by one method only: Flaxmill" in text
    table = [line for line in lines if line.startswith("Flaxmill")]
    assert sum(line.count("workable?") for line in table) == sites
    assert sum(line.split().count("4") for line in lines if "reached, of 5" in line) == sites
    assert "least odds" not in text


class _Told:
    """A desk whose answers are known."""

    def __init__(self, answers: list[PairAnswer]) -> None:
        self.answers = answers

    def answer(self, tasks: Any, **_: Any) -> list[PairAnswer]:
        assert len(tasks) == len(self.answers)
        return self.answers


@pytest.mark.parametrize("columns", [40, 79])
def test_scout_tells_a_sum_as_a_sum(monkeypatch: pytest.MonkeyPatch, columns: int) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    at = Location(46.2, -21.3)
    place = GoodGround(
        location=at,
        ground_m=540.0,
        slope_deg=3.0,
        distance_m=420.0,
        azimuth_deg=90.0,
        found_as="crest",
        contacts=7.3,
        gain=0.5,
        stations=(),
        why=("12 m higher",),
    )
    found = Scouting(at, True, 500.0, 6.8, 9.0, (place,), 25.0, 300, 10, 0, (), ("a note " * 20,))
    lines = _lines(found)
    assert max(map(len, lines)) <= columns
    text = " ".join(" ".join(lines).split())
    assert "Chances times weights, added up: from the spot 6.8 of a possible 9." in text
    assert "7.3 (+0.5); 12 m higher" in text
    assert "contacts to expect" not in text
