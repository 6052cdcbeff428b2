"""Two rays over a smooth surface, against Fermat's principle, closed forms and textbook limits."""

from __future__ import annotations

import math

import mpmath
import pytest

from pathprofile.errors import OutOfRangeError
from pathprofile.propagation.two_ray import TwoRay, reflection_coefficient, two_ray

RADIUS_M = 4 / 3 * 6371e3
SEA = {"relative_permittivity": 80.0, "conductivity_s_per_m": 5.0}
PATHS = [
    (20e3, 80.0, 60.0),
    (40e3, 600.0, 30.0),
    (80e3, 900.0, 400.0),
    (5e3, 15.0, 40.0),
    (100e3, 1500.0, 60.0),
]


def over_sea(distance_m: float, from_m: float, to_m: float, **more) -> TwoRay:
    given = {
        "frequency_mhz": 433.0,
        "effective_radius_m": RADIUS_M,
        "polarization": "horizontal",
        **SEA,
        **more,
    }
    return two_ray(distance_m, from_m, to_m, **given)


def by_least_length(distance_m: float, from_m: float, to_m: float) -> tuple[float, float, float]:
    """Reflection point, path difference and grazing angle on a sphere: the shortest broken line."""
    with mpmath.workdps(50):
        a, whole = mpmath.mpf(RADIUS_M), mpmath.mpf(distance_m) / RADIUS_M

        def ray(height_m, angle):
            return mpmath.sqrt(a**2 + (a + height_m) ** 2 - 2 * a * (a + height_m) * mpmath.cos(angle))

        def length(angle):
            return ray(from_m, angle) + ray(to_m, whole - angle)

        low, high = mpmath.mpf(0), whole
        for _ in range(120):
            one, two = low + (high - low) / 3, high - (high - low) / 3
            low, high = (low, two) if length(one) < length(two) else (one, high)
        angle = (low + high) / 2
        direct = mpmath.sqrt(
            (a + from_m) ** 2 + (a + to_m) ** 2 - 2 * (a + from_m) * (a + to_m) * mpmath.cos(whole)
        )
        grazing = mpmath.asin(((a + from_m) * mpmath.cos(angle) - a) / ray(from_m, angle))
        return float(angle * a), float(length(angle) - direct), float(mpmath.degrees(grazing))


@pytest.mark.parametrize("path", PATHS)
def test_the_reflection_is_the_shortest_way(path) -> None:
    found = over_sea(*path)
    reflection_m, difference_m, grazing_deg = by_least_length(*path)
    # The closed form takes heights as small beside the radius, and slopes beside 1.
    assert found.reflection_m == pytest.approx(reflection_m, rel=2e-3)
    assert found.path_difference_m == pytest.approx(difference_m, rel=5e-3)
    assert found.grazing_deg == pytest.approx(grazing_deg, rel=3e-3)


def test_flat_surface() -> None:
    found = over_sea(10e3, 90.0, 30.0, effective_radius_m=1e15)
    assert found.reflection_m == pytest.approx(7500.0)
    assert found.path_difference_m == pytest.approx(2 * 90 * 30 / 10e3)
    wavelength_m = 299.792458 / 433.0
    assert found.from_lobe_m == pytest.approx(wavelength_m * 10e3 / (2 * 30))
    assert found.to_lobe_m == pytest.approx(wavelength_m * 10e3 / (2 * 90))


def test_perfect_mirror_is_twice_a_sine() -> None:
    # Textbook plane-earth field: 2 |sin(2π h1 h2/(λ d))|.
    found = over_sea(10e3, 90.0, 30.0, effective_radius_m=1e15, conductivity_s_per_m=1e9)
    wavelength_m = 299.792458 / 433.0
    field = 2 * abs(math.sin(2 * math.pi * 90 * 30 / (wavelength_m * 10e3)))
    assert found.loss_db == pytest.approx(-20 * math.log10(field), abs=0.01)
    assert found.crest_db == pytest.approx(-6.02, abs=0.01)


