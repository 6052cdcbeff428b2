"""One equivalent knife edge for a whole profile, where the horizon rays of both ends cross.

Leaves take the units of the Recommendations (km, GHz, m); :func:`loss_db` those of this package (m, MHz).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from pathprofile.propagation import _checks

if TYPE_CHECKING:
    import numpy.typing as npt

    FloatArray = npt.NDArray[np.float64]

__all__ = [
    "BullingtonGeometry",
    "ProfileSlopes",
    "geometry",
    "knife_edge_approx_db",
    "loss_db",
    "loss_from",
    "profile_slopes",
]

_METHOD = "Bullington"


class BullingtonGeometry(NamedTuple):
    """All that the Bullington loss needs to know of a profile, at any frequency.

    Slopes are those of the Recommendation: with the bulge of the Earth added to the ground, m/km.
    """

    distance_km: float
    from_height_m: float
    to_height_m: float
    from_slope: float
    """Steepest slope from the first antenna to an interior point, S_tim."""
    to_slope: float
    """Steepest slope from the second antenna, S_rim; 0 and unused in line of sight."""
    worst_excess: float
    """Largest height over the line of sight divided by √(d1 d2) [m/km]; 0 and unused beyond it."""


class ProfileSlopes(NamedTuple):
    """Slopes from both antennas to the interior points, over a flat Earth: shared by every radius."""

    distance_km: float
    from_height_m: float
    to_height_m: float
    from_km: FloatArray
    to_km: FloatArray
    rise: FloatArray
    """From the first antenna [m/km]."""
    fall: FloatArray
    """From the second antenna, looking back [m/km]."""


def knife_edge_approx_db(nu: float) -> float:
    """Loss over one knife edge, by the approximation of the Recommendations.

    Parameters
    ----------
    nu : float
        Fresnel diffraction parameter ν, positive when the edge is above the line of sight.

    Returns
    -------
    float
        J(ν) [dB]; 0 for ν ≤ −0.78, where it jumps by 0.004 dB.

    References
    ----------
    .. [1] ITU-R P.526-16, §4.1; P.1812-8 eq. 12.
    """
    if nu <= -0.78:
        return 0.0
    return 6.9 + 20.0 * math.log10(math.sqrt((nu - 0.1) ** 2 + 1.0) + nu - 0.1)


def loss_from(path: BullingtonGeometry, frequency_ghz: float) -> float:
    """Bullington loss of a profile (P.1812-8 eqs 13 to 21; P.526-16 §4.5.1) [dB]."""
    d = path.distance_km
    h_ts = path.from_height_m
    h_rs = path.to_height_m
    wavelength_m = 0.2998 / frequency_ghz
    S_tim = path.from_slope
    if S_tim < (h_rs - h_ts) / d:
        nu = path.worst_excess * math.sqrt(0.002 * d / wavelength_m)
    else:
        d_b = (h_rs - h_ts + path.to_slope * d) / (S_tim + path.to_slope)
        excess_m = h_ts + S_tim * d_b - (h_ts * (d - d_b) + h_rs * d_b) / d
        nu = excess_m * math.sqrt(0.002 * d / (wavelength_m * d_b * (d - d_b)))
    L_uc = knife_edge_approx_db(nu)
    return L_uc + (1.0 - math.exp(-L_uc / 6.0)) * (10.0 + 0.02 * d)


def profile_slopes(
    from_km: FloatArray,
    to_km: FloatArray,
    ground_m: FloatArray | float,
    from_height_m: float,
    to_height_m: float,
) -> ProfileSlopes:
    """Slopes from both antennas (heights above sea level) to points ``from_km`` and ``to_km`` away."""
    return ProfileSlopes(
        float(from_km[0] + to_km[0]),
        from_height_m,
        to_height_m,
        from_km,
        to_km,
        (ground_m - from_height_m) / from_km,
        (ground_m - to_height_m) / to_km,
    )


def geometry(slopes: ProfileSlopes, effective_radius_km: float) -> BullingtonGeometry:
    """Reduce a profile to what :func:`loss_from` needs, over an Earth of the given effective radius."""
    d = slopes.distance_km
    bend = 500.0 / effective_radius_km  # [m/km²]
    sight = (slopes.to_height_m - slopes.from_height_m) / d
    # the bulge under the chord, bend·d1·d2, adds bend·d2 = bend·d − bend·d1 to the slope from the first end
    from_slopes = slopes.rise - bend * slopes.from_km
    from_slope = float(from_slopes.max()) + bend * d
    if from_slope < sight:
        # excess/√(d1 d2) = (slope − sight) d1/√(d1 d2)
        worst = ((from_slopes - (sight - bend * d)) * np.sqrt(slopes.from_km / slopes.to_km)).max()
        return BullingtonGeometry(d, slopes.from_height_m, slopes.to_height_m, from_slope, 0.0, float(worst))
    to_slope = float((slopes.fall - bend * slopes.to_km).max()) + bend * d
    return BullingtonGeometry(d, slopes.from_height_m, slopes.to_height_m, from_slope, to_slope, 0.0)


def loss_db(
    distance_m: npt.ArrayLike,
    ground_m: npt.ArrayLike,
    *,
    frequency_mhz: float,
    from_antenna_amsl_m: float,
    to_antenna_amsl_m: float,
    effective_radius_m: float,
) -> float:
    """Diffraction loss of a profile by the Bullington construction.

    Parameters
    ----------
    distance_m : array_like, shape (n,)
        Distances of the profile points, from 0 and increasing [m].
    ground_m : array_like, shape (n,)
        Heights of the ground, or of what stands on it, above sea level [m]. The end values are not used.
    frequency_mhz : float
        Frequency [MHz].
    from_antenna_amsl_m, to_antenna_amsl_m : float
        Antennas at the first and last point, above sea level [m].
    effective_radius_m : float
        Effective Earth radius [m].

    Returns
    -------
    float
        Loss over free space [dB], 0 or more.

    Raises
    ------
    OutOfRangeError
        If the profile has fewer than 5 points, is unordered or not finite, or a number is impossible.

    Notes
    -----
    **Validity**: optimistic where many obstacles stand in a row; see the delta-Bullington method.

    References
    ----------
    .. [1] ITU-R P.526-16, §4.5.1; the same as P.1812-8 eqs 13 to 21.
    """
    distance, ground = _checks.profile(_METHOD, distance_m, ground_m=ground_m)
    frequency = _checks.number(_METHOD, "frequency_mhz", frequency_mhz, 1.0, 1e6, "MHz")
    radius = _checks.number(_METHOD, "effective_radius_m", effective_radius_m, 1e5, 1e12, "m")
    from_height = _checks.number(_METHOD, "from_antenna_amsl_m", from_antenna_amsl_m, -1e5, 1e5, "m")
    to_height = _checks.number(_METHOD, "to_antenna_amsl_m", to_antenna_amsl_m, -1e5, 1e5, "m")
    from_km = distance[1:-1] / 1000.0
    slopes = profile_slopes(from_km, distance[-1] / 1000.0 - from_km, ground[1:-1], from_height, to_height)
    return loss_from(geometry(slopes, radius / 1000.0), frequency / 1000.0)
