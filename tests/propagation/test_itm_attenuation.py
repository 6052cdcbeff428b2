"""Leaves of the Irregular Terrain Model's reference attenuation, and the traps between them."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy.special import fresnel

from pathprofile.propagation.itm import attenuation, prepare
from pathprofile.propagation.itm.path_geometry import Horizons, PathGeometry, complete_geometry
from pathprofile.propagation.itm.point_to_point import radio_constants

RADIUS_M = 8.5e6


def obstructed(**changes: float) -> PathGeometry:
    """60 km over hills, horizons 8 and 9 km away; any field may be changed."""
    made = complete_geometry(
        60e3, 10.0, 5.0, 20.0, 10.0, Horizons(0.012, 0.008, 8e3, 9e3), 90.0, 301.0, RADIUS_M
    )
    return made._replace(**changes)


def in_sight(H_1: float, H_2: float, distance_m: float, dh: float = 0.0) -> PathGeometry:
    horizons = Horizons(0.0, 0.0, distance_m, distance_m)
    return complete_geometry(distance_m, H_1, H_2, 0.0, 0.0, horizons, dh, 301.0, RADIUS_M)


def average_ground(frequency_mhz: float, polarization: Any = "horizontal") -> attenuation.Radio:
    return radio_constants(frequency_mhz, polarization, 15.0, 0.005)


# --- leaves against closed forms ------------------------------------------------------------------------


def test_free_space() -> None:
    """Recommendation ITU-R P.525: 32.4 + 20 log f + 20 log d; the model's constant is 32.45."""
    assert attenuation.free_space_loss(100.0, 10e3) == pytest.approx(92.45, abs=1e-12)
    assert attenuation.free_space_loss(1.0, 1e3) == pytest.approx(32.45, abs=1e-12)


@pytest.mark.parametrize("v", [0.0, 0.3, 1.0, 2.0, 2.39, 2.41, 4.0, 20.0])
def test_knife_edge_approximates_the_fresnel_integral(v: float) -> None:
    """Exact loss: -20 log(sqrt((1 - C - S)^2 + (C - S)^2)/2), Recommendation ITU-R P.526 eq. (30)."""
    S, C = fresnel(v)
    exact = -20.0 * math.log10(math.hypot(1.0 - C - S, C - S) / 2.0)
    assert attenuation.knife_edge(v * v) == pytest.approx(exact, abs=0.35)


def test_height_gain_joins_its_branches() -> None:
    """Far out it is the shadow's own 0.05751 X - 4.343 ln X; at 2000 and 200 the branches meet nearly."""
    asymptote = 0.05751 * 2000.0 - 4.343 * math.log(2000.0)
    assert attenuation.height_gain(2000.0, 0.01) == pytest.approx(82.01, abs=0.01)
    assert attenuation.height_gain(1999.999, 0.01) == pytest.approx(asymptote, abs=0.11)
    assert attenuation.height_gain(200.0, 0.01) == pytest.approx(
        attenuation.height_gain(199.999, 1e-6), abs=0.2
    )
    assert attenuation.height_gain(0.9, 1e-6) == -117.0
    assert attenuation.height_gain(math.e, 1e-6) == pytest.approx(-99.628, abs=1e-9)
    assert attenuation.height_gain(100.0, 1.0) == pytest.approx(-14.75, abs=1e-9)
    assert attenuation.height_gain(10.0, 0.01) == pytest.approx(0.25 - 40.0 - 15.0, abs=1e-3)
    assert attenuation.height_gain(100.0, 0.01) == pytest.approx(-37.0, abs=0.01)  # 100 w^3 > 5495


