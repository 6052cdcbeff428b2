"""Coverage: every cell is a single path of P.1812, at the place the map says."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from pathprofile import geodesy
from pathprofile.area import coverage as coverage_function
from pathprofile.area.compiled import compiled
from pathprofile.area.coverage import NO_GROUND, OUTSIDE, PREDICTED, TOO_NEAR, Coverage
from pathprofile.area.mosaic import mosaic
from pathprofile.area.radials import places_along
from pathprofile.atmosphere import Atmosphere
from pathprofile.errors import OutOfRangeError, TerrainGapError
from pathprofile.places.location import Location
from pathprofile.propagation import p1812
from pathprofile.terrain.profile import extract_profile
from pathprofile.terrain.store import TerrainStore

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

SITE = Location(45.2, 9.7)
ASK: dict[str, Any] = {
    "radius_m": 12_000.0,
    "frequency_mhz": 145.0,
    "antenna_agl_m": 12.0,
    "receiver_agl_m": 5.0,
    "time_percent": 10.0,
    "cell_m": 100.0,
    "radials": 96,
    "atmosphere": Atmosphere(45.0),
}


@pytest.fixture(scope="module")
def coverage(cache_dir: Path) -> Callable[..., Coverage]:
    return lambda site, store, **more: coverage_function(site, store, cache_dir=cache_dir, **(ASK | more))


@pytest.fixture(scope="module")
def found(coverage: Callable[..., Coverage], hills: Any) -> Coverage:
    return coverage(SITE, hills)


def single(
    store: Any, azimuth: float, distance_m: np.ndarray, rx_agl_m: float = 5.0, tx_agl_m: float = 12.0
) -> float:
    latitude, longitude = geodesy.direct(SITE.latitude_deg, SITE.longitude_deg, azimuth, distance_m)
    middle, _ = geodesy.direct(SITE.latitude_deg, SITE.longitude_deg, azimuth, distance_m[-1] / 2.0)
    return p1812.predict(
        distance_m / 1000.0,
        store.elevation_m(latitude, longitude),
        np.zeros(distance_m.size),
        np.full(distance_m.size, 4),
        frequency_ghz=0.145,
        time_percent=10.0,
        tx_antenna_agl_m=tx_agl_m,
        rx_antenna_agl_m=rx_agl_m,
        polarization="vertical",
        path_centre_latitude_deg=float(middle),
        delta_n=45.0,
        n0=325.0,
    ).loss_db


def test_cells_equal_the_single_path(found: Coverage, hills: Any) -> None:
    rng = np.random.default_rng(3)
    for _ in range(40):
        row, column = (int(x) for x in rng.integers(0, found.grid.shape[0], 2))
        x, y = (column - found.grid.half) * 100.0, (found.grid.half - row) * 100.0
        ring = round(math.hypot(x, y) / 100.0)
        ray = round(math.degrees(math.atan2(x, y)) / 3.75) % 96
        if not 4 <= ring <= 120:
            continue
        expected = single(hills, 3.75 * ray, np.arange(ring + 1) * 100.0)
        # ground read from places 2 nm apart, and a path centre taken between two points: not yet 1e-9
        assert found.loss_db[ray, ring] == pytest.approx(expected, abs=1e-6)
        assert found.map_loss_db[row, column] == pytest.approx(expected, abs=2e-5)  # single precision


def test_status_tells_why(found: Coverage) -> None:
    middle = found.grid.half
    status = found.map_status
    assert status[middle, middle] == TOO_NEAR
    assert status[middle, middle + 3] == TOO_NEAR  # P.1812-8 §3.2: more than four points
    assert status[middle, middle + 4] == PREDICTED
    assert status[0, 0] == OUTSIDE
    assert not (status == NO_GROUND).any()
    assert np.array_equal(status == PREDICTED, np.isfinite(found.map_loss_db))
    circle = math.pi * 12_000.0**2 / 100.0**2
    assert (status != OUTSIDE).sum() == pytest.approx(circle, rel=0.02)


def test_georeference(found: Coverage) -> None:
    """The well-known text, read by PROJ, puts cells where the geodesic does."""
    from pyproj import Transformer

    grid = found.grid
    a, _, c, _, e, f = grid.transform
    rows, columns = np.array([0, 17, 120, 203]), np.array([240, 30, 120, 9])
    x, y = c + (columns + 0.5) * a, f + (rows + 0.5) * e
    inverse = Transformer.from_crs(grid.crs_wkt, "EPSG:4326", always_xy=True)
    longitude, latitude = inverse.transform(x, y)
    place = grid.places(rows, columns)
    assert place[0] == pytest.approx(latitude, abs=1e-8)
    assert place[1] == pytest.approx(longitude, abs=1e-8)
    assert place[0][2] == pytest.approx(SITE.latitude_deg, abs=1e-12)


def test_margin(found: Coverage) -> None:
    middle = found.grid.half
    loss = float(found.map_loss_db[middle - 60, middle])
    assert found.margin_db(150.0)[middle - 60, middle] == pytest.approx(150.0 - loss, abs=1e-4)


def test_threads_and_progress_change_nothing(
    found: Coverage, coverage: Callable[..., Coverage], hills: Any
) -> None:
    seen: list[tuple[int, int]] = []
    alone = coverage(SITE, hills, threads=1, progress=lambda done, total: seen.append((done, total)))
    assert np.array_equal(alone.loss_db, found.loss_db, equal_nan=True)
    assert seen[-1] == (96, 96)
    assert [done for done, _ in seen] == sorted(done for done, _ in seen)


def test_an_interrupt_ends_it(coverage: Callable[..., Coverage], hills: Any) -> None:
    def stop(done: int, total: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        coverage(SITE, hills, progress=stop)


class TestRadials:
    def test_follow_radius_over_cell(self, coverage: Callable[..., Coverage], hills: Any) -> None:
        wide = coverage(SITE, hills, radials=None, radius_m=20_000.0, cell_m=200.0)
        assert wide.azimuth_deg.size == math.ceil(2.0 * math.pi * 100.0)
        assert wide.resolution_m == pytest.approx(200.0, rel=2e-3)
        assert not any("radials" in note for note in wide.notes)

    def test_few_are_said(self, found: Coverage) -> None:
        assert found.resolution_m == pytest.approx(2.0 * math.pi * 12_000.0 / 96)
        assert any("785 m apart" in note for note in found.notes)


class TestGaps:
    def test_beyond_the_tiles(self, coverage: Callable[..., Coverage], ground: Any) -> None:
        store = ground(lambda lat, _lon: np.where(lat < SITE.latitude_deg + 0.05, 100.0, np.nan))
        found = coverage(SITE, store)
        edge_m = 0.05 * 111_140.0  # one degree of latitude at 45°: 111.14 km (WGS 84 meridian)
        assert found.reach_m[0] == pytest.approx(edge_m, abs=100.0)
        assert found.reach_m[48] == 12_000.0
        middle = found.grid.half
        assert found.map_status[middle - 70, middle] == NO_GROUND
        assert np.isnan(found.map_loss_db[middle - 70, middle])
        assert found.map_status[middle + 70, middle] == PREDICTED
        note = next(note for note in found.notes if "tiles end" in note)
        assert "5.5 to" in note
        assert "12 km asked for" in note

    def test_sea_where_missing(self, coverage: Callable[..., Coverage], ground: Any) -> None:
        land = ground(lambda _lat, lon: np.where(lon < SITE.longitude_deg + 0.05, 40.0, np.nan))
        level = ground(lambda _lat, lon: np.where(lon < SITE.longitude_deg + 0.05, 40.0, 0.0))
        assert np.array_equal(
            coverage(SITE, land, sea_where_missing=True).loss_db,
            coverage(SITE, level).loss_db,
            equal_nan=True,
        )

    def test_narrow_holes_are_bridged(self, coverage: Callable[..., Coverage], ground: Any) -> None:
        def formula(lat: np.ndarray, lon: np.ndarray) -> np.ndarray:
            return np.where(np.abs(lat - SITE.latitude_deg - 0.03) < 0.002, np.nan, 100.0)

        found = coverage(SITE, ground(formula))
        level = coverage(SITE, ground(lambda lat, _lon: np.full(lat.shape, 100.0)))
        assert found.loss_db[0] == pytest.approx(level.loss_db[0], nan_ok=True)
        assert 0.001 < found.bridged_share < 0.1

    def test_site_on_a_hole(self, coverage: Callable[..., Coverage], ground: Any) -> None:
        def formula(lat: np.ndarray, lon: np.ndarray) -> np.ndarray:
            near = np.hypot(lat - SITE.latitude_deg, lon - SITE.longitude_deg) < 0.001
            return np.where(near, np.nan, 100.0)

        with pytest.raises(TerrainGapError, match=r"no ground known at the site .*state its ground"):
            coverage(SITE, ground(formula))
        assert coverage(SITE, ground(formula), ground_m=100.0).site_ground_m == 100.0


@pytest.mark.parametrize(
    ("bad", "message"),
    [
        ({"radius_m": math.nan}, "radius nan m: give 1000 to"),
        ({"radius_m": 500.0}, "radius 500.0 m: give 1000 to"),
        ({"cell_m": 0.0}, "cell 0.0 m: give 1 m to a tenth"),
        ({"cell_m": -5.0, "radials": None}, "cell -5.0 m: give 1 m to a tenth"),
        ({"cell_m": 2.0, "radius_m": 1e6}, "too fine for 1000 km, give 5 m or more"),
        ({"radials": 3}, "3 radials: give 8 to 100000"),
        ({"frequency_mhz": 20.0}, "frequency_mhz 20.0: give 30 to 6000 MHz"),
        ({"time_percent": 60.0}, "time_percent 60.0: give 1 to 50 %"),
        ({"antenna_agl_m": 0.0}, "antenna_agl_m 0.0: give 0.01 to 3000 m"),
        ({"receiver_agl_m": math.inf}, "receiver_agl_m inf: give 0.01 to 3000 m"),
        ({"polarization": "slant"}, "polarization 'slant': give 'horizontal' or 'vertical'"),
        ({"threads": 0}, "threads 0: give 1 to 256"),
        ({"ground_m": 1e5}, "ground 100000.0 m at the site: give -500 to 9000"),
    ],
)
def test_bad_input(coverage: Callable[..., Coverage], hills: Any, bad: dict[str, Any], message: str) -> None:
    with pytest.raises(OutOfRangeError, match=message):
        coverage(SITE, hills, **bad)


def test_real_tiles_against_paths_of_their_own(
    coverage: Callable[..., Coverage],
    real_dem_dir: Path,
    cache_dir: Path,
    record_property: Callable[..., None],
) -> None:
    """A cell differs from the path to its own middle only by where the ground is sampled."""
    site = Location(44.55, 5.55)
    rng = np.random.default_rng(9)
    with TerrainStore.open(real_dem_dir / "N44E005.hgt") as store:
        found = coverage(site, store, radius_m=30_000.0, cell_m=90.0, radials=None, time_percent=50.0)
        from_memory = coverage(
            site,
            mosaic(store, 44.55, 5.55, 30_000.0, compiled(cache_dir).sample),
            radius_m=30_000.0,
            cell_m=90.0,
            radials=None,
            time_percent=50.0,
        )
        off = []
        for _ in range(150):
            row, column = (int(x) for x in rng.integers(0, found.grid.shape[0], 2))
            if found.map_status[row, column] != PREDICTED:
                continue
            latitude, longitude = found.grid.places(row, column)
            profile = extract_profile(store, 44.55, 5.55, float(latitude), float(longitude))
            expected = p1812.predict(
                profile.distance_m / 1000.0,
                profile.ground_m,
                np.zeros(profile.count),
                np.full(profile.count, 4),
                frequency_ghz=0.145,
                time_percent=50.0,
                tx_antenna_agl_m=12.0,
                rx_antenna_agl_m=5.0,
                polarization="vertical",
                path_centre_latitude_deg=float(profile.latitude_deg[profile.count // 2]),
                delta_n=45.0,
                n0=325.0,
            ).loss_db
            off.append(float(found.map_loss_db[row, column]) - expected)
    record_property(
        "dB off a path of its own, median and 90th percentile", np.percentile(np.abs(off), [50, 90]).tolist()
    )
    assert len(off) > 80
    assert np.median(np.abs(off)) < 1.5
    assert abs(np.median(off)) < 0.5
    both = np.isfinite(found.loss_db) & np.isfinite(from_memory.loss_db)
    assert both.mean() > 0.9
    assert np.percentile(np.abs(found.loss_db - from_memory.loss_db)[both], 99) < 0.01


def test_same_ground_as_the_rays(found: Coverage, hills: Any) -> None:
    """Equal to 1e-9 dB when the single path is given the ray's own points."""
    latitude, longitude = places_along(
        SITE.latitude_deg, SITE.longitude_deg, found.azimuth_deg[[7]], found.distance_m
    )
    ground = hills.elevation_m(latitude, longitude)[0]
    for n in range(4, 121, 4):
        expected = p1812.predict(
            found.distance_m[: n + 1] / 1000.0,
            ground[: n + 1],
            np.zeros(n + 1),
            np.full(n + 1, 4),
            frequency_ghz=0.145,
            time_percent=10.0,
            tx_antenna_agl_m=12.0,
            rx_antenna_agl_m=5.0,
            polarization="vertical",
            path_centre_latitude_deg=float(latitude[0, n // 2]),
            delta_n=45.0,
            n0=325.0,
        ).loss_db
        assert found.loss_db[7, n] == pytest.approx(expected, abs=1e-9)
