"""A day out: pairs and cells a second on two processors, and a whole comparison from a cold start."""

from __future__ import annotations

import datetime as dt
import statistics
import subprocess
import sys
import time
from pathlib import Path

from bench.harness import Row
from pathprofile.contact import Party
from pathprofile.places import parse_location
from pathprofile.places.locators import locator
from pathprofile.sample import sample_dir, sample_places
from pathprofile.station import Station
from pathprofile.terrain.store import TerrainStore
from pathprofile.trip.comparing import compare
from pathprofile.trip.pairs import PairDesk, PairTask
from pathprofile.trip.terms import Terms, wanted_modes

SITES = ("Gull Tor", "Kestrel Pike", "High Hallow")
WORKERS = 2


def party(name: str, characters: int = 0, unstated: str = "suburb") -> Party:
    place = sample_places()[name]
    text = f"{place.latitude_deg:.5f} {place.longitude_deg:.5f}"
    if characters:
        text = locator(place.latitude_deg, place.longitude_deg, characters)
    return Party(Station(name=name, place=text), parse_location(text, label=name), unstated)  # type: ignore[arg-type]


def twelve(by_locator: int) -> list[Party]:
    names = [name for name in sample_places() if name not in SITES][:12]
    return [party(name, 6 if index < by_locator else 0) for index, name in enumerate(reversed(names))]


def terms() -> Terms:
    return Terms(dt.date(2026, 6, 14), wanted_modes([144.3], ["ssb"]))


def cold(by_locator: int) -> None:
    """One comparison of three sites and twelve stations, as a process of its own."""
    with TerrainStore.open([sample_dir()]) as terrain:
        found = compare(
            [party(name, unstated="open") for name in SITES],
            twelve(by_locator),
            terrain,
            terms(),
            workers=WORKERS,
        )
    assert len(found.matrix) == len(SITES)


def rows() -> list[Row]:
    you = party("Gull Tor", unstated="open")
    far = [name for name in sample_places() if name != "Gull Tor"]
    exact = [PairTask(you, party(name)) for name in far] * 10
    cells = [PairTask(you, party("Marsh End", 6))] * 12
    with TerrainStore.open([sample_dir()]) as terrain, PairDesk(terrain, terms(), workers=WORKERS) as desk:
        desk.answer(cells)  # starts the processes and decodes the tiles
        desk.answer(cells)
        pairs_a_second = statistics.median(len(exact) / _seconds(desk, exact) for _ in range(5))
        links = sum(row.cell.chance.size for row in desk.answer(cells) if row.cell is not None)
        links_a_second = statistics.median(links / _seconds(desk, cells) for _ in range(5))
    result = [
        Row(
            "trip",
            "exact pairs, sample island, 2 processes",
            pairs_a_second,
            "pairs/s",
            20.0,
            more_is_better=True,
        ),
        Row(
            "trip",
            "links over cells 160 km away, 2 processes",
            links_a_second,
            "links/s",
            600.0,
            more_is_better=True,
            note="mode choice and questions included",
        ),
    ]
    for by_locator in (0, 8, 12):
        code = f"from bench.bench_trip import cold\nif __name__ == '__main__':\n    cold({by_locator})\n"
        times = [_process_seconds(code) for _ in range(3)]
        result.append(
            Row(
                "trip",
                f"compare 3 sites, 12 stations, {by_locator} by locator, new process",
                statistics.median(times),
                "s",
                4.0,
            )
        )
    return result


def _seconds(desk: PairDesk, tasks: list[PairTask]) -> float:
    start = time.perf_counter()
    desk.answer(tasks)
    return time.perf_counter() - start


def _process_seconds(code: str) -> float:
    start = time.perf_counter()
    subprocess.run([sys.executable, "-c", code], check=True, cwd=Path(__file__).parents[1])
    return time.perf_counter() - start
