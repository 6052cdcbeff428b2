import math
from dataclasses import replace

import pytest

from pathprofile.errors import OutOfRangeError, StationError
from pathprofile.link import PathFacts, budget
from pathprofile.link.noise import KT0_DBM_HZ
from pathprofile.station.catalogue import MODES

LIGHT_M_S = 299_792_458.0


def rich_ends(make_end, mode: str = "ssb"):
    you = make_end(
        mode=mode,
        antenna={"kind": "log-periodic", "pointing": 60.0},
        feedline={"cable": "RG-58", "length_m": 12, "connectors": 2, "adapters": 1},
        power_w=10,
        receiver={"noise_figure_db": 4},
        noise={"category": "shared radio site", "desensitization_db": 6, "extra_db": 3},
        polarization="vertical",
    )
    them = make_end(
        "Marsh End",
        mode=mode,
        antenna={"gain_dbd": 7.85, "front_to_back_db": 18},
        feedline={"loss_db": 1.6},
        power_w=50,
        receiver={"noise_figure_db": 2},
        noise={"category": "residential"},
        polarization="slant",
    )
    return you, them


PATH = PathFacts(144.3, 168.5, 44.0, 226.0, 1.5, -2.0)


@pytest.mark.parametrize("mode", MODES)
def test_every_term_re_added(make_end, mode: str) -> None:
    """Both directions added up again from the plain inputs, with formulas of this test's own."""
    you, them = rich_ends(make_end, mode)
    out, back = budget(you, them, PATH), budget(them, you, PATH.reversed())

    # the cable's loss is checked in test_feedline
    your_line_db, their_line_db = you.line_loss_db, 1.6
    their_gain_dbi = 7.85 + 2.15
    product = 32_400 / 10**0.65
    azimuth_width, elevation_width = math.sqrt(product * 1.6), math.sqrt(product / 1.6)  # upright
    your_pattern_db = 12 * ((60 - 44) / azimuth_width) ** 2 + 12 * (1.5 / elevation_width) ** 2
    theirs = math.sqrt(3240 / 1.35)  # 10 dBi, slant elements taken as upright: along is the elevation
    their_pattern_db = 12 * (2.0 / theirs) ** 2
    common_db = -168.5 - 3.0 + 6.5 + their_gain_dbi - your_line_db - their_line_db
    common_db -= your_pattern_db + their_pattern_db
    assert out.level_dbm == pytest.approx(40.0 + common_db, abs=1e-9)
    assert back.level_dbm == pytest.approx(10 * math.log10(50_000) + common_db, abs=1e-9)
    assert out.eirp_dbm == pytest.approx(40.0 - your_line_db + 6.5, abs=1e-9)

    def noise_dbm(
        c: float, d: float, extra: float, line_db: float, figure_db: float, lost_db: float
    ) -> float:
        log_f = math.log10(144.3)
        outside = (10 ** ((c - d * log_f) / 10) + 10 ** ((52 - 23 * log_f) / 10)) * 10 ** (extra / 10)
        line = 10 ** (line_db / 10)
        total = (outside + line * 10 ** (figure_db / 10) - 1) / line
        bandwidth_hz = MODES[mode].noise_bandwidth_hz
        return -173.975 + 10 * math.log10(bandwidth_hz * total) + lost_db

    assert out.noise_dbm == pytest.approx(noise_dbm(72.5, 27.7, 0, 1.6, 2, 0), abs=1e-9)
    assert back.noise_dbm == pytest.approx(noise_dbm(67.2, 27.7, 3, your_line_db, 4, 6), abs=1e-9)
    for one in (out, back):
        assert one.snr_db == pytest.approx(one.level_dbm - one.noise_dbm, abs=1e-9)
        assert one.margin_db == pytest.approx(one.snr_db - MODES[mode].readable_snr_db, abs=1e-9)
        assert one.comfortable_margin_db == pytest.approx(
            one.snr_db - MODES[mode].comfortable_snr_db, abs=1e-9
        )


