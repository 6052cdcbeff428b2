"""Places written in every notation and read back; locators and grids against other packages."""

from __future__ import annotations

import math

import maidenhead
import mgrs
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from pyproj import Geod, Transformer

from pathprofile.errors import LocationError
from pathprofile.geodesy import utm_zone
from pathprofile.places import (
    Location,
    from_utm,
    locator,
    locator_cell,
    notations,
    parse_location,
    to_mgrs,
    to_utm,
)

latitudes = st.floats(-90.0, 90.0)
longitudes = st.floats(-180.0, 180.0)
grid_latitudes = st.floats(-80.0, 84.0)
radii_m = st.floats(-2.0, 5.0).map(lambda exponent: 10.0**exponent)
METRES_PER_DEGREE = 111_700.0  # the longest degree of latitude on WGS 84, at the pole


def _east_m(place: Location, longitude_deg: float) -> float:
    turn = (place.longitude_deg - longitude_deg + 180.0) % 360.0 - 180.0
    return abs(turn) * METRES_PER_DEGREE * math.cos(math.radians(place.latitude_deg))


@given(latitudes, longitudes, radii_m)
def test_each_notation_leads_back_to_the_place(lat: float, lon: float, radius_m: float) -> None:
    place = Location(lat, lon, uncertainty_m=radius_m)
    for notation, text in notations(place).items():
        back = parse_location(text)
        # The smallest step written is a centimetre, and 4-character locators have the largest cells.
        reach_m = 1.03 * max(radius_m, back.uncertainty_m, 0.02)
        assert abs(back.latitude_deg - lat) * METRES_PER_DEGREE <= reach_m, (notation, text)
        assert _east_m(back, lon) <= 1.02 * reach_m, (notation, text)


@given(latitudes, longitudes, st.integers(0, 7))
def test_digits_typed_come_back(lat: float, lon: float, decimals: int) -> None:
    typed = [f"{lat:.{decimals}f}", f"{lon:.{decimals}f}"]
    written = notations(parse_location(" ".join(typed)))["decimal degrees"].split()
    assert [float(number) for number in written] == [float(number) for number in typed]
    assert [len(number.lstrip("-")) for number in written] == [len(number.lstrip("-")) for number in typed]


def test_digits_fit_the_uncertainty() -> None:
    rough = notations(parse_location("46.21 -21.31"))
    assert rough["decimal degrees"] == "46.21 -21.31"
    assert rough["degrees and minutes"] == "46°12.6'N 21°18.6'W"
    assert rough["MGRS"].split()[2:] == ["76", "17"]
    assert list(rough)[3:] == ["locator (6 characters)", "locator (8 characters)", "UTM", "MGRS"]
    fine = notations(parse_location("46.20571 -21.31262"))
    assert fine["locator (10 characters)"].startswith(fine["locator (8 characters)"])
    assert fine["degrees, minutes and seconds"] == "46°12'20.56\"N 21°18'45.43\"W"
    assert notations(parse_location("HN96"))["locator (4 characters)"] == "HN96"


@pytest.mark.parametrize(
    "text", ["HN96", "HN96ie", "HN96ie29", "HN96ie29LI", "27T VM", "27T VM 7 1", "27T VM 7588 1695"]
)
def test_cells_come_back_as_themselves(text: str) -> None:
    assert text in notations(parse_location(text)).values()


@pytest.mark.parametrize(
    "text",
    [
        "HN97",
        "HN96ie",
        "HN96ie29",
        "HN96ie29LI",
        "RR99",
        "JP99xx",
        "AA00",
        "27T VM",
        "27T VM 7 1",
        "27T VM 758 169",
    ],
)
def test_the_centre_of_a_cell_stays_near_it_in_every_notation(text: str) -> None:
    """Read back by pyproj's geodesic, not by the rounding that wrote it."""
    place = parse_location(text)
    assert place.cell is not None
    geod = Geod(ellps="WGS84")
    south, west, north, east = place.cell
    middle = (south + north) / 2.0
    side_m = min(
        geod.inv(west, south, west, north)[2], geod.inv(west, middle, (west + east) / 2.0, middle)[2] * 2.0
    )
    written = notations(place)
    assert text in written.values()
    for notation, typed in written.items():
        back = parse_location(typed)
        off_m = geod.inv(place.longitude_deg, place.latitude_deg, back.longitude_deg, back.latitude_deg)[2]
        assert off_m <= 0.1 * side_m, (notation, typed)


