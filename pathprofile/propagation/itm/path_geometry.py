"""What the Irregular Terrain Model takes from a terrain profile: horizons, roughness, effective heights.

The two halves of this file meet in `PathGeometry`. The scalar functions hold the equations; they use
`math` only, so that they can be compiled as they stand. The array functions reduce one whole profile.

Subscript 1 is the transmitter's end, 2 the receiver's. Symbols: h height above ground, H effective height,
d horizon distance, theta horizon angle, a effective Earth radius, D path length, dh terrain irregularity.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Elevations = npt.NDArray[np.float64]

__all__ = [
    "Horizons",
    "PathGeometry",
    "complete_geometry",
    "effective_radius",
    "find_horizons",
    "fit_interval",
    "fit_line",
    "in_sight",
    "mean_elevation",
    "path_geometry",
    "stretch",
    "surface_refractivity",
    "terrain_irregularity",
]

EARTH_CURVATURE_PER_M: Final = 157e-9  # the model's own; its inverse is 6369.4 km


class Horizons(NamedTuple):
    """Angle above the horizontal and distance of the radio horizon seen from each antenna."""

    tx_angle_rad: float
    rx_angle_rad: float
    tx_distance_m: float
    rx_distance_m: float


class PathGeometry(NamedTuple):
    """All that the loss equations need to know of a path: floats only.

    In sight the horizons are statistical ones, usually beyond the other end of the path.
    """

    path_length_m: float
    tx_antenna_agl_m: float
    rx_antenna_agl_m: float
    tx_effective_height_m: float
    rx_effective_height_m: float
    tx_horizon_angle_rad: float
    rx_horizon_angle_rad: float
    tx_horizon_distance_m: float
    rx_horizon_distance_m: float
    tx_smooth_horizon_m: float  # horizon of the same effective height over a smooth Earth
    rx_smooth_horizon_m: float
    terrain_irregularity_m: float
    surface_refractivity: float
    effective_radius_m: float


# --- scalar: the equations ------------------------------------------------------------------------------


def surface_refractivity(n0: float, mean_elevation_m: float) -> float:
    """Refractivity at the terrain's mean elevation, from its value reduced to sea level."""
    return n0 * math.exp(-mean_elevation_m / 9460.0)


def effective_radius(n_s: float) -> float:
    """Effective Earth radius [m] of an atmosphere whose surface refractivity is ``n_s``."""
    return 1.0 / (EARTH_CURVATURE_PER_M * (1.0 - 0.04665 * math.exp(n_s / 179.3)))


def in_sight(horizons: Horizons, D: float) -> bool:
    """Whether nothing stands above the direct line, so that horizons must be estimated."""
    return horizons.tx_distance_m + horizons.rx_distance_m > 1.5 * D


def stretch(h_1: float, h_2: float, horizons: Horizons, D: float) -> tuple[float, float]:
    """Distances between which the terrain is judged: the antennas' own surroundings are left out."""
    x_a = min(15.0 * h_1, 0.1 * horizons.tx_distance_m)
    x_b = D - min(15.0 * h_2, 0.1 * horizons.rx_distance_m)
    return x_a, x_b


def fit_interval(u_0: float, u_1: float, spacing_m: float, n: int) -> tuple[int, int]:
    """First and last profile index of a line fit from ``u_0`` to ``u_1``: rounded outwards."""
    i_0 = int(max(u_0 / spacing_m, 0.0))
    i_1 = n - int(max(n - u_1 / spacing_m, 0.0))
    if i_1 <= i_0:
        i_0 = max(i_0 - 1, 0)
        i_1 = min(i_1 + 1, n)
    return i_0, i_1


