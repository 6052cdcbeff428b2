"""Visible area against closed forms and against exact line tracing on real ground."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from pyproj import Geod

from pathprofile import geodesy
from pathprofile.area import InSight
from pathprofile.area import in_sight as in_sight_function
from pathprofile.area.in_sight import IN_SIGHT, UNKNOWN
from pathprofile.atmosphere import Atmosphere
from pathprofile.errors import OutOfRangeError
from pathprofile.places.location import Location
from pathprofile.terrain.store import TerrainStore

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

SITE = Location(45.2, 9.7)


@pytest.fixture(scope="module")
def in_sight(cache_dir: Path) -> Callable[..., InSight]:
    return lambda site, store, **more: in_sight_function(site, store, cache_dir=cache_dir, **more)


@pytest.mark.parametrize("target_m", [0.0, 10.0])
def test_smooth_earth(in_sight: Callable[..., InSight], ground: Any, target_m: float) -> None:
    """In sight up to √(2ah) + √(2ah') on a smooth Earth (closed form)."""
    radius_m = Atmosphere().effective_radius_m
    far_m = math.sqrt(2.0 * radius_m * 30.0) + math.sqrt(2.0 * radius_m * target_m)
    found = in_sight(
        SITE,
        ground(lambda lat, _lon: np.zeros(lat.shape)),
        radius_m=45_000.0,
        antenna_agl_m=30.0,
        target_agl_m=target_m,
        cell_m=150.0,
    )
    assert found.area_km2 == pytest.approx(math.pi * (far_m / 1000.0) ** 2, rel=0.015)
    assert found.map_seen[0, 0] == UNKNOWN
    assert found.resolution_m == pytest.approx(150.0, rel=1e-2)


def test_higher_sees_more(in_sight: Callable[..., InSight], hills: Any) -> None:
    ask: dict[str, Any] = {"radius_m": 15_000.0, "cell_m": 150.0, "target_agl_m": 2.0}
    low = in_sight(SITE, hills, antenna_agl_m=5.0, **ask).map_seen == IN_SIGHT
    high = in_sight(SITE, hills, antenna_agl_m=60.0, **ask).map_seen == IN_SIGHT
    assert (high | ~low).all()
    assert high.sum() > low.sum() > 0


def test_refuses_a_target_under_ground(in_sight: Callable[..., InSight], hills: Any) -> None:
    with pytest.raises(OutOfRangeError, match=r"target_agl_m -2.0: give 0 to 3000 m"):
        in_sight(SITE, hills, radius_m=5000.0, antenna_agl_m=5.0, target_agl_m=-2.0)


def traced(
    store: TerrainStore, site: Location, eye_m: float, places: tuple[np.ndarray, np.ndarray]
) -> np.ndarray:
    """Exact line to each place on its own geodesic, every 45 m: 1 in sight, 0 hidden, −1 unknown."""
    radius_m = Atmosphere().effective_radius_m
    here = np.full(places[0].shape, site.longitude_deg), np.full(places[0].shape, site.latitude_deg)
    azimuth, _, whole = Geod(ellps="WGS84").inv(*here, places[1], places[0])
    result = np.empty(whole.size, np.int64)
    order = np.argsort(whole)
    for chunk in np.array_split(order, 150):
        steps = max(8, math.ceil(whole[chunk].max() / 45.0))
        share = np.arange(1, steps + 1) / steps
        distance = whole[chunk, np.newaxis] * share
        latitude, longitude = geodesy.direct(
            site.latitude_deg, site.longitude_deg, azimuth[chunk, np.newaxis], distance
        )
        ground = store.elevation_m(latitude, longitude)
        slope = (ground - eye_m) / distance - distance / (2.0 * radius_m)
        target = (ground[:, -1] + 2.0 - eye_m) / whole[chunk] - whole[chunk] / (2.0 * radius_m)
        seen = target >= slope[:, :-1].max(axis=1)
        result[chunk] = np.where(np.isnan(ground).any(axis=1), -1, seen)
    return result


def test_exact_line_tracing(
    in_sight: Callable[..., InSight], real_dem_dir: Path, record_property: Callable[..., None]
) -> None:
    rng = np.random.default_rng(17)
    site = Location(44.51917, 5.51583)  # a summit among others: 14 % of the cells are in sight
    with TerrainStore.open(real_dem_dir / "N44E005.hgt") as store:
        found = in_sight(site, store, radius_m=20_000.0, antenna_agl_m=10.0, target_agl_m=2.0, cell_m=90.0)
        known = np.argwhere(found.map_seen != UNKNOWN)
        known = known[(known != found.grid.half).any(axis=1)]  # not the site itself
        some = known[rng.choice(len(known), 24_000, replace=False)]
        exact = traced(store, site, found.eye_amsl_m, found.grid.places(some[:, 0], some[:, 1]))
    usable = exact >= 0
    ours = found.map_seen[some[:, 0], some[:, 1]][usable] == IN_SIGHT
    theirs = exact[usable] == 1
    overlap = (ours & theirs).sum() / (ours | theirs).sum()
    record_property("intersection over union", float(overlap))
    record_property("cells compared", int(usable.sum()))
    assert usable.sum() >= 20_000
    assert theirs.sum() > 500
    assert overlap >= 0.93
