"""Rows of a ranking and whole contacts give the same entries; what one does not know stays empty."""

from __future__ import annotations

import csv
import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING

import maidenhead
import pytest
from geographiclib.geodesic import Geodesic

from pathprofile.contact import Party
from pathprofile.export.entries import FACTS, NoResult, entries, foreword, stops
from pathprofile.export.geojson import geojson_document
from pathprofile.export.gpx import gpx_document
from pathprofile.export.kml import kml_document
from pathprofile.export.tables import station_csv
from pathprofile.link.evaluate import Pair
from pathprofile.link.words import verdict
from pathprofile.places import parse_location
from pathprofile.station import Station
from pathprofile.trip.answer import PairAnswer, answer_pair
from pathprofile.trip.terms import Terms, Wanted

if TYPE_CHECKING:
    from pathprofile.contact import Contact
    from pathprofile.terrain.store import TerrainStore


@pytest.fixture(scope="module")
def terms() -> Terms:
    return Terms(date=dt.date(2026, 11, 24), wanted=(Wanted(144.3, "ssb"),))


@pytest.fixture(scope="module")
def row(marsh_end: Contact, island: TerrainStore, terms: Terms) -> PairAnswer:
    return answer_pair(marsh_end.you, marsh_end.them, island, terms)


def test_a_row_says_what_its_contact_says(row: PairAnswer, marsh_end: Contact) -> None:
    of_row, of_contact = entries([row, marsh_end])
    assert list(of_row.facts) == list(of_contact.facts) == list(FACTS)
    for key, value in of_row.facts.items():
        if value is not None and key != "weaker":  # a row may call both directions alike
            assert value == of_contact.facts[key], key
    assert of_row.title == of_contact.title
    assert of_row.station_words == of_contact.station_words


def test_a_row_fills_the_columns_of_its_path(row: PairAnswer) -> None:
    (entry,) = entries(row)
    filled = {key for key, value in entry.facts.items() if value is not None}
    assert {"loss_db", "free_space_db", "second_opinion_db", "line_of_sight", "mechanism"} <= filled
    assert {"minimum_fresnel_ratio", "limiting_distance_m", "second_verdict", "second_chance"} <= filled


def test_both_verdicts_go_into_every_format_where_methods_part(row: PairAnswer) -> None:
    assert row.pair is not None
    assert entries(row)[0].facts["methods_part_db"] is None
    unlikely = Pair(0.02, 0.0, verdict(0.02, 0.0))
    workable = Pair(0.88, 0.6, verdict(0.88, 0.6))
    parted = replace(row, pair=workable, methods_part=True, second=unlikely, apart_db=38.04)
    both = "workable or unlikely: about 9 in 10 or below 1 in 20 (methods part by 38 dB)"
    table = next(csv.DictReader(station_csv(parted).splitlines()))
    assert (table["odds"], table["verdict"], table["second_verdict"]) == (both, "workable", "unlikely")
    assert (float(table["second_chance"]), float(table["methods_part_db"])) == (0.02, 38.0)
    said = [
        feature["properties"].get("description", feature["properties"].get("odds"))
        for feature in geojson_document(parted)["features"]
    ]
    assert len(said) == 3
    assert all(both[1:] in text for text in said)
    for text in (gpx_document(parted), kml_document(parted)):
        assert text.count(both[1:].encode()) >= 2  # at the site and at the station


def test_a_square_is_aimed_at_in_its_middle(of_a_cell: PairAnswer, marsh_end: Contact) -> None:
    (entry,) = entries(of_a_cell)
    south, west = maidenhead.to_location("HN96nn")
    here = marsh_end.you.location
    # GeographicLib on WGS 84; the locator's middle by the reference library maidenhead (5' by 2.5')
    leg = Geodesic.WGS84.Inverse(here.latitude_deg, here.longitude_deg, south + 1 / 48, west + 1 / 24)
    assert entry.facts["azimuth_deg"] == pytest.approx(leg["azi1"] % 360.0, abs=0.01)
    assert entry.facts["distance_m"] == pytest.approx(leg["s12"], abs=0.1)
    assert f"{leg['s12'] / 1000:.0f} km from Gull Tor to its middle" in entry.station_words