def complete_geometry(
    D: float,
    h_1: float,
    h_2: float,
    rise_1: float,
    rise_2: float,
    horizons: Horizons,
    dh: float,
    n_s: float,
    a: float,
) -> PathGeometry:
    """Effective heights and, in sight, the statistical horizons that replace those of the profile.

    ``rise_1`` and ``rise_2`` say how far each end's ground stands above (positive) the fitted terrain.
    """
    theta_1, theta_2, d_1, d_2 = horizons
    H_1 = h_1 + max(rise_1, 0.0)
    H_2 = h_2 + max(rise_2, 0.0)
    if in_sight(horizons, D):
        d_1 = _statistical_horizon(H_1, dh, a)
        d_2 = _statistical_horizon(H_2, dh, a)
        if d_1 + d_2 <= D:
            lift = (D / (d_1 + d_2)) ** 2
            H_1 *= lift
            H_2 *= lift
            d_1 = _statistical_horizon(H_1, dh, a)
            d_2 = _statistical_horizon(H_2, dh, a)
        theta_1 = _statistical_angle(H_1, d_1, dh, a)
        theta_2 = _statistical_angle(H_2, d_2, dh, a)
    return PathGeometry(
        D,
        h_1,
        h_2,
        H_1,
        H_2,
        theta_1,
        theta_2,
        d_1,
        d_2,
        math.sqrt(2.0 * a * H_1),
        math.sqrt(2.0 * a * H_2),
        dh,
        n_s,
        a,
    )


def _statistical_horizon(H: float, dh: float, a: float) -> float:
    return math.sqrt(2.0 * a * H) * math.exp(-0.07 * math.sqrt(dh / max(H, 5.0)))


def _statistical_angle(H: float, d: float, dh: float, a: float) -> float:
    d_s = math.sqrt(2.0 * a * H)
    return (0.65 * dh * (d_s / d - 1.0) - 2.0 * H) / d_s


# --- arrays: one whole profile --------------------------------------------------------------------------


def path_geometry(
    spacing_m: float,
    elevations_m: Elevations,
    *,
    tx_antenna_agl_m: float,
    rx_antenna_agl_m: float,
    n0: float,
) -> PathGeometry:
    """Reduce one profile to the floats that the loss equations need; inputs are taken as valid.

    Parameters
    ----------
    spacing_m : float
        Distance between neighbouring points [m].
    elevations_m : ndarray, shape (n + 1,), n >= 1
        Ground above sea level from transmitter to receiver [m].
    tx_antenna_agl_m, rx_antenna_agl_m : float
        Antenna heights above ground [m].
    n0 : float
        Surface refractivity reduced to sea level [N-units].

    Returns
    -------
    PathGeometry

    Notes
    -----
    Three of the model's counts are truncated: how many points a fit takes at each end and how many samples
    judge the roughness. The loss may therefore step slightly when spacing, length or a height changes.

    References
    ----------
    .. [1] G. A. Hufford, "The ITS Irregular Terrain Model, version 1.2.2: The Algorithm", NTIA/ITS,
       sections on the preparatory point-to-point calculations.
    """
    y = elevations_m
    n = y.size - 1
    D = n * spacing_m
    n_s = surface_refractivity(n0, mean_elevation(y))
    a = effective_radius(n_s)
    horizons = find_horizons(spacing_m, y, tx_antenna_agl_m, rx_antenna_agl_m, a)
    x_a, x_b = stretch(tx_antenna_agl_m, rx_antenna_agl_m, horizons, D)
    dh = terrain_irregularity(spacing_m, y, x_a, x_b)
    if in_sight(horizons, D):
        left, right = fit_line(y, *fit_interval(x_a, x_b, spacing_m, n))
    else:
        left, _ = fit_line(y, *fit_interval(x_a, 0.9 * horizons.tx_distance_m, spacing_m, n))
        _, right = fit_line(y, *fit_interval(D - 0.9 * horizons.rx_distance_m, x_b, spacing_m, n))
    return complete_geometry(
        D,
        tx_antenna_agl_m,
        rx_antenna_agl_m,
        float(y[0]) - left,
        float(y[-1]) - right,
        horizons,
        dh,
        n_s,
        a,
    )


