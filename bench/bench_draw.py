"""Drawing the picture of a path: what it adds to a cold start, and once everything is loaded."""

from __future__ import annotations

import datetime as dt
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

from bench.harness import Row, median_seconds
from pathprofile.draw.path_chart import save_path_chart
from pathprofile.places import Location
from pathprofile.reach import Reach, reach
from pathprofile.sample import sample_dir, sample_places
from pathprofile.terrain.store import TerrainStore

_COLD = """
import time
from bench.bench_draw import sample_reach
answer = sample_reach("Gull Tor", "Marsh End")
start = time.perf_counter()
from pathprofile.draw.path_chart import save_path_chart
import matplotlib.figure, matplotlib.backends.backend_agg
loaded = time.perf_counter()
save_path_chart(answer, {path!r})
print(loaded - start, time.perf_counter() - start)
"""


def sample_reach(a: str, b: str) -> Reach:
    """Path between two places of the invented island."""
    places = sample_places()
    ends = [Location(places[n].latitude_deg, places[n].longitude_deg, label=n) for n in (a, b)]
    return reach(
        *ends,
        TerrainStore.open([sample_dir()]),
        date=dt.date(2025, 6, 14),
        frequency_mhz=144.3,
        from_antenna_agl_m=6.0,
        to_antenna_agl_m=10.0,
    )


def rows() -> list[Row]:
    found = []
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "path.png"
        cold = [
            [
                float(word)
                for word in subprocess.run(
                    [sys.executable, "-c", _COLD.format(path=str(target))],
                    capture_output=True,
                    text=True,
                    check=True,
                    cwd=Path(__file__).parents[1],
                ).stdout.split()
            ]
            for _ in range(6)
        ][1:]  # the first run may build matplotlib's font list
        loading, whole = (statistics.median(column) for column in zip(*cold, strict=True))
        found += [
            Row("draw", "cold: loading matplotlib", loading, "s"),
            Row("draw", "cold: loading matplotlib and drawing a PNG, 160 km", whole, "s", limit=0.5),
        ]
        for name, a, b in (
            ("3 km", "Marsh End", "Sluice Farm"),
            ("32 km", "Gull Tor", "Kestrel Pike"),
            ("160 km", "Gull Tor", "Marsh End"),
        ):
            answer = sample_reach(a, b)
            for suffix in (".png", ".svg", ".pdf"):
                path = target.with_suffix(suffix)
                seconds = median_seconds(lambda a=answer, p=path: save_path_chart(a, p), repeat=7)
                note = f"{path.stat().st_size / 1000:.0f} kB"
                found.append(
                    Row("draw", f"warm: draw and write {suffix[1:]}, {name}", seconds, "s", note=note)
                )
    return found
