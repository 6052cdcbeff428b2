"""One contact with areas: which is which, where to point, and what limits in words."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from pathprofile.changes import Changes
from pathprofile.contact import contact
from pathprofile.export.contact_json import contact_document
from pathprofile.trip.answer import answer_pair, what_limits
from pathprofile.trip.over_area import over_area
from pathprofile.trip.placed import placed_contact
from pathprofile.trip.ranking import rank
from pathprofile.trip.terms import Wanted

# few modes, for each is worked out at every point of an area
NARROW = [{"bands": ["2 m"], "modes": ["ssb", "morse"]}]


@pytest.fixture
def asked(island, islander, terms):
    """A contact from one place of the island to another, each exact or by its locator."""

    def ask(characters_here, characters_there):
        ends = (
            islander("Gull Tor", characters_here, set_ups=NARROW),
            islander("Flaxmill", characters_there, set_ups=NARROW),
        )
        return placed_contact(*ends, island, date=terms.date, frequency_mhz=144.3, mode="ssb")

    return ask


def test_both_ends_are_told_to_be_areas(asked):
    found = asked(6, 6)
    assert found.doubts[0].startswith("Each of Gull Tor and Flaxmill is an area, not a point: ")
    assert "azimuth and distance: their middles" in found.doubts[0]
    ends = contact_document(found, Changes((), (), (), ()))["inputs"]
    for end, stated in (("from", found.you.location), ("to", found.them.location)):
        assert ends[end]["uncertainty_m"] == stated.uncertainty_m > 3000.0
        area = ends[end]["area"]
        # a locator of six characters is 2.5' by 5' (IARU Region 1 VHF Managers Handbook)
        assert area["north_deg"] - area["south_deg"] == pytest.approx(2.5 / 60.0)
        assert area["east_deg"] - area["west_deg"] == pytest.approx(5.0 / 60.0)
        assert area["south_deg"] < ends[end]["latitude_deg"] < area["north_deg"]


def test_points_have_no_area_and_the_aim_of_their_path(asked):
    found = asked(0, 0)
    assert found.aim == found.reach.aim
    document = contact_document(found, Changes((), (), (), ()))
    assert document["inputs"]["to"]["area"] is None
    assert document["pointing"]["at"] == "path"
    assert document["pointing"]["azimuth_deg"] == document["path"]["azimuth_deg"]


def test_an_area_is_aimed_at_as_the_ranking_has_it(asked, island, islander, terms):
    found = asked(0, 6)
    (row,) = rank(islander("Gull Tor"), [islander("Flaxmill", 6)], island, terms).rows
    assert found.aim == (
        row.directions.distance_m,
        row.directions.azimuth_deg,
        row.directions.magnetic_azimuth_deg,
        row.directions.back_azimuth_deg,
        row.directions.back_magnetic_azimuth_deg,
    )
    document = contact_document(found, Changes((), (), (), ()))
    assert document["pointing"]["at"] == "middle"
    assert document["pointing"]["distance_m"] == row.directions.distance_m
    assert document["path"]["distance_m"] == found.reach.leg.distance_m != row.directions.distance_m


def test_parted_methods_over_an_area_are_told_by_the_odds_of_the_area(asked, island, islander, terms):
    found = asked(0, 6)
    row = answer_pair(islander("Gull Tor"), islander("Flaxmill", 6), island, terms)
    parted = replace(row, methods_part=True, apart_db=21.0)
    link = over_area(found, parted).link
    assert link.verdict_text == parted.verdict_text
    (note,) = [note for note in link.notes if note.startswith("the methods part")]
    assert note.startswith("the methods part by 21 dB over the area: ITU-R P.1812-8 says ")
    assert note.endswith(f"Irregular Terrain Model says {row.second.verdict.text}")
    agreed = over_area(found, replace(row, methods_part=False)).link
    assert not any(note.startswith("the methods part") for note in agreed.notes)


TWO_BANDS = [
    {"bands": ["2 m"], "modes": ["ssb", "fm"], "power_w": 10, "polarization": "vertical"},
    {"bands": ["70 cm"], "modes": ["fm"]},
]


def test_every_mode_has_the_odds_of_the_area(island, islander, terms):
    you, them = islander("Gull Tor", set_ups=TWO_BANDS), islander("Flaxmill", 6, set_ups=TWO_BANDS)
    wanted = (Wanted(144.3, "fm"), Wanted(144.3, "ssb"), Wanted(432.2, "fm"))
    row = answer_pair(you, them, island, replace(terms, wanted=wanted))
    found = placed_contact(you, them, island, date=terms.date, frequency_mhz=144.3, mode="fm")
    assert found.link.mode == "fm"  # as asked, though SSB does better
    rows = {Wanted(each.frequency_mhz, each.mode): each for each in found.modes if each.pair is not None}
    assert set(rows) == set(wanted)
    for odds in row.modes:
        assert (rows[odds.wanted].pair, rows[odds.wanted].second) == (odds.pair, odds.second)
        assert rows[odds.wanted].methods_part == odds.methods_part
    document = contact_document(found, Changes((), (), (), ()))
    (asked_about,) = [each for each in document["modes"] if (each["band"], each["mode"]) == ("2 m", "fm")]
    assert asked_about["chance"] == document["pair"]["chance"] == found.link.pair.chance


def test_methods_that_part_in_another_mode_over_the_area_are_told(asked, island, islander, terms):
    row = answer_pair(islander("Gull Tor"), islander("Flaxmill", 6), island, terms, [Wanted(144.3, "morse")])
    (morse,) = row.beside
    typical = asked(0, 0)
    for apart_db, part in ((21.0, True), (14.0, False)):
        other = replace(row, beside=(morse._replace(apart_db=apart_db),))
        (told,) = [
            each for each in over_area(typical, other).modes if (each.band, each.mode) == ("2 m", "morse")
        ]
        assert (told.pair, told.second, told.methods_part) == (morse.pair, morse.second, part)


@pytest.mark.parametrize(("ridge_m", "unit"), [(300.0, "m"), (2000.0, "km")])
def test_a_ridge_within_a_kilometre_is_so_many_metres_off(make_store, make_party, terms, ridge_m, unit):
    at = 46.5 - ridge_m / 111_180.0  # metres in a degree of latitude at 46.5 N, WGS 84
    store = make_store(lambda y, x: 100.0 + 200.0 * (abs(y - at) < 0.0009) + 0.0 * x, cells_a_degree=1800)
    ends = make_party("Gull Tor", "46.50000 -21.40000"), make_party("Marsh End", "46.20000 -21.40000")
    found = contact(*ends, store, date=terms.date, frequency_mhz=144.3, mode="ssb", with_modes=False)
    told = re.search(r" at (\d+) (k?m),", what_limits(found.reach))
    assert told is not None
    assert told[2] == unit
    assert float(told[1]) * {"m": 1.0, "km": 1000.0}[unit] == pytest.approx(
        ridge_m, abs=110.0
    )  # half its top