def mean_elevation(elevations_m: Elevations) -> float:
    """Mean ground elevation [m], the first and last tenth of the profile left out."""
    n = elevations_m.size - 1
    skip = int(0.1 * n)
    return float(elevations_m[skip : n - skip + 1].mean())


def find_horizons(
    spacing_m: float, elevations_m: Elevations, tx_antenna_agl_m: float, rx_antenna_agl_m: float, a: float
) -> Horizons:
    """Radio horizon of each antenna: the point of greatest angle, or the other antenna if none is higher."""
    y = elevations_m
    n = y.size - 1
    D = n * spacing_m
    tip_1 = float(y[0]) + tx_antenna_agl_m
    tip_2 = float(y[-1]) + rx_antenna_agl_m
    theta_1 = (tip_2 - tip_1) / D - D / (2.0 * a)
    theta_2 = (tip_1 - tip_2) / D - D / (2.0 * a)
    d_1 = d_2 = D
    if n > 1:
        # Distances grow and shrink by one spacing after another, as in NTIA's release, not by
        # multiplication: the last bit decides which points a fit takes when an index is a multiple of ten.
        steps = np.full(n, spacing_m)
        x = np.add.accumulate(steps[1:])
        steps[0] = D
        rest = np.subtract.accumulate(steps)[1:]
        inner = y[1:-1]
        angle_1 = (inner - tip_1) / x - x / (2.0 * a)
        angle_2 = (inner - tip_2) / rest - rest / (2.0 * a)
        j_1 = int(angle_1.argmax())  # the first of equals, at both ends
        j_2 = int(angle_2.argmax())
        if angle_1[j_1] > theta_1:
            theta_1, d_1 = float(angle_1[j_1]), float(x[j_1])
        if angle_2[j_2] > theta_2:
            theta_2, d_2 = float(angle_2[j_2]), float(rest[j_2])
    return Horizons(theta_1, theta_2, d_1, d_2)


def fit_line(elevations_m: Elevations, i_0: int, i_1: int) -> tuple[float, float]:
    """Fit a straight line to points ``i_0`` to ``i_1``; return it at the first and the last point of all."""
    mean, slope = _weighted_fit(elevations_m[i_0 : i_1 + 1])
    centre = 0.5 * (i_0 + i_1)
    return mean - slope * centre, mean + slope * (elevations_m.size - 1 - centre)


def _weighted_fit(part: Elevations) -> tuple[float, float]:
    """Mean and slope per interval of evenly spaced values, the two outermost with half the weight."""
    intervals = part.size - 1
    offset = np.arange(intervals + 1) - 0.5 * intervals
    first, last = float(part[0]), float(part[-1])
    total = float(part.sum()) - 0.5 * (first + last)
    moment = float(offset @ part) - 0.25 * intervals * (last - first)
    return total / intervals, 12.0 * moment / (intervals * (intervals * intervals + 2.0))


def terrain_irregularity(spacing_m: float, elevations_m: Elevations, x_a: float, x_b: float) -> float:
    """Range [m] between the lowest and highest tenth of the terrain about its trend, from x_a to x_b."""
    first, last = x_a / spacing_m, x_b / spacing_m
    if last - first < 2.0:
        return 0.0
    tenth = min(max(int(0.1 * (last - first + 8.0)), 4), 25)
    count = 10 * tenth - 5
    step = np.arange(count)
    position = first + step * ((last - first) / (count - 1))
    below = np.minimum(position.astype(np.intp), elevations_m.size - 2)
    y = elevations_m[below]
    samples = y + (elevations_m[below + 1] - y) * (position - below)
    samples -= samples[0]  # so that level ground gives exactly 0, not its rounding error
    mean, slope = _weighted_fit(samples)
    residual = np.sort(samples - (mean + slope * (step - 0.5 * (count - 1))))
    spread = float(residual[count - tenth] - residual[tenth - 1])
    return spread / (1.0 - 0.8 * math.exp(-(x_b - x_a) / 50000.0))