@pytest.mark.parametrize("frequency_mhz", [40.0, 145.0])
def test_two_rays_over_level_ground_are_the_plane_earth_formula(frequency_mhz: float) -> None:
    """Grazing reflection of -1: -20 log(2 sin(2 pi h1 h2/(lambda d))), phase below a quarter turn."""
    g = in_sight(10.0, 10.0, 8e3)
    radio = radio_constants(frequency_mhz, "horizontal", 81.0, 0.01)
    s = 8e3
    wavelength_m = 299.792458 / frequency_mhz
    expected = -20.0 * math.log10(2.0 * math.sin(2 * math.pi * 100.0 / (wavelength_m * s)))
    found = attenuation.line_of_sight(s, g, radio, 1e-3, -20.0)  # smooth: diffraction has no weight
    assert found == pytest.approx(expected, abs=0.03)


def test_rough_ground_leans_on_diffraction_in_sight() -> None:
    """Weight of the two rays 1/(1 + f dh/max(10000, d_s)): one half where f dh = d_s."""
    g = in_sight(10.0, 10.0, 8e3)
    d_s = g.tx_smooth_horizon_m + g.rx_smooth_horizon_m
    radio = average_ground(100.0)
    half = g._replace(terrain_irregularity_m=d_s / 100.0)
    low, high = (attenuation.line_of_sight(5e3, half, radio, 0.0, level) for level in (0.0, 40.0))
    assert high - low == pytest.approx(20.0, abs=1e-9)


@pytest.mark.parametrize(
    ("r", "efficiency", "expected"),
    [
        (1.0, 1.0, 10 * math.log10(50.0)),
        (1.0, 1.5, 5 * math.log10(50.0) + 5 * math.log10(126.0)),
        (1.0, 4.25, 7.5 * math.log10(476.0) + 2.5 * math.log10(811.0)),
        (1.0, 5.0, 10 * math.log10(811.0)),
        (0.5, 3.0, 10 * math.log10(1 + 177 * 16 + 68 * 4)),
        (1e4, 2.0, 0.0),
    ],
)
def test_scatter_gain_between_the_tabled_efficiencies(r: float, efficiency: float, expected: float) -> None:
    """Coefficients 25 80 177 395 705 and 24 45 68 80 105 (Hufford, version 1.2.2; NBS Technical Note 101)."""
    assert attenuation._scatter_gain(r, efficiency) == pytest.approx(expected, abs=1e-5)


@pytest.mark.parametrize(
    ("x", "expected"),
    [(1000.0, 103.732), (10e3, 96.720), (10e3 + 1e-6, 96.720), (70e3, 107.327), (70e3 + 1e-6, 107.0155)],
)
def test_scatter_distance_term(x: float, expected: float) -> None:
    """By hand from the three branches; the second and the third meet to 0.3 dB only, as published."""
    assert attenuation._scatter_distance_term(x) == pytest.approx(expected, abs=1e-3)


# --- traps ----------------------------------------------------------------------------------------------


def test_clutter_counts_heights_above_ground() -> None:
    radio = average_ground(450.0)
    g = obstructed()
    raised = g._replace(tx_effective_height_m=150.0, rx_effective_height_m=90.0)
    assert attenuation.clutter(raised, radio) == attenuation.clutter(g, radio) > 0.0
    assert attenuation.clutter(g._replace(tx_antenna_agl_m=20.0), radio) > attenuation.clutter(g, radio)
    high = g._replace(tx_antenna_agl_m=900.0, rx_antenna_agl_m=900.0)
    assert attenuation.clutter(high, radio) == 15.0


def test_both_sums_of_horizon_angles_are_kept() -> None:
    """Below the smooth Earth's angle diffraction is limited, the scatter gain is not."""
    radio = average_ground(145.0)
    deep = obstructed(tx_horizon_angle_rad=-0.004, rx_horizon_angle_rad=-0.004)
    deeper = deep._replace(rx_horizon_angle_rad=-0.005)
    assert attenuation.diffraction(150e3, deeper, radio) == attenuation.diffraction(150e3, deep, radio)
    assert attenuation.troposcatter(deeper, radio) != attenuation.troposcatter(deep, radio)


