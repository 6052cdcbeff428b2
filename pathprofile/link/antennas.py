"""Antennas as a link sees them: gain on a band, and what is lost away from where they point.

References
----------
.. [1] W. L. Stutzman, G. A. Thiele, Antenna Theory and Design: gain and the two half-power widths of a beam,
   practical constant 32,400 deg^2 (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

from pathprofile.station.catalogue import ANTENNAS, Polarization, antenna_name

__all__ = [
    "DBD_TO_DBI",
    "STACKED_PAIR_DB",
    "Pattern",
    "PolarizationLoss",
    "beamwidths_deg",
    "gain_dbi",
    "pattern_of",
    "polarization_loss",
]

DBD_TO_DBI: Final = 2.15
STACKED_PAIR_DB: Final = 2.5  # common practice
_WIDTH_PRODUCT_DEG2: Final = 32_400.0
_LEAST_BEAM_GAIN_DBI: Final = (
    7.5  # an antenna of unstated kind is taken for a beam above this (common practice)
)
_DIPOLE_WIDTH_DEG: Final = 78.0  # half-wave dipole in the plane of its wire (antenna textbooks)


def gain_dbi(kind: str, band: str) -> float | None:
    """Gain of a named kind on a band [dBi]; None where no figure is known for that band.

    Raises
    ------
    StationError
        For an unknown kind; the nearest names are suggested.
    """
    gain = ANTENNAS[antenna_name(kind)].gain_dbi
    return gain if isinstance(gain, float) else gain.get(band)


def beamwidths_deg(
    beam_gain_dbi: float, *, along_deg: float | None = None, across_deg: float | None = None
) -> tuple[float, float]:
    """Half-power widths of a beam, in the plane of its elements and across them.

    Parameters
    ----------
    beam_gain_dbi : float
        Gain [dBi].
    along_deg, across_deg : float, optional
        A width that is stated [degrees].

    Returns
    -------
    tuple of float
        Along and across [degrees].

    Notes
    -----
    The product of both is 32,400 / g deg^2 [1]_. Across is wider by 1.6 at 7 dBi falling to 1.1 at 13 dBi
    (common practice; held outside).

    References
    ----------
    .. [1] Stutzman and Thiele, Antenna Theory and Design (from memory).
    """
    product = _WIDTH_PRODUCT_DEG2 / 10 ** (beam_gain_dbi / 10)
    ratio = 1.6 + (1.1 - 1.6) * min(max((beam_gain_dbi - 7.0) / (13.0 - 7.0), 0.0), 1.0)
    if along_deg is None:
        along_deg = math.sqrt(product / ratio) if across_deg is None else product / across_deg
    if across_deg is None:
        across_deg = product / along_deg
    return min(along_deg, 360.0), min(across_deg, 360.0)


@dataclass(frozen=True, slots=True)
class Pattern:
    """Main lobe of an antenna as it is mounted. A width of None: equal in all directions of that plane."""

    azimuth_width_deg: float | None
    elevation_width_deg: float | None
    floor_db: float
    two_sided: bool = False

    @property
    def good_within_deg(self) -> float | None:
        """How far the azimuth may be off before 1 dB is lost [degrees]; None all round."""
        if self.azimuth_width_deg is None or self.floor_db < 1.0:
            return None
        within = self.azimuth_width_deg / math.sqrt(12.0)
        return None if within >= (90.0 if self.two_sided else 180.0) else within

    def loss_db(self, azimuth_off_deg: float, elevation_off_deg: float = 0.0) -> float:
        """Loss against the middle of the lobe, -12 (off/width)^2 in each plane down to the floor [dB].

        Parameters
        ----------
        azimuth_off_deg : float
            Azimuth wanted less azimuth pointed at [degrees]; any turn is taken off.
        elevation_off_deg : float
            Take-off angle wanted less that pointed at [degrees].

        Returns
        -------
        float
            Loss, 0 or more [dB].
        """
        off_deg = abs((azimuth_off_deg + 180.0) % 360.0 - 180.0)
        if self.two_sided:
            off_deg = min(off_deg, 180.0 - off_deg)
        loss = 0.0
        if self.azimuth_width_deg is not None:
            loss += 12.0 * (off_deg / self.azimuth_width_deg) ** 2
        if self.elevation_width_deg is not None:
            loss += 12.0 * (elevation_off_deg / self.elevation_width_deg) ** 2
        return min(loss, self.floor_db)


def pattern_of(
    gain: float,
    *,
    kind: str | None = None,
    mounting: Literal["vertical", "horizontal"] = "horizontal",
    all_round: bool = False,
    directional: bool = False,
    stacked_pair: bool = False,
    along_deg: float | None = None,
    across_deg: float | None = None,
    front_to_back_db: float | None = None,
) -> Pattern:
    """Pattern of an antenna from what is known of it.

    Parameters
    ----------
    gain : float
        Gain, the stacked pair included [dBi].
    kind : str, optional
        Named kind; without it an antenna is taken for a beam above 7.5 dBi or where a width is stated.
    mounting : {"vertical", "horizontal"}
        How the elements stand: upright elements make the wider plane, across them, that of the azimuth.
    all_round : bool
        Stated to be alike in all azimuths.
    directional : bool
        Stated to point somewhere.
    stacked_pair : bool
        Two of them, one above the other: the azimuth stays that of one, the elevation narrows.
    along_deg, across_deg : float, optional
        Stated half-power widths [degrees].
    front_to_back_db : float, optional
        Stated front-to-back ratio, the floor of the pattern; else 15 dB, from 10 dBi 20 dB [dB].

    Returns
    -------
    Pattern
        As mounted.
    """
    floor_db = front_to_back_db if front_to_back_db is not None else 20.0 if gain >= 10.0 else 15.0
    if kind is not None:
        shape = ANTENNAS[kind].shape
    else:
        stated = (
            directional or along_deg is not None or across_deg is not None or front_to_back_db is not None
        )
        shape = "beam" if stated or gain > _LEAST_BEAM_GAIN_DBI else "all round"
    if shape == "figure of eight":
        if mounting == "vertical":
            return Pattern(None, _DIPOLE_WIDTH_DEG, floor_db)
        return Pattern(None if all_round else _DIPOLE_WIDTH_DEG, None, floor_db, two_sided=True)
    if all_round or shape == "all round":
        # All of the gain comes from the elevation: the same product of widths with 360 degrees of azimuth.
        elevation_deg = _WIDTH_PRODUCT_DEG2 / 10 ** (gain / 10) / 360.0
        stated_deg = along_deg if mounting == "vertical" else across_deg
        return Pattern(None, stated_deg or min(elevation_deg, 180.0), floor_db)
    single = gain - (STACKED_PAIR_DB if stacked_pair else 0.0)
    along, across = beamwidths_deg(single, along_deg=along_deg, across_deg=across_deg)
    azimuth_deg, elevation_deg = (across, along) if mounting == "vertical" else (along, across)
    if stacked_pair:
        elevation_deg /= 10 ** (STACKED_PAIR_DB / 10)
    return Pattern(azimuth_deg, elevation_deg, floor_db)


@dataclass(frozen=True, slots=True)
class PolarizationLoss:
    """What two polarizations cost each other: the figure used, and the range found in practice."""

    loss_db: float
    least_db: float
    most_db: float


def polarization_loss(one: Polarization, other: Polarization, *, in_sight: bool) -> PolarizationLoss:
    """Loss between two polarizations (common practice).

    Parameters
    ----------
    one, other : {"vertical", "horizontal", "slant", "circular"}
        Polarization of each end.
    in_sight : bool
        Whether the path is in sight of both ends.

    Returns
    -------
    PolarizationLoss
        Crossed linear: 20 dB in sight, 10 dB after diffraction and scatter, range 10 to 20 dB. Slant or
        circular against anything else: 3 dB. Alike: none.
    """
    if one == other:
        return PolarizationLoss(0.0, 0.0, 0.0)
    if {one, other} == {"vertical", "horizontal"}:
        return PolarizationLoss(20.0 if in_sight else 10.0, 10.0, 20.0)
    return PolarizationLoss(3.0, 3.0, 3.0)
