"""What the fuzzer found, kept so that it stays fixed."""

from __future__ import annotations

from pathlib import Path

import pytest

from pathprofile.errors import StationError
from pathprofile.geodesy import inverse
from pathprofile.places import notations, parse_location
from pathprofile.trip import find_book
from pathprofile.trip.book import parse_book
from pathprofile.trip.importing import import_into
from pathprofile.trip.starter import write_starter

ENDLESS = "9" * 5000


@pytest.mark.parametrize("text", ["48N 91E", "77N 125W", "-22.2 67.3", "OJ94nj", "59S 64W", "0.5 0.5"])
def test_utm_of_a_vague_place_is_read_back_within_its_uncertainty(text: str) -> None:
    place = parse_location(text)
    again = parse_location(notations(place)["UTM"])
    path = inverse(place.latitude_deg, place.longitude_deg, again.latitude_deg, again.longitude_deg)
    assert path.distance_m <= place.uncertainty_m


def test_a_book_with_an_endless_number_is_refused() -> None:
    with pytest.raises(StationError, match=r"a.toml: not TOML: Exceeds the limit \(4300 digits\)"):
        parse_book(f"[my_set_ups.a]\npower_w = {ENDLESS}\n", "a.toml")


def test_a_file_with_an_endless_number_is_not_taken_for_a_book(tmp_path: Path) -> None:
    (tmp_path / "other.toml").write_text(f"trip = {ENDLESS}\n", encoding="utf-8")
    assert find_book(tmp_path) is None


@pytest.mark.parametrize("kind", ["[]", '["Feature"]', "{}"])
def test_geojson_of_no_type_is_refused(tmp_path: Path, kind: str) -> None:
    write_starter(tmp_path / "trip.toml")
    listed = tmp_path / "list.geojson"
    listed.write_text(f'{{"type": {kind}, "features": []}}', encoding="utf-8")
    with pytest.raises(StationError, match="not GeoJSON with features"):
        import_into(tmp_path / "trip.toml", listed)
