"""One end of a profile to the other, compiled: equal to the single path, hole or not."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest

from pathprofile import geodesy
from pathprofile.area.end_losses import Twins, end_loss, twins
from pathprofile.area.receivers import Link
from pathprofile.atmosphere import Atmosphere
from pathprofile.propagation import p1812

if TYPE_CHECKING:
    from pathlib import Path

AIR = Atmosphere(45.0)


@pytest.fixture(scope="module")
def compiled_twins(cache_dir: Path) -> Twins:
    return twins(cache_dir)


def _link(frequency_ghz: float = 0.145, tx_agl_m: float = 10.0, rx_agl_m: float = 5.0) -> Link:
    radius_km = AIR.effective_radius_m / 1000.0
    return Link(frequency_ghz, 50.0, AIR.n0, True, 50.0, 0.0, tx_agl_m, rx_agl_m, radius_km)


def _single(ground: np.ndarray, whole_km: float, link: Link) -> float:
    return p1812.predict(
        np.linspace(0.0, whole_km, ground.size),
        ground,
        np.zeros(ground.size),
        np.full(ground.size, 4),
        frequency_ghz=link.frequency_ghz,
        time_percent=50.0,
        tx_antenna_agl_m=link.tx_agl_m,
        rx_antenna_agl_m=link.rx_agl_m,
        polarization="vertical",
        path_centre_latitude_deg=47.0,
        delta_n=AIR.delta_n,
        n0=AIR.n0,
    ).loss_db


def _many(kernels: Twins, grounds: list[np.ndarray], whole_km: list[float], link: Link) -> np.ndarray:
    offset = np.cumsum([0] + [ground.size for ground in grounds])
    loss = np.empty(len(grounds))
    latitude = np.full(offset[-1], 47.0)
    kernels.end_losses(offset, np.array(whole_km), np.concatenate(grounds), latitude, 3.0, link, loss)
    return loss


@pytest.mark.parametrize("frequency_ghz", [0.05, 0.145, 1.3])
def test_equals_the_single_path(compiled_twins: Twins, profile: np.ndarray, frequency_ghz: float) -> None:
    link = _link(frequency_ghz)
    cuts = [33, 34, 120, profile.size]
    whole_km = [0.09 * cut for cut in cuts]
    found = _many(compiled_twins, [profile[:cut] for cut in cuts], whole_km, link)
    for cut, far_km, loss_db in zip(cuts, whole_km, found, strict=True):
        assert loss_db == pytest.approx(_single(profile[:cut], far_km, link), abs=1e-9)


def test_plain_functions_equal_their_twins(compiled_twins: Twins, profile: np.ndarray) -> None:
    along = np.linspace(0.0, 30.0, profile.size)
    plain = end_loss(along, profile, 47.0, _link())
    assert plain == pytest.approx(_many(compiled_twins, [profile], [30.0], _link())[0], abs=1e-9)


def test_reciprocal(compiled_twins: Twins) -> None:
    rng = np.random.default_rng(8)
    ground = np.cumsum(rng.normal(0.0, 9.0, 900))
    there = _many(compiled_twins, [ground], [80.0], _link(tx_agl_m=20.0, rx_agl_m=4.0))
    back = _many(compiled_twins, [ground[::-1].copy()], [80.0], _link(tx_agl_m=4.0, rx_agl_m=20.0))
    assert there[0] == pytest.approx(back[0], abs=1e-6)


def test_holes(compiled_twins: Twins) -> None:
    """A straight slope is its own bridge; a hole over 3 km or at an end is none."""
    slope = np.linspace(500.0, 100.0, 401)  # steps of 100 m
    short, wide, end = slope.copy(), slope.copy(), slope.copy()
    short[100:120] = math.nan
    wide[100:140] = math.nan
    end[-1] = math.nan
    found = _many(compiled_twins, [slope, short, wide, end], [40.0] * 4, _link())
    assert found[1] == pytest.approx(found[0], abs=1e-9)
    assert np.isnan(found[2:]).all()


def test_places_of_a_series(compiled_twins: Twins) -> None:
    """Through the nodes of a geodesic comes the geodesic, to a millimetre."""
    shares = 0.5 * (1.0 + np.cos(np.pi * np.arange(10) / 9))
    nodes = np.array([geodesy.direct(47.0, 11.0, 70.0, 180_000.0 * share) for share in shares])
    series = np.polynomial.chebyshev.chebfit(2.0 * shares - 1.0, nodes, 9)
    latitude, longitude = np.empty(501), np.empty(501)
    compiled_twins.places_between(
        np.ascontiguousarray(series[:, :1].T),
        np.ascontiguousarray(series[:, 1:].T),
        np.array([0, 501]),
        latitude,
        longitude,
    )
    exact = geodesy.direct(47.0, 11.0, 70.0, np.linspace(0.0, 180_000.0, 501))
    assert latitude == pytest.approx(exact[0], abs=1e-8)
    assert longitude == pytest.approx(exact[1], abs=1e-8)