def test_a_square_of_two_degrees_is_not_rounded_to_whole_ones() -> None:
    """The middle of HN97 (47 to 48 N, 22 to 20 W) is 47.5 N 21 W by construction."""
    assert notations(parse_location("HN97"))["decimal degrees"] == "47.5 -21.0"


def test_rounding_carries() -> None:
    written = notations(Location(46.999999, -0.000001, uncertainty_m=20.0))
    assert written["decimal degrees"] == "47.0000 0.0000"
    assert written["degrees and minutes"] == "47°00.00'N 0°00.00'W"
    assert written["degrees, minutes and seconds"] == "47°00'00\"N 0°00'00\"W"


@pytest.mark.parametrize("lat", [90.0, -90.0, 84.5, -80.5])
def test_near_the_poles_there_are_no_metric_grids(lat: float) -> None:
    assert not {"UTM", "MGRS"} & set(notations(Location(lat, 10.0)))
    with pytest.raises(LocationError, match="outside the UTM grid"):
        to_mgrs(lat, 10.0)


# --- locators ---


@pytest.mark.parametrize(
    ("lat", "lon", "expected"),
    [
        (48.14666, 11.60833, "JN58td"),  # Munich, the textbook example of the system (from memory)
        (-34.91, -56.21166, "GF15vc"),  # Montevideo, another (from memory)
        (38.92, -77.065, "FM18lw"),  # Washington (from memory)
        (-41.28333, 174.745, "RE78ir"),  # Wellington (from memory)
        # By construction: first and last cells of the system; borders belong to the north and east.
        (-90.0, -180.0, "AA00aa"),
        (90.0, 179.999999, "RR99xx"),
        (89.9999, 179.9999, "RR99xx"),
        (90.0, 180.0, "AR09ax"),
        (0.0, 0.0, "JJ00aa"),
        (-1e-5, -1e-5, "II99xx"),
        (46.0 + 1 / 24, -22.0 + 1 / 12, "HN96bb"),
    ],
)
def test_known_locators(lat: float, lon: float, expected: str) -> None:
    assert locator(lat, lon) == expected


@given(st.floats(-90.0, 89.99), st.floats(-180.0, 179.99))
def test_locators_agree_with_the_maidenhead_package(lat: float, lon: float) -> None:
    theirs = maidenhead.to_maiden(lat, lon, 5)
    (south, west), (north, east), _ = maidenhead.to_location_rect(theirs)
    # maidenhead 1.8 rounds positions to half a millionth of a degree before it cuts them into cells.
    away_from_border = min(abs(lat - south), abs(lat - north), abs(lon - west), abs(lon - east)) > 1.1e-6
    assume(away_from_border)
    for length in (4, 6, 8, 10):
        assert locator(lat, lon, length).upper() == theirs[:length].upper()


@given(latitudes, longitudes, st.sampled_from([4, 6, 8, 10]))
def test_cells_hold_their_point_and_agree_with_the_maidenhead_package(
    lat: float, lon: float, length: int
) -> None:
    text = locator(lat, lon, length)
    cell = locator_cell(text)
    assert cell.south_deg - 1e-9 <= lat <= cell.north_deg + 1e-9
    assert (lon == 180.0 and cell.west_deg == -180.0) or cell.west_deg - 1e-9 <= lon <= cell.east_deg + 1e-9
    (south, west), (north, east), (middle_lat, middle_lon) = maidenhead.to_location_rect(text)
    assert tuple(cell) == pytest.approx((south, west, north, east), abs=1e-9)
    assert locator(middle_lat, middle_lon, length) == text
    assert locator(cell.south_deg, cell.west_deg, length) == text


def test_the_last_cell_ends_at_the_pole_and_the_date_line() -> None:
    cell = locator_cell("RR99XX")
    assert (cell.north_deg, cell.east_deg) == (90.0, 180.0)


@pytest.mark.parametrize("length", [2, 5, 12])
def test_locator_lengths(length: int) -> None:
    with pytest.raises(LocationError, match="use 4, 6, 8 or 10"):
        locator(46.0, -21.0, length)


def test_no_locator_off_the_globe() -> None:
    with pytest.raises(LocationError, match="no locator for latitude nan"):
        locator(math.nan, 0.0)


# --- UTM and MGRS ---


