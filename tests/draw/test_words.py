from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from pathprofile.draw import words
from pathprofile.places import Location
from pathprofile.reach import Reach

Make = Callable[[str], Reach]


def _latin(character: str) -> bool:
    return ord(character) < 0x250


def test_printable_keeps_one_line_and_marks_what_cannot_be_shown() -> None:
    assert words.printable("a\n\tb\x00\u200bc  d", _latin) == "a bc d"
    assert words.printable("e\u0301", _latin) == "é"  # composed first
    assert words.printable("漢 x", _latin) == "□ x"


@pytest.mark.parametrize("label", ["", "   ", "漢字", "\u200b"])
def test_places_without_a_printable_name_show_their_coordinates(label: str) -> None:
    place = Location(-33.9212, 18.4201, label=label)
    assert words.place_name(place, _latin) == "33.9212° S 18.4201° E"


def test_shortened_fits_and_keeps_what_it_can() -> None:
    assert words.shortened("Gull Tor", 8.0, len) == "Gull Tor"
    assert words.shortened("Gull Tor Hut", 8.0, len) == "Gull To…"
    assert words.shortened("Gull Tor", 6.0, len) == "Gull…"  # no space before the ellipsis
    assert words.shortened("Gull", 0.0, len) == "…"


@pytest.mark.parametrize(
    ("metres", "text"),
    [
        (300.0, "300 m / 984 ft"),  # 1 ft = 0.3048 m exactly
        (1609.344, "1.61 km / 1.00 mi"),  # 1 mi = 1609.344 m exactly
        (160_934.4, "160.9 km / 100.0 mi"),
    ],
)
def test_distance_in_both_systems(metres: float, text: str) -> None:
    assert words.distance(metres) == text


@pytest.mark.parametrize(
    ("name", "answer"),
    [
        ("level_ends", "Clear line of sight"),
        ("partial_42km", "In sight, but tight"),
        ("sea_60km", "No line of sight"),
    ],
)
def test_the_answer_in_words(make_reach: Make, name: str, answer: str) -> None:
    assert words.headline(make_reach(name)) == answer


def test_no_sight_is_never_the_last_word(make_reach: Make) -> None:
    far, near, clear = (words.consolation(make_reach(n)) for n in ("sea_60km", "short_300m_blocked", "uhf"))
    assert far == "Usual at this distance; that alone does not rule out a contact."
    assert near == "That alone does not rule out a contact."
    assert clear is None


def test_azimuths_wrap_at_north(make_reach: Make) -> None:
    reach = make_reach("uhf")
    north = replace(reach.from_end, azimuth_deg=359.7, magnetic_azimuth_deg=2.7)
    sentence = words.direction_sentence(replace(reach, from_end=north))
    assert sentence.startswith("Point 003° magnetic (000° true);")


def test_the_picture_points_where_it_is_told_to(make_reach: Make) -> None:
    reach = make_reach("uhf")
    elsewhere = reach.aim._replace(azimuth_deg=12.4, magnetic_azimuth_deg=9.6, back_azimuth_deg=192.6)
    assert words.direction_sentence(reach, elsewhere).startswith("Point 010° magnetic (012° true);")
    assert words.direction_sentence(reach, reach.aim) == words.direction_sentence(reach)


def test_equal_antennas_are_named_once(make_reach: Make) -> None:
    assert "Both antennas 10 m (33 ft) above ground." in words.set_up_sentence(make_reach("level_ends"))