def test_rows_go_into_every_format(row: PairAnswer) -> None:
    assert [f["properties"]["kind"] for f in geojson_document(row)["features"]] == ["path", "site", "station"]
    assert gpx_document(row).count(b"<wpt ") == 2
    assert kml_document(row).count(b"<styleUrl>") == 1
    assert station_csv(row).count("\r\n") == 2


def test_a_direction_without_a_verdict_is_given_as_such(
    marsh_end: Contact, island: TerrainStore, terms: Terms
) -> None:
    vague = Party(Station(name="Moss Gate", place="HN96"), parse_location("HN96", label="Moss Gate"))
    (entry,) = entries(answer_pair(marsh_end.you, vague, island, terms))
    assert entry.verdict is None
    assert entry.facts["distance_m"] is not None
    assert "km from Gull Tor" in entry.station_words
    assert "No answer: " in entry.station_words
    assert entry.title == "Gull Tor → Moss Gate: no answer"
    features = geojson_document(answer_pair(marsh_end.you, vague, island, terms))["features"]
    assert [feature["properties"]["kind"] for feature in features] == ["no_result"]


def test_a_name_without_place_is_in_the_foreword_only() -> None:
    found = entries(NoResult("Nobody Knows", "no place given", site="Gull Tor"))
    assert foreword(found)[0] == "Not answered: Nobody Knows: no place given."
    assert stops(found) == []


@pytest.fixture(scope="module")
def of_a_cell(marsh_end: Contact, island: TerrainStore, terms: Terms) -> PairAnswer:
    them = Party(Station(name="Flaxmill", place="HN96nn"), parse_location("HN96nn", label="Flaxmill"))
    return answer_pair(marsh_end.you, them, island, terms)


# A locator of six characters is 5' by 2.5' (IARU Region 1 VHF Managers Handbook, locator system): at 46.6 N
# the way from the centre to a corner is half of hypot(4.63 km, 6.37 km), 3.9 km.
def test_a_cell_stays_a_cell_in_every_format(of_a_cell: PairAnswer) -> None:
    (entry,) = entries(of_a_cell)
    assert entry.station_at is not None
    assert entry.station_at.uncertainty_m == pytest.approx(3900.0, rel=0.02)
    facts = entry.facts
    assert str(facts["area"]).startswith("The station is somewhere in this square (HN96nn)")
    low, high = (float(facts[key] or 0.0) for key in ("nearest_m", "farthest_m"))
    assert low < float(facts["distance_m"] or 0.0) < high
    worst, best = (float(facts[key] or 0.0) for key in ("worst_chance", "best_chance"))
    assert worst <= float(facts["chance"] or 0.0) <= best

    rows = station_csv(of_a_cell).splitlines()
    table = dict(zip(rows[0].split(","), next(csv.reader([rows[1]])), strict=True))
    assert float(table["station_uncertainty_m"]) == pytest.approx(3900.0, rel=0.02)
    assert table["date"] == "2026-11-24"
    (station,) = [
        feature["properties"]
        for feature in geojson_document(of_a_cell)["features"]
        if feature["properties"]["kind"] == "station"
    ]
    assert station["uncertainty_m"] == pytest.approx(3900.0, rel=0.02)
    assert "somewhere in this square" in station["description"]
    for text in (gpx_document(of_a_cell), kml_document(of_a_cell)):
        assert b"somewhere in this square (HN96nn)" in text


def test_a_point_has_no_area(row: PairAnswer) -> None:
    (entry,) = entries(row)
    assert entry.facts["area"] is None
    assert "somewhere" not in entry.station_words
