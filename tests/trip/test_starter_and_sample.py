"""The starter, the sample island's book, and the shipped schema."""

from __future__ import annotations

import datetime as dt
import json
from typing import TYPE_CHECKING

import pydantic
import pytest

from pathprofile.errors import OutputError
from pathprofile.sample import sample_dir, sample_places
from pathprofile.terrain.store import TerrainStore
from pathprofile.trip import find_book, read_book, write_starter
from pathprofile.trip.schema import SCHEMA_FILE, book_schema_text

if TYPE_CHECKING:
    from pathlib import Path


def test_the_starter_can_be_read_as_it_stands(tmp_path: Path) -> None:
    path = tmp_path / "trip.toml"
    write_starter(path)
    book = read_book(path)
    assert book.sites
    assert book.stations
    assert book.my_set_ups
    assert find_book(tmp_path) == path
    text = path.read_text(encoding="utf-8")
    assert "invented" in text
    assert max(map(len, text.splitlines())) <= 110
    # What nobody finds without being told.
    assert all(key in text for key in ("adapters", "extra_db", "chargers", "loss_db", "receiver", "modes"))


def test_every_line_the_starter_offers_is_valid(tmp_path: Path) -> None:
    path = tmp_path / "trip.toml"
    write_starter(path)
    text = path.read_text(encoding="utf-8")
    offered = [
        line[2:] if line.startswith("# [") or (line.startswith("# ") and "=" in line) else line
        for line in text.split("\n")
    ]
    path.write_text("\n".join(offered), encoding="utf-8")
    book = read_book(path)
    assert book.station("Hill beacon").receive_only
    assert book.station("Ridge repeater").set_ups[0].receive_mhz == 145.05
    assert set(book.my_set_ups) == {"rucksack", "pocket"}
    assert book.trip.date == dt.date(2026, 6, 14)
    assert book.landmarks[0].location().latitude_deg == pytest.approx(47.07083)
    # Its hill is one of the sample island: a height that is stated is near that of the map.
    site = book.sites[0]
    with TerrainStore.open(sample_dir()) as terrain:
        here = site.location()
        assert site.ground_m == pytest.approx(
            float(terrain.elevation_m(here.latitude_deg, here.longitude_deg)), abs=10.0
        )


def test_the_starter_is_never_written_over_a_file_without_being_told(tmp_path: Path) -> None:
    path = tmp_path / "trip.toml"
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(OutputError, match="exists already"):
        write_starter(path)
    assert path.read_text(encoding="utf-8") == "mine"
    write_starter(path, overwrite=True)
    assert read_book(path).stations


def test_the_sample_book_is_varied_and_stands_on_the_sample_places() -> None:
    book = read_book(sample_dir() / "trip.toml")
    places = {(place.latitude_deg, place.longitude_deg) for place in sample_places().values()}
    lengths = []
    for entry in (*book.sites, *book.stations, *book.landmarks):
        location = entry.location()
        if location.cell is None:
            assert (location.latitude_deg, location.longitude_deg) in places, entry.name
        else:
            lengths.append(len(entry.place))
    assert sorted(lengths) == [4, 6]
    assert len(book.sites) == 3
    assert len(book.stations) >= 12
    assert any(station.receive_only for station in book.stations)
    assert any(station.listening_hours for station in book.stations)
    set_ups = [set_up for station in book.stations for set_up in station.set_ups]
    assert any(set_up.packet_address for set_up in set_ups)
    assert any(set_up.tone_hz for set_up in set_ups)
    assert "invented" in (sample_dir() / "trip.toml").read_text(encoding="utf-8")


@pytest.mark.skipif(
    tuple(int(part) for part in pydantic.VERSION.split(".")[:2]) < (2, 14),
    reason="pydantic before 2.14 leaves out the greatest lengths of texts in lists",
)
def test_the_shipped_schema_is_that_of_the_models() -> None:
    assert SCHEMA_FILE.read_text(encoding="utf-8") == book_schema_text(), (
        "run python -m pathprofile.trip.schema"
    )


def test_the_schema_says_what_the_book_accepts() -> None:
    schema = json.loads(book_schema_text())
    assert schema["additionalProperties"] is False
    assert set(schema["properties"]) == {"trip", "my_set_ups", "sites", "stations", "landmarks", "notes"}
    station = schema["$defs"]["ListedStation"]
    assert station["required"] == ["name", "place"]
    power = schema["$defs"]["SetUp"]["properties"]["power_w"]["anyOf"][0]
    assert (power["minimum"], power["maximum"]) == (0.001, 10_000.0)
