"""``reach`` without a mode: one that both have, and the equipment said on top belongs to it."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

BOOK = """
[my_set_ups.mast]
bands = ["2 m"]
modes = ["ssb", "morse"]
antenna = "7-element beam"

[my_set_ups.pocket]
bands = ["2 m", "70 cm"]
modes = ["fm"]
antenna = "j-pole"

[[sites]]
name = "Gull Tor"
place = "47.74833 -21.00083"

[[stations]]
name = "Hut"
place = "47.41250 -20.77667"
[[stations.set_ups]]
bands = ["2 m"]
modes = ["fm"]

[[stations]]
name = "Eva"
place = "47.41250 -20.77667"
[[stations.set_ups]]
bands = ["2 m", "70 cm"]
antenna = "collinear"
"""


@pytest.fixture
def asked(reach: Callable, alone: Path) -> Callable:
    (alone / "trip.toml").write_text(BOOK, encoding="utf-8")
    return lambda to, *options: reach("--book", "trip.toml", *options, a="Gull Tor", b=to)


def test_a_mode_that_both_have_with_its_own_set_up(asked: Callable) -> None:
    found = json.loads(asked("Hut", "--from-power", "3", "--json").answer())
    assert found["pair"]["mode"] == "fm"
    assert "your 3 W" in found["pair"]["who_hears_whom"]


def test_another_band_too(asked: Callable) -> None:
    assert " on 70 cm FM, " in asked("Eva", "--frequency", "70cm").answer().splitlines()[0]


def test_only_where_there_is_none_it_is_refused_with_what_to_type(asked: Callable) -> None:
    assert asked("Hut", "--frequency", "70cm").refusal() == (
        "no 70 cm antenna at Hut; Gull Tor has SSB, Morse on 2 m and FM on 2 m, 70 cm; "
        "Hut has FM on 2 m; both have FM on 2 m: give --frequency 2m"
    )
    assert asked("Hut", "--mode", "ssb").refusal() == (
        "no SSB on 2 m at Hut; both have FM there: give --mode fm"
    )


def test_an_antenna_said_on_the_command_line_is_turned_to_theirs(asked: Callable) -> None:
    assert " VERTICAL." in " ".join(asked("Eva", "--mode", "ssb", "--from-antenna", "9dBi").answer().split())
