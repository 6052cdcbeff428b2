"""Text pasted from mail."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pathprofile.trip.importing.entry import Entry, Remark
from pathprofile.trip.importing.mail import read_mail


def one(line: str) -> Entry:
    (entry,) = read_mail(line)
    assert isinstance(entry, Entry), entry
    return entry


@pytest.mark.parametrize(
    ("line", "name", "place"),
    [
        ("Marsh End 46.29750 -20.93750", "Marsh End", (46.2975, -20.9375)),
        ("> 12. Marsh End: 46.29750, -20.93750", "Marsh End", (46.2975, -20.9375)),
        ("- Marsh End is at 46°17.85'N 20°56.25'W", "Marsh End", (46.2975, -20.9375)),
        ("* Marsh End\t46°17'51\"N, 20°56'15\"W", "Marsh End", (46.2975, -20.9375)),
        ("Marsh End 46 17 51 N 20 56 15 W", "Marsh End", (46.2975, -20.9375)),
        ("Marsh End N46 17.85 W20 56.25", "Marsh End", (46.2975, -20.9375)),
        ("Marsh End lat 46.29750 lon -20.93750", "Marsh End", (46.2975, -20.9375)),
        ("Marsh End (Ann), lat: 46.29750, long: -20.93750", "Marsh End (Ann)", (46.2975, -20.9375)),
        ("Station 5 46.29750 -20.93750", "Station 5", (46.2975, -20.9375)),
        ("46.29750 -20.93750 Marsh End", "Marsh End", (46.2975, -20.9375)),
        ("Marsh End 46,29750 / -20,93750", "Marsh End", (46.2975, -20.9375)),
        ("Flaxmill, locator HN96nn", "Flaxmill", (46.5625, -20.875)),
        ("Flaxmill is in hn96nn", "Flaxmill", (46.5625, -20.875)),
        ("73, Marsh End (HN96mh)", "Marsh End", (46.3125, -20.95833)),
        ("Marsh End 46.29750,-20.93750", "Marsh End", (46.2975, -20.9375)),
        ("Marsh End 27T 504814 5127105", "Marsh End", (46.2975, -20.9375)),
        ("Marsh End 27T WM 04813 27104", "Marsh End", (46.2975, -20.9375)),
    ],
)
def test_a_name_and_a_place_in_any_notation(line: str, name: str, place: tuple[float, float]) -> None:
    entry = one(line)
    assert entry.name == name
    assert (entry.location.latitude_deg, entry.location.longitude_deg) == pytest.approx(place, abs=2e-5)


def test_facts_with_units_are_taken_and_the_rest_noted() -> None:
    entry = one(
        "Ferry House, 47°24.75'N 20°46.60'W, 99 km, azimuth 047, 145.500 MHz, tone 88.5, 50 W, ask for Ann"
    )
    assert entry.set_up == {"receive_mhz": 145.5, "tone_hz": 88.5, "power_w": 50}
    assert (entry.claim.distance_m, entry.claim.azimuth_deg) == (99_000.0, 47.0)
    assert entry.notes == "ask for Ann"


def test_a_place_alone_takes_the_name_above() -> None:
    entries = list(read_mail("Stone Row\n\n   47.10417 -20.79167\n"))
    assert [(entry.line, entry.name) for entry in entries if isinstance(entry, Entry)] == [(3, "Stone Row")]


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("Marsh End 96.29750 N 20.93750 W", "latitude 96.2975 is beyond 90"),
        ("Both HN96nn or HN97sf", "two places, 'HN96nn' and 'HN97sf'"),
        ("46.29750 -20.93750", "a place without a name"),
        ("I'm in HN96nn as always", "a sentence rather than a name"),
        ("- Thornicross, south of the church", "no place found in '- Thornicross, south of the church'"),
        ("I think that he said it would be near HN96nn or so", "a sentence rather than a name"),
    ],
)
def test_doubtful_lines_are_named_with_the_reason(line: str, reason: str) -> None:
    (remark,) = read_mail(line)
    assert isinstance(remark, Remark)
    assert remark.line == 1
    assert reason in remark.text


@pytest.mark.parametrize(
    "line",
    [
        "Dear all,",
        "We use 144.300 and 432.200",
        "on 50.150 144.300 MHz",
        "call 0123 456789",
        "see you at 18:00 on 14.06.",
    ],
)
def test_prose_is_passed_over_and_counted(line: str) -> None:
    (remark,) = read_mail(line)
    assert isinstance(remark, Remark)
    assert "no place found on line 1" in remark.text


def test_a_locator_beside_coordinates_is_held_against_them() -> None:
    assert one("Flaxmill HN96nn 46.5501 -20.8801").doubts == ()
    assert "lie outside the locator HN97sf" in one("Flaxmill HN97sf 46.5501 -20.8801").doubts[0]


@settings(max_examples=150, deadline=None)
@given(st.text(alphabet=st.sampled_from("ANSEWhn0169.,;°'\" -\t()<>=x\n"), max_size=120))
def test_no_text_breaks_the_reader(text: str) -> None:
    for reading in read_mail(text):
        assert reading.line >= 1


def test_a_greeting_is_no_name() -> None:
    entry = one("Dear all, Puffin Ledge is at HN96ie, best Tuesday.")
    assert entry.name == "Puffin Ledge"
