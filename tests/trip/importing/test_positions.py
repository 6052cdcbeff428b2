"""Doubts about positions, against an independent locator and an independent geodesic."""

from __future__ import annotations

import maidenhead
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st

from pathprofile.places import parse_location
from pathprofile.trip.importing.entry import Claim
from pathprofile.trip.importing.positions import agreed, disagreement, locator_in_disguise, too_far

_LETTERS = "abcdefghijklmnopqrstuvwx"
_LOCATORS = st.builds(
    lambda a, b, c, d, e, f: (
        f"{'ABCDEFGHIJKLMNOPQR'[a]}{'ABCDEFGHIJKLMNOPQR'[b]}{c}{d}{_LETTERS[e]}{_LETTERS[f]}"
    ),
    *(st.integers(0, most) for most in (17, 17, 9, 9, 23, 23)),
)


@settings(max_examples=80, deadline=None)
@given(_LOCATORS, st.integers(3, 7), st.booleans())
def test_a_rounded_centre_or_corner_is_told(locator: str, decimals: int, center: bool) -> None:
    latitude, longitude = maidenhead.to_location(locator, center=center)  # another package's reading
    found = locator_in_disguise(parse_location(f"{latitude:.{decimals}f} {longitude:.{decimals}f}"))
    assert found is not None
    assert found.where == ("centre" if center else "corner") or found.locator == locator[:4].upper()
    # A coarser cell may own the same point: its four characters are then those of the locator.
    assert locator.upper().startswith(found.locator[:4].upper())
    if len(found.locator) == 6:
        assert found.locator.upper() == locator.upper()


@pytest.mark.parametrize(
    ("text", "locator", "where"),
    [
        ("46.5625 -20.875", "HN96nn", "centre"),  # HN96nn: 2.5' by 5' from 46°32.5' N, 20°55' W
        ("46.54167 -20.91667", "HN96nn", "corner"),
        ("46.54166 -20.91666", "HN96nn", "corner"),  # digits cut off, not rounded
        ("46°33.75'N 20°52.50'W", "HN96nn", "centre"),
        ("46.5 -21", "HN96", "centre"),  # HN96: 46 to 47 N, 22 to 20 W
        ("47.00000 -22.00000", "HN97", "corner"),
    ],
)
def test_known_points_of_cells(text: str, locator: str, where: str) -> None:
    assert locator_in_disguise(parse_location(text)) == (locator, where)


@pytest.mark.parametrize(
    "text",
    [
        "46.29750 -20.93750",
        "46.30 -20.94",
        "47.74833 -21.00083",
        "HN96nn",
        "27T 504814 5127105",
        "46.56 -20.88",
    ],
)
def test_other_places_are_left_as_they_are(text: str) -> None:
    assert locator_in_disguise(parse_location(text)) is None


HERE = parse_location("47.74833 -21.00083")
THERE = parse_location("46.29750 -20.93750")
LEG = Geodesic.WGS84.Inverse(47.74833, -21.00083, 46.2975, -20.9375)


def test_a_distance_from_elsewhere_is_reported_with_both_figures() -> None:
    km = LEG["s12"] / 1000.0
    said = disagreement(Claim(99_000.0, "99 km"), HERE, THERE)
    assert said == f"list says 99 km, from here it is {km:.0f} km: the list was made elsewhere"
    both = disagreement(Claim(99_000.0, "99 km", azimuth_deg=47.0), HERE, THERE)
    assert both == (
        f"list says 99 km and azimuth 047, from here it is {km:.0f} km and {LEG['azi1'] % 360:03.0f} true:"
        " the list was made elsewhere"
    )


def test_a_distance_that_agrees_is_not_reported() -> None:
    assert disagreement(Claim(LEG["s12"] * 1.01, "x"), HERE, THERE) is None
    assert disagreement(Claim(azimuth_deg=LEG["azi1"] + 3.0), HERE, THERE) is None
    assert disagreement(Claim(), HERE, THERE) is None
    # Without a unit, miles are as good as kilometres.
    assert "list says 9999 (no unit), from" in str(
        disagreement(Claim(9_999_000.0, "9999", has_unit=False), HERE, THERE)
    )
    miles = LEG["s12"] / 1609.344
    assert disagreement(Claim(miles * 1000.0, "100", has_unit=False), HERE, THERE) is None
    assert disagreement(Claim(miles * 1000.0, "100 km"), HERE, THERE) is not None


def test_a_vague_position_leaves_room() -> None:
    cell = parse_location("HN96")
    away = Geodesic.WGS84.Inverse(47.74833, -21.00083, cell.latitude_deg, cell.longitude_deg)["s12"]
    assert disagreement(Claim(away + 60_000.0, "x"), HERE, cell) is None
    assert disagreement(Claim(away + 300_000.0, "x"), HERE, cell) is not None


def test_a_station_beyond_all_reach_is_doubted() -> None:
    km = Geodesic.WGS84.Inverse(47.74833, -21.00083, 52.1, -0.5)["s12"] / 1000.0
    assert (
        too_far(HERE, parse_location("52.10000 -0.50000")) == f"{km:.0f} km from here: is the position right?"
    )
    assert too_far(HERE, THERE) is None
    assert too_far(HERE, HERE) is None


def test_coordinates_outside_the_locator_beside_them_are_doubted() -> None:
    assert agreed(parse_location("46.5501 -20.8801"), "HN96nn") is None
    assert agreed(parse_location("46.55 -20.88"), "HN96") is None
    assert "lie outside the locator HN97sf" in str(agreed(THERE, "HN97sf"))
    assert "not a locator" in str(agreed(THERE, "Ravel"))
    assert agreed(parse_location("0.02 179.99999"), "RJ90xa") is None
