"""Kernels compiled once a state of the sources, and invented ground."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from pathprofile.area.compiled import Kernels, compiled

if TYPE_CHECKING:
    from collections.abc import Callable


@pytest.fixture(scope="session")
def cache_dir(request: pytest.FixtureRequest) -> Path:
    assert request.config.cache is not None
    folder = Path(request.config.cache.mkdir("pathprofile-compiled"))
    folder.chmod(0o700)  # else it is not used under a umask that lets the group write
    return folder


@pytest.fixture(scope="session")
def kernels(cache_dir: Path) -> Kernels:
    return compiled(cache_dir)


class Ground:
    """A terrain store made of a formula; NaN wherever the formula says so."""

    def __init__(self, formula: Callable[[np.ndarray, np.ndarray], np.ndarray]) -> None:
        self._formula = formula

    def elevation_m(self, latitude_deg: object, longitude_deg: object) -> np.ndarray:
        latitude, longitude = np.broadcast_arrays(
            np.asarray(latitude_deg, np.float64), np.asarray(longitude_deg, np.float64)
        )
        return np.array(self._formula(latitude, longitude), np.float64)

    def sample(self, latitude_deg: object, longitude_deg: object) -> tuple[np.ndarray, np.ndarray]:
        height = self.elevation_m(latitude_deg, longitude_deg)
        return height, np.where(np.isnan(height), -1, 0)


@pytest.fixture(scope="session")
def ground() -> type[Ground]:
    return Ground


def _hills(latitude: np.ndarray, longitude: np.ndarray) -> np.ndarray:
    return (
        400.0
        + 220.0 * np.sin(150.0 * latitude) * np.cos(110.0 * longitude)
        + 60.0 * np.sin(1300.0 * latitude + 900.0 * longitude)
    )


@pytest.fixture(scope="session")
def hills(ground: type[Ground]) -> Ground:
    return ground(_hills)


def relief(points: int, seed: int, highest_m: float) -> np.ndarray:
    """Mountains: noise whose power falls with frequency as that of real relief."""
    rng = np.random.default_rng(seed)
    wave = np.fft.rfftfreq(points)
    weight = np.zeros(wave.size)
    weight[1:] = wave[1:] ** -1.3
    noise = np.fft.irfft(weight * (rng.normal(size=wave.size) + 1j * rng.normal(size=wave.size)), points)
    return (noise - noise.min()) / np.ptp(noise) * highest_m


def _wall(points: int) -> np.ndarray:
    heights = np.zeros(points)
    heights[points // 4] = 300.0
    heights[points // 2 : points // 2 + 4] = 180.0
    return heights


PROFILES = {
    "rough": np.random.default_rng(5).uniform(0.0, 300.0, 700),
    "mountains": relief(1400, 3, 2500.0),
    "gentle": relief(700, 4, 60.0),
    "tilted": np.linspace(900.0, 100.0, 600),
    "sea": np.zeros(900),
    "wall": _wall(600),
    "steps": np.repeat(np.random.default_rng(6).integers(0, 40, 60) * 5.0, 10),
}


@pytest.fixture(params=PROFILES)
def profile(request: pytest.FixtureRequest) -> np.ndarray:
    return PROFILES[request.param]
