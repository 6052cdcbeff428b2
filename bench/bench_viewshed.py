"""What is in sight, beside GDAL's viewshed program on the same projected raster with the same curvature."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

import numpy as np

from bench.harness import Row, median_seconds
from pathprofile.area import in_sight
from pathprofile.area.in_sight import IN_SIGHT
from pathprofile.atmosphere import Atmosphere
from pathprofile.places.location import Location
from pathprofile.terrain.store import TerrainStore

_SITE = Location(44.42, 5.55)
_RADIUS_M = 30_000.0
_CELL_M = 90.0
_EYE_M, _TARGET_M = 10.0, 2.0


def rows() -> list[Row]:
    shared = Path(os.environ.get("PATHPROFILE_REFERENCE", Path(__file__).resolve().parents[2] / "shared"))
    raster = shared / "dem" / "N44E005_UTM.tif"
    program = shutil.which("gdal_viewshed")
    if program is None or not raster.is_file():
        return [
            Row(
                "viewshed",
                "left out: no gdal_viewshed, or no projected tile (PATHPROFILE_REFERENCE)",
                0.0,
                "",
            )
        ]
    with tempfile.TemporaryDirectory() as folder:
        cache, seen_file = Path(folder, "cache"), Path(folder, "seen.tif")
        with TerrainStore.open([raster]) as store:
            ask = {"radius_m": _RADIUS_M, "cell_m": _CELL_M, "cache_dir": cache, "threads": 2}
            heights = {"antenna_agl_m": _EYE_M, "target_agl_m": _TARGET_M, "atmosphere": Atmosphere()}
            ours = in_sight(_SITE, store, **heights, **ask)
            ours_s = median_seconds(lambda: in_sight(_SITE, store, **heights, **ask), repeat=5, warmup=1)
        x, y = _projected(raster)
        command = [program, "-q", "-md", str(_RADIUS_M), "-ox", str(x), "-oy", str(y), "-oz", str(_EYE_M)]
        command += ["-tz", str(_TARGET_M), "-cc", str(1.0 / Atmosphere().k_factor), "-vv", "1"]
        run = [*command, str(raster), str(seen_file)]
        theirs_s = median_seconds(lambda: subprocess.run(run, check=True), repeat=5, warmup=1)
        theirs = _on_our_grid(seen_file, ours)
    known = theirs >= 0
    mine = (ours.map_seen == IN_SIGHT) & known
    other = theirs == 1
    overlap = float((mine & other).sum() / max((mine | other).sum(), 1))
    return [
        Row("viewshed", "in sight, 30 km at 90 m, tiles decoded, two threads", ours_s, "s"),
        Row("viewshed", "GDAL's viewshed program, same raster and curvature, whole process", theirs_s, "s"),
        Row("viewshed", "intersection over union of the two (neither is exact)", overlap, ""),
    ]


def _projected(raster: Path) -> tuple[float, float]:
    import rasterio
    from pyproj import Transformer

    with rasterio.open(raster) as dataset:
        turn = Transformer.from_crs("EPSG:4326", dataset.crs, always_xy=True)
        x, y = turn.transform(_SITE.longitude_deg, _SITE.latitude_deg)
    return float(x), float(y)


def _on_our_grid(seen_file: Path, ours) -> np.ndarray:
    """Nearest cell of the program's raster for each of ours: 1 seen, 0 not, -1 outside."""
    import rasterio
    from pyproj import Transformer

    rows_, columns = np.indices(ours.grid.shape)
    latitude, longitude = ours.grid.places(rows_.ravel(), columns.ravel())
    with rasterio.open(seen_file) as dataset:
        turn = Transformer.from_crs("EPSG:4326", dataset.crs, always_xy=True)
        x, y = turn.transform(longitude, latitude)
        column, row = ~dataset.transform * (np.asarray(x), np.asarray(y))
        band = dataset.read(1)
    i, j = np.floor(row).astype(int), np.floor(column).astype(int)
    inside = (i >= 0) & (j >= 0) & (i < band.shape[0]) & (j < band.shape[1])
    found = np.full(i.shape, -1)
    found[inside] = (band[i[inside], j[inside]] > 0).astype(int)
    return found.reshape(ours.grid.shape)
