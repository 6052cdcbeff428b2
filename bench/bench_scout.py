"""Looking for better ground: links a second against the single path, and a whole scouting, cold and warm."""

from __future__ import annotations

import json
import math
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from bench.harness import Row
from pathprofile.area.many_links import FarEnd, Losses, losses_between
from pathprofile.atmosphere import Atmosphere
from pathprofile.geodesy import inverse
from pathprofile.propagation import p1812
from pathprofile.sample import sample_dir, sample_places
from pathprofile.terrain.profile import extract_profile
from pathprofile.terrain.store import TerrainStore

if TYPE_CHECKING:
    from collections.abc import Callable

    from pathprofile.sample import SamplePlace

STEP_M = 63.0
_SINGLE_PATHS = 24

_WHOLE = """
import datetime as dt, json, resource, sys, time
start = time.perf_counter()
from pathlib import Path
from pathprofile.area.scout import scout
from pathprofile.contact import Party
from pathprofile.places import parse_location
from pathprofile.sample import sample_dir, sample_places
from pathprofile.station import Station
from pathprofile.terrain.store import TerrainStore
from pathprofile.trip.terms import Terms, wanted_modes

def party(name, unstated):
    place = sample_places()[name]
    text = f"{place.latitude_deg:.5f} {place.longitude_deg:.5f}"
    return Party(Station(name=name, place=text), parse_location(text, label=name), unstated)

names = [name for name in sample_places() if name != "Gull Tor"][2:14]
terms = Terms(dt.date(2026, 6, 14), wanted_modes([144.3], ["ssb"]))
times = []
with TerrainStore.open([sample_dir()]) as terrain:
    for _ in range(3):
        found = scout(party("Gull Tor", "open"), [party(name, "suburb") for name in names], terrain, terms,
                      within_m=2000.0, cache_dir=Path(sys.argv[1]))
        times.append(time.perf_counter() - start)
        start = time.perf_counter()
print(json.dumps({"s": times, "links": found.links_worked, "looked_at": found.looked_at,
                  "mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024}))
"""


def rows() -> list[Row]:
    with tempfile.TemporaryDirectory() as folder:
        cache = Path(folder)
        first = _whole(cache)  # before anything is in the cache
        with TerrainStore.open([sample_dir()]) as terrain:
            return [*_links(terrain, cache), *_scoutings(first, _whole(cache))]


def _far() -> list[FarEnd]:
    places = [place for name, place in sample_places().items() if name != "Gull Tor"][:12]
    ends = [(place.latitude_deg, place.longitude_deg) for place in places]
    return [FarEnd(*end, math.nan, 8.0, 6.0, 144.3, True, STEP_M) for end in ends]


def _span_km(place: SamplePlace, far: list[FarEnd]) -> str:
    ways = [
        inverse(place.latitude_deg, place.longitude_deg, one.latitude_deg, one.longitude_deg) for one in far
    ]
    return f"{min(ways).distance_m / 1000:.0f} to {max(ways).distance_m / 1000:.0f}"


def _links(terrain: TerrainStore, cache: Path) -> list[Row]:
    """Both in turns, so that a busy machine slows both."""
    rng = np.random.default_rng(1)
    tor, far, air = sample_places()["Gull Tor"], _far(), Atmosphere()
    latitude = tor.latitude_deg + rng.uniform(-0.015, 0.015, 400)
    longitude = tor.longitude_deg + rng.uniform(-0.02, 0.02, 400)

    def fast() -> Losses:
        return losses_between(latitude, longitude, far, terrain, atmosphere=air, cache_dir=cache)

    def one(row: int, station: FarEnd) -> float:
        profile = extract_profile(
            terrain,
            float(latitude[row]),
            float(longitude[row]),
            station.latitude_deg,
            station.longitude_deg,
            step_m=STEP_M,
        )
        return p1812.predict(
            profile.distance_m / 1000.0,
            profile.ground_m,
            np.zeros(profile.count),
            np.full(profile.count, 4),
            frequency_ghz=station.frequency_mhz / 1000.0,
            time_percent=50.0,
            tx_antenna_agl_m=station.near_agl_m,
            rx_antenna_agl_m=station.antenna_agl_m,
            polarization="vertical",
            path_centre_latitude_deg=float(np.median(profile.latitude_deg)),
            delta_n=air.delta_n,
            n0=air.n0,
        ).loss_db

    def slow() -> list[float]:
        return [one(number // 12, far[number % 12]) for number in range(_SINGLE_PATHS)]

    found, single = fast(), slow()
    off = [abs(found.loss_db[number // 12, number % 12] - loss) for number, loss in enumerate(single)]
    many, few = [], []
    for _ in range(3):
        many.append(found.worked / _seconds(fast))
        few.append(_SINGLE_PATHS / _seconds(slow))
    fast_rate, slow_rate = statistics.median(many), statistics.median(few)
    return [
        Row(
            "scout",
            f"candidate-station links, {_span_km(tor, far)} km at {STEP_M:.0f} m, warm",
            fast_rate,
            "links/s",
            2000.0,
            more_is_better=True,
            note=f"one process; median difference to the single path {statistics.median(off):.1e} dB",
        ),
        Row(
            "scout",
            "  the same links by the single path of the library, median P.1812 only",
            slow_rate,
            "links/s",
            more_is_better=True,
            note=f"{fast_rate / slow_rate:.0f} times slower",
        ),
    ]


def _scoutings(first: dict[str, object], cached: dict[str, object]) -> list[Row]:
    what = "2 km round a summit for 12 stations"
    return [
        Row("scout", f"{what}, new process, no compile cache", first["s"][0], "s"),  # type: ignore[index]
        Row("scout", f"{what}, new process", cached["s"][0], "s"),  # type: ignore[index]
        Row(
            "scout",
            f"{what}, warm",
            min(cached["s"][1:]),  # type: ignore[index]
            "s",
            note=f"{cached['looked_at']} places, {cached['links']} links, the best answered in full",
        ),
        Row("scout", "peak memory of that process", cached["mb"], "MB"),  # type: ignore[arg-type]
    ]


def _whole(cache: Path) -> dict[str, object]:
    done = subprocess.run(
        [sys.executable, "-c", _WHOLE, str(cache)],
        check=True,
        capture_output=True,
        text=True,
        cwd=Path(__file__).parents[1],
    )
    found: dict[str, object] = json.loads(done.stdout)
    return found


def _seconds(call: Callable[[], object]) -> float:
    start = time.perf_counter()
    call()
    return time.perf_counter() - start
