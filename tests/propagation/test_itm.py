"""Irregular Terrain Model against published figures, and its errors and cautions."""

from __future__ import annotations

import json
from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from pathprofile.errors import OutOfRangeError
from pathprofile.propagation import itm

if TYPE_CHECKING:
    from collections.abc import Callable

METHOD = "ITM (NTIA 1.4)"
# Eight invented profiles with losses by an implementation written separately from this project, from the
# restated equations alone; that one reproduces NTIA's vectors to their printed 0.01 dB.
OWN_PATHS = json.loads((Path(__file__).parents[1] / "data" / "own_paths.json").read_text(encoding="utf-8"))
OWN_MODES = {1: "line of sight", 2: "diffraction", 3: "troposcatter"}

HILLS = 200.0 + 40.0 * np.sin(np.arange(80) / 6.0) + 15.0 * np.cos(np.arange(80) * 1.7)
PLAIN = np.full(80, 100.0)
USUAL: dict[str, Any] = {
    "frequency_mhz": 145.0,
    "tx_antenna_agl_m": 10.0,
    "rx_antenna_agl_m": 5.0,
    "n0": 301.0,
    "polarization": "vertical",
    "climate": 5,
    "relative_permittivity": 15.0,
    "conductivity_s_per_m": 0.005,
}
MEDIAN: dict[str, Any] = {
    "time_percent": 50.0,
    "location_percent": 50.0,
    "situation_percent": 50.0,
    "variability_mode": 1,
}


def ntia_cases(reference_dir: Path) -> dict[str, dict[str, Any]]:
    cases = json.loads((reference_dir / "reference" / "itm" / "cases.json").read_text(encoding="utf-8"))
    return {case["name"]: case for case in cases["cases"]}


def run_case(case: dict[str, Any], **changes: float) -> itm.Prediction:
    inputs = case["inputs"] | {
        "climate": case["inputs"]["climate"]["code"],
        "variability_mode": case["inputs"]["variability_mode"]["code"],
    }
    profile = case["profile"]
    return itm.predict(profile["spacing_m"], profile["elevations_m"], **(inputs | changes))


# --- published figures ----------------------------------------------------------------------------------


@pytest.mark.parametrize("number", [1, 2, 3])
def test_ntia_vector(number: int, reference_dir: Path, count_published: Callable[[str, int], None]) -> None:
    """NTIA, ITM release 1.4, p2p.csv row ``number``: printed to 0.01 dB."""
    case = ntia_cases(reference_dir)[f"ntia_p2p_vector_{number}"]
    result = run_case(case)
    assert result.loss_db == pytest.approx(case["expected"]["basic_transmission_loss_db"], abs=0.006)
    steps = dict(case["recomputed_intermediate_values"])
    assert result.mode == steps.pop("propagation_mode")
    for name, value in steps.items():
        assert getattr(result, name) == pytest.approx(value, rel=2e-6, abs=6e-5), name
    count_published(METHOD, 1)


def test_ntia_worked_example(reference_dir: Path, count_published: Callable[[str, int], None]) -> None:
    """NTIA, ITM release 1.4, worked example with pfl.txt: printed to the digits compared here."""
    case = ntia_cases(reference_dir)["ntia_worked_example"]
    result = run_case(case)
    assert result.loss_db == pytest.approx(case["expected"]["basic_transmission_loss_db"], abs=0.05)
    assert list(result.cautions) == case["expected"]["warnings"]
    steps = dict(case["expected"]["intermediate_values"])
    assert result.mode == steps.pop("propagation_mode")
    for name, value in steps.items():
        digits = len(str(value).partition(".")[2]) if isinstance(value, float) else 0
        assert getattr(result, name) == pytest.approx(value, abs=0.51 * 10**-digits), name
    count_published(METHOD, 1)


