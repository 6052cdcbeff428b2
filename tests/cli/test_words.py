"""Places that begin with a minus sign, unquoted, wherever they stand among the options."""

from __future__ import annotations

import json
import shlex
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

CAPE = (-33.92, 18.42)
BAY = (-34.10, 18.60)

ONE_PLACE = [
    "-33.92,18.42",
    "-33.92 18.42",
    "-33.92, 18.42",
    "'-33.92 18.42'",
    "\u221233.92,18.42",
    "-33.92° 18.42°",
    "-33.92,+18.42",
    """-33°55.2\\',18°25.2\\'""",
    """-33°55.2\\' 18°25.2\\'""",
    """-33°55\\'12\\" 18°25\\'12\\" """,
    "'-33 55.2 18 25.2'",
    "33.92S 18.42E",
    "-- -33.92,18.42",
    "--date 2026-01-01 -33.92 18.42",
    "-33.92 18.42 --date 2026-01-01",
    "--date=2026-01-01 -33.92,18.42",
]


@pytest.mark.parametrize("typed", ONE_PLACE)
def test_one_place(run: Callable, typed: str) -> None:
    words = shlex.split(typed)
    words = ["--json", *words]
    places = json.loads(run("locate", *words).answer())["places"]
    found = [(place["latitude_deg"], place["longitude_deg"]) for place in places]
    assert found == [pytest.approx(CAPE, abs=1e-9)]


TWO_PLACES = [
    "-33.92,18.42 -34.10,18.60",
    "-33.92 18.42 -34.10 18.60",
    "-33.92, 18.42 -34.10, 18.60",
    "-33.92 18.42 -34.10,18.60",
    "-33.92,18.42 -34.10 18.60",
    "-33.92,18.42 --date 2026-01-01 -34.10,18.60",
    "-33.92 18.42 --date 2026-01-01 -34.10 18.60",
    "-33.92,18.42 -- -34.10,18.60",
    "33.92S 18.42E 34.10S 18.60E",
]


@pytest.mark.parametrize("typed", TWO_PLACES)
def test_two_places(run: Callable, typed: str) -> None:
    places = json.loads(run("locate", "--json", *shlex.split(typed)).answer())["places"]
    found = [(place["latitude_deg"], place["longitude_deg"]) for place in places]
    assert found == [pytest.approx(CAPE, abs=1e-9), pytest.approx(BAY, abs=1e-9)]


def test_many_places(run: Callable) -> None:
    ran = run("tiles", "--json", "-33.92", "18.42", "-34.10,18.60", "-35.5", "17.5")
    assert ran.code == 1  # tiles are missing
    answer = json.loads(ran.out)
    assert {"S34E018", "S35E018", "S36E017"} <= set(answer["needed"])


def test_negative_numbers_are_values_of_their_options(reach: Callable) -> None:
    found = json.loads(reach("--delta-n", "-50", "--from-ground", "-3", "--json").answer())
    assert found["inputs"]["delta_n"] == -50.0
    assert found["inputs"]["from"]["ground_m"] == -3.0


@pytest.mark.parametrize(
    "order",
    [
        ["--mode", "fm", "{a}", "{b}", "--json"],
        ["{a}", "--mode", "fm", "{b}", "--json"],
        ["--json", "{a}", "{b}", "--mode=fm"],
        ["--json", "--mode", "fm", "--", "{a}", "{b}"],
    ],
)
def test_options_before_between_and_after(run: Callable, dem: str, order: list[str]) -> None:
    words = [word.format(a="47.74833,-21.00083", b="46.29750 -20.93750") for word in order]
    found = json.loads(run("reach", "--dem", dem, *words).answer())
    assert found["pair"]["mode"] == "fm"
    assert found["inputs"]["from"]["latitude_deg"] == pytest.approx(47.74833)


def test_an_option_is_never_taken_for_a_place(run: Callable) -> None:
    assert "--wrong" in run("locate", "-33.92,18.42", "--wrong").refusal()
    assert "-x" in run("locate", "-33.92,18.42", "-x").refusal()


def test_three_numbers_leave_one_that_is_no_place(run: Callable) -> None:
    assert "18.60" in run("locate", "-33.92", "18.42", "18.60").refusal()
