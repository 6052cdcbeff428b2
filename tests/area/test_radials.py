"""Interpolated geodesics against the geodesic solver (Karney's, through PROJ)."""

from __future__ import annotations

import numpy as np
import pytest

from pathprofile import geodesy
from pathprofile.area.radials import places_along, places_on_grid


def farthest_off_m(latitude: float, longitude: float, radius_m: float, rays: int = 36) -> float:
    azimuth = np.arange(rays) * (360.0 / rays) + 0.3
    distance = np.linspace(0.0, radius_m, 211)
    found = places_along(latitude, longitude, azimuth, distance)
    exact = geodesy.direct(latitude, longitude, azimuth[:, np.newaxis], distance)
    assert found[0].shape == found[1].shape == (rays, 211)
    north = (found[0] - exact[0]) * 111_700.0
    turn = np.remainder(found[1] - exact[1] + 180.0, 360.0) - 180.0
    east = turn * 111_700.0 * np.cos(np.deg2rad(exact[0]))
    return float(np.hypot(north, east).max())


@pytest.mark.parametrize("latitude", [0.0, -33.0, 47.0, 69.0])
@pytest.mark.parametrize("longitude", [12.0, 179.7, -179.9])
def test_nanometres_at_160_km(latitude: float, longitude: float) -> None:
    assert farthest_off_m(latitude, longitude, 160_000.0) < 1e-7


@pytest.mark.parametrize("radius_m", [1000.0, 400_000.0, 1_000_000.0, 3_000_000.0])
def test_a_millimetre_at_any_radius(radius_m: float) -> None:
    assert farthest_off_m(47.0, 8.0, radius_m) < 2e-3


@pytest.mark.parametrize("latitude", [88.9, -89.99, 90.0])
def test_over_a_pole(latitude: float) -> None:
    assert farthest_off_m(latitude, 30.0, 200_000.0) < 2e-3


def test_longitude_runs_on() -> None:
    _, longitude = places_along(-17.0, 179.9, np.array([90.0, 270.0]), np.linspace(0.0, 50_000.0, 50))
    assert np.abs(np.diff(longitude, axis=1)).max() < 0.1
    assert longitude[0, -1] > 180.0


@pytest.mark.parametrize(("latitude", "half_m"), [(47.0, 160_000.0), (-5.0, 900_000.0), (89.2, 150_000.0)])
def test_grid(latitude: float, half_m: float) -> None:
    x, y = np.linspace(-half_m, half_m, 41), np.linspace(half_m, -0.3 * half_m, 23)
    found = places_on_grid(latitude, 179.8, half_m, x, y)
    azimuth, distance = np.rad2deg(np.arctan2(x, y[:, np.newaxis])), np.hypot(x, y[:, np.newaxis])
    exact = geodesy.direct(latitude, 179.8, azimuth, distance)
    turn = np.remainder(found[1] - exact[1] + 180.0, 360.0) - 180.0
    north, east = (found[0] - exact[0]) * 111_700.0, turn * 111_700.0 * np.cos(np.deg2rad(exact[0]))
    assert np.hypot(north, east).max() < 2e-3