def test_listed_terms_add_up_to_the_margin(make_end) -> None:
    you, them = rich_ends(make_end)
    for one in (budget(you, them, PATH), budget(them, you, PATH.reversed())):
        sums = dict.fromkeys(("eirp", "level", "noise", "required"), 0.0)
        for term in one.terms:
            sums[term.plane] += term.value_db
            assert term.source
        assert sums["eirp"] == pytest.approx(one.eirp_dbm, abs=1e-9)
        assert sums["eirp"] + sums["level"] == pytest.approx(one.level_dbm, abs=1e-9)
        assert sums["noise"] == pytest.approx(one.noise_dbm, abs=1e-9)
        margin = sums["eirp"] + sums["level"] - sums["noise"] - sums["required"]
        assert margin == pytest.approx(one.margin_db, abs=1e-9)


def test_lossless_isotropic_pair_in_free_space_is_friis(make_end) -> None:
    # H. T. Friis, Proc. IRE 34, 1946: Pr/Pt = (λ / 4πd)² between isotropic antennas
    distance_m, frequency_hz = 25_000.0, 144.3e6
    wavelength_m = LIGHT_M_S / frequency_hz
    received_w = 10.0 * (wavelength_m / (4 * math.pi * distance_m)) ** 2
    loss_db = 20 * math.log10(4 * math.pi * distance_m / wavelength_m)
    found = budget(make_end(), make_end("Marsh End"), PathFacts(144.3, loss_db))
    assert found.level_dbm == pytest.approx(10 * math.log10(received_w * 1e3), abs=1e-9)
    assert found.level_uv == pytest.approx(math.sqrt(received_w * 50) * 1e6, rel=1e-9)


def test_published_free_space_link(make_end) -> None:
    # C. A. Balanis, Antenna Theory, worked example of the Friis equation (from memory): 100 wavelengths,
    # 16 dB and 20 dB, reflection coefficients 0.1 and 0.2, 2 W into the line: 4.777 mW delivered. The book
    # rounds on the way (unrounded 4.792 mW), hence 0.02 dB.
    you = make_end(
        mhz=300.0,
        antenna={"gain_dbi": 16.0, "pointing": "all round"},
        feedline={"loss_db": -10 * math.log10(1 - 0.1**2)},
        power_w=2.0,
    )
    them = make_end(
        "Marsh End",
        mhz=300.0,
        antenna={"gain_dbi": 20.0, "pointing": "all round"},
        feedline={"loss_db": -10 * math.log10(1 - 0.2**2)},
    )
    found = budget(you, them, PathFacts(300.0, 20 * math.log10(4 * math.pi * 100)))
    assert found.level_dbm == pytest.approx(10 * math.log10(4.777), abs=0.02)


@pytest.mark.parametrize("more_db", [-7.0, 3.0, 10.0])
def test_margin_moves_db_for_db_with_power(make_end, more_db: float) -> None:
    you, them = rich_ends(make_end)
    more = replace(you, power_w=you.power_w * 10 ** (more_db / 10))
    one, other = budget(you, them, PATH), budget(more, them, PATH)
    assert other.margin_db - one.margin_db == pytest.approx(more_db, abs=1e-9)
    assert budget(them, more, PATH.reversed()).margin_db == budget(them, you, PATH.reversed()).margin_db


def test_margin_moves_db_for_db_with_path_loss(make_end) -> None:
    you, them = rich_ends(make_end)
    lossier = replace(PATH, loss_db=PATH.loss_db + 4.2)
    assert budget(you, them, PATH).margin_db - budget(you, them, lossier).margin_db == pytest.approx(4.2)


def test_directions_differ_by_powers_and_noises_alone(make_end) -> None:
    you, them = rich_ends(make_end)
    out, back = budget(you, them, PATH), budget(them, you, PATH.reversed())
    power_db = 10 * math.log10(50 / 10)
    assert back.margin_db - out.margin_db == pytest.approx(
        power_db + out.noise_dbm - back.noise_dbm, abs=1e-9
    )


