"""What operators type, read as they mean it or refused in one line."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pathprofile.errors import LocationError
from pathprofile.places import ACCEPTED_FORMS, Location, parse_location

LAT, LON = 46.2057, -21.3126
EXACT = [
    "46.2057 -21.3126",
    "46.2057, -21.3126",
    "46.2057,-21.3126",
    "46.2057;-21.3126",
    "46.2057-21.3126",
    "+46.2057 -021.3126",
    "46.2057N 21.3126W",
    "46.2057 N 21.3126 W",
    "46.2057n,21.3126w",
    "N46.2057, W21.3126",
    "N 46.2057 W 21.3126",
    "46.2057°N 21.3126°W",
    "46.2057° -21.3126°",
    "46.2057 north 21.3126 west",
    "21.3126W 46.2057N",
    "W21.3126 N46.2057",
    "46,2057; -21,3126",
    "46,2057 -21,3126",
    "46,2057, -21,3126",
    "46,2057,-21,3126",
    "46,2057N 21,3126W",
    "  46.2057\t-21.3126\n",
    "46.2057 \u221221.3126",
    "46.2057 \u201321.3126",
    "46.2057\u00a0-21.3126",
    "\u200e46.2057 -21.3126\u200f",
    "４６．２０５７　－２１．３１２６",
    "٤٦.٢٠٥٧ -٢١.٣١٢٦",
]
MINUTES = [
    "46°12.34'N 21°18.76'W",
    "46° 12.34' N, 21° 18.76' W",
    "46º12.34′N 21º18.76′W",
    "46˚12.34’N 21˚18.76’W",
    "N46 12.34 W21 18.76",
    "46 12.34N 21 18.76W",
    "46 12.34 -21 18.76",
    "46d12.34m N 21d18.76m W",
    "46 deg 12.34 min N 21 deg 18.76 min W",
    "46°12,34'N 21°18,76'W",
    "46 12.34, -21 18.76",
]
SECONDS = [
    "46°12'20\"N 21°18'45\"W",
    "46° 12′ 20″ N 21° 18′ 45″ W",
    "46°12'20''N 21°18'45''W",
    "46°12’20”N 21°18’45”W",
    "46d12m20s N 21d18m45s W",
    "46d12m20sN 21d18m45sW",
    "46D12M20S N 21D18M45S W",
    "46deg 12min 20sec N 21deg 18min 45sec W",
    "N46°12'20\" W21°18'45\"",
    "N46D12M20S W21D18M45S",
    "46 12 20 N 21 18 45 W",
    "46 12 20 -21 18 45",
    "46°12'20\" -21°18'45\"",
    "21°18'45\"W 46°12'20\"N",
]


@pytest.mark.parametrize("text", EXACT)
def test_decimal_degrees(text: str) -> None:
    place = parse_location(text)
    assert (place.latitude_deg, place.longitude_deg) == (LAT, LON)
    assert place.notation == "degrees"
    assert place.cell is None
    assert place.text == text


@pytest.mark.parametrize("text", MINUTES)
def test_degrees_and_minutes(text: str) -> None:
    place = parse_location(text)
    assert place.latitude_deg == pytest.approx(46 + 12.34 / 60, abs=1e-12)
    assert place.longitude_deg == pytest.approx(-(21 + 18.76 / 60), abs=1e-12)


@pytest.mark.parametrize("text", SECONDS)
def test_degrees_minutes_and_seconds(text: str) -> None:
    place = parse_location(text)
    assert place.latitude_deg == pytest.approx(46 + 12 / 60 + 20 / 3600, abs=1e-12)
    assert place.longitude_deg == pytest.approx(-(21 + 18 / 60 + 45 / 3600), abs=1e-12)


def test_the_seconds_sign_and_south_are_told_apart() -> None:
    for text in (
        "46d12m20s S 21d18m45s W",
        "46°12'20\"S 21°18'45\"W",
        "46d12m20S 21d18m45W",
        "46 12 20 S 21 18 45 W",
    ):
        place = parse_location(text)
        assert place.latitude_deg == pytest.approx(-(46 + 12 / 60 + 20 / 3600), abs=1e-12), text


def test_minus_first() -> None:
    place = parse_location("-33.5 -70.25")
    assert (place.latitude_deg, place.longitude_deg) == (-33.5, -70.25)
    assert parse_location("-0 30 21 18").latitude_deg == -0.5


def test_whole_degrees_with_a_comma() -> None:
    place = parse_location("46,21")
    assert (place.latitude_deg, place.longitude_deg) == (46.0, 21.0)


@pytest.mark.parametrize("text", ["90 180", "-90 -180", "0 0", "90N 180E"])
def test_the_corners_of_the_globe(text: str) -> None:
    place = parse_location(text)
    assert abs(place.latitude_deg) in {0.0, 90.0}
    assert abs(place.longitude_deg) in {0.0, 180.0}


@pytest.mark.parametrize(
    ("text", "radius_m"),
    [
        # One degree of latitude is 111.2 km on a sphere of mean radius (closed form); half a step of a digit.
        ("46 -21", 55_600),
        ("46.2 -21.3", 5_560),
        ("46.20 -21.30", 556),
        ("46.205700 -21.312600", 0.0556),
        ("46°12'N 21°18'W", 927),
        ("46°12.34'N 21°18.76'W", 9.27),
        ("46°12'20\"N 21°18'45\"W", 15.4),
        ("46.205700 -21.31", 385),  # 556 m times the cosine of 46.2 degrees
        ("46.21 -21.312600", 556),
        ("27T 475885 5116950", 0.5),
        ("27T 475885.1 5116950.12", 0.05),
        # Half diagonals: 1 m, 100 m and 100 km squares.
        ("27T VM 75884 16950", 0.7071),
        ("27T VM 758 169", 70.71),
        ("27T VM", 70_711),
        # A subsquare is 5' by 2.5': 9.27 km times the cosine of its south edge by 4.63 km; half the diagonal.
        ("HN96ie", 3_957),
    ],
)
def test_uncertainty_comes_from_the_digits(text: str, radius_m: float) -> None:
    # 3 % for the box round squares that lie askew, and for the flattening.
    assert parse_location(text).uncertainty_m == pytest.approx(radius_m, rel=0.03)


def test_labels() -> None:
    assert parse_location(" 46.2057  -21.3126 ").label == "46.2057 -21.3126"
    assert parse_location("HN96ie", label="Ash Hill").label == "Ash Hill"


@pytest.mark.parametrize(
    "text", ["HN96", "hn96", "HN96ie", "hn96IE", "HN 96 IE", "HN96ie29", "HN96ie29li", "HN96IE29LI"]
)
def test_locators_are_cells(text: str) -> None:
    place = parse_location(text)
    cell = place.cell
    assert cell is not None
    assert place.notation == "locator"
    assert cell.south_deg < LAT < cell.north_deg
    assert cell.west_deg < LON < cell.east_deg
    assert place.latitude_deg == pytest.approx((cell.south_deg + cell.north_deg) / 2)
    assert place.longitude_deg == pytest.approx((cell.west_deg + cell.east_deg) / 2)


@pytest.mark.parametrize(
    "text",
    [
        "27T 475885 5116950",
        "27 T 475885 5116950",
        "27t 475885,5116950",
        "UTM 27T 475885 5116950",
        "27T 475885mE 5116950mN",
        "27T 475884.5 5116950.1",
        "27 north 475885 5116950",
        "27T VM 75884 16950",
        "27TVM7588416950",
        "27t vm 7588416950",
        "27 T VM 75884 16950",
    ],
)
def test_metric_grids(text: str) -> None:
    place = parse_location(text)
    assert place.latitude_deg == pytest.approx(LAT, abs=2e-5)
    assert place.longitude_deg == pytest.approx(LON, abs=2e-5)


def test_hemisphere_words_after_a_zone() -> None:
    south = parse_location("56 south 350000 6300000")
    assert parse_location("56H 350000 6300000").latitude_deg == south.latitude_deg
    assert -40.0 < south.latitude_deg < -32.0


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "it is empty"),
        (" \u00a0\n", "it is empty"),
        ("nonsense", "it holds no numbers"),
        ("nan nan", "it holds no numbers"),
        ("inf 12", "'inf' is not part of any notation"),
        ("46.2057", "needs two coordinates"),
        ("46.2 -21.3 12.5 3", "only the last of degrees, minutes and seconds may have decimals"),
        ("46 12 5", "put a comma between them"),
        ("121.3 45.1", "did you mean '45.1 121.3'"),
        ("-121.3 45.1", "did you mean '45.1 -121.3'"),
        ("200 45", "latitude 200 is beyond 90 degrees"),
        ("45 200", "longitude 200 is beyond 180 degrees"),
        ("90.0001 10", "latitude 90.0001 is beyond 90 degrees"),
        ("121N 45E", "latitude 121 is beyond 90 degrees;"),
        ("46 60 N 21 18 W", "60 minutes are not below 60"),
        ("46 12 75 N 21 18 10 W", "75 seconds are not below 60"),
        ("-46.2N 21.3W", "both a minus sign and N"),
        ("46.2N 21.3", "only one coordinate has a hemisphere letter"),
        ("46.2N 21.3S", "N and S name the same axis"),
        ("46.2E 21.3W", "E and W name the same axis"),
        ("46,5,21", "too many commas"),
        ("46 12,5 21 18", "its commas can be decimal or part the coordinates"),
        ("46 12 -21 -18", "only degrees may carry a sign"),
        ("46'12 21'18", "is out of place"),
        ("46.2 21.3 twelve", "'twelve' is not part of any notation"),
        ("JN58T", "is not a locator"),
        ("SN58TD", "is not a locator"),
        ("JN58YA", "is not a locator"),
        ("HN96ie29li12", "is not a locator"),
        ("31N 430000 4650000", "band, not a hemisphere: for that write 31 north"),
        ("31Q 430000 4650000", "31Q is latitude band Q"),
        ("61T 430000 4650000", "zone 61 does not exist"),
        ("0T 430000 4650000", "zone 0 does not exist"),
        ("31I 430000 4650000", "band 'I' does not exist"),
        ("31T 4300000 465000", "are not UTM"),
        ("31 north 500000 9900000", "outside the UTM grid"),
        ("31A 430000 4650000", "polar grid"),
        ("27T VM 7588 16950", "two of equal length"),
        ("27T VM 123", "is not an MGRS reference"),
        ("27T VM 123456789012", "is not an MGRS reference"),
        ("27T VI 12 12", "does not exist in zone 27"),
        ("27T AM 12 12", "does not exist in zone 27"),
        ("31T AA 12 12", "outside zone 31T"),
        ("32X NF", "zone 32X does not exist"),
        ("1" * 201, "it is 201 characters long"),
    ],
)
def test_impossible_text_gets_one_line(text: str, reason: str) -> None:
    with pytest.raises(LocationError, match="cannot read") as caught:
        parse_location(text)
    line = str(caught.value)
    assert reason in line
    assert ACCEPTED_FORMS in line
    assert "\n" not in line
    assert len(line) < 520


def test_the_accepted_forms_shown_are_accepted_and_name_one_place() -> None:
    inside = ACCEPTED_FORMS.replace(" or ", " ").replace("(", "|").replace(")", "|").split("|")[1::2]
    examples = [example.strip() for group in inside for example in group.split(",")]
    assert len(examples) == 6
    for example in examples:
        place = parse_location(example)
        assert abs(place.latitude_deg - LAT) * 111_195 <= place.uncertainty_m + 60, example
        assert abs(place.longitude_deg - LON) * 77_000 <= place.uncertainty_m + 60, example


def test_long_and_repetitive_text_is_refused() -> None:
    # Each of these would hang a reader that backtracks.
    hostile = ["9" * 10_000_000, "4 " * 99, "46," * 66, "N" * 200, "1T" + " 1" * 99, "°'\"" * 66, "1.1" * 66]
    for text in hostile:
        with pytest.raises(LocationError, match="cannot read"):
            parse_location(text)


def _check_place_or_line(text: str) -> None:
    line = ""
    try:
        place = parse_location(text)
    except LocationError as error:
        line = str(error)
    if line:
        assert "cannot read" in line
        assert ACCEPTED_FORMS in line
        assert line.isprintable()
    else:
        assert math.isfinite(place.uncertainty_m)


@given(st.text(max_size=60))
def test_any_text_gives_a_place_or_one_line(text: str) -> None:
    _check_place_or_line(text)


@given(st.text(alphabet="0123456789 .,;-+NSEWnsewdmsTVM°'\"", max_size=40))
def test_text_made_of_the_right_letters_gives_a_place_or_one_line(text: str) -> None:
    _check_place_or_line(text)


@given(st.floats(-90, 90), st.floats(-180, 180))
def test_every_decimal_is_read_back_exactly(lat: float, lon: float) -> None:
    place = parse_location(f"{lat:.17f} {lon:.17f}")
    assert place.latitude_deg == pytest.approx(lat, abs=1e-14)
    assert place.longitude_deg == pytest.approx(lon, abs=1e-13)


@pytest.mark.parametrize(
    ("fields", "match"),
    [
        ((90.1, 0.0), "latitude 90.1 is impossible"),
        ((math.nan, 0.0), "latitude nan is impossible"),
        ((0.0, 180.1), "longitude 180.1 is impossible"),
        ((0.0, 0.0, "", -1.0), "uncertainty -1.0 m is impossible"),
        ((0.0, 0.0, "", math.nan), "uncertainty nan m is impossible"),
    ],
)
def test_a_location_checks_itself(fields: tuple[float, ...], match: str) -> None:
    with pytest.raises(LocationError, match=match):
        Location(*fields)  # type: ignore[arg-type]
