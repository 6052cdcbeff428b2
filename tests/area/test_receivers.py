"""Every receiver on a radial against the single path on the same points: the same loss, the same geometry.

The two share the equations and nothing of the search, so that each checks the other's; the single path is
checked against the published figures of P.1812 in tests/propagation.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest

from pathprofile.area import receivers
from pathprofile.area.radials import places_along
from pathprofile.area.receivers import Link
from pathprofile.atmosphere import Atmosphere
from pathprofile.propagation import p1812
from pathprofile.terrain.store import TerrainStore

if TYPE_CHECKING:
    from pathlib import Path

    from pathprofile.area.compiled import Kernels

STEP_KM = 0.09
DELTA_N = 45.0
EQUAL_DB = 1e-9


def link(percent: float, tx_agl_m: float = 10.0, mhz: float = 145.0, rx_agl_m: float = 5.0) -> Link:
    radius_km = Atmosphere(DELTA_N).effective_radius_m / 1000.0
    return Link(mhz / 1000.0, percent, 325.0, True, 50.0, 0.0, tx_agl_m, rx_agl_m, radius_km)


def losses(
    kernels: Kernels, ground: np.ndarray, ask: Link, zone: np.ndarray | None = None, latitude: float = 47.0
) -> np.ndarray:
    found = np.empty((1, ground.size))
    zones = np.full(ground.size, 4) if zone is None else zone
    kernels.field_losses(
        np.arange(ground.size) * STEP_KM,
        ground[np.newaxis],
        np.array([ground.size]),
        np.full((1, ground.size), latitude),
        zones[np.newaxis].astype(np.uint8),
        ask,
        found,
    )
    return found[0]


def geometry(
    ground: np.ndarray,
    n: int,
    ask: Link,
    zone: np.ndarray | None = None,
    coast: tuple[float, float] = (500.0, 500.0),
) -> p1812.PathGeometry:
    return p1812.path_geometry(
        np.arange(n + 1) * STEP_KM,
        ground[: n + 1],
        np.zeros(n + 1),
        np.full(n + 1, 4) if zone is None else zone[: n + 1],
        tx_antenna_agl_m=ask.tx_agl_m,
        rx_antenna_agl_m=ask.rx_agl_m,
        path_centre_latitude_deg=47.0,
        delta_n=DELTA_N,
        tx_coast_km=coast[0],
        rx_coast_km=coast[1],
    )


def predicted(path: p1812.PathGeometry, ask: Link) -> p1812.Prediction:
    return p1812.predict_from(
        path,
        frequency_ghz=ask.frequency_ghz,
        time_percent=ask.time_percent,
        polarization="vertical" if ask.vertical else "horizontal",
        n0=ask.n0,
        location_percent=ask.location_percent,
        location_sigma_db=ask.location_sigma_db,
    )


def at_step_of_j(path: p1812.PathGeometry, ghz: float) -> bool:
    """Whether rounding decides on which side of ν = −0.78, where J jumps, an edge lies (P.1812-8 eq. 12)."""
    root = math.sqrt(0.002 * path.d_km * ghz / 0.2998)
    edges = (path.median.terrain, path.median.smooth, path.anomalous.terrain, path.anomalous.smooth)
    return any(edge.to_slope == 0.0 and abs(edge.worst_excess * root + 0.78) < 1e-9 for edge in edges)


def compare(found: np.ndarray, ground: np.ndarray, ask: Link, every: int) -> tuple[int, int]:
    """Check every so many receivers; returns how many, and how many flipped at the step of J."""
    checked = flips = 0
    for n in range(4, ground.size, every):
        path = geometry(ground, n, ask)
        if abs(predicted(path, ask).loss_db - found[n]) > EQUAL_DB:
            assert at_step_of_j(path, ask.frequency_ghz), (n, predicted(path, ask).loss_db, found[n])
            flips += 1
        checked += 1
    return checked, flips


@pytest.mark.parametrize("percent", [50.0, 10.0, 1.0])
@pytest.mark.parametrize("tx_agl_m", [10.0, 1200.0])
def test_loss_equals_single_path(
    kernels: Kernels, profile: np.ndarray, percent: float, tx_agl_m: float, record_property: object
) -> None:
    ask = link(percent, tx_agl_m)
    checked, flips = compare(losses(kernels, profile, ask), profile, ask, 7)
    record_property("branch flips at the step of J", f"{flips} of {checked}")  # type: ignore[operator]
    assert flips <= 1


@pytest.mark.parametrize("mhz", [50.0, 432.0, 2320.0, 5760.0])
def test_frequency_polarization_and_place(kernels: Kernels, mhz: float) -> None:
    ground = np.abs(np.cumsum(np.random.default_rng(8).normal(0.0, 9.0, 500)))
    ask = link(20.0, 40.0, mhz)._replace(vertical=False, location_percent=90.0, location_sigma_db=5.5)
    assert compare(losses(kernels, ground, ask), ground, ask, 5) == (100, 0)


def test_real_mountains(kernels: Kernels, real_dem_dir: Path, record_property: object) -> None:
    distance = np.arange(700) * 1000.0 * STEP_KM
    azimuth = np.arange(0.0, 360.0, 24.0)
    with TerrainStore.open(real_dem_dir / "N42E001.hgt.zip") as store:
        heights = store.elevation_m(*places_along(42.54, 1.46, azimuth, distance))
    checked = flips = 0
    for percent, tx_agl_m in ((50.0, 10.0), (5.0, 10.0), (10.0, 600.0)):
        ask = link(percent, tx_agl_m)
        for ray in heights:
            known = ray.size if not np.isnan(ray).any() else int(np.isnan(ray).argmax())
            if known < 60:
                continue
            some = compare(losses(kernels, ray[:known], ask), ray[:known], ask, 11)
            checked += some[0]
            flips += some[1]
    record_property("branch flips at the step of J", f"{flips} of {checked}")  # type: ignore[operator]
    assert checked > 800
    assert flips <= 2


class TestGeometryItself:
    """Loss hides what does not rule it, so the geometry given to the equations is compared field by field."""

    @staticmethod
    def paths(
        monkeypatch: pytest.MonkeyPatch, ground: np.ndarray, ask: Link, zone: np.ndarray | None = None
    ) -> list[p1812.PathGeometry]:
        seen: list[p1812.PathGeometry] = []
        losses_from = receivers.losses_from

        def note(path: p1812.PathGeometry, *rest: float) -> object:
            seen.append(path)
            return losses_from(path, *rest)

        monkeypatch.setattr(receivers, "losses_from", note)
        zones = np.full(ground.size, 4, np.uint8) if zone is None else zone.astype(np.uint8)
        receivers.radial_losses(
            np.arange(ground.size) * STEP_KM,
            ground,
            np.full(ground.size, 47.0),
            zones,
            ask,
            np.empty(ground.size),
        )
        return seen

    @pytest.mark.parametrize("tx_agl_m", [10.0, 1200.0])
    def test_every_field(self, monkeypatch: pytest.MonkeyPatch, profile: np.ndarray, tx_agl_m: float) -> None:
        ground = profile[:260]
        ask = link(10.0, tx_agl_m)
        seen = self.paths(monkeypatch, ground, ask)
        assert len(seen) == ground.size - 4
        for found in seen[::3]:
            path = found
            expected = geometry(ground, round(path.d_km / STEP_KM), ask)
            root = math.sqrt(0.002 * path.d_km * ask.frequency_ghz / 0.2998)
            if (
                path.median.terrain.to_slope == 0.0
            ):  # the excess that ducting needs is never left at the floor
                assert path.median.terrain.worst_excess == expected.median.terrain.worst_excess
            path, expected = (floored(each, root) for each in (path, expected))
            assert flatten(path) == pytest.approx(flatten(expected), rel=1e-9, abs=1e-9)

    def test_zones(self, monkeypatch: pytest.MonkeyPatch, kernels: Kernels) -> None:
        rng = np.random.default_rng(11)
        ground = rng.uniform(0.0, 50.0, 200)
        zone = np.repeat(rng.choice([1, 3, 4], 25), 8)
        ground[zone == 1] = 0.0
        ask = link(10.0)
        found = losses(kernels, ground, ask, zone)
        for path in self.paths(monkeypatch, ground, ask, zone):
            n = round(path.d_km / STEP_KM)
            sea = np.flatnonzero(zone[: n + 1] == 1) * STEP_KM
            coast = (sea[0], path.d_km - sea[-1]) if sea.size else (500.0, 500.0)
            expected = geometry(ground, n, ask, zone, coast)
            assert flatten(path)[:24] == pytest.approx(flatten(expected)[:24], rel=1e-9, abs=1e-9)
            assert found[n] == pytest.approx(predicted(expected, ask).loss_db, abs=EQUAL_DB)


def floored(path: p1812.PathGeometry, root: float) -> p1812.PathGeometry:
    """Raise every ν below −0.79 to it: so far J is 0, and the kernels do not tell them apart."""
    radii = []
    for radius in (path.median, path.anomalous):
        edges = [edge._replace(worst_excess=max(edge.worst_excess, -0.79 / root)) for edge in radius[1:]]
        radii.append(radius._replace(terrain=edges[0], smooth=edges[1]))
    return path._replace(median=radii[0], anomalous=radii[1])


def flatten(values: tuple[object, ...]) -> list[float]:
    flat: list[float] = []
    for value in values:
        flat += flatten(value) if isinstance(value, tuple) else [float(value)]  # type: ignore[arg-type]
    return flat


def test_too_near_is_not_predicted(kernels: Kernels) -> None:
    found = losses(kernels, np.zeros(30), link(50.0))
    assert np.isnan(found[:4]).all()
    assert np.isfinite(found[4:]).all()
    fine = np.empty((1, 30))
    kernels.field_losses(
        np.arange(30) * 0.02,
        np.zeros((1, 30)),
        np.array([30]),
        np.full((1, 30), 47.0),
        np.full((1, 30), 4, np.uint8),
        link(50.0),
        fine,
    )
    assert np.isnan(fine[0, :13]).all()  # P.1812-8 §1: from 0.25 km, that is from point 13 on
    assert np.isfinite(fine[0, 13:]).all()


def test_unknown_ground_ends_a_radial(kernels: Kernels) -> None:
    ground = np.zeros((2, 40))
    found = np.empty((2, 40))
    kernels.field_losses(
        np.arange(40) * STEP_KM,
        ground,
        np.array([40, 20]),
        np.full((2, 40), 47.0),
        np.full((1, 40), 4, np.uint8),
        link(50.0),
        found,
    )
    assert np.isfinite(found[0, 4:]).all()
    assert np.isnan(found[1, 20:]).all()
    assert np.array_equal(found[0, 4:20], found[1, 4:20])


def test_reciprocal(kernels: Kernels) -> None:
    """Swapping the ends of a path changes nothing (P.1812 is reciprocal away from ties)."""
    ground = np.abs(np.cumsum(np.random.default_rng(2).normal(0.0, 12.0, 400))) + 20.0
    out = losses(kernels, ground, link(10.0, 30.0, rx_agl_m=8.0))[-1]
    back = losses(kernels, ground[::-1].copy(), link(10.0, 8.0, rx_agl_m=30.0))[-1]
    assert out == pytest.approx(back, abs=1e-8)
