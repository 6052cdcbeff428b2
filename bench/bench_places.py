"""Reading places and walking geodesics."""

from __future__ import annotations

import datetime as dt
import statistics
import subprocess
import sys

from bench.harness import Row, median_seconds
from pathprofile.geodesy import declination, inverse, points_along
from pathprofile.places import notations, parse_location

RIDGE, COAST = (42.667, 1.398), (41.250, 1.900)
COLD_PYPROJ = "import numpy, time; t = time.perf_counter(); import pyproj; print(time.perf_counter() - t)"


def rows() -> list[Row]:
    place = parse_location("46.20571 -21.31262")
    cold = [
        float(subprocess.run([sys.executable, "-c", COLD_PYPROJ], capture_output=True, check=True).stdout)
        for _ in range(5)
    ]
    result = [
        Row(
            "geodesy",
            f"points along 163 km, {count} points",
            1e3 * median_seconds(lambda n=count: points_along(*RIDGE, *COAST, n)),
            "ms",
            limit=3.0 if count == 5300 else None,
        )
        for count in (33, 530, 5300)
    ]
    today = dt.date(2026, 1, 1)
    return [
        *result,
        Row("geodesy", "distance and azimuths", 1e6 * median_seconds(lambda: inverse(*RIDGE, *COAST)), "us"),
        Row("geodesy", "declination", 1e6 * median_seconds(lambda: declination(*RIDGE, today)), "us"),
        Row("geodesy", "import pyproj after numpy, new process", 1e3 * statistics.median(cold), "ms"),
        Row("places", "read decimal degrees", 1e6 * median_seconds(lambda: parse_location(place.text)), "us"),
        Row("places", "read MGRS", 1e6 * median_seconds(lambda: parse_location("27T VM 75884 16950")), "us"),
        Row("places", "write every notation", 1e6 * median_seconds(lambda: notations(place)), "us"),
    ]
