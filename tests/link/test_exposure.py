import math

import pytest

from pathprofile.errors import OutOfRangeError
from pathprofile.link.exposure import (
    exposure,
    exposures_by_line,
    exposures_by_set_up,
    fcc_limit_w_m2,
    icnirp_limit_w_m2,
    rounded_up,
    safe_distance_m,
)
from pathprofile.station import Station


@pytest.mark.parametrize(
    ("frequency_mhz", "mw_cm2"),
    [(50.2, 0.2), (146.0, 0.2), (299.0, 0.2), (440.0, 0.2933), (1296.0, 0.864), (2400.0, 1.0)],
)
def test_fcc_limits_for_the_public(frequency_mhz: float, mw_cm2: float) -> None:
    # 47 CFR 1.1310, general population: 0.2 mW/cm² for 30-300 MHz, f/1500 to 1500 MHz, then 1.0
    assert fcc_limit_w_m2(frequency_mhz) == pytest.approx(10 * mw_cm2, rel=1e-3)


@pytest.mark.parametrize(
    ("frequency_mhz", "w_m2"), [(50, 2.0), (400, 2.0), (433, 2.165), (1296, 6.48), (2400, 10.0)]
)
def test_icnirp_limits_for_the_public(frequency_mhz: float, w_m2: float) -> None:
    # ICNIRP 2020, general public, whole body, 30 min (from memory)
    assert icnirp_limit_w_m2(frequency_mhz) == pytest.approx(w_m2)


def test_distance_agrees_with_the_field_strength_route() -> None:
    # OET Bulletin 65 §2: field of an antenna in free space sqrt(30 EIRP)/R V/m, 1.6 times that over ground;
    # power density is E²/377 (impedance of free space 376.73 Ω, so 30 Ω is 29.98)
    eirp_w, limit_w_m2 = 100.0, 2.0
    field_v_m = math.sqrt(limit_w_m2 * 376.73)
    by_field_m = 1.6 * math.sqrt(30.0 * eirp_w) / field_v_m
    assert safe_distance_m(eirp_w, 1.0, limit_w_m2) == pytest.approx(by_field_m, rel=1e-3)


def test_distance_scales_with_the_root_of_power_and_duty() -> None:
    one = safe_distance_m(25.0, 1.0, 2.0)
    assert safe_distance_m(100.0, 1.0, 2.0) == pytest.approx(2 * one)
    assert safe_distance_m(100.0, 0.25, 2.0) == pytest.approx(one)


def test_ten_watts_on_a_log_periodic(make_end) -> None:
    # by hand: 10 W with +6.5 - 1.8 dB is 29.5 W; sqrt(2.56 * 29.5 / (4 pi 2)) = 1.73 m, shown rounded up
    end = make_end(
        mode="fm",
        antenna={"kind": "log-periodic"},
        feedline={"loss_db": 1.8},
        duty=1.0,
        noise={"category": "rural"},
    )
    found = exposure(end)
    assert found.keep_m == pytest.approx(1.73, abs=0.01)
    assert found.words.startswith("Keep 1.8 m from the antenna at Gull Tor at 10 W")
    assert "not a legal assessment" in found.words


def test_the_larger_distance_is_kept(make_end) -> None:
    found = exposure(make_end(mhz=433.0, mode="fm", bands=["70 cm"]))
    assert found.fcc_m is not None
    assert found.icnirp_m is not None
    assert found.keep_m == max(found.fcc_m, found.icnirp_m)
    assert found.icnirp_m > found.fcc_m  # 2.165 against 2.887 W/m²


def test_no_distance_for_a_handheld(make_end) -> None:
    found = exposure(make_end(mode="fm", antenna={"kind": "handheld stub"}))
    assert found.keep_m is None
    assert "do not hold it against the head" in found.words
    assert "follow the radio's manual" in found.words


def test_a_set_up_keeps_the_distance_of_its_longest_sending_mode() -> None:
    """Duty 0.2 in SSB, 1 in FM (47 CFR 1.1310 averages over time): √5 farther than planned in SSB."""
    beam = {
        "bands": ["2 m"], "power_w": 10, "antenna": {"gain_dbi": 12.0}, "feedline": {"loss_db": 0.0},
        "height_m": 4,
    }  # fmt: skip
    stub = {"bands": ["70 cm"], "modes": ["fm"], "power_w": 5, "antenna": {"kind": "handheld stub"}}
    station = Station.read({"name": "Gull Tor", "place": "46.2 -21.3", "set_ups": [beam, stub]})
    by_beam, by_stub = exposures_by_set_up(station, [144.3, 433.5, 144.3])
    # by hand: 10 W and 12 dBi are 158.5 W; sqrt(2.56 * 158.5 / (4 pi 2)) = 4.02 m
    assert by_beam.keep_m == pytest.approx(4.02, abs=0.01)
    assert (by_beam.mode, by_beam.duty, by_beam.power_w) == ("fm", 1.0, 10.0)
    assert "in FM, duty 1" in by_beam.words
    assert (by_stub.keep_m, by_stub.power_w) == (None, 5.0)
    named = {"name": "Gull Tor", "place": "46.2 -21.3"}
    only_ssb = Station.read({**named, "set_ups": [beam | {"modes": ["ssb"]}]})
    (alone,) = exposures_by_set_up(only_ssb, [144.3])
    assert alone.keep_m == pytest.approx(4.02 / math.sqrt(5.0), abs=0.01)
    assert exposures_by_set_up(only_ssb, [433.5]) == ()


def test_bands_stay_apart_for_who_shortens_the_line() -> None:
    """One vertical on two bands: which asks for most changes with the loss of the line, so both are kept."""
    both = {
        "bands": ["2 m", "70 cm"], "modes": ["fm"], "power_w": 50, "antenna": {"kind": "collinear"},
        "feedline": {"cable": "RG-58", "length_m": 20.0}, "height_m": 6,
    }  # fmt: skip
    station = Station.read({"name": "Gull Tor", "place": "46.2 -21.3", "set_ups": [both]})
    apart = exposures_by_line(station, [145.5, 433.5])
    assert len(apart) == 2
    (most,) = exposures_by_set_up(station, [145.5, 433.5])
    assert most.keep_m == max(each.keep_m for each in apart)
    for each in apart:
        # FCC OET Bulletin 65, section 2: the distance goes with the root of the power radiated
        lossless = each.keep_m * 10 ** (each.line_loss_db / 20.0)
        bare = {
            **both,
            "feedline": {"loss_db": 0.0},
            "bands": ["2 m" if each.line_loss_db < 5.0 else "70 cm"],
        }
        (alone,) = exposures_by_set_up(
            Station.read({"name": "Gull Tor", "place": "46.2 -21.3", "set_ups": [bare]}),
            [145.5 if each.line_loss_db < 5.0 else 433.5],
        )
        assert lossless == pytest.approx(alone.keep_m)


def test_distances_are_never_rounded_down() -> None:
    assert [rounded_up(each) for each in (1.41, 1.5, 3.2000001, 0.0)] == [1.5, 1.5, 3.3, 0.1]


@pytest.mark.parametrize("bad", [(-1.0, 1.0, 2.0), (1.0, 1.1, 2.0), (1.0, 1.0, 0.0), (math.nan, 1.0, 2.0)])
def test_impossible_figures(bad: tuple[float, float, float]) -> None:
    with pytest.raises(OutOfRangeError, match=r"accepted 0 W or more, duty 0 to 1, a limit above 0"):
        safe_distance_m(*bad)
