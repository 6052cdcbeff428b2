"""One knife edge, one rounded obstacle, two edges: ITU-R P.526-16 §4.1 to §4.3."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, overload

import numpy as np

from pathprofile.errors import OutOfRangeError
from pathprofile.propagation.many_edges import edge_path, exact_loss_db
from pathprofile.sightline import SPEED_OF_LIGHT_M_PER_S

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

__all__ = [
    "exact_loss_db",
    "fresnel_nu",
    "nu_between",
    "rounded_obstacle_loss_db",
    "single_edge_loss_db",
    "two_edges_main_loss_db",
    "two_edges_similar_loss_db",
]

_TERMS = 13
_STEP = math.sqrt(math.pi / (_TERMS + 0.5))
_T_SQUARED = (_STEP * (np.arange(_TERMS) + 0.5)) ** 2
_GAUSSIAN = np.exp(-_T_SQUARED)


def fresnel_nu(height_m: float, from_m: float, to_m: float, frequency_mhz: float) -> float:
    """Fresnel diffraction parameter ν of one edge.

    Parameters
    ----------
    height_m : float
        Edge above the straight line between the two ends; negative below it [m].
    from_m, to_m : float
        Distance from the edge to each end [m].
    frequency_mhz : float
        Frequency [MHz].

    Returns
    -------
    float
        ``height √((2/λ)(1/d1 + 1/d2))``.

    Raises
    ------
    OutOfRangeError
        For distances or a frequency that are not positive, or any value that is not finite.

    References
    ----------
    .. [1] ITU-R P.526-16, §4.1 eq. 26.
    """
    if not (
        math.isfinite(height_m) and all(0.0 < given < math.inf for given in (from_m, to_m, frequency_mhz))
    ):
        raise OutOfRangeError(
            f"diffraction parameter: height {height_m!r} m, distances {from_m!r} and {to_m!r} m, "
            f"{frequency_mhz!r} MHz: give finite numbers, distances and frequency above 0"
        )
    wavelength_m = SPEED_OF_LIGHT_M_PER_S / (frequency_mhz * 1e6)
    return _nu(height_m, from_m, to_m, wavelength_m)


def _nu(height_m: float, from_m: float, to_m: float, wavelength_m: float) -> float:
    return height_m * math.sqrt(2.0 / wavelength_m * (1.0 / from_m + 1.0 / to_m))


@overload
def single_edge_loss_db(nu: float) -> float: ...
@overload
def single_edge_loss_db(nu: Floats) -> Floats: ...
def single_edge_loss_db(nu: float | Floats) -> float | Floats:
    """Exact loss over one knife edge.

    Parameters
    ----------
    nu : float or ndarray of any shape
        Fresnel diffraction parameter, positive for an edge above the line.

    Returns
    -------
    float or ndarray
        J(ν) over free space, of the shape of ``nu`` [dB]: 6.02 at ν = 0, least −1.37 at ν = −1.217.

    Raises
    ------
    OutOfRangeError
        For ν that is not finite or beyond ±1e6.

    Notes
    -----
    J = −20 log |½[(1 − C − S) + j(C − S)]| with the Fresnel integrals C and S at ν [1]_ is the modulus of the
    complementary Fresnel integral at ν √(π/2). It is summed here by a trapezium rule with the pole of the
    integrand taken out [2]_: with 13 terms within 1e-13 dB of a 40-digit evaluation for −100 ≤ ν ≤ 100, and
    without importing a library of special functions.

    References
    ----------
    .. [1] ITU-R P.526-16, §4.1 eq. 30.
    .. [2] M. Alazah, S. N. Chandler-Wilde, S. La Porte, "Computing Fresnel integrals via modified trapezium
       rules", Numerische Mathematik 128, 635-661, 2014.
    """
    given = np.asarray(nu, dtype=np.float64)
    if not (np.abs(given) <= 1e6).all():
        raise OutOfRangeError(f"knife edge: diffraction parameter {nu!r}: give -1e6 to 1e6")
    x = given * math.sqrt(math.pi / 2.0)
    x_squared = x * x
    total = (
        _GAUSSIAN / (x_squared[..., None] ** 2 + _T_SQUARED**2) * (x_squared[..., None] - 1j * _T_SQUARED)
    ).sum(axis=-1)
    pole = 0.5 + 0.5j * np.tan(np.exp(0.25j * math.pi) * (math.pi / _STEP) * x)
    field = pole + x * (_STEP / math.pi) * np.exp(1j * (x_squared + math.pi / 4.0)) * total
    loss_db: Floats = -20.0 * np.log10(np.abs(field))
    return float(loss_db[()]) if given.ndim == 0 else loss_db


def rounded_obstacle_loss_db(
    height_m: float, from_m: float, to_m: float, radius_m: float, frequency_mhz: float
) -> float:
    """Loss over one obstacle with a rounded top.

    Parameters
    ----------
    height_m : float
        Point where the tangents from both ends cross, above the straight line between them [m].
    from_m, to_m : float
        Distance from that point to each end [m].
    radius_m : float
        Radius of curvature of the top; 0 is a knife edge [m].
    frequency_mhz : float
        Frequency [MHz].

    Returns
    -------
    float
        J(ν) + T(m, n) over free space [dB].

    Raises
    ------
    OutOfRangeError
        For a negative or infinite radius, or what `fresnel_nu` refuses.

    Notes
    -----
    **Validity**: obstacles that reach the line or rise above it. For an obstacle below the line, or one so
    wide that m exceeds about 20, the polynomial of the Recommendation turns negative; T is held at 0 there,
    so that rounding never lowers the loss of a knife edge.

    References
    ----------
    .. [1] ITU-R P.526-16, §4.2.
    """
    nu = fresnel_nu(height_m, from_m, to_m, frequency_mhz)
    if not 0.0 <= radius_m < math.inf:
        raise OutOfRangeError(
            f"rounded obstacle: radius {radius_m!r} m: give 0 (a knife edge) or more, finite"
        )
    edge_db = single_edge_loss_db(nu)
    if radius_m == 0.0:
        return edge_db
    size = math.pi * radius_m * frequency_mhz * 1e6 / SPEED_OF_LIGHT_M_PER_S
    m: float = radius_m * (from_m + to_m) / (from_m * to_m) / size ** (1.0 / 3.0)
    n: float = height_m * size ** (2.0 / 3.0) / radius_m
    if m * n <= 4.0:
        rounding_db = 7.2 * math.sqrt(m) - (2.0 - 12.5 * n) * m + 3.6 * m**1.5 - 0.8 * m * m
    else:
        rounding_db = (
            -6.0
            - 20.0 * math.log10(m * n)
            + 7.2 * math.sqrt(m)
            - (2.0 - 17.0 * n) * m
            + 3.6 * m**1.5
            - 0.8 * m * m
        )
    return edge_db + max(0.0, float(rounding_db))


def two_edges_similar_loss_db(
    distance_m: npt.ArrayLike, height_m: npt.ArrayLike, frequency_mhz: float
) -> float:
    """Loss over two edges of like importance: each between its neighbours, and a correction.

    Parameters
    ----------
    distance_m, height_m : array_like, shape (4,)
        Antenna tip, two edges, antenna tip, on a flat Earth [m].
    frequency_mhz : float
        Frequency [MHz].

    Returns
    -------
    float
        J(first, seen from the second) + J(second, seen from the first) + L_c [dB]. L_c, for spacings a, b,
        c, is 10 log[(a + b)(b + c)/(b(a + b + c))]; it counts only when both losses exceed 15 dB.

    Raises
    ------
    OutOfRangeError
        For other than two edges, or what `pathprofile.propagation.many_edges.edge_path` refuses.

    References
    ----------
    .. [1] ITU-R P.526-16, §4.3, first method.
    """
    d, h, wavelength_m = _two_edges(distance_m, height_m, frequency_mhz)
    first_db = single_edge_loss_db(nu_between(d, h, 0, 1, 2, wavelength_m))
    second_db = single_edge_loss_db(nu_between(d, h, 1, 2, 3, wavelength_m))
    both_db = first_db + second_db
    if min(first_db, second_db) <= 15.0:
        return both_db
    a, b, c = d[1] - d[0], d[2] - d[1], d[3] - d[2]
    return both_db + 10.0 * math.log10((a + b) * (b + c) / (b * (a + b + c)))


def two_edges_main_loss_db(distance_m: npt.ArrayLike, height_m: npt.ArrayLike, frequency_mhz: float) -> float:
    """Loss over two edges of which one dominates: the main one over the whole path, the other beyond it.

    Parameters
    ----------
    distance_m, height_m : array_like, shape (4,)
        Antenna tip, two edges, antenna tip, on a flat Earth [m].
    frequency_mhz : float
        Frequency [MHz].

    Returns
    -------
    float
        J(main over the whole path) + J(second between the main one and the far end) − T_c [dB].

    Raises
    ------
    OutOfRangeError
        For other than two edges, or what `pathprofile.propagation.many_edges.edge_path` refuses.

    Notes
    -----
    T_c = [12 − 20 log(2/(1 − α/π))] (q/p)^(2p) with p and q the parameters ν of the main and the second edge
    over the whole path and tan α = √(b(a + b + c)/(a c)). It is 0 where the second edge is below the line (q
    < 0): the power has no value there.

    References
    ----------
    .. [1] ITU-R P.526-16, §4.3, second method.
    """
    d, h, wavelength_m = _two_edges(distance_m, height_m, frequency_mhz)
    p, q = (nu_between(d, h, 0, i, 3, wavelength_m) for i in (1, 2))
    if p >= q:
        second_nu = nu_between(d, h, 1, 2, 3, wavelength_m)
    else:
        p, q = q, p
        second_nu = nu_between(d, h, 0, 1, 2, wavelength_m)
    loss_db = single_edge_loss_db(p) + single_edge_loss_db(second_nu)
    if q < 0.0:
        return loss_db
    a, b, c = d[1] - d[0], d[2] - d[1], d[3] - d[2]
    alpha = math.atan(math.sqrt(b * (a + b + c) / (a * c)))
    share = 1.0 if p == 0.0 else (q / p) ** (2.0 * p)
    return loss_db - (12.0 - 20.0 * math.log10(2.0 / (1.0 - alpha / math.pi))) * share


def nu_between(
    d: list[float], h: list[float], start: int, edge: int, stop: int, wavelength_m: float
) -> float:
    """ν of one edge of a list between two others of it."""
    near_m, far_m = d[edge] - d[start], d[stop] - d[edge]
    line_m = (h[start] * far_m + h[stop] * near_m) / (near_m + far_m)
    return _nu(h[edge] - line_m, near_m, far_m, wavelength_m)


def _two_edges(
    distance_m: npt.ArrayLike, height_m: npt.ArrayLike, frequency_mhz: float
) -> tuple[list[float], list[float], float]:
    path = edge_path("two edges", distance_m, height_m, frequency_mhz)
    if path.distance_m.size != 4:
        raise OutOfRangeError(
            f"two edges: {path.distance_m.size - 2} edges: "
            "give two between the antenna tips, or use the exact method"
        )
    return path.distance_m.tolist(), path.height_m.tolist(), path.wavelength_m
