"""The lower atmosphere: the one source of the k factor, the effective Earth radius and refractivity."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pathprofile.errors import OutOfRangeError

if TYPE_CHECKING:
    from pathlib import Path

    import numpy.typing as npt

__all__ = ["DELTA_N_AT_4_3", "EARTH_RADIUS_M", "N0_DEFAULT", "Atmosphere", "RefractivityMaps"]

EARTH_RADIUS_M = 6_371_000.0
"""Mean Earth radius of ITU-R P.526-16 and P.1812-8 §3.2."""
DELTA_N_AT_4_3 = 39.25
"""Refractivity lapse [N/km] that makes k exactly 4/3 by ITU-R P.1812-8 eq. 6."""
N0_DEFAULT = 325.0
"""Sea-level surface refractivity [N-units]; a middle value of ITU-R P.453, fig. N0 (common practice)."""
_MAP_STEP_DEG = 1.5
_LARGEST_MAP_BYTES = 4_000_000


@dataclass(frozen=True)
class Atmosphere:
    """Median state of the lowest kilometre of air.

    Parameters
    ----------
    delta_n : float
        Refractivity lapse in the lowest 1 km, positive for the usual decrease with height [N/km].
        ``k = 157 / (157 - delta_n)``.
    n0 : float
        Surface refractivity reduced to sea level [N-units].

    Raises
    ------
    OutOfRangeError
        If ``delta_n`` is outside -200 … 156 or ``n0`` outside 250 … 400.

    References
    ----------
    .. [1] ITU-R P.1812-8, §3.2 eqs 6 and 7; P.453-14 for the quantities.
    """

    delta_n: float = DELTA_N_AT_4_3
    n0: float = N0_DEFAULT

    def __post_init__(self) -> None:
        if not -200.0 <= self.delta_n <= 156.0:  # at 157 rays follow the Earth and k is infinite
            raise OutOfRangeError(
                f"refractivity lapse {self.delta_n!r} N/km: give -200 to 156 (usual values are 35 to 60)"
            )
        if not 250.0 <= self.n0 <= 400.0:
            raise OutOfRangeError(
                f"surface refractivity {self.n0!r}: give 250 to 400 N-units (usual: 300 to 370)"
            )

    @classmethod
    def from_k(cls, k_factor: float, n0: float = N0_DEFAULT) -> Atmosphere:
        """Atmosphere with a stated k factor: ``delta_n = 157 (1 - 1/k)``.

        Raises
        ------
        OutOfRangeError
            If ``k_factor`` is outside 0.45 … 150.
        """
        if not 0.45 <= k_factor <= 150.0:
            raise OutOfRangeError(f"k factor {k_factor!r}: give 0.45 to 150 (4/3 is the usual median)")
        return cls(157.0 * (1.0 - 1.0 / k_factor), n0)

    @property
    def k_factor(self) -> float:
        """Effective over real Earth radius."""
        return 157.0 / (157.0 - self.delta_n)

    @property
    def effective_radius_m(self) -> float:
        """Effective Earth radius [m], on which rays are straight."""
        return self.k_factor * EARTH_RADIUS_M


@dataclass(frozen=True)
class RefractivityMaps:
    """A user's own copy of the ITU-R digital maps of refractivity (never shipped with this package).

    Parameters
    ----------
    delta_n, n0 : ndarray, shape (121, 241)
        Rows from 90° N to 90° S, columns from 0° to 360° E, every 1.5°.

    References
    ----------
    .. [1] ITU-R P.1812-8, §3.5 and the files ``DN50.TXT`` and ``N050.TXT`` that come with it.
    """

    delta_n: npt.NDArray[np.float64]
    n0: npt.NDArray[np.float64]

    def __post_init__(self) -> None:
        for name, grid in (("DN50", self.delta_n), ("N050", self.n0)):
            if grid.shape != (121, 241) or not np.isfinite(grid).all():
                raise OutOfRangeError(
                    f"refractivity map {name} is {' × '.join(map(str, grid.shape))}: the ITU-R map has "
                    "121 rows of 241 numbers, every 1.5°"
                )

    @classmethod
    def read(cls, folder: Path) -> RefractivityMaps:
        """Read ``DN50.TXT`` and ``N050.TXT`` from a folder.

        Raises
        ------
        OutOfRangeError
            If a file is missing, is not a table of numbers, or has another size.
        """
        return cls(_read_grid(folder / "DN50.TXT"), _read_grid(folder / "N050.TXT"))

    def at(self, latitude_deg: float, longitude_deg: float) -> Atmosphere:
        """Atmosphere at one place, bilinear in the map."""
        row = (90.0 - latitude_deg) / _MAP_STEP_DEG
        column = (longitude_deg % 360.0) / _MAP_STEP_DEG
        i = min(math.floor(row), 119)
        j = min(math.floor(column), 239)
        v = row - i
        u = column - j
        weights = np.array([[(1 - v) * (1 - u), (1 - v) * u], [v * (1 - u), v * u]])
        return Atmosphere(
            float((self.delta_n[i : i + 2, j : j + 2] * weights).sum()),
            float((self.n0[i : i + 2, j : j + 2] * weights).sum()),
        )


def _read_grid(path: Path) -> npt.NDArray[np.float64]:
    try:
        too_large = path.stat().st_size > _LARGEST_MAP_BYTES
        grid = None if too_large else np.loadtxt(path, dtype=np.float64, ndmin=2)
    except OSError as error:
        raise OutOfRangeError(
            f"refractivity map {str(path)!r} cannot be read: "
            "put the ITU's DN50.TXT and N050.TXT in that folder"
        ) from error
    except ValueError as error:
        raise OutOfRangeError(
            f"refractivity map {str(path)!r} is not a table of numbers: 121 rows of 241 are expected"
        ) from error
    if grid is None:
        raise OutOfRangeError(
            f"refractivity map {str(path)!r} is larger than {_LARGEST_MAP_BYTES // 10**6} MB: "
            "121 rows of 241 numbers are expected"
        )
    return grid