def test_measured_floor_replaces_the_noise(make_end) -> None:
    # -110 dBm in 12 kHz is -150.79 dBm/Hz, in 2.4 kHz -116.99 dBm; the receiver's own noise is already in it
    for figure_db in (1.0, 12.0):
        end = make_end(
            noise={"floor_dbm": -110, "floor_bandwidth_khz": 12}, receiver={"noise_figure_db": figure_db}
        )
        assert budget(make_end("Marsh End"), end, PATH).noise_dbm == pytest.approx(-116.99, abs=0.005)


def test_s_reading_of_the_noise(make_end) -> None:
    # S3 by IARU Region 1 R.1 is -93 - 36 = -129 dBm in the SSB bandwidth; 500 Hz hold 6.81 dB less
    end = make_end(noise={"s_reading": "S3"})
    assert budget(make_end("Marsh End"), end, PATH).noise_dbm == pytest.approx(-129.0)
    end = make_end(mode="morse", noise={"s_reading": "S3"})
    assert budget(make_end("Marsh End", mode="morse"), end, PATH).noise_dbm == pytest.approx(
        -135.81, abs=0.005
    )


def test_noise_rise_over_a_load(make_end) -> None:
    # a load at 290 K and 5 dB: -173.975 + 33.80 + 5 = -135.17 dBm in 2.4 kHz; hiss rises by 8 dB
    end = make_end(noise={"rise_db": 8}, receiver={"noise_figure_db": 5}, feedline={"loss_db": 3})
    assert budget(make_end("Marsh End"), end, PATH).noise_dbm == pytest.approx(-127.17, abs=0.005)


def test_noise_never_falls_below_thermal(make_end) -> None:
    end = make_end(mhz=1296.2, noise={"category": "quiet rural"}, receiver={"noise_figure_db": 0})
    found = budget(make_end("Marsh End", mhz=1296.2), end, replace(PATH, frequency_mhz=1296.2))
    assert found.noise_dbm == pytest.approx(KT0_DBM_HZ + 10 * math.log10(2400))
    assert any("raised to 0 dB" in note for note in found.notes)


def test_crossed_polarization_shows_its_range(make_end) -> None:
    you, them = make_end(polarization="vertical"), make_end("Marsh End", polarization="horizontal")
    hidden, clear = budget(you, them, PATH), budget(you, them, replace(PATH, in_sight=True))
    assert hidden.level_dbm - clear.level_dbm == pytest.approx(10.0)
    assert (clear.polarization.least_db, clear.polarization.most_db) == (10.0, 20.0)
    assert any("crossed polarization (vertical to horizontal): 10 to 20 dB" in note for note in clear.notes)


def test_fm_has_words_and_no_s_reading(make_end) -> None:
    you, them = make_end(mode="fm"), make_end("Marsh End", mode="fm")
    words = {}
    for loss_db in (175, 145, 140, 110):
        found = budget(you, them, replace(PATH, loss_db=loss_db))
        assert found.s_reading is None
        words[loss_db] = found.copy_word
    assert words == {175: "not readable", 145: "noisy", 140: "readable", 110: "quiet"}
    ssb = budget(make_end(), make_end("Marsh End"), PATH)
    assert ssb.copy_word is None
    assert ssb.s_reading is not None


def test_a_mode_needs_both_ends(make_end) -> None:
    with pytest.raises(StationError, match=r"Gull Tor in ssb, Marsh End in fm: choose one mode"):
        budget(make_end(), make_end("Marsh End", mode="fm"), PATH)


def test_frequencies_must_agree(make_end) -> None:
    with pytest.raises(
        OutOfRangeError, match=r"Gull Tor on 50\.2 MHz, path for 144\.3 MHz: accepted within 2 %"
    ):
        budget(make_end(mhz=50.2), make_end(mhz=50.2), PATH)


@pytest.mark.parametrize("loss_db", [math.nan, math.inf])
def test_a_loss_must_be_a_number(make_end, loss_db: float) -> None:
    with pytest.raises(OutOfRangeError, match=r"path loss (nan|inf) dB: accepted a finite number"):
        budget(make_end(), make_end("Marsh End"), PathFacts(144.3, loss_db))


def test_a_path_turned_twice_is_itself() -> None:
    assert PATH.reversed().reversed() == PATH
    assert PATH.reversed().azimuth_out_deg == PATH.azimuth_back_deg
