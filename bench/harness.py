"""Timing helpers: medians of repeated runs, set-up kept apart from the measured part."""

from __future__ import annotations

import statistics
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable


@dataclass(frozen=True)
class Row:
    """One measured figure. ``limit`` is the figure that was asked for, if any."""

    room: str
    what: str
    value: float
    unit: str
    limit: float | None = None
    more_is_better: bool = False
    note: str = ""


def median_seconds(call: Callable[[], object], *, repeat: int = 15, warmup: int = 2) -> float:
    """Median wall time of ``call()``."""
    for _ in range(warmup):
        call()
    times = []
    for _ in range(repeat):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return statistics.median(times)