@pytest.fixture
def scripted_gain(monkeypatch: pytest.MonkeyPatch) -> Any:
    """Replace the scatter gain by given values; return the distances that were asked for."""

    def script(far: float, near: float) -> list[float]:
        asked: list[float] = []

        def gain(s: float, g: PathGeometry, radio: attenuation.Radio) -> float:
            asked.append(s)
            return far if s > 300e3 else near

        monkeypatch.setattr(attenuation, "_frequency_gain", gain)
        return asked

    return script


@pytest.mark.parametrize(
    ("far", "near", "used_near", "calls"),
    [
        (4.0, 9.0, 9.0, 2),
        (4.0, 15.5, 4.0, 2),  # above 15 dB the far one serves for both
        (15.5, 2.0, 15.5, 1),  # the far one above 15 dB serves at once
        (15.5, math.nan, 15.5, 1),  # even where nearer by there would be no scatter
    ],
)
def test_scatter_is_found_far_out_first(
    scripted_gain: Any, far: float, near: float, used_near: float, calls: int
) -> None:
    g, radio = obstructed(), average_ground(145.0)
    scripted_gain(0.0, 0.0)
    base_5, base_6 = attenuation.troposcatter(g, radio)
    asked = scripted_gain(far, near)
    a_5, a_6 = attenuation.troposcatter(g, radio)
    assert (a_5 - base_5, a_6 - base_6) == pytest.approx((used_near, far))
    assert asked == [417e3, 217e3][:calls]


@pytest.mark.parametrize(("far", "near"), [(math.nan, 5.0), (3.0, math.nan)])
def test_without_scatter_all_is_diffraction(scripted_gain: Any, far: float, near: float) -> None:
    g, radio = obstructed(path_length_m=900e3), average_ground(145.0)
    assert attenuation.reference_attenuation(g, radio)[1] == attenuation.TROPOSCATTER
    scripted_gain(far, near)
    found, mode = attenuation.reference_attenuation(g, radio)
    m_d, a_e = attenuation.diffraction_line(g, radio)
    assert mode == attenuation.DIFFRACTION
    assert found == pytest.approx(m_d * 900e3 + a_e)


def test_no_scatter_from_low_antennas_with_a_flat_angle() -> None:
    """Both normalized heights below 0.2: 2 kappa Theta' H with Theta' = 0.01 at 400 km past the horizons."""
    total = -417e3 / RADIUS_M + 0.01
    low = obstructed(
        tx_effective_height_m=1.0,
        rx_effective_height_m=1.0,
        tx_horizon_angle_rad=total,
        rx_horizon_angle_rad=0.0,
    )
    assert all(math.isnan(a) for a in attenuation.troposcatter(low, average_ground(145.0)))
    one_high = low._replace(rx_effective_height_m=10.0)
    assert all(math.isfinite(a) for a in attenuation.troposcatter(one_high, average_ground(145.0)))


def test_scatter_is_the_same_from_both_ends() -> None:
    g, radio = obstructed(), average_ground(430.0)
    back = g._replace(
        tx_effective_height_m=g.rx_effective_height_m,
        rx_effective_height_m=g.tx_effective_height_m,
        tx_horizon_distance_m=g.rx_horizon_distance_m,
        rx_horizon_distance_m=g.tx_horizon_distance_m,
    )
    assert attenuation.troposcatter(back, radio) == pytest.approx(
        attenuation.troposcatter(g, radio), abs=1e-9
    )


def test_undefined_rounded_earth_is_nan_all_the_way() -> None:
    sea = radio_constants(30.0, "vertical", 81.0, 5.0)
    g = obstructed(tx_horizon_distance_m=50.0, rx_horizon_distance_m=50.0, path_length_m=10e3)
    g = g._replace(tx_horizon_angle_rad=0.3, rx_horizon_angle_rad=0.3)
    assert attenuation.conducts_too_well(g, sea)
    assert math.isnan(attenuation.rounded_earth(40e3, g, sea))
    assert math.isnan(attenuation.diffraction(40e3, g, sea))
    assert math.isnan(attenuation.reference_attenuation(g, sea)[0])
    assert math.isnan(attenuation.reference_attenuation(g._replace(path_length_m=90e3), sea)[0])
    assert not attenuation.conducts_too_well(g, radio_constants(30.0, "horizontal", 81.0, 5.0))


