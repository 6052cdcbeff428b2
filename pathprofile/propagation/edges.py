"""Approximate losses over a list of knife edges: Epstein-Peterson, Deygout, Giovanelli.

Each takes antenna tip, edges, antenna tip on a flat Earth, as
`pathprofile.propagation.knife_edge.exact_loss_db` does; that one is their yardstick.
"""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

from pathprofile.propagation.knife_edge import nu_between, single_edge_loss_db
from pathprofile.propagation.many_edges import edge_path

if TYPE_CHECKING:
    import numpy.typing as npt

__all__ = ["deygout_loss_db", "epstein_peterson_loss_db", "giovanelli_loss_db"]

_LEAST_NU = -0.78
"""An edge further below its line costs nothing (ITU-R P.526-16, §4.1)."""
_ON_STRING_M = 1e-3


def epstein_peterson_loss_db(
    distance_m: npt.ArrayLike, height_m: npt.ArrayLike, frequency_mhz: float
) -> float:
    """Sum of single-edge losses, each edge between its neighbours on the stretched string.

    Parameters
    ----------
    distance_m, height_m : array_like, shape (n + 2,)
        Antenna tip, n edges, antenna tip: distance and height on a flat Earth [m].
    frequency_mhz : float
        Frequency [MHz].

    Returns
    -------
    float
        Loss over free space [dB].

    Raises
    ------
    OutOfRangeError
        See `pathprofile.propagation.many_edges.edge_path`.

    Notes
    -----
    Under each straight piece of the string the edge of largest ν counts too, as long as ν > −0.78 between
    the ends of that piece, so that an edge sinking through the string does not lose 6 dB at once. Within a
    millimetre of the string an edge is on it. Pessimistic for many near-grazing edges: five of them on the
    line give 30.1 dB where 20 log 6 = 15.6 dB is exact.

    References
    ----------
    .. [1] J. Epstein, D. W. Peterson, "An experimental study of wave propagation at 850 Mc",
       Proc. IRE 41(5), 595-611, 1953.
    """
    path = edge_path("Epstein-Peterson", distance_m, height_m, frequency_mhz)
    d, h, wavelength_m = path.distance_m.tolist(), path.height_m.tolist(), path.wavelength_m
    string = _string(d, h)
    touched_db = sum(
        single_edge_loss_db(nu_between(d, h, before, at, after, wavelength_m))
        for before, at, after in zip(string, string[1:], string[2:], strict=False)
    )
    under_db = sum(
        _recursive(d, h, wavelength_m, start, stop, levels=0, moved=False)
        for start, stop in itertools.pairwise(string)
    )
    return touched_db + under_db


def deygout_loss_db(
    distance_m: npt.ArrayLike, height_m: npt.ArrayLike, frequency_mhz: float, *, levels: int | None = None
) -> float:
    """Add the main edge of the whole path and the main edge of each side.

    Parameters
    ----------
    distance_m, height_m : array_like, shape (n + 2,)
        Antenna tip, n edges, antenna tip: distance and height on a flat Earth [m].
    frequency_mhz : float
        Frequency [MHz].
    levels : int, optional
        How often the sides are divided again. By default until no edge reaches ν = −0.78 there; 1 is the
        common form of up to three edges.

    Returns
    -------
    float
        Loss over free space [dB]; 0 if no edge reaches ν = −0.78.

    Raises
    ------
    OutOfRangeError
        See `pathprofile.propagation.many_edges.edge_path`.

    Notes
    -----
    The main edge is the one of largest ν. Pessimistic for edges that stand close together and alike: the
    second is charged as if the first were a transmitter beside it.

    References
    ----------
    .. [1] J. Deygout, "Multiple knife-edge diffraction of microwaves", IEEE Trans. Antennas Propag. 14(4),
       480-489, 1966.
    """
    path = edge_path("Deygout", distance_m, height_m, frequency_mhz)
    d, h = path.distance_m.tolist(), path.height_m.tolist()
    return _recursive(d, h, path.wavelength_m, 0, len(d) - 1, levels=levels, moved=False)


def giovanelli_loss_db(
    distance_m: npt.ArrayLike, height_m: npt.ArrayLike, frequency_mhz: float, *, levels: int | None = None
) -> float:
    """Add the main edge, between ends moved to what it sees, and the main edge of each side.

    Parameters
    ----------
    distance_m, height_m : array_like, shape (n + 2,)
        Antenna tip, n edges, antenna tip: distance and height on a flat Earth [m].
    frequency_mhz : float
        Frequency [MHz].
    levels : int, optional
        How often the sides are divided again. By default until no edge reaches ν = −0.78 there; 1 is the
        common form of up to three edges.

    Returns
    -------
    float
        Loss over free space [dB]; 0 if no edge reaches ν = −0.78.

    Raises
    ------
    OutOfRangeError
        See `pathprofile.propagation.many_edges.edge_path`.

    Notes
    -----
    Deygout's construction, but where a side edge stands above the line from the main edge to an end, that
    end is raised onto the line from the main edge through the side edge before the main edge's ν is taken.
    So the main edge bends the wave only as far as the side edge, which bends it the rest of the way.

    References
    ----------
    .. [1] C. L. Giovanelli, "An analysis of simplified solutions for multiple knife-edge diffraction",
       IEEE Trans. Antennas Propag. 32(3), 297-301, 1984.
    """
    path = edge_path("Giovanelli", distance_m, height_m, frequency_mhz)
    d, h = path.distance_m.tolist(), path.height_m.tolist()
    return _recursive(d, h, path.wavelength_m, 0, len(d) - 1, levels=levels, moved=True)


def _recursive(
    d: list[float],
    h: list[float],
    wavelength_m: float,
    start: int,
    stop: int,
    *,
    levels: int | None,
    moved: bool,
) -> float:
    main = _main_edge(d, h, wavelength_m, start, stop)
    if main is None:
        return 0.0
    ends = list(h)
    sides_db = 0.0
    deeper = None if levels is None else levels - 1
    for end in (start, stop) if levels != 0 else ():
        low, high = sorted((end, main))
        sides_db += _recursive(d, h, wavelength_m, low, high, levels=deeper, moved=moved)
        side = _main_edge(d, h, wavelength_m, low, high)
        if moved and side is not None:
            seen_m = h[main] + (h[side] - h[main]) / (d[side] - d[main]) * (d[end] - d[main])
            ends[end] = max(h[end], seen_m)
    return single_edge_loss_db(nu_between(d, ends, start, main, stop, wavelength_m)) + sides_db


def _main_edge(d: list[float], h: list[float], wavelength_m: float, start: int, stop: int) -> int | None:
    """Edge of largest ν strictly between two points, if it reaches ν = −0.78."""
    if stop - start < 2:
        return None
    nu = [nu_between(d, h, start, i, stop, wavelength_m) for i in range(start + 1, stop)]
    largest = max(nu)
    return start + 1 + nu.index(largest) if largest > _LEAST_NU else None


def _string(d: list[float], h: list[float]) -> list[int]:
    """Points that a string stretched over the edges from tip to tip touches."""
    string: list[int] = []
    for i in range(len(d)):
        while len(string) > 1:
            a, b = string[-2], string[-1]
            line_m = h[a] + (h[i] - h[a]) * (d[b] - d[a]) / (d[i] - d[a])
            if h[b] >= line_m - _ON_STRING_M:
                break
            string.pop()
        string.append(i)
    return string