def test_ntia_worked_table(reference_dir: Path, count_published: Callable[[str, int], None]) -> None:
    """NTIA, ITM release 1.4, worked example: losses for three confidences and three reliabilities."""
    case = ntia_cases(reference_dir)["ntia_worked_example"]
    table = case["expected"]["confidence_reliability_table"]
    compared = 0
    for reliability, row in zip(
        table["reliability_percent"], table["basic_transmission_loss_db"], strict=True
    ):
        for confidence, loss_db in zip(table["confidence_percent"], row, strict=True):
            result = run_case(case, time_percent=reliability, situation_percent=confidence)
            assert result.loss_db == pytest.approx(loss_db, abs=0.0501), (reliability, confidence)
            compared += 1
    assert compared == 9
    count_published(METHOD, compared)


@pytest.mark.parametrize("run", OWN_PATHS["itm"], ids=lambda run: f"{run['profile']}-{run['frequency_mhz']}")
def test_separate_implementation(run: dict[str, Any]) -> None:
    known = {"profile", "spacing_m", "loss_db", "mode"}
    inputs = {name: value for name, value in run.items() if name not in known}
    ground_m = OWN_PATHS["profiles"][run["profile"]]["ground_m"]
    result = itm.predict(run["spacing_m"], ground_m, **inputs)
    assert result.loss_db == pytest.approx(run["loss_db"], abs=1e-3)
    assert result.mode == OWN_MODES[run["mode"]]


# --- the shape of the answer ----------------------------------------------------------------------------


def test_prepared_path_gives_the_same_as_the_whole() -> None:
    prepared = itm.prepare(250.0, HILLS, **USUAL)
    for percent in (10.0, 50.0, 95.0):
        chance = MEDIAN | {"time_percent": percent, "situation_percent": 70.0}
        assert itm.predict_from(prepared, **chance) == itm.predict(250.0, HILLS, **USUAL, **chance)


def test_results_are_bare_floats() -> None:
    whole_numbers = [int(y) for y in HILLS]
    result = itm.predict(250, whole_numbers, **(USUAL | {"frequency_mhz": np.float64(145)}), **MEDIAN)
    for field in fields(result):
        if field.name not in {"mode", "cautions"}:
            assert type(getattr(result, field.name)) is float, field.name


def test_climate_by_name_or_number() -> None:
    for code, name in itm.CLIMATE_NAMES.items():
        by_code = itm.predict(250.0, HILLS, **(USUAL | {"climate": code}), **MEDIAN)
        assert itm.predict(250.0, HILLS, **(USUAL | {"climate": name}), **MEDIAN) == by_code


def test_two_points_are_a_path() -> None:
    """Level ground, in sight: about free-space loss (32.45 + 20 log 145 + 20 log 2 = 81.70 dB)."""
    result = itm.predict(2000.0, [30.0, 30.0], **USUAL, **MEDIAN)
    assert result.path_length_km == 2.0
    assert result.free_space_loss_db == pytest.approx(81.698, abs=1e-3)
    assert result.terrain_irregularity_m == 0.0


def test_effective_radius_is_four_thirds_at_301() -> None:
    """A surface refractivity of 301 N-units goes with k = 4/3 (ESSA ERL 79-ITS 67; common practice)."""
    result = itm.predict(250.0, np.zeros(40), **USUAL, **MEDIAN)
    assert result.surface_refractivity == 301.0
    assert result.k_factor == pytest.approx(4.0 / 3.0, abs=1e-3)
    assert result.effective_radius_m == pytest.approx(8.493e6, rel=1e-3)


# --- errors ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "value", "message"),
    [
        ("frequency_mhz", 19.9, r"ITM: frequency_mhz 19\.9 is outside .* 20 to 20000 MHz"),
        ("frequency_mhz", 20001.0, "ITM: frequency_mhz 20001.0 .* 20 to 20000"),
        ("frequency_mhz", float("nan"), "ITM: frequency_mhz nan .* 20 to 20000"),
        ("tx_antenna_agl_m", 0.49, r"ITM: tx_antenna_agl_m 0\.49 .* 0\.5 to 3000 m"),
        ("rx_antenna_agl_m", 3000.5, r"ITM: rx_antenna_agl_m 3000\.5 .* 0\.5 to 3000 m"),
        ("n0", 249.0, r"ITM: n0 249\.0 .* 250 to 400 N-units"),
        ("n0", 401.0, r"ITM: n0 401\.0 .* 250 to 400 N-units"),
        ("polarization", "circular", "ITM: polarization 'circular' .* 'horizontal' or 'vertical'"),
        ("climate", 8, "ITM: climate 8 is unknown.*1 equatorial; .*7 maritime temperate, over sea"),
        ("climate", "polar", "ITM: climate 'polar' is unknown.*4 desert"),
        ("relative_permittivity", 0.9, r"ITM: relative_permittivity 0\.9 .* 1 or more"),
        ("conductivity_s_per_m", 0.0, r"ITM: conductivity_s_per_m 0\.0 .* more than 0"),
        ("conductivity_s_per_m", float("nan"), "ITM: conductivity_s_per_m nan .* more than 0"),
    ],
)
def test_input_out_of_range(name: str, value: object, message: str) -> None:
    with pytest.raises(OutOfRangeError, match=message):
        itm.predict(250.0, HILLS, **(USUAL | {name: value}), **MEDIAN)


