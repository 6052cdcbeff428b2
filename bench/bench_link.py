"""Speed of a link: one chance, one whole answer, the table of modes and bands, and what importing costs."""

from __future__ import annotations

import statistics
import subprocess
import sys
from typing import TYPE_CHECKING

from bench.harness import Row, median_seconds
from pathprofile.link import (
    PathFacts,
    PathQuestion,
    Spread,
    common_bands,
    equip_set_up,
    evaluate,
    evaluate_modes,
    pair_chances,
    time_spread,
)
from pathprofile.station import Station
from pathprofile.station.catalogue import MODES

if TYPE_CHECKING:
    from collections.abc import Callable

TIME_LOSSES_DB = {1.0: 148.0, 10.0: 157.0, 50.0: 165.0, 90.0: 171.0}
CHANCE_LIMIT_MS = 0.2
CALLS = 100
_IMPORT = "import time, numpy; t = time.perf_counter(); import {}; print(time.perf_counter() - t)"


def path(question: PathQuestion) -> PathFacts:
    return PathFacts(
        question.frequency_mhz, 165.0, 44.0, 226.0, second_opinion_db=171.0, time_losses_db=TIME_LOSSES_DB
    )


def import_seconds(module: str) -> float:
    """Median time to import a module in a fresh interpreter that has numpy already."""
    runs = []
    for _ in range(5):
        done = subprocess.run(
            [sys.executable, "-c", _IMPORT.format(module)], capture_output=True, text=True, check=True
        )
        runs.append(float(done.stdout))
    return statistics.median(runs)


def many(call: Callable[[], object], times: int = CALLS) -> Callable[[], None]:
    def run() -> None:
        for _ in range(times):
            call()

    return run


def rows() -> list[Row]:
    spread, time = Spread(), time_spread(TIME_LOSSES_DB)
    facts = path(PathQuestion("2 m", 144.3, 6.0, 8.0, "horizontal"))
    you, them = (equip_set_up(None, name, 144.3, "ssb") for name in ("Gull Tor", "Marsh End"))
    here, there = (Station.read({"name": name, "place": "invented"}) for name in ("Gull Tor", "Marsh End"))
    found = []
    for pairs in (1, 4, 16):
        margins = [(3.0, 6.0)] * pairs
        seconds = median_seconds(many(lambda m=margins: pair_chances(m, spread, time))) / CALLS
        limit = CHANCE_LIMIT_MS if pairs == 4 else None
        note = "as in a link: readable and comfortable, both methods" if pairs == 4 else ""
        found.append(
            Row(
                "link",
                f"chance of the pair, two-sided time, {pairs} margin pairs",
                seconds * 1e3,
                "ms",
                limit,
                note=note,
            )
        )
    seconds = median_seconds(many(lambda: time_spread(TIME_LOSSES_DB))) / CALLS
    found.append(Row("link", "time distribution made ready", seconds * 1e3, "ms"))
    seconds = median_seconds(many(lambda: equip_set_up(None, "Gull Tor", 144.3, "ssb"))) / CALLS
    found.append(Row("link", "one end completed from the defaults", seconds * 1e3, "ms"))
    seconds = median_seconds(many(lambda: evaluate(you, them, facts))) / CALLS
    found.append(Row("link", "one link, both ways, both methods", seconds * 1e3, "ms"))
    bands = common_bands(here, there)
    for count in (1, 3, 5):
        seconds = median_seconds(lambda n=count: evaluate_modes(here, there, path, bands=bands[:n]))
        found.append(
            Row(
                "link",
                f"table of {len(MODES)} modes on {count} bands, path losses apart",
                seconds * 1e3,
                "ms",
            )
        )
    found.extend(
        Row("link", f"import {module} after numpy", import_seconds(module) * 1e3, "ms")
        for module in ("pathprofile.link", "pathprofile.station.models")
    )
    return found