# --- the joins ------------------------------------------------------------------------------------------


GEOMETRIES = {
    "hills": obstructed(),
    "rough": obstructed(terrain_irregularity_m=600.0),
    "high": obstructed(tx_effective_height_m=400.0, tx_smooth_horizon_m=math.sqrt(2 * RADIUS_M * 400.0)),
    "smooth": in_sight(10.0, 10.0, 20e3),
    "downward": obstructed(
        tx_horizon_angle_rad=-0.003, rx_horizon_angle_rad=-0.002, rx_horizon_distance_m=30e3
    ),
}


@pytest.mark.parametrize("frequency_mhz", [52.0, 145.0, 1296.0, 10000.0])
@pytest.mark.parametrize("name", GEOMETRIES)
def test_loss_is_continuous_where_sight_ends(name: str, frequency_mhz: float) -> None:
    g, radio = GEOMETRIES[name], average_ground(frequency_mhz, "vertical")
    d_s = g.tx_smooth_horizon_m + g.rx_smooth_horizon_m
    below, mode = attenuation.reference_attenuation(g._replace(path_length_m=d_s * (1 - 1e-9)), radio)
    at, mode_at = attenuation.reference_attenuation(g._replace(path_length_m=d_s), radio)
    assert (mode, mode_at) == (attenuation.LINE_OF_SIGHT, attenuation.DIFFRACTION)
    assert below == pytest.approx(at, abs=1e-4)


@pytest.mark.parametrize("name", GEOMETRIES)
def test_loss_rises_and_joins_scatter_without_a_step(name: str) -> None:
    """From 40 to 900 km in steps of 200 m; the modes follow one another."""
    g, radio = GEOMETRIES[name], average_ground(145.0)
    lengths = np.linspace(40e3, 900e3, 4301)
    found = [attenuation.reference_attenuation(g._replace(path_length_m=float(s)), radio) for s in lengths]
    losses = np.array([loss for loss, _ in found])
    modes = [mode for _, mode in found]
    assert modes == sorted(modes)
    assert modes[-1] == attenuation.TROPOSCATTER
    assert np.all(np.isfinite(losses))
    assert np.all(losses >= 0.0)
    assert np.abs(np.diff(losses)).max() < 0.5
    assert losses[-1] > losses[0]


def test_diffraction_is_never_less_than_its_line_far_out() -> None:
    """The line passes through the two computed points s_3 and s_4."""
    g, radio = obstructed(), average_ground(145.0)
    m_d, a_e = attenuation.diffraction_line(g, radio)
    x_c = (RADIUS_M**2 / 145.0) ** (1 / 3)
    s_3 = max(g.tx_smooth_horizon_m + g.rx_smooth_horizon_m, 17e3 + 5 * x_c)
    for s in (s_3, s_3 + 10 * x_c):
        assert m_d * s + a_e == pytest.approx(attenuation.diffraction(s, g, radio), abs=1e-9)


def test_clear_path_is_clamped_to_free_space_before_variability() -> None:
    """Two rays in phase gain up to 6 dB; the reference attenuation stays at 0 (Hufford, section on A_ref)."""
    prepared = prepare(
        30.0,
        np.full(101, 50.0),
        frequency_mhz=2400.0,
        tx_antenna_agl_m=30.0,
        rx_antenna_agl_m=30.0,
        n0=301.0,
        polarization="horizontal",
        climate=5,
        relative_permittivity=15.0,
        conductivity_s_per_m=0.005,
    )
    assert prepared.reference_attenuation_db == 0.0