@given(grid_latitudes, longitudes)
def test_utm_agrees_with_the_epsg_definitions(lat: float, lon: float) -> None:
    utm = to_utm(lat, lon)
    assert utm.zone == utm_zone(lat, lon)
    code = (32700 if lat < 0.0 else 32600) + utm.zone
    east, north = Transformer.from_crs("EPSG:4326", f"EPSG:{code}", always_xy=True).transform(lon, lat)
    assert utm.easting_m == pytest.approx(east, abs=1e-6)
    assert utm.northing_m == pytest.approx(north, abs=1e-6)
    back_lat, back_lon = from_utm(*utm)
    assert back_lat == pytest.approx(lat, abs=1e-9)
    assert abs((back_lon - lon + 180.0) % 360.0 - 180.0) < 1e-8


@given(grid_latitudes, longitudes)
def test_mgrs_agrees_with_the_mgrs_package(lat: float, lon: float) -> None:
    # mgrs 1.6 computes to about a millimetre, so a digit may differ by one; at the edge of a 100 km square
    # that changes the letters, and those points are left out.
    # It also moves points to the next zone or band when they are within rounding of the border (multiples of
    # 3 and 4 degrees).
    assume(lon == round(lon) or abs(lon / 3.0 - round(lon / 3.0)) > 1e-7)
    assume(lat == round(lat) or abs(lat / 4.0 - round(lat / 4.0)) > 1e-7)
    zone, square, east, north = _split(to_mgrs(lat, lon))
    their_zone, their_square, their_east, their_north = _split(mgrs.MGRS().toMGRS(lat, lon).lstrip("0"))
    assume(all(5 < value < 99_995 for value in (east, north)))
    assert (zone, square) == (their_zone, their_square)
    assert abs(east - their_east) <= 1
    assert abs(north - their_north) <= 1


def _split(text: str) -> tuple[str, str, int, int]:
    compact = text.replace(" ", "")
    return compact[:-12], compact[-12:-10], int(compact[-10:-5]), int(compact[-5:])


@given(grid_latitudes, longitudes, st.integers(0, 5))
def test_mgrs_squares_hold_their_point(lat: float, lon: float, digits: int) -> None:
    text = to_mgrs(lat, lon, digits)
    place = parse_location(text)
    cell = place.cell
    assert cell is not None
    # The sides of a square bend, by up to 0.2 % of their length.
    slack = 0.002 * (cell.north_deg - cell.south_deg) + 1e-9
    assert cell.south_deg - slack <= lat <= cell.north_deg + slack
    turn = 360.0 * round((place.longitude_deg - lon) / 360.0)
    wide_slack = 0.01 * (cell.east_deg - cell.west_deg) + 1e-8
    assert cell.west_deg - wide_slack <= lon + turn <= cell.east_deg + wide_slack


@pytest.mark.parametrize(
    ("lat", "lon", "expected"),
    [
        # Honolulu and the Washington Monument, in common explanations of MGRS and the US National Grid, to
        # 100 m (from memory).
        (21.4098, -157.9161, "4Q FJ 123 678"),
        (38.889484, -77.035279, "18S UJ 234 064"),
        # Oslo lies in 32V, Bergen too by the widened zone (NGA.SIG.0012, from memory).
        (60.39, 5.32, "32V KN"),
        # By construction: on the equator and its central meridian.
        (0.0, 3.0, "31N EA 00000 00000"),
        (-1e-12, 3.0, "31M EV 00000 99999"),
    ],
)
def test_known_mgrs_references(lat: float, lon: float, expected: str) -> None:
    digits = len(expected.rsplit(maxsplit=1)[-1]) if len(expected.split()) > 2 else 0
    assert to_mgrs(lat, lon, digits) == expected


@pytest.mark.parametrize("band_text", ["31X FL", "37X DG", "60X WS", "1C CV", "32V KN"])
def test_squares_at_the_edges_read_back(band_text: str) -> None:
    place = parse_location(band_text)
    assert place.cell is not None
    assert place.notation == "MGRS"


def test_longer_references_nest() -> None:
    outer = parse_location("27T VM 7 1").cell
    inner = parse_location("27T VM 75884 16950").cell
    assert outer is not None
    assert inner is not None
    assert outer.south_deg < inner.south_deg < inner.north_deg < outer.north_deg
    assert outer.west_deg < inner.west_deg < inner.east_deg < outer.east_deg


def test_mgrs_digits() -> None:
    with pytest.raises(LocationError, match="use 0"):
        to_mgrs(46.0, -21.0, 6)