@pytest.mark.parametrize("bound", [20.0, 20000.0])
def test_bounds_are_inclusive(bound: float) -> None:
    assert np.isfinite(itm.predict(250.0, HILLS, **(USUAL | {"frequency_mhz": bound}), **MEDIAN).loss_db)


@pytest.mark.parametrize("name", ["time_percent", "location_percent", "situation_percent"])
@pytest.mark.parametrize("value", [0.0, 100.0, -1.0, float("nan")])
def test_percentages_are_strictly_inside(name: str, value: float) -> None:
    with pytest.raises(OutOfRangeError, match=f"ITM: {name} {value!r} .* more than 0 and less than 100"):
        itm.predict(250.0, HILLS, **USUAL, **(MEDIAN | {name: value}))


@pytest.mark.parametrize("code", [-1, 4, 9, 14, 24, 34, 40])
def test_unknown_variability_mode(code: int) -> None:
    with pytest.raises(OutOfRangeError, match=f"ITM: variability_mode {code} is unknown: give 0 single"):
        itm.predict(250.0, HILLS, **USUAL, **(MEDIAN | {"variability_mode": code}))


@pytest.mark.parametrize(
    ("spacing_m", "elevations_m", "message"),
    [
        (0.0, HILLS, r"ITM: spacing_m 0\.0 .* more than 0 m"),
        (-30.0, HILLS, r"ITM: spacing_m -30\.0 .* more than 0 m"),
        (float("nan"), HILLS, "ITM: spacing_m nan .* more than 0 m"),
        (30.0, [], r"ITM: elevations_m of shape \(0,\) .* 2 or more"),
        (30.0, [5.0], r"ITM: elevations_m of shape \(1,\) .* 2 or more"),
        (30.0, [[1.0, 2.0], [3.0, 4.0]], r"ITM: elevations_m of shape \(2, 2\) .* 2 or more"),
        (30.0, [1.0, 2.0, float("nan"), 4.0], r"ITM: elevations_m\[2\] is nan: .* fill holes"),
        (30.0, [float("inf"), 2.0], r"ITM: elevations_m\[0\] is inf: .* finite"),
    ],
)
def test_bad_profile(spacing_m: float, elevations_m: object, message: str) -> None:
    with pytest.raises(OutOfRangeError, match=message):
        itm.predict(spacing_m, elevations_m, **USUAL, **MEDIAN)


@pytest.mark.parametrize(("elevation_m", "n0"), [(7000.0, 301.0), (-400.0, 400.0)])
def test_surface_refractivity_out_of_range(elevation_m: float, n0: float) -> None:
    """301 exp(-7000/9460) is 143.6, below 150; 400 exp(400/9460) is 417, above 400."""
    with pytest.raises(OutOfRangeError, match=r"ITM: n0 at the terrain's mean elevation .* 150 to 400"):
        itm.predict(250.0, np.full(50, elevation_m), **(USUAL | {"n0": n0}), **MEDIAN)


def test_impedance_that_no_ground_has() -> None:
    """Permittivity 1, horizontal: the root of an imaginary number has equal real and imaginary parts."""
    odd = {"polarization": "horizontal", "relative_permittivity": 1.0, "conductivity_s_per_m": 5.0}
    with pytest.raises(OutOfRangeError, match=r"ITM: relative_permittivity 1\.0 .* surface impedance"):
        itm.predict(250.0, HILLS, **(USUAL | odd), **MEDIAN)


