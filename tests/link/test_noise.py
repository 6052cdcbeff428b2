import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pathprofile.errors import OutOfRangeError, StationError
from pathprofile.link.noise import (
    KT0_DBM_HZ,
    cascaded_db,
    external_noise,
    microvolts,
    noise_figure_from_sensitivity_db,
    s_reading,
    s_reading_dbm,
)

BOLTZMANN_J_K = 1.380649e-23  # SI brochure, 9th edition: exact


def test_thermal_noise() -> None:
    assert pytest.approx(10 * math.log10(BOLTZMANN_J_K * 290.0) + 30.0, abs=1e-3) == KT0_DBM_HZ


@pytest.mark.parametrize(
    ("category", "frequency_mhz", "man_made_db"),
    [
        # ITU-R P.372 (constants from memory), worked by hand at decades where log f is whole
        ("city", 100.0, 76.8 - 55.4),
        ("residential", 100.0, 17.1),
        ("rural", 100.0, 11.8),
        ("quiet rural", 10.0, 25.0),
        ("residential", 145.0, 12.63),  # log 145 = 2.16137
    ],
)
def test_man_made_lines(category: str, frequency_mhz: float, man_made_db: float) -> None:
    assert external_noise(category, frequency_mhz).man_made_db == pytest.approx(man_made_db, abs=0.005)


def test_galactic_line() -> None:
    assert external_noise("rural", 100.0).galactic_db == pytest.approx(6.0)  # P.372-16 §4.1 eq. 13


def test_sources_are_added_as_powers() -> None:
    # by hand at 100 MHz, rural: 11.8 dB is 15.14, 6.0 dB is 3.98; together 19.12, 12.81 dB
    assert external_noise("rural", 100.0).figure_db == pytest.approx(12.81, abs=0.01)


def test_external_noise_does_not_fall_below_290_k_in_silence() -> None:
    noise = external_noise("rural", 1296.2)
    assert noise.figure_db == 0.0
    assert any("raised to 0 dB" in note for note in noise.notes)
    assert not any("raised" in note for note in external_noise("rural", 145.0).notes)


def test_extrapolation_is_said() -> None:
    assert any("extrapolated" in note for note in external_noise("residential", 433.0).notes)
    assert any("modern house" in note for note in external_noise("residential", 433.0).notes)
    assert not any("modern house" in note for note in external_noise("rural", 433.0).notes)
    assert external_noise("residential", 145.0).notes == ()
    assert "above 100 MHz" in external_noise("residential", 145.0).source
    assert "extrapolated" not in external_noise("residential", 70.2).source


def test_local_noise_comes_on_top() -> None:
    plain, noisy = external_noise("rural", 145.0), external_noise("rural", 145.0, 10.0)
    assert noisy.figure_db == pytest.approx(plain.figure_db + 10.0)


def test_unknown_category_suggests_the_nearest() -> None:
    with pytest.raises(StationError, match=r"unknown noise category 'residental'; did you mean residential"):
        external_noise("residental", 145.0)


def test_cascade_against_a_worked_example() -> None:
    # C. A. Balanis, Antenna Theory, example on antenna temperature (from memory): 150 K at an antenna of
    # 99 % efficiency at 300 K (3.03 K more), 10 m of waveguide at 300 K with 0.0149 Np/m: 190.904 K at the
    # receiver's terminals. All temperatures scale together, so 290/300 of them suits a line at 290 K.
    scale = 290.0 / 300.0
    external_db = 10 * math.log10((150.0 + 3.03) * scale / 290.0)
    line_db = 20 * math.log10(math.e) * 0.0149 * 10.0
    found_k = 290.0 * 10 ** (cascaded_db(external_db, line_db, 0.0) / 10)
    assert found_k == pytest.approx(190.904 * scale, abs=0.01)


