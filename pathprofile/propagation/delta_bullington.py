"""Bullington's edge for the terrain, raised by what a smooth Earth of the same mean height costs more.

Leaves take the units of the Recommendations (km, GHz, m); :func:`loss_db` those of this package (m, MHz).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from pathprofile.propagation import _checks, bullington, spherical_earth

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    FloatArray = npt.NDArray[np.float64]

__all__ = [
    "DeltaBullingtonGeometry",
    "DeltaBullingtonLoss",
    "SmoothSurface",
    "fit_smooth_surface",
    "geometry",
    "loss_db",
    "loss_from",
    "smooth_surface",
]

_METHOD = "delta-Bullington"


class SmoothSurface(NamedTuple):
    """Heights above sea level of the smooth Earth fitted to a profile, under each antenna [m]."""

    tx_m: float
    """Least-squares line, h_st."""
    rx_m: float
    tx_diffraction_m: float
    """Lowered under obstacles and never above the ground, h_std: the plane that diffraction is seen from."""
    rx_diffraction_m: float


class DeltaBullingtonGeometry(NamedTuple):
    """All that the delta-Bullington loss needs to know of a profile over one effective radius."""

    effective_radius_km: float
    terrain: bullington.BullingtonGeometry
    smooth: bullington.BullingtonGeometry
    """The same path over bare sea level, from the effective antenna heights."""


class DeltaBullingtonLoss(NamedTuple):
    """The parts of the loss and their sum [dB]."""

    terrain_db: float
    smooth_db: float
    spherical_db: float
    loss_db: float


def smooth_surface(
    v1: float,
    v2: float,
    distance_km: float,
    first_ground_m: float,
    last_ground_m: float,
    highest_obstruction_m: float,
    from_obstruction_slope: float,
    to_obstruction_slope: float,
) -> SmoothSurface:
    """Smooth-Earth heights from the sums v1, v2 and what obstructs the sight line (P.1812-8 eqs 76 to 95)."""
    d = distance_km
    h_st = (2.0 * v1 * d - v2) / (d * d)
    h_sr = (v2 - v1 * d) / (d * d)
    h_stp = h_st
    h_srp = h_sr
    slopes = from_obstruction_slope + to_obstruction_slope
    if highest_obstruction_m > 0.0 and slopes > 0.0:  # a grazing point can round one of the three to 0
        h_stp -= highest_obstruction_m * from_obstruction_slope / slopes
        h_srp -= highest_obstruction_m * to_obstruction_slope / slopes
    return SmoothSurface(h_st, h_sr, min(h_stp, first_ground_m), min(h_srp, last_ground_m))


def loss_from(
    path: DeltaBullingtonGeometry,
    frequency_ghz: float,
    vertical: bool,
    relative_permittivity: float,
    conductivity_s_per_m: float,
    sea_fraction: float,
) -> DeltaBullingtonLoss:
    """Delta-Bullington loss with its parts (P.1812-8 eqs 37 to 39; P.526-16 §4.5.2)."""
    L_bulla = bullington.loss_from(path.terrain, frequency_ghz)
    L_bulls = bullington.loss_from(path.smooth, frequency_ghz)
    L_dsph = spherical_earth.loss_from(
        path.smooth.distance_km,
        path.smooth.from_height_m,
        path.smooth.to_height_m,
        path.effective_radius_km,
        frequency_ghz,
        vertical,
        relative_permittivity,
        conductivity_s_per_m,
        sea_fraction,
    )
    return DeltaBullingtonLoss(L_bulla, L_bulls, L_dsph, L_bulla + max(L_dsph - L_bulls, 0.0))


def fit_smooth_surface(
    distance_km: FloatArray, ground_m: FloatArray, slopes: bullington.ProfileSlopes
) -> SmoothSurface:
    """Fit the smooth Earth to bare ground; ``slopes`` are those of the same ground."""
    d = slopes.distance_km
    h, h_before = ground_m[1:], ground_m[:-1]
    step_km = distance_km[1:] - distance_km[:-1]
    both = h + h_before
    v1 = float(step_km @ both)
    # h(2d + d') + h'(d + 2d') = (h + h')(d + d') + h d + h' d'
    moment_m_km = ground_m * distance_km
    v2 = float(step_km @ (both * (distance_km[1:] + distance_km[:-1]) + moment_m_km[1:] + moment_m_km[:-1]))
    # height over the sight line by distance is the slope to a point less the slope of the line
    sight = (slopes.to_height_m - slopes.from_height_m) / d
    from_slope = float(slopes.rise.max()) - sight
    to_slope = float(slopes.fall.max()) + sight
    highest = float(((slopes.rise - sight) * slopes.from_km).max()) if from_slope > 0.0 else 0.0
    return smooth_surface(v1, v2, d, float(ground_m[0]), float(ground_m[-1]), highest, from_slope, to_slope)


def geometry(
    slopes: bullington.ProfileSlopes, smooth_slopes: bullington.ProfileSlopes, effective_radius_km: float
) -> DeltaBullingtonGeometry:
    """Reduce a profile, and the smooth Earth under it, to what :func:`loss_from` needs."""
    return DeltaBullingtonGeometry(
        effective_radius_km,
        bullington.geometry(slopes, effective_radius_km),
        bullington.geometry(smooth_slopes, effective_radius_km),
    )


def loss_db(
    distance_m: npt.ArrayLike,
    ground_m: npt.ArrayLike,
    *,
    frequency_mhz: float,
    tx_antenna_agl_m: float,
    rx_antenna_agl_m: float,
    effective_radius_m: float,
    polarization: str,
    relative_permittivity: float = spherical_earth.LAND_PERMITTIVITY,
    conductivity_s_per_m: float = spherical_earth.LAND_CONDUCTIVITY_S_PER_M,
    sea_fraction: float = 0.0,
) -> float:
    """Diffraction loss of any path, in sight or beyond, over terrain or smooth Earth.

    Parameters
    ----------
    distance_m : array_like, shape (n,)
        Distances of the profile points, from 0 and increasing [m].
    ground_m : array_like, shape (n,)
        Ground above sea level [m].
    frequency_mhz : float
        Frequency, 10 MHz or more [MHz].
    tx_antenna_agl_m, rx_antenna_agl_m : float
        Antennas above the ground at the first and last point [m].
    effective_radius_m : float
        Effective Earth radius [m].
    polarization : {"horizontal", "vertical"}
        Polarization.
    relative_permittivity : float
        Of the land; the default is medium ground.
    conductivity_s_per_m : float
        Of the land [S/m]; the default is medium ground.
    sea_fraction : float
        Share of the path over sea, 0 to 1.

    Returns
    -------
    float
        Loss over free space [dB].

    Raises
    ------
    OutOfRangeError
        If the profile has fewer than 5 points, is unordered or not finite, or a number is out of range.

    Notes
    -----
    **Validity**: the general method of P.526 for terrestrial paths from 10 MHz; it takes no account of
    reflections or of anything beside the great circle.

    References
    ----------
    .. [1] ITU-R P.526-16, §4.5.2; the same as P.1812-8 eqs 37 to 39.
    """
    distance, ground = _checks.profile(_METHOD, distance_m, ground_m=ground_m)
    frequency = _checks.number(_METHOD, "frequency_mhz", frequency_mhz, 10.0, 1e6, "MHz")
    tx_agl = _checks.number(_METHOD, "tx_antenna_agl_m", tx_antenna_agl_m, 1e-3, 1e5, "m")
    rx_agl = _checks.number(_METHOD, "rx_antenna_agl_m", rx_antenna_agl_m, 1e-3, 1e5, "m")
    radius_km = _checks.number(_METHOD, "effective_radius_m", effective_radius_m, 1e5, 1e12, "m") / 1000.0
    vertical = _checks.is_vertical(_METHOD, polarization)
    permittivity = _checks.number(_METHOD, "relative_permittivity", relative_permittivity, 1.0, 1e3)
    conductivity = _checks.number(_METHOD, "conductivity_s_per_m", conductivity_s_per_m, 1e-9, 1e8, "S/m")
    sea = _checks.number(_METHOD, "sea_fraction", sea_fraction, 0.0, 1.0)

    distance_km = distance / 1000.0
    from_km = distance_km[1:-1]
    to_km = distance_km[-1] - from_km
    h_ts = float(ground[0]) + tx_agl
    h_rs = float(ground[-1]) + rx_agl
    slopes = bullington.profile_slopes(from_km, to_km, ground[1:-1], h_ts, h_rs)
    surface = fit_smooth_surface(distance_km, ground, slopes)
    smooth_slopes = bullington.profile_slopes(
        from_km, to_km, 0.0, h_ts - surface.tx_diffraction_m, h_rs - surface.rx_diffraction_m
    )
    path = geometry(slopes, smooth_slopes, radius_km)
    return loss_from(path, frequency / 1000.0, vertical, permittivity, conductivity, sea).loss_db
