"""Pictures and files of whole areas: a map of 3,555 by 3,555 cells, a skyline of 3,600 bearings."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

from bench.harness import Row, median_seconds
from pathprofile.area.coverage import OUTSIDE, PREDICTED, Coverage
from pathprofile.area.grid import Grid
from pathprofile.area.in_sight import HIDDEN, IN_SIGHT, UNKNOWN, InSight
from pathprofile.area.landmarks import Landmark, against_skyline
from pathprofile.area.skyline import Skyline
from pathprofile.area.verdicts import Needs, VerdictTable
from pathprofile.atmosphere import Atmosphere
from pathprofile.draw.coverage_map import save_coverage_map
from pathprofile.draw.skyline_chart import save_skyline_chart
from pathprofile.export.geotiff import write_coverage_geotiff
from pathprofile.places import Location

_HALF = 1777
_CELL_M = 90.0
_NEEDS = Needs(150.0, 157.0, 8.0)


def invented_coverage(half: int) -> tuple[Coverage, InSight]:
    """A map whose loss rises with distance, with hills and noise: harder to pack than a real one."""
    grid = Grid(47.0, -21.0, _CELL_M, half)
    along = (np.arange(2 * half + 1, dtype=np.float32) - half) * _CELL_M / 1000.0
    away = np.hypot(along[:, np.newaxis], along)
    rough = np.sin(along[:, np.newaxis] / 3.0) * np.cos(along / 4.0)
    noise = np.random.default_rng(1).normal(0.0, 1.0, grid.shape).astype(np.float32)
    loss = np.float32(95.0) + 30.0 * np.log10(np.maximum(away, 0.3)) + 12.0 * rough + noise
    outside = away > half * _CELL_M / 1000.0
    loss[outside] = np.nan
    site = Location(47.0, -21.0, label="Bench Hill")
    distance_m = np.arange(half + 1, dtype=np.float64) * _CELL_M
    found = Coverage(
        site=site,
        site_ground_m=500.0,
        frequency_mhz=144.3,
        time_percent=50.0,
        antenna_agl_m=6.0,
        receiver_agl_m=10.0,
        polarization="vertical",
        atmosphere=Atmosphere(),
        azimuth_deg=np.arange(0.0, 360.0, 0.1),
        distance_m=distance_m,
        loss_db=np.empty((0, 0)),
        reach_m=np.full(3600, distance_m[-1]),
        grid=grid,
        map_loss_db=np.asarray(loss, np.float32),
        map_status=np.where(outside, OUTSIDE, PREDICTED).astype(np.uint8),
        radius_m=float(distance_m[-1]),
        resolution_m=279.0,
        bridged_share=0.0,
        notes=(),
    )
    seen = np.where(outside, UNKNOWN, np.where(rough > 0.2, IN_SIGHT, HIDDEN)).astype(np.uint8)
    sight = InSight(site, 506.0, 10.0, Atmosphere().effective_radius_m, grid, seen, 90.0, found.reach_m, ())
    return found, sight


def invented_places(count: int) -> list[Landmark]:
    """Stations in a spiral round the site."""
    return [Landmark(f"Station {i + 1}", 3_800.0 * (i + 1), (137.5 * i) % 360.0) for i in range(count)]


def invented_skyline() -> Skyline:
    """A horizon of waves."""
    azimuth = np.arange(3600) / 10.0
    height = np.sin(np.radians(7 * azimuth)) + 0.4 * np.sin(np.radians(83 * azimuth))
    return Skyline(
        site=Location(47.0, -21.0, label="Bench Hill"),
        eye_amsl_m=506.0,
        effective_radius_m=Atmosphere().effective_radius_m,
        azimuth_deg=azimuth,
        elevation_deg=height,
        distance_m=40_000.0 + 20_000.0 * height,
        ground_m=800.0 + 200.0 * height,
        reach_m=np.full(3600, 160_000.0),
        looked_m=160_000.0,
        notes=(),
    )


_MEMORY = """
from bench.bench_draw_area import draw_once
print(*draw_once())
"""


def draw_once() -> tuple[int, int]:
    """Memory of this process while it holds one map, and its peak while that is drawn [kB]; Linux only."""
    found, seen = invented_coverage(_HALF)
    verdict = VerdictTable(_NEEDS).verdict(found.map_loss_db)
    relief_m = np.random.default_rng(2).uniform(0.0, 900.0, (1000, 1000)).astype(np.float32)
    Path("/proc/self/clear_refs").write_text("5", encoding="ascii")  # forget the peak of making the map
    before = _memory("VmRSS")
    with tempfile.TemporaryDirectory() as folder:
        picture = Path(folder) / "map.png"
        save_coverage_map(
            found, verdict, picture, needs=_NEEDS, relief_m=relief_m, seen=seen, places=invented_places(40)
        )
    return before, _memory("VmHWM")


def _memory(what: str) -> int:
    return int(Path("/proc/self/status").read_text(encoding="ascii").split(f"{what}:")[1].split()[0])


def rows() -> list[Row]:
    found, seen = invented_coverage(_HALF)
    cells = f"{found.map_loss_db.size / 1e6:.1f} million cells"
    table = VerdictTable(_NEEDS)
    verdict = table.verdict(found.map_loss_db)
    relief_m = np.random.default_rng(2).uniform(0.0, 900.0, (1000, 1000)).astype(np.float32)
    horizon = invented_skyline()
    places = invented_places(40)
    against = [against_skyline(horizon, place, 600.0) for place in places]
    measured = [
        Row(
            "draw",
            f"verdict of {cells}",
            median_seconds(lambda: table.verdict(found.map_loss_db), repeat=5),
            "s",
        ),
    ]
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "map.png"
        for suffix, limit in ((".png", 2.5), (".svg", None), (".pdf", None)):
            path = target.with_suffix(suffix)

            def draw(path: Path = path) -> None:
                save_coverage_map(
                    found, verdict, path, needs=_NEEDS, relief_m=relief_m, seen=seen, places=places
                )

            seconds = median_seconds(draw, repeat=3, warmup=1)
            what = f"coverage picture as {suffix[1:]}, {cells}, 40 stations"
            note = f"{path.stat().st_size / 1e6:.1f} MB"
            measured.append(Row("draw", what, seconds, "s", limit=limit, note=note))
        tif = Path(folder) / "map.tif"
        for what, more in (
            ("loss alone", {}),
            ("loss, both margins, verdict, in sight", {"verdicts": table, "seen": seen}),
        ):
            seconds = median_seconds(
                lambda more=more: write_coverage_geotiff(tif, found, **more), repeat=3, warmup=1
            )
            note = f"{tif.stat().st_size / 1e6:.0f} MB"
            measured.append(Row("export", f"GeoTIFF of {cells}: {what}", seconds, "s", note=note))
        sky = Path(folder) / "sky.png"
        seconds = median_seconds(lambda: save_skyline_chart(horizon, sky, stations=against), repeat=5)
        measured.append(Row("draw", "skyline picture, 3600 bearings, 40 stations", seconds, "s"))
    if sys.platform == "linux":
        printed = subprocess.run(
            [sys.executable, "-c", _MEMORY],
            capture_output=True,
            text=True,
            check=True,
            cwd=Path(__file__).parents[1],
        ).stdout.split()
        before, peak = (int(word) / 1000.0 for word in printed)
        what = f"peak memory, coverage picture of {cells}"
        note = f"whole process; {before:.0f} MB before drawing"
        measured.append(Row("draw", what, peak, "MB", limit=500.0, note=note))
    return measured
