"""P.1812 for every receiver on a radial, in little more time than it takes to look at the ground once.

Plain loops over arrays, to be compiled by :mod:`pathprofile.area.compiled`; they also run as they stand.
The scans differ from those of a single path (`pathprofile.propagation.p1812.geometry`), what they look for
does not, and every equation is the single path's own.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from pathprofile.area.blocks import LEVELS, block_tops, highest_above, largest_excess
from pathprofile.area.hull import backward_horizons, forward_horizons, obstructions
from pathprofile.area.runs import zone_runs_along
from pathprofile.area.smooth import smooth_bullington
from pathprofile.propagation.bullington import BullingtonGeometry
from pathprofile.propagation.delta_bullington import DeltaBullingtonGeometry, smooth_surface
from pathprofile.propagation.p1812.geometry import ANOMALOUS_RADIUS_KM, SEA
from pathprofile.propagation.p1812.loss import losses_from
from pathprofile.propagation.p1812.path import Horizons, Runs, Terminals, ducting_surface, path_from

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Ints = npt.NDArray[np.int64]
    Codes = npt.NDArray[np.uint8]

__all__ = ["FEWEST_STEPS", "NEAREST_KM", "Link", "field_losses", "radial_losses"]

FEWEST_STEPS = 4
"""A profile needs more than four points (P.1812-8 §3.2)."""
NEAREST_KM = 0.25
"""Shortest path of P.1812-8 (§1)."""
_LEAST_NU = -0.79
"""A little below where J(ν) begins: for loss alone, what clears by more need not be told apart."""


class Link(NamedTuple):
    """What all receivers share, in the Recommendation's units."""

    frequency_ghz: float
    time_percent: float
    n0: float
    vertical: bool
    location_percent: float
    location_sigma_db: float
    tx_agl_m: float
    rx_agl_m: float
    effective_radius_km: float


class Earth(NamedTuple):
    """A radial's ground over an Earth of one effective radius, and the horizons on it."""

    bend: float
    """500 / effective radius [m/km²]."""
    y: Floats
    """Ground in which rays are straight [m]."""
    tops: Floats
    first: Ints
    """Steepest point seen from the transmitter, for each receiver."""
    last: Ints
    """Steepest point seen from each receiver."""


