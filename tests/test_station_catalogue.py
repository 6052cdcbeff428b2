import pytest
from hypothesis import given
from hypothesis import strategies as st

from pathprofile.errors import StationError
from pathprofile.station.catalogue import (
    ANTENNAS,
    BANDS,
    CABLES,
    MODES,
    NOISE_CATEGORIES,
    SURROUNDINGS,
    antenna_name,
    band_of,
    band_span_mhz,
    cable_name,
    mode_name,
    noise_category_name,
    planning_mhz,
)

# Noise bandwidth in kHz, signal-to-noise for just readable and for comfortable copy (common practice)
NEEDS = {
    "fm": (15.0, 10, 20),
    "fm-narrow": (9.0, 12, 20),
    "ssb": (2.4, 6, 10),
    "morse": (0.5, -3, 3),
    "packet-1200": (15.0, 14, 18),
    "packet-9600": (15.0, 19, 23),
    "digital-voice": (9.0, 12, 16),
    "weak-digital": (2.5, -20, -16),
}


def test_what_each_mode_needs() -> None:
    found = {
        name: (mode.noise_bandwidth_hz / 1e3, mode.readable_snr_db, mode.comfortable_snr_db)
        for name, mode in MODES.items()
    }
    assert found == NEEDS


def test_every_name_finds_itself() -> None:
    for find, table in (
        (antenna_name, ANTENNAS),
        (cable_name, CABLES),
        (mode_name, MODES),
        (noise_category_name, NOISE_CATEGORIES),
        (band_of, BANDS),
    ):
        for name in table:
            assert find(name) == find(f" {name.upper()} ") == name
        assert len({find(name) for name in table}) == len(table)


def test_labels_of_modes_are_names_too() -> None:
    assert {mode_name(mode.label): name for name, mode in MODES.items()} == {name: name for name in MODES}


@pytest.mark.parametrize(
    ("text", "band"),
    [
        ("70cm", "70 cm"),
        ("1.25M", "1.25 m"),
        (144.3, "2 m"),
        ("446.1 MHz", "70 cm"),
        (160, "160 MHz"),
        ("868.5", "868.5 MHz"),
    ],
)
def test_bands(text: str | float, band: str) -> None:
    assert band_of(text) == band
    assert band_of(band) == band


@given(st.floats(30.0, 3000.0))
def test_any_frequency_has_a_band_that_holds_it(frequency_mhz: float) -> None:
    low, high = band_span_mhz(band_of(frequency_mhz))
    assert low <= frequency_mhz <= high


def test_planning_frequency_lies_in_its_band() -> None:
    assert all(band_of(planning_mhz(band)) == band for band in BANDS)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("3 m", r"unknown band '3 m'; did you mean"),
        ("zzzzzz", r"unknown band 'zzzzzz'; known: 6 m, 4 m, 2 m"),
        (14.2, r"frequency 14\.2 MHz: accepted 30 to 3000 MHz"),
        ("1.2.3", r"unknown band '1\.2\.3'"),
        (float("nan"), r"frequency nan MHz: accepted 30 to 3000 MHz"),
        (True, r"band True is no name and no frequency"),
        (None, r"band None is no name and no frequency"),
    ],
)
def test_bad_bands(text: object, message: str) -> None:
    with pytest.raises(StationError, match=message):
        band_of(text)


@pytest.mark.parametrize(
    ("find", "text", "message"),
    [
        (mode_name, "fmm", "unknown mode 'fmm'; did you mean fm"),
        (cable_name, "RG-85", "unknown cable 'RG-85'; did you mean RG-8X or RG-58"),
        (antenna_name, "log periodik", "unknown antenna 'log periodik'; did you mean log-periodic"),
        (noise_category_name, "sity", "unknown noise category 'sity'; did you mean city"),
        (antenna_name, 5, "antenna 5 is not a name; known: handheld stub"),
    ],
)
def test_unknown_names_suggest_the_nearest(find, text: object, message: str) -> None:
    with pytest.raises(StationError, match=message):
        find(text)


def test_a_huge_name_gives_a_short_line() -> None:
    with pytest.raises(StationError, match="unknown antenna") as caught:
        antenna_name("x" * 1_000_000)
    assert len(str(caught.value)) < 400


def test_surroundings_lead_to_noise_and_clutter() -> None:
    assert {name: s.clutter_m for name, s in SURROUNDINGS.items()} == {
        "open": 0.0,
        "suburb": 8.0,
        "wooded": 15.0,
    }
    assert all(s.noise_category in NOISE_CATEGORIES for s in SURROUNDINGS.values())