SEA = {"climate": 7, "relative_permittivity": 81.0, "conductivity_s_per_m": 5.0, "frequency_mhz": 30.0}


def two_cliffs(height_m: float) -> np.ndarray[Any, np.dtype[np.float64]]:
    """10 km over the sea between two cliffs, each 500 m from an antenna."""
    cliffs = np.zeros(101)
    cliffs[[5, -6]] = height_m
    return cliffs


def test_undefined_rounded_earth_is_an_error_not_free_space() -> None:
    """Vertical polarization at 30 MHz over the sea behind near cliffs: the series has no logarithm."""
    with pytest.raises(OutOfRangeError, match=r"ITM: rounded-earth diffraction has no value .*'vertical'"):
        itm.prepare(100.0, two_cliffs(200.0), **(USUAL | SEA))
    flat_polarized = itm.prepare(100.0, two_cliffs(200.0), **(USUAL | SEA | {"polarization": "horizontal"}))
    assert flat_polarized.reference_attenuation_db > 30.0
    assert itm.prepare(100.0, two_cliffs(200.0), **(USUAL | SEA | {"frequency_mhz": 145.0})).cautions


# --- cautions -------------------------------------------------------------------------------------------


def cautions_of(spacing_m: float, elevations_m: object, **changes: object) -> str:
    chance = {name: changes.pop(name) for name in list(changes) if name in MEDIAN}
    found = itm.predict(spacing_m, elevations_m, **(USUAL | changes), **(MEDIAN | chance)).cautions
    assert all(sentence.startswith("ITM: ") and sentence.endswith(".") for sentence in found)
    return "\n".join(found)


def test_a_plain_path_has_no_caution() -> None:
    assert cautions_of(250.0, PLAIN) == ""


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"frequency_mhz": 39.0}, "39 MHz is outside 40 to 10000 MHz"),
        ({"frequency_mhz": 10500.0}, "10500 MHz is outside"),
        ({"tx_antenna_agl_m": 0.6}, "transmitting antenna, 0.6 m above ground"),
        ({"rx_antenna_agl_m": 1001.0}, "receiving antenna, 1001 m above ground"),
        ({"time_percent": 0.05}, "percentage is within 0.1"),
        ({"situation_percent": 99.95}, "percentage is within 0.1"),
    ],
)
def test_caution_for_input(changes: dict[str, object], expected: str) -> None:
    assert expected in cautions_of(250.0, PLAIN, **changes)


def test_caution_only_for_percentages_that_count() -> None:
    """Time does not count in a single message, location only in broadcast (Hufford, variability)."""
    assert cautions_of(250.0, PLAIN, time_percent=0.05, variability_mode=0) == ""
    assert cautions_of(250.0, PLAIN, location_percent=0.05, variability_mode=2) == ""
    assert "percentage" in cautions_of(250.0, PLAIN, location_percent=0.05, variability_mode=3)


def test_caution_for_length() -> None:
    assert "0.5 km is shorter than 1 km" in cautions_of(50.0, np.full(11, 100.0))
    assert "longer than 1000 km, where" in cautions_of(5000.0, np.full(221, 100.0))
    very_long = cautions_of(5000.0, np.full(421, 100.0))
    assert "longer than 2000 km: do not rely" in very_long
    assert "1000 km" not in very_long


def test_caution_for_terrain() -> None:
    assert "is steep" in cautions_of(25.0, PLAIN, tx_antenna_agl_m=900.0)
    assert "thin air" in cautions_of(250.0, np.full(60, 2000.0))
    assert "nearer than a tenth" in cautions_of(100.0, two_cliffs(20.0))
    assert "mrad from level" in cautions_of(100.0, two_cliffs(200.0))
    plateau = np.full(401, 0.0)
    plateau[300:] = 1500.0
    assert "farther than three times" in cautions_of(250.0, plateau)
    assert "conducts too well" in cautions_of(100.0, two_cliffs(20.0), **SEA)
