"""Knife edges: speed, and how far each approximation is from the exact loss over random edges."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

import numpy as np
import numpy.typing as npt

from bench.harness import Row, median_seconds
from pathprofile.ground.obstacles import find_obstacles
from pathprofile.propagation import bullington
from pathprofile.propagation.edges import deygout_loss_db, epstein_peterson_loss_db, giovanelli_loss_db
from pathprofile.propagation.knife_edge import exact_loss_db, single_edge_loss_db

Floats = npt.NDArray[np.float64]
Method = Callable[[Floats, Floats, float], float]

FREQUENCY_MHZ = 145.0


def bullington_loss_db(distance_m: Floats, height_m: Floats, frequency_mhz: float) -> float:
    """ITU-R P.526-16 §4.5.1, its correction for more edges than one included, on a flat Earth."""
    from_km = distance_m[1:-1] / 1000.0
    to_km = distance_m[-1] / 1000.0 - from_km
    slopes = bullington.profile_slopes(
        from_km, to_km, height_m[1:-1], float(height_m[0]), float(height_m[-1])
    )
    return bullington.loss_from(bullington.geometry(slopes, 1e12), frequency_mhz / 1000.0)


METHODS: dict[str, Method] = {
    "Bullington": bullington_loss_db,
    "Epstein-Peterson": epstein_peterson_loss_db,
    "Deygout, three edges": partial(deygout_loss_db, levels=1),
    "Deygout, all edges": deygout_loss_db,
    "Giovanelli, three edges": partial(giovanelli_loss_db, levels=1),
    "Giovanelli, all edges": giovanelli_loss_db,
}

# Height of the edges above the line, in first Fresnel radii of the whole path's middle.
ENSEMBLES = {"near grazing": (-0.3, 0.3), "in the way": (0.0, 2.0), "high ridges": (2.0, 6.0)}


def ensemble(kind: str, edges: int, count: int = 150) -> Iterator[tuple[Floats, Floats]]:
    """Random edges between two antennas 20 to 120 km apart, no two closer than 5 % of the path."""
    rng = np.random.default_rng([edges, list(ENSEMBLES).index(kind)])
    low, high = ENSEMBLES[kind]
    while count:
        whole_m = rng.uniform(20e3, 120e3)
        shares = np.array([0.0, *np.sort(rng.uniform(0.05, 0.95, edges)), 1.0])
        if np.diff(shares).min() < 0.05:
            continue
        fresnel_m = 0.5 * np.sqrt(299.792458 / FREQUENCY_MHZ * whole_m)
        height_m = np.zeros(edges + 2)
        height_m[1:-1] = rng.uniform(low, high, edges) * fresnel_m
        count -= 1
        yield shares * whole_m, height_m


def errors_db(kind: str, edges: int) -> dict[str, Floats]:
    """Each method minus the exact loss, over one ensemble [dB]."""
    cases = list(ensemble(kind, edges))
    exact_db = np.array([exact_loss_db(*case, FREQUENCY_MHZ) for case in cases])
    return {
        name: np.array([method(*case, FREQUENCY_MHZ) for case in cases]) - exact_db
        for name, method in METHODS.items()
    }


def speed_rows() -> list[Row]:
    """Warm times."""
    rng = np.random.default_rng(3)
    out = []
    for edges, limit in ((1, None), (5, 5.0), (10, None)):
        distance_m = np.linspace(0.0, 60e3, edges + 2)
        for where, sign in (("in the way", 1.0), ("below the line", -1.0)):
            height_m = np.zeros(edges + 2)
            height_m[1:-1] = sign * rng.uniform(50.0, 150.0, edges)
            seconds = median_seconds(partial(exact_loss_db, distance_m, height_m, FREQUENCY_MHZ))
            out.append(Row("edges", f"exact loss, {edges} edges {where}", seconds * 1e3, "ms", limit))
    seconds = median_seconds(partial(single_edge_loss_db, 0.7))
    out.append(Row("edges", "one knife edge", seconds * 1e6, "µs"))
    for points in (600, 1800, 5300):
        distance_m = np.linspace(0.0, 30.0 * points, points)
        for ground, ground_m in (
            ("rough ground", 400.0 + np.cumsum(rng.normal(0.0, 4.0, points))),
            ("sea", np.zeros(points)),
        ):
            seconds = median_seconds(
                partial(
                    find_obstacles,
                    distance_m,
                    ground_m,
                    from_antenna_amsl_m=float(ground_m[0]) + 10.0,
                    to_antenna_amsl_m=float(ground_m[-1]) + 10.0,
                    effective_radius_m=8.5e6,
                    frequency_mhz=FREQUENCY_MHZ,
                )
            )
            limit = 2.0 if points == 5300 else None
            out.append(Row("edges", f"obstacles of {points} points, {ground}", seconds * 1e3, "ms", limit))
    return out


def rows() -> list[Row]:
    """Speed, then the table of errors."""
    out = speed_rows()
    for kind in ENSEMBLES:
        for edges in (2, 3, 5):
            for name, errors in errors_db(kind, edges).items():
                note = f"standard deviation {errors.std():.1f}, {errors.min():+.1f} … {errors.max():+.1f} dB"
                what = f"{name} minus exact, {edges} edges {kind}: mean"
                out.append(Row("edges", what, float(errors.mean()), "dB", note=note))
    return out
