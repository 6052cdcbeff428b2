"""Whole areas: P.1812 to millions of receivers, skyline, what is in sight; speed, memory and growth."""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from bench.area_reference import compiled_reference, rough_mountains
from bench.harness import Row, median_seconds
from pathprofile.area import in_sight, skyline
from pathprofile.area.compiled import Kernels, compiled
from pathprofile.area.mosaic import mosaic
from pathprofile.area.receivers import Link
from pathprofile.atmosphere import Atmosphere
from pathprofile.places.location import Location
from pathprofile.terrain.store import TerrainStore

if TYPE_CHECKING:
    from collections.abc import Callable

RAYS, RINGS, STEP_KM = 1440, 1778, 0.09
THREADS = 2
SITE = Location(45.0, 9.0)
_STRIP = 16
_REFERENCE_RAYS = 2

_WHOLE_PROCESS = """
import json, resource, sys, time
start = time.perf_counter()
from pathlib import Path
from pathprofile.area import coverage
from pathprofile.places.location import Location
from pathprofile.terrain.store import TerrainStore
store = TerrainStore.open(sys.argv[1], index_dir=sys.argv[2])
found = coverage(Location(45.0, 9.0), store, radius_m=160_000.0, frequency_mhz=145.0, antenna_agl_m=10.0,
                 receiver_agl_m=5.0, time_percent=float(sys.argv[3]), cell_m=90.0, radials=1440,
                 cache_dir=Path(sys.argv[2]))
print(json.dumps({"s": time.perf_counter() - start, "cells": int((found.map_status == 1).sum()),
                  "mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024}))
"""


def rows() -> list[Row]:
    with tempfile.TemporaryDirectory() as folder:
        cache = Path(folder, "cache")
        tiles = _tiles(Path(folder, "tiles"))
        first = _whole_process(tiles, cache, 50.0)  # before anything is in the cache
        kernels = compiled(cache)
        return [
            *_against_reference(kernels),
            *_processes(tiles, cache, first),
            *_views(tiles, cache, kernels),
            *_growth(kernels),
        ]


def _link(percent: float, tx_agl_m: float) -> Link:
    radius_km = Atmosphere(45.0).effective_radius_m / 1000.0
    return Link(0.145, percent, 325.0, True, 50.0, 0.0, tx_agl_m, 5.0, radius_km)


def _losses(
    kernels: Kernels, ground: np.ndarray, step_km: float, link: Link, busy: list[float] | None = None
) -> np.ndarray:
    """All rays in strips, two threads: the compute part of a coverage. ``busy`` takes processor seconds."""
    along = np.arange(ground.shape[1]) * step_km
    latitude = np.full((_STRIP, along.size), 45.0)
    zone = np.full((1, along.size), 4, np.uint8)
    known = np.full(_STRIP, along.size)
    loss = np.empty(ground.shape)

    def strip(top: int) -> None:
        part = slice(top, top + _STRIP)
        start = time.thread_time()
        kernels.field_losses(along, ground[part], known, latitude, zone, link, loss[part])
        if busy is not None:
            busy.append(time.thread_time() - start)

    with ThreadPoolExecutor(THREADS) as pool:
        list(pool.map(strip, range(0, ground.shape[0], _STRIP)))
    return loss


def _against_reference(kernels: Kernels) -> list[Row]:
    reference = compiled_reference()
    along = np.arange(RINGS) * STEP_KM
    flat = np.zeros(RINGS)
    latitude = np.full((_REFERENCE_RAYS, RINGS), 45.0)
    found = []
    for name, ground in (("mountains", rough_mountains(RAYS, RINGS)), ("flat sea", np.zeros((RAYS, RINGS)))):
        some = ground[:_REFERENCE_RAYS]
        for percent, limit in ((50.0, 1.2), (10.0, 2.0)):
            link = _link(percent, 10.0)
            theirs = np.full(some.shape, np.nan)
            loop = _caller(reference, along, some, flat, latitude, link, theirs)
            loss = _losses(kernels, ground, STEP_KM, link)
            # in turns, so that a busy machine slows both
            fast, slow, fast_busy, slow_busy = [], [], [], []
            loop()
            for _ in range(3):
                busy: list[float] = []
                fast.append(_seconds(_caller(_losses, kernels, ground, STEP_KM, link, busy)))
                fast_busy.append(sum(busy))
                start = time.thread_time()
                slow.append(_seconds(loop))
                slow_busy.append(time.thread_time() - start)
            seconds = float(np.median(fast))
            whole = float(np.median(slow)) * RAYS / _REFERENCE_RAYS
            one_thread = float(np.median(slow_busy)) * RAYS / _REFERENCE_RAYS / float(np.median(fast_busy))
            off = float(np.nanmax(np.abs(loss[:_REFERENCE_RAYS] - theirs)))
            what = f"1,440 radials of 160 km at 90 m, {name}, p = {percent:g} %"
            found += [
                Row(
                    "area",
                    what,
                    seconds,
                    "s",
                    limit if name == "mountains" else None,
                    note=f"compute, two threads; {np.median(fast_busy):.2f} s of processor",
                ),
                Row(
                    "area",
                    f"  times as fast as the plain compiled loop ({name}, {percent:g} %)",
                    whole / seconds,
                    "times",
                    40.0,
                    more_is_better=True,
                    note=f"loop: one thread, {_REFERENCE_RAYS} rays scaled to {whole:.0f} s; "
                    f"{one_thread:.1f} times by processor time of one thread; at most {off:.1g} dB apart",
                ),
            ]
    return found


