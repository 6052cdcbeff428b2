"""What is looked at before leaving, and from where parties and terms come."""

from __future__ import annotations

import datetime as dt
import os
from dataclasses import replace

import pytest

from pathprofile.sample import sample_dir
from pathprofile.trip.book import read_book
from pathprofile.trip.from_book import site_party, station_party, terms_of
from pathprofile.trip.ready import ready
from pathprofile.trip.terms import Wanted

MORNING = dt.datetime(2026, 6, 13, 8, 0, tzinfo=dt.UTC)


@pytest.fixture
def checked(island, islander, terms, tmp_path):
    """Run all checks with something other than the ordinary; gives them by name."""
    book, sheet = tmp_path / "trip.toml", tmp_path / "sheet.html"
    for file, hour in ((book, 6), (sheet, 7)):
        file.write_text("invented", encoding="utf-8")
        when = dt.datetime(2026, 6, 13, hour, tzinfo=dt.UTC).timestamp()
        os.utime(file, (when, when))

    def run(*, sites=None, stations=None, terms=terms, now=MORNING, book=book, sheet=sheet):
        sites = [islander("Gull Tor")] if sites is None else sites
        stations = [islander("Marsh End"), islander("Sandry", 6)] if stations is None else stations
        found = ready(sites, stations, island, terms, now=now, book_file=book, sheet_file=sheet)
        assert [each.what for each in found] == [
            "tiles",
            "declination",
            "sheet",
            "clock",
            "positions",
            "equipment",
        ]
        return {each.what: each for each in found}

    return run


def test_all_is_well(checked):
    found = checked()
    assert {each.state for each in found.values()} == {"ok"}
    assert found["positions"].sentence == "1 of 2 stations are points, 1 are areas"
    assert found["clock"].sentence == "the clock says 2026-06-13 08:00, 1 day before the trip"
    assert "declination at Gull Tor" in found["declination"].sentence


def test_missing_tiles_are_named(checked, make_party):
    found = checked(stations=[make_party("Far off", "48.50000 -20.50000")])["tiles"]
    assert found.state == "stop"
    assert found.sentence == "1 tile missing for 1 path: N48W021; get them before you leave"


def test_tiles_under_the_corners_of_a_cell_count(checked, make_party):
    # the cell ends at 48° N, where the tiles end: its northern corners lie on their edge, the next one beyond
    assert checked(stations=[make_party("Edge", "HN97lx")])["tiles"].state == "ok"
    assert checked(stations=[make_party("Beyond", "HN98la")])["tiles"].state == "stop"
    # two decimals are ± 556 m: the middle is on the edge of the tiles, the north of the area is beyond it
    assert checked(stations=[make_party("Astride", "48.00 -20.90")])["tiles"].state == "stop"
    assert checked(stations=[make_party("Astride", "48.00000 -20.90000")])["tiles"].state == "ok"


def test_holes_are_counted(checked, islander):
    found = checked(stations=[islander("Pennowick")])["tiles"]  # the sample has a hole on that path
    assert (found.state, found.sentence) == (
        "attention",
        "tiles for all paths are here, but 1 path crosses holes in them; have a paper map with you",
    )


def test_nothing_to_look_at_stops(checked):
    assert checked(stations=[])["tiles"].state == "stop"
    assert checked(sites=[])["declination"].state == "stop"


def test_a_day_beyond_the_magnetic_model(checked, terms):
    # the model of 2025 holds until the end of 2029 (WMM2025 report)
    found = checked(terms=replace(terms, date=dt.date(2031, 6, 14)))["declination"]
    assert found.state == "attention"
    assert "extrapolated" in found.sentence


def test_an_old_sheet_is_to_be_made_again(checked, tmp_path):
    when = dt.datetime(2026, 6, 13, 7, 30, tzinfo=dt.UTC).timestamp()
    os.utime(tmp_path / "trip.toml", (when, when))
    found = checked()["sheet"]
    assert found.state == "attention"
    assert "make the sheet again" in found.sentence


def test_no_sheet_or_no_book(checked, tmp_path):
    assert checked(sheet=None)["sheet"].sentence == "no sheet has been made: make and print one"
    assert checked(sheet=tmp_path / "absent.html")["sheet"].state == "attention"
    assert checked(book=None)["sheet"].state == "attention"


@pytest.mark.parametrize(
    ("now", "state", "words"),
    [
        (dt.datetime(2026, 6, 13, 6, 58, tzinfo=dt.UTC), "ok", "1 day before"),  # a file server may be ahead
        (dt.datetime(2026, 6, 12, tzinfo=dt.UTC), "stop", "before the book or sheet was saved"),
        (dt.datetime(2026, 6, 14, 9, 0, tzinfo=dt.UTC), "ok", "the day of the trip"),
        (dt.datetime(2026, 6, 20, tzinfo=dt.UTC), "attention", "is past"),
    ],
)
def test_a_clock_that_cannot_be_right(checked, now, state, words):
    found = checked(now=now)["clock"]
    assert found.state == state
    assert words in found.sentence


def test_a_trip_far_ahead_makes_the_clock_doubtful(checked, terms):
    found = checked(terms=replace(terms, date=dt.date(2028, 6, 14)))["clock"]
    assert (found.state, "732 days ahead" in found.sentence) == ("attention", True)


def test_a_mode_that_needs_the_second_says_so(checked, terms):
    found = checked(terms=replace(terms, wanted=(Wanted(144.3, "weak-digital"),)))["clock"]
    assert found.state == "attention"
    assert "within 1 s" in found.sentence


def test_vague_places(checked, islander, make_party):
    found = checked(stations=[islander("Marsh End"), islander("Oakenby", 4)])["positions"]
    assert found.state == "attention"
    assert found.sentence == "too vague for a verdict, azimuth only: Oakenby; ask for six characters"
    found = checked(sites=[make_party("Somewhere", "HN97")])["positions"]
    assert found.state == "stop"
    found = checked(sites=[islander("Gull Tor", 6)])["positions"]
    assert found.state == "attention"
    assert found.sentence.startswith("sites to be placed better: Gull Tor (±")


def test_who_has_no_mode_in_common(checked, make_party):
    only = make_party(
        "Packet", "46.30000 -20.90000", set_ups=({"bands": ["70 cm"], "modes": ["packet-9600"]},)
    )
    found = checked(stations=[only])["equipment"]
    assert (found.state, found.sentence) == (
        "attention",
        "no mode wanted in common with Packet: Gull Tor states nothing; Packet has packet 9600 on 70 cm",
    )


def test_parties_and_terms_of_the_sample_book():
    book = read_book(sample_dir() / "trip.toml")
    terms = terms_of(book, date=book.trip.date)
    assert [wanted.mode for wanted in terms.wanted[:4]] == ["ssb", "ssb", "fm", "fm"]
    assert terms.weight("Marsh End") == 3.0
    assert terms.weight("Norwater") == 1.0
    site = site_party(book, "gull tor")
    assert (site.station.name, site.unstated) == ("Gull Tor", "open")
    assert len(site.station.set_ups) == len(book.my_set_ups)
    station = station_party(book, book.stations[0])
    assert station.location.label == station.station.name
    assert terms_of(book, date=book.trip.date, wanted=(Wanted(50.2, "ssb"),)).wanted == (Wanted(50.2, "ssb"),)
