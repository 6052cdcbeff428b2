"""The atmosphere: k, effective radius, and a user's own refractivity maps."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pathprofile.atmosphere import Atmosphere, RefractivityMaps
from pathprofile.errors import OutOfRangeError

if TYPE_CHECKING:
    from pathlib import Path


def test_default_is_four_thirds() -> None:
    # ITU-R P.834 §5: a standard atmosphere gives k = 4/3, an effective radius of about 8500 km
    assert Atmosphere().k_factor == pytest.approx(4 / 3, rel=1e-12)
    assert Atmosphere().effective_radius_m == pytest.approx(8_495e3, rel=1e-3)


def test_no_lapse_is_the_real_earth() -> None:
    # straight rays: k = 1 by definition
    assert Atmosphere(delta_n=0.0).k_factor == 1.0


@given(st.floats(0.45, 150.0))
def test_k_goes_round(k: float) -> None:
    assert Atmosphere.from_k(k).k_factor == pytest.approx(k, rel=1e-9)


@pytest.mark.parametrize("k", [0.0, -1.0, 200.0, float("nan")])
def test_impossible_k(k: float) -> None:
    with pytest.raises(OutOfRangeError, match=r"give 0\.45 to 150"):
        Atmosphere.from_k(k)


@pytest.mark.parametrize(("lapse", "n0"), [(157.0, 325.0), (float("nan"), 325.0), (39.0, 100.0)])
def test_impossible_refractivity(lapse: float, n0: float) -> None:
    with pytest.raises(OutOfRangeError, match="give"):
        Atmosphere(lapse, n0)


def _write_maps(folder: Path) -> None:
    """A made-up grid, linear in latitude and longitude, so bilinear reading is exact away from the seam."""
    row, column = np.meshgrid(np.arange(121.0), np.arange(241.0), indexing="ij")
    np.savetxt(folder / "DN50.TXT", 30.0 + 0.1 * row + 0.05 * column, fmt="%.6f")
    np.savetxt(folder / "N050.TXT", 300.0 + 0.2 * row + 0.1 * column, fmt="%.6f")


@pytest.mark.parametrize(
    ("latitude", "longitude", "row", "column"),
    [
        (90.0, 0.0, 0.0, 0.0),
        (-90.0, 359.9, 120.0, 239.9333333),
        (45.0, 3.0, 30.0, 2.0),
        (44.25, 3.75, 30.5, 2.5),
        (0.0, -1.5, 60.0, 239.0),
    ],
)
def test_maps_are_bilinear(
    tmp_path: Path, latitude: float, longitude: float, row: float, column: float
) -> None:
    _write_maps(tmp_path)
    air = RefractivityMaps.read(tmp_path).at(latitude, longitude)
    assert air.delta_n == pytest.approx(30.0 + 0.1 * row + 0.05 * column, abs=1e-6)
    assert air.n0 == pytest.approx(300.0 + 0.2 * row + 0.1 * column, abs=1e-6)


def test_maps_missing_or_wrong(tmp_path: Path) -> None:
    with pytest.raises(OutOfRangeError, match="cannot be read: put"):
        RefractivityMaps.read(tmp_path)
    _write_maps(tmp_path)
    (tmp_path / "N050.TXT").write_text("not a map\n")
    with pytest.raises(OutOfRangeError, match="not a table of numbers"):
        RefractivityMaps.read(tmp_path)
    np.savetxt(tmp_path / "N050.TXT", np.zeros((3, 4)))
    with pytest.raises(OutOfRangeError, match="is 3 × 4"):
        RefractivityMaps.read(tmp_path)
