"""Heights, distances and frequencies as typed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pathprofile.errors import OutOfRangeError
from pathprofile.quantities import BANDS, band_of, parse_distance_m, parse_frequency_mhz, parse_height_m


@pytest.mark.parametrize(
    ("text", "height_m"),
    [
        ("6", 6.0),
        ("6m", 6.0),
        (" 6.5 M ", 6.5),
        ("6,5", 6.5),
        ("20ft", 6.096),
        ("20 feet", 6.096),
        ("20'", 6.096),
        ("0", 0.0),
        (".5m", 0.5),
        ("６ｍ", 6.0),
    ],
)
def test_heights(text: str, height_m: float) -> None:
    # The international foot is 0.3048 m by definition.
    assert parse_height_m(text) == pytest.approx(height_m, abs=1e-12)


def test_ground_may_lie_below_the_sea() -> None:
    assert parse_height_m("-410", lowest_m=-500.0) == -410.0
    assert parse_height_m("\u2212410 m", lowest_m=-500.0) == -410.0


@pytest.mark.parametrize(
    "text", ["", "nan", "inf", "-inf", "six", "6 m 2", "m", "1e3", "6mm", "6 km", "9" * 50]
)
def test_no_height(text: str) -> None:
    with pytest.raises(OutOfRangeError, match=r"height.*give 0 to 10000 m, such as 6, 6m or 20ft"):
        parse_height_m(text)


@pytest.mark.parametrize("text", ["-1", "-0.01m", "10001", "40000ft"])
def test_heights_out_of_range(text: str) -> None:
    with pytest.raises(OutOfRangeError, match=f"height '{text}' is out of range"):
        parse_height_m(text)


@pytest.mark.parametrize(
    ("text", "distance_m"),
    [
        ("12.4km", 12_400.0),
        ("3mi", 4828.032),
        ("500m", 500.0),
        ("300 ft", 91.44),
        ("2nmi", 3704.0),
        ("12,4 KM", 12_400.0),
    ],
)
def test_distances(text: str, distance_m: float) -> None:
    # Mile 1609.344 m and nautical mile 1852 m by definition.
    assert parse_distance_m(text) == pytest.approx(distance_m, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("12.4", "has no unit"),
        ("12 leagues", "unknown unit 'leagues'"),
        ("nan km", "is not a distance"),
        ("0km", "out of range"),
        ("-3km", "out of range"),
        ("30000km", "out of range"),
    ],
)
def test_impossible_distances(text: str, match: str) -> None:
    with pytest.raises(OutOfRangeError, match=match):
        parse_distance_m(text)


def test_no_distance_where_that_will_do() -> None:
    assert parse_distance_m("0km", zero=True) == 0.0
    with pytest.raises(OutOfRangeError, match="give at least 0"):
        parse_distance_m("-1km", zero=True)


@pytest.mark.parametrize(
    ("text", "frequency_mhz"),
    [
        ("146.52", 146.52),
        ("146.52MHz", 146.52),
        ("146,52 mhz", 146.52),
        ("1.296GHz", 1296.0),
        ("144300 kHz", 144.3),
        ("30", 30.0),
        ("3GHz", 3000.0),
    ],
)
def test_frequencies(text: str, frequency_mhz: float) -> None:
    assert parse_frequency_mhz(text) == pytest.approx(frequency_mhz, rel=1e-12)


@pytest.mark.parametrize("text", ["2m", "2M", "2 m", " 2m "])
def test_a_band_stands_for_a_frequency_in_it(text: str) -> None:
    assert band_of(parse_frequency_mhz(text)) == "2m"


@pytest.mark.parametrize("name", list(BANDS))
def test_every_band_name_is_read(name: str) -> None:
    assert band_of(parse_frequency_mhz(name)) == name
    # The name is the wavelength, roughly: 299.79 / f, within the custom of rounding it.
    metres = float(name.removesuffix("cm")) / 100 if name.endswith("cm") else float(name.removesuffix("m"))
    assert 299.792458 / parse_frequency_mhz(name) == pytest.approx(metres, rel=0.1)


def test_the_comma_in_a_band_name() -> None:
    assert parse_frequency_mhz("1,25m") == parse_frequency_mhz("1.25 m")


@pytest.mark.parametrize(
    "text", ["29.999", "3000.1", "3.1GHz", "-146", "0", "14m", "nan", "inf", "two metres", ""]
)
def test_frequencies_out_of_range(text: str) -> None:
    with pytest.raises(OutOfRangeError, match=r"give 30 MHz to 3 GHz.*or a band: 6m, 4m, 2m"):
        parse_frequency_mhz(text)


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("144300", "144.3"),
        ("145512.5", "145.5125"),
        ("30000", "30"),
        ("3000000", "3000"),
        ("144300000", "144.3"),
        ("432200000 MHz", "432.2"),
    ],
)
def test_kilohertz_and_hertz_typed_for_megahertz(text: str, meant: str) -> None:
    with pytest.raises(OutOfRangeError, match=rf"out of range: did you mean {meant} \(MHz\)\? give 30 MHz"):
        parse_frequency_mhz(text)


@pytest.mark.parametrize("text", ["29.9", "3000.5", "29999", "3000001", "3000000001", "0"])
def test_other_frequencies_out_of_range_get_no_guess(text: str) -> None:
    with pytest.raises(OutOfRangeError, match="out of range: give 30 MHz"):
        parse_frequency_mhz(text)


@pytest.mark.parametrize(
    ("frequency_mhz", "band"),
    [
        (50.313, "6m"),
        (144.0, "2m"),
        (148.0, "2m"),
        (146.52, "2m"),
        (446.0, "70cm"),
        (1296.0, "23cm"),
        (100.0, None),
    ],
)
def test_band_names(frequency_mhz: float, band: str | None) -> None:
    # ITU Radio Regulations, Article 5, widest of the regions (from memory).
    assert band_of(frequency_mhz) == band


@given(st.text(max_size=50))
def test_any_text_gives_a_number_in_range_or_one_line(text: str) -> None:
    # The longest distance is half a meridian of WGS 84, 20003.93 km.
    parsers = {parse_height_m: 10_000.0, parse_distance_m: 20_004_000.0, parse_frequency_mhz: 3000.0}
    for parse, most in parsers.items():
        value, line = 0.0, "no error"
        try:
            value = parse(text)
        except OutOfRangeError as error:
            line = str(error)
        assert 0.0 <= value <= most
        assert line.isprintable()
