"""P.1812 from one end of a profile to the other, for thousands of links a second.

Plain loops over arrays, to be compiled by :func:`twins`; they also run as they stand. Where
`pathprofile.area.receivers` answers for all points of a radial, this answers for the last one alone, so that
every link may have a geodesic of its own. Every equation is the single path's.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from pathprofile.area.compiled import made
from pathprofile.area.mosaic import bridge
from pathprofile.area.smooth import smooth_bullington
from pathprofile.propagation.bullington import BullingtonGeometry
from pathprofile.propagation.delta_bullington import DeltaBullingtonGeometry, smooth_surface
from pathprofile.propagation.p1812.loss import losses_from
from pathprofile.propagation.p1812.path import Horizons, Runs, Terminals, ducting_surface, path_from

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    import numpy.typing as npt

    from pathprofile.area.receivers import Link

    Floats = npt.NDArray[np.float64]
    Ints = npt.NDArray[np.int64]

__all__ = ["Twins", "end_loss", "end_losses", "places_between", "twins"]

_INLAND_COAST_KM = 500.0
"""Distance of the coast from either end of a path that is inland all along (P.1812-8 §3.5)."""


class _Scan(NamedTuple):
    """Extremes of a profile over the flat and over the median Earth."""

    v1: float
    v2: float
    rise: float
    """Steepest slope from the first antenna, flat Earth [m/km]; likewise ``fall`` from the second."""
    fall: float
    bent_rise: float
    bent_fall: float
    first: int
    """Where ``bent_rise`` is; of equals the first."""
    last: int
    """Where ``bent_fall`` is; of equals the one nearest the second antenna."""


def _scan(along: Floats, ground: Floats, h_ts: float, h_rs: float, bend: float) -> _Scan:
    n = along.size - 1
    d = along[n]
    v1 = 0.0
    v2 = 0.0
    rise = -math.inf
    fall = -math.inf
    bent_rise = -math.inf
    bent_fall = -math.inf
    first = 1
    last = 1
    for i in range(1, n + 1):
        both = ground[i] + ground[i - 1]
        step = along[i] - along[i - 1]
        v1 += step * both
        v2 += step * (
            both * (along[i] + along[i - 1]) + (ground[i] * along[i] + ground[i - 1] * along[i - 1])
        )
        if i == n:
            break
        up = (ground[i] - h_ts) / along[i]
        back = d - along[i]
        down = (ground[i] - h_rs) / back
        rise = max(rise, up)
        fall = max(fall, down)
        if up - bend * along[i] > bent_rise:
            bent_rise = up - bend * along[i]
            first = i
        if down - bend * back >= bent_fall:
            bent_fall = down - bend * back
            last = i
    return _Scan(v1, v2, rise, fall, bent_rise, bent_fall, first, last)


def end_loss(along: Floats, ground: Floats, latitude_deg: float, link: Link) -> float:
    """Median basic transmission loss from the first point of a profile to the last.

    Parameters
    ----------
    along : ndarray, shape (n,)
        Distance of equally spaced points from 0 on, n ≥ 5 [km].
    ground : ndarray, shape (n,)
        Bare ground, known at every point [m].
    latitude_deg : float
        Of the middle of the path [degrees].
    link : Link
        Frequency, antennas, air; ``time_percent`` must be 50.

    Returns
    -------
    float
        L_b [dB], as `pathprofile.propagation.p1812.predict` over inland ground without clutter.
    """
    n = along.size - 1
    d = along[n]
    h_ts = ground[0] + link.tx_agl_m
    h_rs = ground[n] + link.rx_agl_m
    bend = 500.0 / link.effective_radius_km
    sight = (h_rs - h_ts) / d
    direct = sight - bend * d
    scan = _scan(along, ground, h_ts, h_rs, bend)

    # over the flat Earth: what stands above the sight line
    highest = 0.0
    if scan.rise > sight:
        highest = -math.inf
        for i in range(1, n):
            highest = max(highest, ((ground[i] - h_ts) / along[i] - sight) * along[i])
    surface = smooth_surface(
        scan.v1, scan.v2, d, ground[0], ground[n], highest, scan.rise - sight, scan.fall + sight
    )

    # over the median Earth: in sight, what comes nearest to blocking it
    from_slope = scan.bent_rise + bend * d
    trans_horizon = scan.bent_rise > direct
    worst = -math.inf
    nearest = scan.first
    if from_slope < sight or not trans_horizon:
        for i in range(1, n):
            slope = (ground[i] - h_ts) / along[i] - bend * along[i]
            excess = (slope - direct) * math.sqrt(along[i] / (d - along[i]))
            if excess > worst:
                worst = excess
                nearest = i
    if from_slope < sight:
        terrain = BullingtonGeometry(d, h_ts, h_rs, from_slope, 0.0, worst)
    else:
        terrain = BullingtonGeometry(d, h_ts, h_rs, from_slope, scan.bent_fall + bend * d, 0.0)
    if trans_horizon:
        start = scan.first
        stop = scan.last
        horizons = Horizons(True, along[start], d - along[stop], scan.bent_rise, scan.bent_fall)
    else:
        start = nearest
        stop = nearest
        horizons = Horizons(False, along[start], d - along[stop], direct, -sight - bend * d)

    h_st, h_sr = ducting_surface(surface, ground[0], ground[n])
    tilt = (h_sr - h_st) / d
    roughness = -math.inf
    for i in range(min(start, stop), max(start, stop) + 1):
        roughness = max(roughness, ground[i] - tilt * along[i])
    smooth = smooth_bullington(
        along,
        along[1],
        n,
        h_ts - surface.tx_diffraction_m,
        h_rs - surface.rx_diffraction_m,
        bend,
        -math.inf,
    )
    over = DeltaBullingtonGeometry(link.effective_radius_km, terrain, smooth)
    ends = Terminals(
        d,
        ground[0],
        ground[n],
        link.tx_agl_m,
        link.rx_agl_m,
        link.effective_radius_km,
        _INLAND_COAST_KM,
        _INLAND_COAST_KM,
        latitude_deg,
        False,
    )
    path = path_from(ends, horizons, surface, roughness - h_st, Runs(0.0, d, d), over, over)
    return float(
        losses_from(
            path,
            link.frequency_ghz,
            link.time_percent,
            link.n0,
            link.vertical,
            link.location_percent,
            link.location_sigma_db,
        ).L_b
    )


def end_losses(
    offset: Ints,
    whole_km: Floats,
    ground: Floats,
    latitude: Floats,
    longest_km: float,
    link: Link,
    loss: Floats,
) -> None:
    """Losses of many links whose profiles lie one behind the other.

    Parameters
    ----------
    offset : ndarray of int64, shape (links + 1,)
        Where each profile starts, and where the last one ends.
    whole_km : ndarray, shape (links,)
        Length of each [km].
    ground, latitude : ndarray, shape (points,)
        Ground, NaN in holes [m], and latitude [degrees]. Short holes are filled in place.
    longest_km : float
        Longest hole that is bridged [km].
    link : Link
        What the links share.
    loss : ndarray, shape (links,)
        Filled [dB]; NaN where an end has no ground or a hole is too wide.
    """
    known = np.empty(1, np.int64)
    for r in range(whole_km.size):
        start = offset[r]
        count = offset[r + 1] - start
        step = whole_km[r] / (count - 1)
        along = np.empty(count)
        for i in range(count - 1):
            along[i] = i * step
        along[count - 1] = whole_km[r]
        heights = ground[start : start + count]
        bridge(heights.reshape((1, count)), int(longest_km / step), known)
        if known[0] < count:
            loss[r] = math.nan
            continue
        middle = 0.5 * (latitude[start + (count - 1) // 2] + latitude[start + count // 2])
        loss[r] = end_loss(along, heights, middle, link)


def places_between(
    latitude_terms: Floats, longitude_terms: Floats, offset: Ints, latitude: Floats, longitude: Floats
) -> None:
    """Points along many geodesics from their Chebyshev series.

    Parameters
    ----------
    latitude_terms, longitude_terms : ndarray, shape (links, terms)
        Series over each link, from −1 at its first point to 1 at its last [degrees].
    offset : ndarray of int64, shape (links + 1,)
        As in :func:`end_losses`.
    latitude, longitude : ndarray, shape (points,)
        Filled [degrees].
    """
    terms = latitude_terms.shape[1]
    for r in range(latitude_terms.shape[0]):
        start = offset[r]
        count = offset[r + 1] - start
        for i in range(count):
            x = 2.0 * i / (count - 1) - 1.0
            b1 = 0.0
            b2 = 0.0
            c1 = 0.0
            c2 = 0.0
            for k in range(terms - 1, 0, -1):  # Clenshaw's recurrence
                b1, b2 = latitude_terms[r, k] + 2.0 * x * b1 - b2, b1
                c1, c2 = longitude_terms[r, k] + 2.0 * x * c1 - c2, c1
            latitude[start + i] = latitude_terms[r, 0] + x * b1 - b2
            longitude[start + i] = longitude_terms[r, 0] + x * c1 - c2


class Twins(NamedTuple):
    """Compiled :func:`end_losses` and :func:`places_between`; they release the interpreter's lock.

    ``note`` says why they are compiled anew in this process, where they are.
    """

    end_losses: Callable[..., Any]
    places_between: Callable[..., Any]
    note: str | None


def twins(cache_dir: Path | None = None) -> Twins:
    """Compiled functions for this process, read from a cache on disk where there is one.

    Parameters
    ----------
    cache_dir : Path, optional
        As for `pathprofile.area.compiled.compiled`.
    """
    functions: dict[str, Callable[..., Any]] = {"end_losses": end_losses, "places_between": places_between}
    return made(Twins, functions, cache_dir, leaves=(_scan, end_loss))