def _earth(along: Floats, ground: Floats, rise: Floats, rx_agl_m: float, radius_km: float) -> Earth:
    bend = 500.0 / radius_km
    y = ground - bend * along * along
    tops = np.empty((LEVELS, (y.size + 15) // 16))
    first = np.empty(y.size, np.int64)
    last = np.empty(y.size, np.int64)
    block_tops(y, tops)
    forward_horizons(along, rise, bend, first)
    backward_horizons(along, y, rx_agl_m, last)
    return Earth(bend, y, tops, first, last)


def _terrain(
    along: Floats,
    ground: Floats,
    rise: Floats,
    earth: Earth,
    n: int,
    ends: Terminals,
    seed: int,
    floor: float,
) -> tuple[BullingtonGeometry, int]:
    """Bullington geometry of the path to receiver ``n``, and the point nearest to blocking it (or −1)."""
    whole = along[n]
    bend = earth.bend
    h_ts = ends.tx_ground_m + ends.tx_agl_m
    h_rs = ends.rx_ground_m + ends.rx_agl_m
    sight = (h_rs - h_ts) / whole
    first = earth.first[n]
    from_slope = rise[first] - bend * along[first] + bend * whole
    if from_slope < sight:
        worst, at = largest_excess(
            along, rise, earth.y, earth.tops, n, bend, sight, h_ts, seed, int(first), floor
        )
        return BullingtonGeometry(whole, h_ts, h_rs, from_slope, 0.0, worst), at
    last = earth.last[n]
    back = whole - along[last]
    to_slope = (ground[last] - h_rs) / back - bend * back + bend * whole
    return BullingtonGeometry(whole, h_ts, h_rs, from_slope, to_slope, 0.0), -1


def _horizons(
    along: Floats, ground: Floats, rise: Floats, earth: Earth, n: int, ends: Terminals, nearest: int
) -> tuple[Horizons, int, int]:
    """Radio horizons (P.1812-8 eqs 76 to 84), and the points they are at."""
    whole = along[n]
    bend = earth.bend
    h_ts = ends.tx_ground_m + ends.tx_agl_m
    h_rs = ends.rx_ground_m + ends.rx_agl_m
    climb = (h_rs - h_ts) / whole
    direct = climb - bend * whole
    first = int(earth.first[n])
    tx_slope = rise[first] - bend * along[first]
    if tx_slope > direct:
        last = int(earth.last[n])
        back = whole - along[last]
        rx_slope = (ground[last] - h_rs) / back - bend * back
        return Horizons(True, along[first], back, tx_slope, rx_slope), first, last
    at = nearest if nearest >= 1 else first  # at a tie of slope and sight line, rounding can decide otherwise
    return Horizons(False, along[at], whole - along[at], direct, -climb - bend * whole), at, at


def radial_losses(
    along: Floats,
    ground: Floats,
    latitude: Floats,
    zone: Codes,
    link: Link,
    loss: Floats,
) -> None:
    """Fill in the basic transmission loss from the first point of a radial to each of the others.

    Parameters
    ----------
    along : ndarray, shape (n,)
        Distance of equally spaced points from 0 on [km].
    ground : ndarray, shape (n,)
        Bare ground [m], known at every point.
    latitude : ndarray, shape (n,)
        Of the points [degrees].
    zone : ndarray of uint8, shape (n,)
        1 sea, 3 coastal land, 4 inland.
    link : Link
        What the receivers share.
    loss : ndarray, shape (n,)
        Filled with L_b [dB], NaN where the receiver is too near for P.1812.
    """
    count = along.size
    loss[:] = math.nan
    if count <= FEWEST_STEPS:
        return
    h_ts = ground[0] + link.tx_agl_m
    rise = np.zeros(count)
    for i in range(1, count):
        rise[i] = (ground[i] - h_ts) / along[i]
    median = _earth(along, ground, rise, link.rx_agl_m, link.effective_radius_km)
    anomalous = median
    two_radii = link.time_percent != 50.0
    if two_radii:
        anomalous = _earth(along, ground, rise, link.rx_agl_m, ANOMALOUS_RADIUS_KM)
    ground_tops = np.empty(median.tops.shape)
    block_tops(ground, ground_tops)
    highest = np.empty(count)
    from_obstruction = np.empty(count)
    to_obstruction = np.empty(count)
    obstructions(along, ground, rise, link.rx_agl_m, highest, from_obstruction, to_obstruction)
    runs = np.empty((5, count))
    zone_runs_along(along, zone, runs)

    floor_per_root_km = _LEAST_NU * math.sqrt(0.2998 / link.frequency_ghz / 0.002)
    v1 = 0.0
    v2 = 0.0
    median_seed = 1
    anomalous_seed = 1
    rough_seed = 1
    for n in range(1, count):
        d = along[n]
        step = d - along[n - 1]
        both = ground[n] + ground[n - 1]
        v1 += step * both
        v2 += step * (both * (d + along[n - 1]) + (ground[n] * d + ground[n - 1] * along[n - 1]))
        if n < FEWEST_STEPS or d < NEAREST_KM:
            continue
        ends = Terminals(
            d,
            ground[0],
            ground[n],
            link.tx_agl_m,
            link.rx_agl_m,
            link.effective_radius_km,
            runs[3, n],
            runs[4, n],
            0.5 * (latitude[n // 2] + latitude[(n + 1) // 2]),
            zone[n] == SEA,
        )
        surface = smooth_surface(
            v1, v2, d, ground[0], ground[n], highest[n], from_obstruction[n], to_obstruction[n]
        )
        floor = floor_per_root_km / math.sqrt(d)
        from_m = h_ts - surface.tx_diffraction_m
        to_m = ground[n] + link.rx_agl_m - surface.rx_diffraction_m

        terrain, nearest = _terrain(along, ground, rise, median, n, ends, median_seed, -math.inf)
        smooth = smooth_bullington(along, along[1], n, from_m, to_m, median.bend, floor)
        over_median = DeltaBullingtonGeometry(link.effective_radius_km, terrain, smooth)
        over_anomalous = over_median
        if two_radii:
            flat, at = _terrain(along, ground, rise, anomalous, n, ends, anomalous_seed, floor)
            if at >= 1:
                anomalous_seed = at
            over_anomalous = DeltaBullingtonGeometry(
                ANOMALOUS_RADIUS_KM,
                flat,
                smooth_bullington(along, along[1], n, from_m, to_m, anomalous.bend, floor),
            )

        horizons, start, stop = _horizons(along, ground, rise, median, n, ends, nearest)
        if nearest >= 1:
            median_seed = nearest
        h_st, h_sr = ducting_surface(surface, ground[0], ground[n])
        tilt = (h_sr - h_st) / d
        rough_seed = highest_above(
            along, ground, ground_tops, min(start, stop), max(start, stop), tilt, rough_seed
        )
        path = path_from(
            ends,
            horizons,
            surface,
            ground[rough_seed] - tilt * along[rough_seed] - h_st,
            Runs(runs[0, n], runs[1, n], runs[2, n]),
            over_median,
            over_anomalous,
        )
        loss[n] = losses_from(
            path,
            link.frequency_ghz,
            link.time_percent,
            link.n0,
            link.vertical,
            link.location_percent,
            link.location_sigma_db,
        ).L_b


def field_losses(
    along: Floats,
    ground: Floats,
    known: Ints,
    latitude: Floats,
    zone: Codes,
    link: Link,
    loss: Floats,
) -> None:
    """Losses of a strip of radials, each as far as its ground is known.

    Parameters
    ----------
    along : ndarray, shape (n,)
        Distance of equally spaced points [km].
    ground, latitude : ndarray, shape (r, n)
        Ground [m] and latitude [degrees].
    known : ndarray of int64, shape (r,)
        How many points of each radial have ground.
    zone : ndarray of uint8, shape (r, n) or (1, n)
        Zones, of each radial or of all.
    link : Link
        What the receivers share.
    loss : ndarray, shape (r, n)
        Filled [dB]; NaN beyond the known ground and too near.
    """
    shared = zone.shape[0] == 1
    for r in range(ground.shape[0]):
        m = known[r]
        loss[r, :] = math.nan
        radial_losses(
            along[:m], ground[r, :m], latitude[r, :m], zone[0 if shared else r, :m], link, loss[r, :m]
        )