@pytest.mark.parametrize("path", PATHS)
def test_divergence_by_another_formula(path) -> None:
    # D = 1/√(1 + 2 d1 d2/(a d sin φ)), D. E. Kerr, Propagation of Short Radio Waves, 1951 (from memory).
    mirror = over_sea(*path, conductivity_s_per_m=1e9)
    d_1, d_2 = mirror.reflection_m, path[0] - mirror.reflection_m
    sine = math.sin(math.radians(mirror.grazing_deg))
    expected = 1 / math.sqrt(1 + 2 * d_1 * d_2 / (RADIUS_M * path[0] * sine))
    assert mirror.strength == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize("path", PATHS)
def test_a_lobe_is_one_wavelength_of_path(path) -> None:
    wavelength_m = 299.792458 / 433.0
    step_m = 0.01
    whole_m, from_m, to_m = path
    here = over_sea(*path)
    by_from = (over_sea(whole_m, from_m + step_m, to_m).path_difference_m - here.path_difference_m) / step_m
    by_to = (over_sea(whole_m, from_m, to_m + step_m).path_difference_m - here.path_difference_m) / step_m
    assert here.from_lobe_m == pytest.approx(wavelength_m / by_from, rel=5e-3)
    assert here.to_lobe_m == pytest.approx(wavelength_m / by_to, rel=5e-3)


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("polarization", ["horizontal", "vertical"])
def test_loss_lies_between_crest_and_trough_and_is_reciprocal(path, polarization: str) -> None:
    found = over_sea(*path, polarization=polarization)
    assert found.crest_db - 1e-12 <= found.loss_db <= found.trough_db + 1e-12
    back = over_sea(path[0], path[2], path[1], polarization=polarization)
    assert back.loss_db == pytest.approx(found.loss_db, abs=1e-6)
    assert back.reflection_m == pytest.approx(path[0] - found.reflection_m)
    assert (back.from_lobe_m, back.to_lobe_m) == pytest.approx((found.to_lobe_m, found.from_lobe_m))


def test_roughness_takes_the_lobes_away() -> None:
    strengths = [over_sea(40e3, 600.0, 30.0, roughness_m=each).strength for each in (0.0, 0.5, 2.0, 20.0)]
    assert strengths == sorted(strengths, reverse=True)
    assert strengths[-1] < 0.01
    assert over_sea(40e3, 600.0, 30.0, roughness_m=20.0).loss_db == pytest.approx(0.0, abs=0.1)


def test_grazing_incidence_turns_the_wave_over() -> None:
    for polarization in ("horizontal", "vertical"):
        assert reflection_coefficient(0.0, 145.0, polarization=polarization, **SEA) == pytest.approx(-1.0)


def test_normal_incidence_knows_no_polarization() -> None:
    # (1 − n)/(1 + n) with n = √ε: a dielectric of 4 reflects a third.
    plain = {"relative_permittivity": 4.0, "conductivity_s_per_m": 0.0}
    assert reflection_coefficient(90.0, 145.0, polarization="horizontal", **plain) == pytest.approx(-1 / 3)
    assert reflection_coefficient(90.0, 145.0, polarization="vertical", **plain) == pytest.approx(1 / 3)


def test_brewster_angle() -> None:
    grazing_deg = math.degrees(math.atan(1 / math.sqrt(15.0)))
    plain = {"relative_permittivity": 15.0, "conductivity_s_per_m": 0.0}
    assert abs(reflection_coefficient(grazing_deg, 145.0, polarization="vertical", **plain)) < 1e-12


@pytest.mark.parametrize(
    ("path", "more", "message"),
    [
        ((60e3, 6.0, 10.0), {}, "or use a diffraction method"),
        ((20e3, 3.0, 3.0), {}, "or use a diffraction method"),
        ((20e3, -3.0, 3.0), {}, "first antenna -3.0"),
        ((20e3, 60.0, math.nan), {}, "second antenna nan"),
        ((20e3, 60.0, 60.0), {"frequency_mhz": 5.0}, "frequency 5.0"),
        ((20e3, 60.0, 60.0), {"polarization": "slant"}, "give 'horizontal' or 'vertical'"),
        ((20e3, 60.0, 60.0), {"relative_permittivity": 0.0}, "relative permittivity 0.0"),
    ],
)
def test_refusals(path, more, message: str) -> None:
    with pytest.raises(OutOfRangeError, match=message):
        over_sea(*path, **more)