def test_a_line_at_290_k_adds_its_loss_to_the_noise_figure() -> None:
    # D. M. Pozar, Microwave Engineering, noise figure of a passive lossy line: F = L at 290 K; then by Friis'
    # formula 3 dB of line ahead of 5 dB are 8 dB at the antenna, so 5 dB at the receiver with a 290 K scene.
    assert cascaded_db(0.0, 3.0, 5.0) == pytest.approx(5.0)


def test_cascade_by_hand() -> None:
    # 12 dB outside is 15.849, 2 dB of line 1.5849, 5 dB receiver 3.1623:
    # (15.849 + 5.0119 - 1) / 1.5849 = 12.531
    assert cascaded_db(12.0, 2.0, 5.0) == pytest.approx(10.980, abs=0.001)


@given(st.floats(0.0, 40.0), st.floats(0.0, 30.0), st.floats(0.0, 20.0))
def test_cascade_limits(external_db: float, line_db: float, figure_db: float) -> None:
    total_db = cascaded_db(external_db, line_db, figure_db)
    assert total_db >= figure_db - 1e-9
    assert total_db <= 10 * math.log10(10 ** (external_db / 10) + 10 ** (figure_db / 10)) + 1e-9
    assert cascaded_db(external_db + 1.0, line_db, figure_db) > total_db


def test_sensitivity_gives_a_noise_figure() -> None:
    # stated rule: 0.18 µV for 12 dB SINAD in a 25 kHz channel is 5.3 dB ± 0.2
    assert noise_figure_from_sensitivity_db(0.18, 25.0) == pytest.approx(5.3, abs=0.2)
    # by hand in 12.5 kHz: 0.18 µV is -121.88 dBm; less 7 dB less (-134.43 dBm in 9 kHz): 5.55 dB
    assert noise_figure_from_sensitivity_db(0.18, 12.5) == pytest.approx(5.55, abs=0.01)


@pytest.mark.parametrize(("microvolt", "figure"), [(0.05, r"-5\.8"), (1.0, r"20\.2")])
def test_impossible_noise_figures_are_refused_with_the_arithmetic(microvolt: float, figure: str) -> None:
    with pytest.raises(StationError, match=rf"noise figure {figure} dB \(-.* dBm - 5 dB - \(-132\.2 dBm\)\)"):
        noise_figure_from_sensitivity_db(microvolt, 25.0)


def test_other_channels_have_no_rule() -> None:
    with pytest.raises(StationError, match=r"channel_khz = 6\.25: accepted 25 or 12\.5 kHz"):
        noise_figure_from_sensitivity_db(0.2, 6.25)


@pytest.mark.parametrize(
    ("level_dbm", "text"),
    [
        # IARU Region 1 Recommendation R.1: S9 = -93 dBm above 30 MHz, 6 dB an S-unit
        (-93.0, "S9"),
        (-99.0, "S8"),
        (-141.0, "S1"),
        (-83.0, "S9+10"),
        (-73.0, "S9+20"),
        (-92.0, "S9"),
        (-150.0, "below S1"),
    ],
)
def test_s_reading(level_dbm: float, text: str) -> None:
    assert s_reading(level_dbm) == text


@pytest.mark.parametrize(
    ("text", "level_dbm"), [("S9", -93.0), ("s3", -129.0), ("S9+10", -83.0), ("S 5", -117.0)]
)
def test_s_reading_read_back(text: str, level_dbm: float) -> None:
    assert s_reading_dbm(text) == level_dbm


@pytest.mark.parametrize("text", ["S12", "9", "S5+10", "loud", ""])
def test_bad_s_readings(text: str) -> None:
    with pytest.raises(OutOfRangeError, match=r"S-reading .*: accepted S0 to S9, or S9\+10"):
        s_reading_dbm(text)


def test_s9_is_5_microvolts() -> None:
    assert microvolts(-93.0) == pytest.approx(5.0, abs=0.01)  # IARU Region 1 R.1: 5 µV in 50 Ω
