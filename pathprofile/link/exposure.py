"""How far to keep people from a transmitting antenna: a caution, not a legal assessment.

References
----------
.. [1] FCC OET Bulletin 65, edition 97-01: far-field power density, ground reflection as 1.6² = 2.56 in power.
.. [2] 47 CFR 1.1310: limits for the general population.
.. [3] ICNIRP 2020 guidelines: general public, whole body, averaged over 30 min (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from pathprofile.errors import OutOfRangeError
from pathprofile.link.ends import NoFit, equip
from pathprofile.station.catalogue import HIGHEST_MHZ, LOWEST_MHZ, MODES

if TYPE_CHECKING:
    from collections.abc import Iterable

    from pathprofile.link.ends import End
    from pathprofile.station import Station

__all__ = [
    "HANDHELD_WORDS",
    "Exposure",
    "exposure",
    "exposures_by_line",
    "exposures_by_set_up",
    "fcc_limit_w_m2",
    "icnirp_limit_w_m2",
    "rounded_up",
    "safe_distance_m",
]

HANDHELD_WORDS: Final = (
    "Handheld: do not hold it against the head or body when sending: follow the radio's manual "
    "(no distance is given: the far-field estimate does not hold there)."
)

GROUND_REFLECTION: Final = 2.56


@dataclass(frozen=True, slots=True)
class Exposure:
    """Distances in front of the antenna at which the limits for the general public are met [m].

    ``keep_m`` is the larger of both; None for a handheld, to which the far field says nothing. All of it
    holds for ``mode`` at ``power_w`` on ``antenna``; see `exposures_by_set_up` for every mode of a set-up.
    """

    station: str
    eirp_w: float
    duty: float
    fcc_m: float | None
    icnirp_m: float | None
    keep_m: float | None
    words: str
    mode: str
    power_w: float
    line_loss_db: float
    antenna: str


def fcc_limit_w_m2(frequency_mhz: float) -> float:
    """Limit of 47 CFR 1.1310 for the general population [W/m²]: 0.2 mW/cm² to 300 MHz, f/1500, then 1.0."""
    return 10.0 * min(max(frequency_mhz / 1500.0, 0.2), 1.0)


def icnirp_limit_w_m2(frequency_mhz: float) -> float:
    """Limit of ICNIRP 2020 for the general public [W/m²]: 2 to 400 MHz, f/200 to 2 GHz, then 10."""
    return min(max(frequency_mhz / 200.0, 2.0), 10.0)


def safe_distance_m(eirp_w: float, duty: float, limit_w_m2: float) -> float:
    """Distance at which the power density falls to a limit, the ground reflecting [m].

    Parameters
    ----------
    eirp_w : float
        Equivalent isotropically radiated power in the middle of the lobe [W].
    duty : float
        Share of the averaging time at full power.
    limit_w_m2 : float
        Limit of the power density [W/m²].

    Returns
    -------
    float
        sqrt(2.56 EIRP duty / (4π limit)) [m].

    Raises
    ------
    OutOfRangeError
        For a power below 0, a duty outside 0 to 1, or a limit that is not above 0.

    Notes
    -----
    Far field only: nearer than about a sixth of a wavelength, or beside a long antenna, it says nothing.

    References
    ----------
    .. [1] FCC OET Bulletin 65, 97-01, section 2, equations for the far field with ground reflection.
    """
    if not (eirp_w >= 0.0 and 0.0 <= duty <= 1.0 and limit_w_m2 > 0.0):
        raise OutOfRangeError(
            f"exposure for {eirp_w!r} W, duty {duty!r}, limit {limit_w_m2!r} W/m²: "
            "accepted 0 W or more, duty 0 to 1, a limit above 0"
        )
    return math.sqrt(GROUND_REFLECTION * eirp_w * duty / (4.0 * math.pi * limit_w_m2))


def exposure(end: End) -> Exposure:
    """Distance to keep from an end's antenna, in the middle of its lobe, with the words to show.

    Raises
    ------
    OutOfRangeError
        Outside 30 MHz to 3 GHz, where the limits used here end.
    """
    frequency_mhz = end.frequency_mhz
    if not LOWEST_MHZ <= frequency_mhz <= HIGHEST_MHZ:
        raise OutOfRangeError(
            f"exposure at {frequency_mhz:g} MHz: accepted {LOWEST_MHZ:g} to {HIGHEST_MHZ:g} MHz"
        )
    eirp_w = end.power_w * 10 ** ((end.gain_dbi - end.line_loss_db) / 10)
    fcc_m = icnirp_m = keep_m = None
    words = HANDHELD_WORDS
    if not end.handheld:
        fcc_m = safe_distance_m(eirp_w, end.duty, fcc_limit_w_m2(frequency_mhz))
        icnirp_m = safe_distance_m(eirp_w, end.duty, icnirp_limit_w_m2(frequency_mhz))
        keep_m = max(fcc_m, icnirp_m)
        words = (
            f"Keep {rounded_up(keep_m):.1f} m from the antenna at {end.station} at {end.power_w:g} W in "
            f"{MODES[end.mode].label}, duty {end.duty:g} "
            "(far-field estimate, not a legal assessment; local rules prevail)."
        )
    return Exposure(
        station=end.station,
        eirp_w=eirp_w,
        duty=end.duty,
        fcc_m=fcc_m,
        icnirp_m=icnirp_m,
        keep_m=keep_m,
        words=words,
        mode=end.mode,
        power_w=end.power_w,
        line_loss_db=end.line_loss_db,
        antenna=end.antenna,
    )


def rounded_up(distance_m: float) -> float:
    """Distance to keep, in tenths of a metre and never less than it is."""
    return max(math.ceil(distance_m * 10.0 - 1e-9) / 10.0, 0.1)


def exposures_by_set_up(station: Station, frequencies_mhz: Iterable[float]) -> tuple[Exposure, ...]:
    """Most distance that any mode asks for, once for each antenna and power of a station.

    Who plans in SSB may well answer in FM, which sends all the time: a distance for one mode is not enough.

    Parameters
    ----------
    station : Station
    frequencies_mhz : iterable of float
        Frequencies that come into question, 30 to 3000 [MHz].

    Returns
    -------
    tuple of Exposure
        The farthest first, handhelds last; in each the mode that asks for most. Empty where the station has
        nothing for those frequencies.
    """
    found: dict[tuple[str, float], Exposure] = {}
    for one in exposures_by_line(station, frequencies_mhz):
        found.setdefault((one.antenna, one.power_w), one)
    return tuple(found.values())


def exposures_by_line(station: Station, frequencies_mhz: Iterable[float]) -> tuple[Exposure, ...]:
    """List what :func:`exposures_by_set_up` merges, apart for each frequency and loss of the line.

    With less loss another band may ask for most: 70 cm loses more on the way than 2 m, until the line is
    short.

    Parameters
    ----------
    station, frequencies_mhz
        As for :func:`exposures_by_set_up`.

    Returns
    -------
    tuple of Exposure
        The farthest first, handhelds last.
    """
    found: dict[tuple[str, float, float, float], Exposure] = {}
    for frequency_mhz in frequencies_mhz:
        for mode in MODES:
            end = equip(station, frequency_mhz, mode)
            if isinstance(end, NoFit):
                continue
            one = exposure(end)
            key = (one.antenna, one.power_w, frequency_mhz, one.line_loss_db)
            before = found.get(key)
            if before is None or (one.keep_m or 0.0) > (before.keep_m or 0.0):
                found[key] = one
    return tuple(sorted(found.values(), key=lambda one: -(one.keep_m or 0.0)))
