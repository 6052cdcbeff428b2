import math

import pytest

from pathprofile.errors import OutOfRangeError
from pathprofile.link.exposure import exposure, fcc_limit_w_m2, icnirp_limit_w_m2, safe_distance_m


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


@pytest.mark.parametrize("bad", [(-1.0, 1.0, 2.0), (1.0, 1.1, 2.0), (1.0, 1.0, 0.0), (math.nan, 1.0, 2.0)])
def test_impossible_figures(bad: tuple[float, float, float]) -> None:
    with pytest.raises(OutOfRangeError, match=r"accepted 0 W or more, duty 0 to 1, a limit above 0"):
        safe_distance_m(*bad)
