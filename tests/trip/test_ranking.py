"""From one site every station: odds as of a contact, order that depends on nothing but the answers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from pathprofile.contact import contact
from pathprofile.geodesy import declination
from pathprofile.link.evaluate import Pair
from pathprofile.link.words import verdict
from pathprofile.trip.inquiries import Inquiry, most_decisive
from pathprofile.trip.links import choose
from pathprofile.trip.ranking import rank, rank_sites, ranked
from pathprofile.trip.terms import Terms, Wanted, wanted_modes

SITE = "46.50000 -21.10000"
NAMES = ("Norwater", "Marsh End", "Quillhaven", "Pennowick", "Oakenby")


def test_a_row_is_the_contact_of_its_pair(island, islander, terms):
    you, them = islander("Gull Tor", unstated="open"), islander("Marsh End")
    row = rank(you, [them], island, terms).rows[0]
    alone = contact(you, them, island, date=terms.date, frequency_mhz=144.3, mode="ssb")
    assert row.pair == alone.link.pair
    assert row.who_hears_whom == alone.link.who_hears_whom
    assert row.out_margin_db == alone.link.out.budget.margin_db
    assert row.weaker == "you → them"  # their home is noisier than the hill


def test_directions_are_those_of_the_geodesic(island, islander, terms):
    you, them = islander("Gull Tor"), islander("Marsh End")
    row = rank(you, [them], island, terms).rows[0]
    # GeographicLib 2, inverse problem on WGS 84
    leg = Geodesic.WGS84.Inverse(47.74833, -21.00083, 46.29750, -20.93750)
    assert row.directions.distance_m == pytest.approx(leg["s12"], abs=0.01)
    assert row.directions.azimuth_deg == pytest.approx(leg["azi1"] % 360.0, abs=1e-6)
    assert row.directions.back_azimuth_deg == pytest.approx((leg["azi2"] + 180.0) % 360.0, abs=1e-6)
    north = declination(47.74833, -21.00083, terms.date).declination_deg
    turned = (row.directions.azimuth_deg - row.directions.magnetic_azimuth_deg + 180.0) % 360.0 - 180.0
    assert turned == pytest.approx(north, abs=1e-9)
    assert row.directions.span is None


def test_the_order_of_the_list_does_not_matter(island, islander, terms):
    stations = [islander(name) for name in NAMES]
    first = rank(islander("Gull Tor"), stations, island, terms)
    stations = [stations[i] for i in np.random.default_rng(5).permutation(len(stations))]
    again = rank(islander("Gull Tor"), stations, island, terms)
    assert again == first
    chances = [row.chance for row in first.rows]
    assert chances == sorted(chances, reverse=True)


def test_ties_are_broken_by_name(make_answer):
    rows = [make_answer("Gull Tor", name, 0.5) for name in ("Oakenby", "Flaxmill", "Tidewick")]
    assert [row.them for row in ranked(rows)] == ["Flaxmill", "Oakenby", "Tidewick"]
    assert ranked(reversed(rows)) == ranked(rows)


def test_verdicts_come_before_mere_directions_and_those_before_failures(island, islander, make_party, terms):
    stations = [
        make_party("Off the map", "49.00000 -21.00000"),
        islander("Oakenby", 4),
        islander("Norwater"),
    ]
    found = rank(islander("Gull Tor"), stations, island, terms)
    assert [row.them for row in found.rows] == ["Norwater", "Oakenby", "Off the map"]
    assert found.in_reach == found.rows[:1]
    off = found.rows[-1]
    assert "tile" in off.reason
    assert off.pair is None
    assert off.directions is not None  # which way it would be is known all the same


def test_one_that_cannot_be_answered_never_stops_the_others(island, islander, make_party, terms):
    stations = [
        make_party("Same place", "47.74833 -21.00083"),
        make_party(
            "Packet only", "46.29750 -20.93750", set_ups=({"bands": ["2 m"], "modes": ["packet-1200"]},)
        ),
        islander("Norwater"),
    ]
    found = {row.them: row for row in rank(islander("Gull Tor"), stations, island, terms).rows}
    assert "same place" in found["Same place"].reason
    assert found["Packet only"].reason == (
        "no mode wanted in common: Gull Tor states nothing; Packet only has packet 1200 on 2 m"
    )
    assert found["Norwater"].in_reach


def test_which_summits_can_this_home_reach(island, islander, terms):
    sites = [islander(name, unstated="open") for name in ("Gull Tor", "Kestrel Pike", "High Hallow")]
    found = rank_sites(islander("Pennowick"), sites, island, terms)
    assert found.of == "Pennowick"
    assert {row.you for row in found.rows} == {"Gull Tor", "Kestrel Pike", "High Hallow"}
    assert {row.them for row in found.rows} == {"Pennowick"}
    for row in found.rows:
        site = next(site for site in sites if site.station.name == row.you)
        assert row.pair == rank(site, [islander("Pennowick")], island, terms).rows[0].pair


def test_the_first_mode_that_works_is_taken_and_else_the_likeliest():
    def pair(chance: float) -> Pair:
        return Pair(chance, 0.0, verdict(chance, 0.0))

    assert choose([pair(0.5), pair(0.75), pair(0.99)]) == 1
    assert choose([pair(0.8), pair(0.99)]) == 0
    assert choose([pair(0.2), pair(0.6), pair(0.4)]) == 1
    assert choose([pair(0.4), pair(0.4)]) == 0


def test_a_second_mode_is_taken_where_the_first_fails(island, islander, terms):
    both = replace(terms, wanted=wanted_modes([433.0], ["fm", "morse"]))
    row = rank(islander("Gull Tor"), [islander("Thornicross")], island, both).rows[0]
    assert [each.wanted.mode for each in row.modes] == ["fm", "morse"]
    assert row.modes[0].pair.verdict.word not in {"solid", "workable"}
    assert row.mode == Wanted(433.0, "morse")
    assert row.pair == row.modes[1].pair


def test_a_stated_ground_takes_the_place_of_the_map(make_store, make_party, terms):
    store = make_store(lambda y, x: 100.0 + 0.0 * x * y)
    you, them = make_party("Gull Tor", SITE), make_party("Marsh End", "46.20000 -21.40000")
    low = rank(you, [them], store, terms).rows[0]
    high = rank(you, [them], store, replace(terms, ground_m={"Gull Tor": 400.0})).rows[0]
    assert high.chance > low.chance
    assert any("taken as stated, 400 m" in note for note in high.notes)


def test_more_mast_never_lowers_the_odds_in_sight(make_store, make_party, terms):
    # a spur and a valley: in sight from the lowest mast on; lossless line, so that height costs nothing
    store = make_store(lambda y, _: 100.0 + 3000.0 * abs(y - 46.35))
    them = make_party("Marsh End", "46.20000 -21.20000")
    before = 0.0
    for height_m in (4.0, 6.0, 10.0, 15.0, 25.0, 40.0):
        set_up = {
            "bands": ["2 m"],
            "height_m": height_m,
            "power_w": 0.02,
            "feedline": {"loss_db": 0.0},
            "noise": {"category": "rural"},
        }
        row = rank(make_party("Gull Tor", SITE, set_ups=(set_up,)), [them], store, terms).rows[0]
        assert "sight" in row.limits
        assert row.chance >= before - 1e-9
        before = row.chance


def test_at_most_three_questions_one_a_station_and_the_weightiest_first():
    def ask(station: str, decisive: float, about: str = "height") -> Inquiry:
        return Inquiry(station, about, f"Ask {station}.", decisive)

    found = most_decisive(
        [
            (1.0, ask("Flaxmill", 0.20)),
            (3.0, ask("Oakenby", 0.10)),
            (1.0, ask("Oakenby", 0.25, "antenna")),
            (1.0, ask("Tidewick", 0.05)),
            (0.0, ask("Sandry", 0.5)),
            (1.0, ask("Norwater", 0.15)),
        ]
    )
    assert [each.station for each in found] == ["Oakenby", "Flaxmill", "Norwater"]
    assert found[0].about == "height"


def test_who_has_said_nothing_is_asked_for_the_antenna(island, islander, terms):
    found = rank(islander("Gull Tor"), [islander("Marsh End")], island, terms)
    (inquiry,) = found.inquiries
    assert inquiry.text == ("Ask Marsh End: which antenna? A whip: marginal. A five-element beam: workable.")
    assert inquiry.first.chance < found.rows[0].chance < inquiry.second.chance  # 0 and 10 dBi about 5 dBi


def test_terms_refuse_what_cannot_be(terms):
    from pathprofile.errors import OutOfRangeError

    with pytest.raises(OutOfRangeError, match="no mode is wanted"):
        Terms(terms.date, ())
    with pytest.raises(OutOfRangeError, match="cell_points 0: accepted 1 to 2500"):
        replace(terms, cell_points=0)


def test_modes_come_in_order_of_preference():
    assert wanted_modes([144.3, 433.0], ["ssb", "fm"]) == (
        Wanted(144.3, "ssb"),
        Wanted(433.0, "ssb"),
        Wanted(144.3, "fm"),
        Wanted(433.0, "fm"),
    )
    assert [wanted.text for wanted in wanted_modes(["70 cm", "6 m"], ["morse"])] == [
        "Morse on 70 cm",
        "Morse on 6 m",
    ]
    assert wanted_modes([144.3, 145.0]) == (Wanted(144.3, "ssb"), Wanted(145.0, "fm"))