def _processes(tiles: Path, cache: Path, first: dict[str, float]) -> list[Row]:
    again = _whole_process(tiles, cache, 50.0)
    ten = _whole_process(tiles, cache, 10.0)
    what = "whole process to the map, 160 km, 90 m, 1,440 radials, 3″ tiles"
    return [
        Row(
            "area",
            f"{what}, p = 50 %",
            again["s"],
            "s",
            4.0,
            note=f"{again['busy']:.1f} s of processor; no GeoTIFF yet",
        ),
        Row("area", f"{what}, p = 10 %", ten["s"], "s", 4.0, note=f"{ten['busy']:.1f} s of processor"),
        Row(
            "area",
            "  the same, first run with no compile cache",
            first["s"],
            "s",
            note=f"{first['busy']:.1f} s of processor",
        ),
        Row("area", "  peak memory", max(again["mb"], ten["mb"]), "MB", 500.0),
        Row("area", "  peak memory of the first run, compiler at work", first["mb"], "MB"),
    ]


def _views(tiles: Path, cache: Path, kernels: Kernels) -> list[Row]:
    with TerrainStore.open(tiles) as store:
        stored = mosaic(store, SITE.latitude_deg, SITE.longitude_deg, 160_000.0, kernels.sample)
        making = median_seconds(
            lambda: mosaic(store, SITE.latitude_deg, SITE.longitude_deg, 160_000.0, kernels.sample),
            repeat=2,
            warmup=0,
        )
        fast = median_seconds(lambda: skyline(SITE, stored, antenna_agl_m=10.0, cache_dir=cache), repeat=5)
        plain = median_seconds(
            lambda: skyline(SITE, store, antenna_agl_m=10.0, cache_dir=cache), repeat=3, warmup=1
        )
        ask: dict[str, Any] = {"antenna_agl_m": 10.0, "target_agl_m": 2.0, "cell_m": 90.0, "cache_dir": cache}
        seen = median_seconds(lambda: in_sight(SITE, store, radius_m=60_000.0, **ask), repeat=3, warmup=1)
    return [
        Row("area", "skyline, 3,600 azimuths to 160 km, ground in memory", fast, "s", 0.3),
        Row("area", "  straight from the tiles, all decoded", plain, "s"),
        Row("area", "  reading 320 km square of 3″ into memory, tiles decoded", making, "s"),
        Row(
            "area",
            "in sight to 60 km at 90 m, 4,189 rays, 1.8 million cells",
            seen,
            "s",
            note="from the tiles",
        ),
    ]


def _growth(kernels: Kernels) -> list[Row]:
    """Processor time a receiver against radius and cell: it should hardly grow with points on a radial."""
    found = []
    for radius_km, cell_m in ((40, 90), (80, 90), (160, 90), (320, 90), (160, 180), (160, 45), (160, 22.5)):
        rings = int(radius_km * 1000 / cell_m) + 1
        ground = rough_mountains(64, rings)
        link = _link(10.0, 10.0)
        _losses(kernels, ground, cell_m / 1000.0, link)
        spent = []
        for _ in range(3):
            busy: list[float] = []
            _losses(kernels, ground, cell_m / 1000.0, link, busy)
            spent.append(sum(busy))
        seconds = float(np.median(spent))
        found.append(
            Row(
                "area",
                f"cost a receiver, radius {radius_km} km, cell {cell_m:g} m ({rings} points)",
                seconds / ground.size * 1e9,
                "ns",
                note="of processor time; p = 10 %, mountains",
            )
        )
    return found


def _caller(function: Callable[..., Any], *given: Any) -> Callable[[], Any]:
    return lambda: function(*given)


def _seconds(call: Callable[[], Any]) -> float:
    start = time.perf_counter()
    call()
    return time.perf_counter() - start


def _whole_process(tiles: Path, cache: Path, percent: float) -> dict[str, float]:
    command = [sys.executable, "-c", _WHOLE_PROCESS, str(tiles), str(cache), str(percent)]
    start, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(command, capture_output=True, text=True, check=True, cwd=Path(__file__).parents[1])
    seconds, after = time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    busy = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return json.loads(done.stdout) | {"s": seconds, "busy": busy}


def _tiles(folder: Path) -> Path:
    """Invented mountains as 3″ tiles: one square degree that fits its neighbours, under many names."""
    folder.mkdir(parents=True)
    rng = np.random.default_rng(31)
    waves = np.hypot(np.fft.fftfreq(1200)[:, np.newaxis], np.fft.rfftfreq(1200))
    waves[0, 0] = np.inf
    noise = rng.normal(size=waves.shape) + 1j * rng.normal(size=waves.shape)
    relief = np.fft.irfft2(noise * waves**-1.9)
    relief = (relief - relief.min()) / np.ptp(relief) * 2500.0
    square = np.pad(relief, ((0, 1), (0, 1)), mode="wrap").round().astype(">i2")
    first = folder / "N43E006.hgt"
    square.tofile(first)
    for north in range(43, 47):
        for east in range(6, 12):
            tile = folder / f"N{north}E{east:03d}.hgt"
            if tile != first:
                os.link(first, tile)
    return folder
