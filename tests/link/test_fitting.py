"""Which set-up serves a band and a mode, and which mode two stations share; all stations are invented."""

from __future__ import annotations

import pytest

from pathprofile.link import NoFit, common_mode, equip, fitting_set_up
from pathprofile.link.fitting import modes_of, what_it_has
from pathprofile.station import SetUp, Station
from pathprofile.station.catalogue import MODES

MARSH_END = {
    "name": "Marsh End",
    "place": "invented",
    "set_ups": [
        {"bands": ["2 m"], "modes": ["ssb", "morse"], "antenna": {"kind": "5-element beam"}, "power_w": 50},
        {"bands": ["2 m"], "modes": ["fm"], "antenna": {"kind": "collinear"}, "height_m": 10},
        {"bands": ["6 m"], "antenna": {"kind": "collinear"}},
        {"bands": [446.1, 160.0], "antenna": {"gain_dbi": {"160 MHz": 2.0}}},
    ],
}


@pytest.fixture
def marsh_end() -> Station:
    return Station.read(MARSH_END)


def test_the_first_set_up_that_fits_band_and_mode(marsh_end: Station) -> None:
    assert fitting_set_up(marsh_end, 144.3, "ssb") is marsh_end.set_ups[0]
    assert fitting_set_up(marsh_end, 145.5, "FM") is marsh_end.set_ups[1]
    assert fitting_set_up(marsh_end, 160.9, "fm") is marsh_end.set_ups[3]


@pytest.mark.parametrize(
    ("frequency_mhz", "mode", "reason"),
    [
        (1296.2, "ssb", "no 23 cm antenna at Marsh End"),
        (433.0, "ssb", "no 70 cm antenna at Marsh End"),  # the set-up covers it, its antenna is for 160 MHz
        (170.0, "fm", "no 170 MHz antenna at Marsh End"),
        (144.3, "packet-1200", "no packet 1200 on 2 m at Marsh End"),
        (50.2, "ssb", "no 6 m gain known for the collinear at Marsh End; state gain_dbi"),
    ],
)
def test_blank_with_the_reason(marsh_end: Station, frequency_mhz: float, mode: str, reason: str) -> None:
    assert fitting_set_up(marsh_end, frequency_mhz, mode) == NoFit(reason)
    assert equip(marsh_end, frequency_mhz, mode) == NoFit(reason)


def test_without_set_ups_there_is_none_to_choose() -> None:
    assert fitting_set_up(Station.read({"name": "Stone Row", "place": "invented"}), 145.0, "fm") is None


FM_MODES = ("fm", "fm-narrow", "packet-1200", "packet-9600", "digital-voice")
SSB_MODES = ("ssb", "morse", "weak-digital")


@pytest.mark.parametrize(
    ("stated", "modes"),
    [
        # SSB and Morse low in a band, FM above (common practice)
        ({"receive_mhz": 145.5}, FM_MODES),
        ({"transmit_mhz": 145.5}, FM_MODES),
        ({"receive_mhz": 144.3}, SSB_MODES),
        ({"receive_mhz": 145.5, "modes": ["ssb"]}, ("ssb",)),
        ({"receive_mhz": 433.5}, tuple(MODES)),  # says nothing of 2 m
        ({}, tuple(MODES)),
    ],
)
def test_a_stated_frequency_tells_the_modes_where_none_is_stated(
    stated: dict[str, object], modes: tuple[str, ...]
) -> None:
    assert modes_of(SetUp.read({"bands": ["2 m", "70 cm"], **stated}), 144.3) == modes


def test_a_frequency_in_a_band_whose_custom_is_not_known_tells_nothing() -> None:
    assert modes_of(SetUp.read({"bands": ["4 m"], "receive_mhz": 70.2}), 70.2) == tuple(MODES)


def station(name: str, *set_ups: dict[str, object]) -> Station:
    return Station.read({"name": name, "place": "invented", "set_ups": list(set_ups)})


CHANNEL = {"bands": ["2 m"], "receive_mhz": 145.5}
POCKET = {"bands": ["2 m", "70 cm"], "modes": ["fm"]}
MAST = {"bands": ["2 m"], "modes": ["ssb", "morse"]}


def test_a_mode_refused_for_the_frequency_stated_says_so() -> None:
    assert fitting_set_up(station("Eastwell", CHANNEL), 144.3, "ssb") == NoFit(
        "no SSB on 2 m at Eastwell, which states no modes and 145.5 MHz, a place for FM"
    )


@pytest.mark.parametrize(
    ("yours", "theirs", "frequency_mhz", "mode"),
    [
        ([MAST, POCKET], [], 144.3, "ssb"),
        ([MAST, POCKET], [], 145.5, "fm"),
        ([MAST, POCKET], [POCKET], 144.3, "fm"),
        ([MAST, POCKET], [CHANNEL], 144.3, "fm"),
        ([MAST, POCKET], [], 432.2, "fm"),
        ([MAST], [{"bands": ["2 m"], "modes": ["morse"]}], 145.5, "morse"),
        ([], [], 432.2, "ssb"),
    ],
)
def test_the_customary_mode_else_the_first_that_both_have(
    yours: list[dict[str, object]], theirs: list[dict[str, object]], frequency_mhz: float, mode: str
) -> None:
    assert common_mode(station("A", *yours), station("B", *theirs), frequency_mhz) == mode


@pytest.mark.parametrize(
    ("yours", "theirs", "frequency_mhz", "reason"),
    [
        (
            [MAST],
            [POCKET],
            144.3,
            (
                "no mode in common on 2 m; A has SSB, Morse on 2 m; B has FM on 2 m, 70 cm; "
                "add a set-up in the book that goes with the other's"
            ),
        ),
        (
            [MAST, POCKET],
            [CHANNEL],
            432.2,
            (
                "no 70 cm antenna at B; A has SSB, Morse on 2 m and FM on 2 m, 70 cm; "
                "B has FM (145.5 MHz) on 2 m; both have FM on 2 m: give --frequency 2m"
            ),
        ),
        (
            [],
            [{"bands": ["2 m"]}],
            1296.2,
            "no 23 cm antenna at B; B has all modes on 2 m; both have SSB on 2 m: give --frequency 2m",
        ),
    ],
)
def test_nothing_in_common_says_what_each_has_and_what_to_do(
    yours: list[dict[str, object]], theirs: list[dict[str, object]], frequency_mhz: float, reason: str
) -> None:
    assert common_mode(station("A", *yours), station("B", *theirs), frequency_mhz) == NoFit(reason)


def test_each_band_is_named_with_its_own_modes() -> None:
    both = station("B", {"bands": ["2 m", "70 cm"], "receive_mhz": 145.5})
    assert what_it_has(both) == "B has FM (145.5 MHz) on 2 m and all modes on 70 cm"
