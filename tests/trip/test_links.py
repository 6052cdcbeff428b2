"""The mode of a pair: by what both have, by the frequency one states; antennas turned to each other."""

from __future__ import annotations

import pytest

from pathprofile.contact import contact
from pathprofile.trip.answer import answer_pair
from pathprofile.trip.links import equipped
from pathprofile.trip.placed import placed_contact
from pathprofile.trip.sheet_figures import settings_of
from pathprofile.trip.terms import Terms, wanted_modes

SITE, FAR = "46.50000 -21.10000", "46.10000 -21.30000"
MAST = {"bands": ["2 m"], "antenna": {"kind": "7-element beam"}, "height_m": 6.0}


@pytest.fixture
def day(terms: Terms) -> Terms:
    return Terms(terms.date, wanted_modes(["2 m"], ["ssb", "fm", "morse"]))


@pytest.mark.parametrize(
    ("stated", "modes"),
    [
        # SSB and Morse low in a band, FM above (common practice)
        ({"receive_mhz": 145.5}, ["fm"]),
        ({"receive_mhz": 144.3}, ["ssb", "morse"]),
        ({}, ["ssb", "fm", "morse"]),
        ({"receive_mhz": 145.5, "modes": ["ssb", "fm"]}, ["ssb", "fm"]),
    ],
)
def test_a_stated_frequency_tells_the_mode(make_party, day, stated, modes) -> None:
    them = make_party("Eastwell", FAR, set_ups=[{"bands": ["2 m"], **stated}])
    pairs = equipped(make_party("Gull Tor", SITE, set_ups=[MAST]), them, day)
    assert not isinstance(pairs, str)
    assert [pair.wanted.mode for pair in pairs] == modes


def test_a_mode_wanted_elsewhere_than_stated_is_refused_with_what_each_has(make_party, day) -> None:
    them = make_party("Eastwell", FAR, set_ups=[{"bands": ["2 m"], "receive_mhz": 145.5}])
    you = make_party("Gull Tor", SITE, set_ups=[MAST])
    assert equipped(you, them, Terms(day.date, wanted_modes(["2 m"], ["ssb"]))) == (
        "no mode wanted in common: Gull Tor has all modes on 2 m; Eastwell has FM (145.5 MHz) on 2 m"
    )


def test_a_beam_is_turned_to_a_vertical_in_every_mode_of_a_trip(make_store, make_party, day) -> None:
    you = make_party("Gull Tor", SITE, set_ups=[MAST])
    them = make_party("Marsh End", FAR, set_ups=[{"bands": ["2 m"], "antenna": {"kind": "collinear"}}])
    store = make_store(lambda y, x: 100.0 + 500.0 * (y - 46.0) + 0.0 * x)
    for pair in equipped(you, them, day):
        assert (pair.you.polarization, pair.them.polarization) == ("vertical", "vertical")
    found = contact(you, them, store, date=day.date, frequency_mhz=144.3, with_modes=False)
    settings = settings_of(found, [6.0])
    assert {setting.polarization for setting in settings} == {"vertical"}
    assert {setting.link.them.polarization for setting in settings} == {"vertical"}
    assert answer_pair(you, them, store, day).chance == pytest.approx(found.link.pair.chance, abs=1e-9)


def test_an_area_without_a_mode_named_is_asked_in_one_that_both_have(make_store, make_party, day) -> None:
    from pathprofile.places.locators import locator

    you = make_party("Gull Tor", SITE, set_ups=[MAST])
    them = make_party("Marsh End", locator(46.2, -21.4, 10), set_ups=[{"bands": ["2 m"], "modes": ["fm"]}])
    store = make_store(lambda y, x: 100.0 + 500.0 * (y - 46.0) + 0.0 * x)
    assert placed_contact(you, them, store, date=day.date, frequency_mhz=144.3).link.mode == "fm"
