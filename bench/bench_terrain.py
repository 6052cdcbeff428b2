"""The terrain room: opening folders, first and later sampling, profiles. Tiles are made on the spot."""

from __future__ import annotations

import tempfile
import zipfile
from pathlib import Path

import numpy as np
import rasterio
from rasterio.transform import Affine

from bench.harness import Row, median_seconds
from pathprofile.terrain.profile import extract_profile
from pathprofile.terrain.store import TerrainStore

PATH_160_KM = (41.9, 1.1, 43.2, 1.9)  # 158.7 km across three one-degree tiles


def _ground(side: int, seed: int) -> np.ndarray:
    """Hills with a rough skin, so that compression has real work: int16 samples."""
    rng = np.random.default_rng(seed)
    along = np.linspace(0, 30, side)
    hills = 900 + 400 * np.sin(along)[:, np.newaxis] * np.cos(1.3 * along) + 150 * np.sin(9 * along + seed)
    return (hills + rng.normal(scale=2.0, size=(side, side))).astype(np.int16)


def _geotiff(path: Path, heights: np.ndarray, south: int, block: int) -> None:
    side = heights.shape[0]
    cell = 1 / (side - 1)
    with rasterio.open(
        path, "w", driver="GTiff", width=side, height=side, count=1, dtype=heights.dtype, crs="EPSG:4326",
        transform=Affine(cell, 0, 1 - cell / 2, 0, -cell, south + 1 + cell / 2), nodata=-32768,
        tiled=True, blockxsize=block, blockysize=block, compress="deflate",
        predictor=2 if heights.dtype == np.int16 else 3,
    ) as dataset:  # fmt: skip
        dataset.write(heights, 1)


def _make(folder: Path) -> dict[str, Path]:
    kinds = {name: folder / name for name in ("int16_512", "float32_1024", "hgt_zip", "hgt", "three")}
    for path in kinds.values():
        path.mkdir()
    for south in (41, 42, 43):
        heights = _ground(3601, south)
        _geotiff(kinds["int16_512"] / f"{south}.tif", heights, south, 512)
        _geotiff(kinds["float32_1024"] / f"{south}.tif", heights.astype(np.float32), south, 1024)
        (kinds["hgt"] / f"N{south}E001.hgt").write_bytes(heights.astype(">i2").tobytes())
        with zipfile.ZipFile(
            kinds["hgt_zip"] / f"N{south}E001.hgt.zip", "w", zipfile.ZIP_DEFLATED
        ) as archive:
            archive.write(kinds["hgt"] / f"N{south}E001.hgt", f"N{south}E001.hgt")
        (kinds["three"] / f"N{south}E001.hgt").write_bytes(_ground(1201, south).astype(">i2").tobytes())
    return kinds


def rows() -> list[Row]:
    with tempfile.TemporaryDirectory() as folder:
        kinds = _make(Path(folder))
        return [*_opening(kinds, Path(folder)), *_first(kinds), *_cached(kinds), *_profiles(kinds)]


def _opening(kinds: dict[str, Path], folder: Path) -> list[Row]:
    def without() -> None:
        TerrainStore.open(kinds["int16_512"]).close()

    def with_index() -> None:
        TerrainStore.open(kinds["int16_512"], index_dir=folder / "index").close()

    return [
        Row("terrain", "open a folder of three GeoTIFFs, headers read", 1000 * median_seconds(without), "ms"),
        Row("terrain", "open the same from the index", 1000 * median_seconds(with_index), "ms"),
    ]


def _first(kinds: dict[str, Path]) -> list[Row]:
    latitude = np.linspace(PATH_160_KM[0], PATH_160_KM[2], 5334)
    longitude = np.linspace(PATH_160_KM[1], PATH_160_KM[3], 5334)

    def first(kind: str) -> float:
        import time

        times = []
        for _ in range(9):
            with TerrainStore.open(kinds[kind]) as store:
                start = time.perf_counter()
                store.elevation_m(latitude, longitude)
                times.append(time.perf_counter() - start)
        return 1000 * float(np.median(times))

    what = 'first sampling, 160 km, three 1" tiles,'
    return [
        Row("terrain", f"{what} int16 GeoTIFF in blocks of 512", first("int16_512"), "ms", 60.0),
        Row("terrain", f"{what} float32 in blocks of 1024", first("float32_1024"), "ms"),
        Row("terrain", f"{what} .hgt", first("hgt"), "ms"),
        Row("terrain", f"{what} zipped .hgt", first("hgt_zip"), "ms"),
    ]


def _cached(kinds: dict[str, Path]) -> list[Row]:
    rng = np.random.default_rng(7)
    count = 2_000_000
    places = {
        "at random in one tile": (rng.uniform(42.0, 43.0, count), rng.uniform(1.0, 2.0, count)),
        "at random in three tiles": (rng.uniform(41.0, 44.0, count), rng.uniform(1.0, 2.0, count)),
        "along a line over three tiles": (np.linspace(41.1, 43.9, count), np.linspace(1.1, 1.9, count)),
    }
    found = []
    with TerrainStore.open(kinds["int16_512"]) as store:
        for what, (latitude, longitude) in places.items():
            seconds = median_seconds(lambda: store.elevation_m(latitude, longitude), repeat=9)  # noqa: B023 - called at once
            found.append(
                Row(
                    "terrain",
                    f"cached sampling {what}",
                    count / seconds / 1e6,
                    "million/s",
                    10.0,
                    more_is_better=True,
                )
            )
    return found


def _profiles(kinds: dict[str, Path]) -> list[Row]:
    found = []
    for kind, what in (("three", '3" tiles'), ("int16_512", '1" tiles')):
        with TerrainStore.open(kinds[kind]) as store:
            count = extract_profile(store, *PATH_160_KM).count
            seconds = median_seconds(lambda: extract_profile(store, *PATH_160_KM))
            found.append(
                Row(
                    "terrain",
                    f"profile of 160 km, cached {what}",
                    1000 * seconds,
                    "ms",
                    note=f"{count} points",
                )
            )
    return found
