"""The command line from a cold start, and the whole job once everything is loaded.

Cold: a new process each time, files and compiled Python in the page cache, the index of tiles built before.
Warm: 5,300 points over three 1″ tiles made on the spot from the sample island, blocks in the cache.
"""

from __future__ import annotations

import datetime as dt
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

import rasterio
from rasterio.enums import Resampling
from rasterio.transform import Affine

from bench.harness import Row, median_seconds
from pathprofile.changes import what_would_change
from pathprofile.contact import Party, contact
from pathprofile.places import parse_location
from pathprofile.reach import assess, reach, survey
from pathprofile.sample import sample_dir
from pathprofile.station import Station
from pathprofile.terrain.store import TerrainStore

GULL_TOR, MARSH_END = "47.74833,-21.00083", "46.29750,-20.93750"
SHIFT_DEG = 38  # south, to where a cell is nearly as wide as it is high
DAY = dt.date(2026, 6, 14)
RUNS = 9


def rows() -> list[Row]:
    with tempfile.TemporaryDirectory() as folder:
        return [*_cold(Path(folder)), *_warm(Path(folder))]


def _cold(folder: Path) -> list[Row]:
    command = [sys.executable, str(Path(sys.executable).with_name("pathprofile"))]
    path = [*command, "reach", GULL_TOR, MARSH_END, "--dem", str(sample_dir()), "--quiet"]
    runs = {
        "python -c pass": [sys.executable, "-c", "pass"],
        "pathprofile --help": [*command, "--help"],
        "reach, text": path,
        "reach, JSON": [*path, "--json"],
        "reach, text and PNG": [*path, "--chart", str(folder / "path.png")],
    }
    limits = {"pathprofile --help": 0.15, "reach, text": 0.6, "reach, JSON": 0.6, "reach, text and PNG": 1.1}
    ran: dict[str, list[Process]] = {what: [] for what in runs}
    environment = os.environ | {"XDG_CACHE_HOME": str(folder / "cache")}
    for _ in range(RUNS + 1):
        for what, words in runs.items():
            ran[what].append(_once(words, environment, folder))
    found, seconds = [], {}
    for what, processes in ran.items():
        later = processes[1:]  # the first builds the index and the list of fonts
        seconds[what] = statistics.median(each.wall_s for each in later)
        cpu_s = statistics.median(each.cpu_s for each in later)
        name = f"cold: {what}{', 160 km at 3″' if 'reach' in what else ''}"
        found.append(
            Row("cli", name, seconds[what], "s", limits.get(what), note=f"{cpu_s:.3f} s of processor")
        )
    ratio = seconds["pathprofile --help"] / seconds["python -c pass"]
    found.append(Row("cli", "cold: --help over python -c pass", ratio, "times", 12.0))
    peak_mb = max(each.peak_mb for each in ran["reach, text and PNG"])
    found.append(Row("cli", "peak memory: reach, text and PNG", peak_mb, "MB", 170.0))
    return found


class Process(NamedTuple):
    """What one process took."""

    wall_s: float
    cpu_s: float
    peak_mb: float


def _once(words: list[str], environment: dict[str, str], folder: Path) -> Process:
    start = time.perf_counter()
    with subprocess.Popen(words, stdout=subprocess.DEVNULL, env=environment, cwd=folder) as running:
        _, status, used = os.wait4(running.pid, 0)
        taken = time.perf_counter() - start
        running.returncode = os.waitstatus_to_exitcode(status)
    assert running.returncode == 0, words
    unit = 1e6 if sys.platform == "darwin" else 1e3  # bytes there, kilobytes here
    return Process(taken, used.ru_utime + used.ru_stime, used.ru_maxrss / unit)


def _one_second_tiles(folder: Path) -> None:
    """Sample tiles at three times their resolution, moved south."""
    for name, south, west in (
        ("N46W021.hgt.zip", 46, -21),
        ("N47W021.tif", 47, -21),
        ("N47W022.tif", 47, -22),
    ):
        side, cell = 3601, 1 / 3600
        with rasterio.open(sample_dir() / name) as coarse:
            heights = coarse.read(1, out_shape=(side, side), resampling=Resampling.bilinear)
        corner = Affine(cell, 0, west - cell / 2, 0, -cell, south - SHIFT_DEG + 1 + cell / 2)
        target = folder / f"{south}{west}.tif"
        with rasterio.open(
            target, "w", driver="GTiff", width=side, height=side, count=1, dtype="int16",
            crs="EPSG:4326", transform=corner, nodata=-32768, tiled=True, blockxsize=512, blockysize=512,
            compress="deflate", predictor=2,
        ) as fine:  # fmt: skip
            fine.write(heights, 1)


def _warm(folder: Path) -> list[Row]:
    tiles = folder / "tiles"
    tiles.mkdir()
    _one_second_tiles(tiles)
    ends = [
        parse_location(f"{float(lat) - SHIFT_DEG:.5f},{lon}")
        for lat, lon in (text.split(",") for text in (GULL_TOR, MARSH_END))
    ]
    heights = {"from_antenna_agl_m": 6.0, "to_antenna_agl_m": 10.0}
    sides = [Party(Station(name=name, place=name), end) for name, end in zip("AB", ends, strict=True)]
    with TerrainStore.open(tiles) as terrain:

        def deciding() -> None:
            found = survey(*ends, terrain, date=DAY)
            assess(found, frequency_mhz=144.3, deciding_only=True, **heights)

        def whole() -> None:
            reach(*ends, terrain, date=DAY, frequency_mhz=144.3, **heights)

        def linked() -> None:
            contact(*sides, terrain, date=DAY, frequency_mhz=144.3)

        def changed() -> None:
            found = contact(*sides, terrain, date=DAY, frequency_mhz=144.3)
            what_would_change(found, terrain)

        points = survey(*ends, terrain, date=DAY).profile.distance_m.size
        return [
            Row("cli", f"warm: {what}, {points} points", 1000 * median_seconds(call), "ms", limit)
            for what, call, limit in (
                ("path and the deciding methods", deciding, 5.0),
                ("reach with every method", whole, 15.0),
                ("contact with modes", linked, None),
                ("contact, modes and changes", changed, 80.0),
            )
        ]
