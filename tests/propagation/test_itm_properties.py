"""What must hold for the Irregular Terrain Model on any path: finite, reciprocal, within its bounds."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pathprofile.errors import OutOfRangeError
from pathprofile.propagation import itm

percents = st.floats(0.01, 99.99)
heights = st.one_of(st.floats(0.5, 30.0), st.floats(0.5, 3000.0))


@settings(max_examples=300, deadline=None, derandomize=True)
@given(
    n=st.integers(1, 120),
    spacing_m=st.floats(10.0, 4000.0),
    rough_m=st.sampled_from([0.0, 0.01, 1.0, 10.0, 60.0]),
    seed=st.integers(0, 2**32 - 1),
    frequency_mhz=st.floats(math.log(20.0), math.log(20000.0)).map(
        lambda x: min(max(math.exp(x), 20.0), 20000.0)
    ),
    h_1=heights,
    h_2=heights,
    n0=st.floats(250.0, 400.0),
    polarization=st.sampled_from(["horizontal", "vertical"]),
    ground=st.sampled_from([(15.0, 0.005), (4.0, 0.001), (25.0, 0.02), (81.0, 0.01), (81.0, 5.0)]),
    climate=st.integers(1, 7),
    mode=st.sampled_from(itm.VARIABILITY_MODES),
    chances=st.tuples(percents, percents, percents),
)
def test_any_path_gives_a_finite_loss_or_says_why_not(
    n: int,
    spacing_m: float,
    rough_m: float,
    seed: int,
    frequency_mhz: float,
    h_1: float,
    h_2: float,
    n0: float,
    polarization: Any,
    ground: tuple[float, float],
    climate: int,
    mode: int,
    chances: tuple[float, float, float],
) -> None:
    walk = np.cumsum(np.random.default_rng(seed).normal(0.0, rough_m, n + 1))
    time, location, situation = chances
    try:
        found = itm.predict(
            spacing_m,
            walk - walk.min(),
            frequency_mhz=frequency_mhz,
            tx_antenna_agl_m=h_1,
            rx_antenna_agl_m=h_2,
            n0=n0,
            polarization=polarization,
            climate=climate,
            relative_permittivity=ground[0],
            conductivity_s_per_m=ground[1],
            time_percent=time,
            location_percent=location,
            situation_percent=situation,
            variability_mode=mode,
        )
    except OutOfRangeError as error:
        assert polarization == "vertical"
        assert ground == (81.0, 5.0)
        assert frequency_mhz < 200.0
        assert "has no value" in str(error)  # noqa: PT017 - the error is allowed, not required
        return
    assert math.isfinite(found.loss_db)
    assert found.loss_db > found.free_space_loss_db - 15.0
    assert found.reference_attenuation_db >= 0.0
    assert found.terrain_irregularity_m >= 0.0
    assert found.tx_effective_height_m >= h_1
    assert found.rx_effective_height_m >= h_2
    assert found.mode in {"line of sight", "diffraction", "troposcatter"}


@pytest.mark.parametrize("seed", range(30))
def test_reciprocal_away_from_whole_numbers(seed: int) -> None:
    """Exact reciprocity fails where a horizon's index is a multiple of ten, so neither end's is here."""
    rng = np.random.default_rng(seed)
    for _ in range(50):
        n = int(rng.integers(60, 400))
        ground = 500.0 + np.cumsum(rng.normal(0.0, 12.0, n + 1))
        spacing = float(rng.uniform(60.0, 600.0))
        there = reference(spacing, ground, 12.0, 4.0)
        steps = (
            there.geometry.tx_horizon_distance_m / spacing,
            there.geometry.rx_horizon_distance_m / spacing,
        )
        if n % 10 and all(abs(step / 10.0 - round(step / 10.0)) > 0.01 for step in steps):
            break
    back = reference(spacing, ground[::-1], 4.0, 12.0)
    assert back.reference_attenuation_db == pytest.approx(there.reference_attenuation_db, abs=1e-6)
    assert back.mode == there.mode


def reference(spacing_m: float, ground: Any, h_1: float, h_2: float) -> itm.PreparedPath:
    return itm.prepare(
        spacing_m,
        ground,
        frequency_mhz=145.0,
        tx_antenna_agl_m=h_1,
        rx_antenna_agl_m=h_2,
        n0=301.0,
        polarization="vertical",
        climate=5,
        relative_permittivity=15.0,
        conductivity_s_per_m=0.005,
    )


@pytest.mark.parametrize("ridge_m", [50.0, 150.0, 400.0])
def test_a_higher_ridge_costs_more(ridge_m: float) -> None:
    x = np.linspace(-1.0, 1.0, 303)
    ridge = np.exp(-((x / 0.05) ** 2))
    low = reference(200.0, 100.0 + ridge_m * ridge, 10.0, 10.0)
    high = reference(200.0, 100.0 + 2 * ridge_m * ridge, 10.0, 10.0)
    assert high.reference_attenuation_db > low.reference_attenuation_db > 10.0


def test_profile_is_not_changed() -> None:
    ground = np.linspace(100.0, 130.0, 50)
    before = ground.copy()
    reference(100.0, ground, 5.0, 5.0)
    assert np.array_equal(ground, before)
