"""Noise at the receiver input, and what operators measure of it.

All noise powers refer to the receiver input, behind the line: the plane of the level in the budget.

References
----------
.. [1] ITU-R P.372: man-made and galactic noise (constants from memory), sources added as powers.
.. [2] IARU Region 1 Technical Recommendation R.1: S9 = -93 dBm above 30 MHz, 6 dB an S-unit.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final

from pathprofile.errors import OutOfRangeError, StationError
from pathprofile.station.catalogue import NOISE_CATEGORIES, noise_category_name

__all__ = [
    "KT0_DBM_HZ",
    "ExternalNoise",
    "cascaded_db",
    "external_noise",
    "microvolts",
    "noise_figure_from_sensitivity_db",
    "s_reading",
    "s_reading_dbm",
]

KT0_DBM_HZ: Final = -173.975  # thermal noise at 290 K in 1 Hz
SSB_BANDWIDTH_HZ: Final = 2400.0
_OHM: Final = 50.0
_S9_DBM: Final = -93.0
_DB_PER_S: Final = 6.0
_GALACTIC_C_DB: Final = 52.0
_GALACTIC_D_DB: Final = 23.0
_MAN_MADE_TO_MHZ: Final = 250.0
_GALACTIC_TO_MHZ: Final = 100.0
# Carrier-to-noise at 12 dB SINAD and noise bandwidth, by channel width in kHz (common practice).
_SINAD_RULE: Final = {25.0: (5.0, 15e3), 12.5: (7.0, 9e3)}


def _ratio(db: float) -> float:
    return math.pow(10.0, db / 10.0)


def _db(ratio: float) -> float:
    return 10.0 * math.log10(ratio)


@dataclass(frozen=True, slots=True)
class ExternalNoise:
    """Noise from outside as a figure above kT0B, for an antenna alike in all directions [dB]."""

    figure_db: float
    man_made_db: float
    galactic_db: float
    extra_db: float
    source: str
    notes: tuple[str, ...]


def external_noise(category: str, frequency_mhz: float, extra_db: float = 0.0) -> ExternalNoise:
    """External noise figure at a place.

    Parameters
    ----------
    category : str
        Noise category of the catalogue.
    frequency_mhz : float
        Frequency [MHz].
    extra_db : float
        Known local noise on top of that: chargers, inverters, computers [dB].

    Returns
    -------
    ExternalNoise
        Man-made and galactic noise added as powers; not below 0 dB, a scene at 290 K.

    Raises
    ------
    StationError
        For an unknown category.

    Notes
    -----
    The man-made lines hold for 0.3 to 250 MHz, the galactic one to about 100 MHz. Outside, they are
    extrapolated and ``notes`` say so, as they do where the floor of 0 dB was used.

    References
    ----------
    .. [1] ITU-R P.372, man-made noise Fam = c - d log f; galactic Fam = 52 - 23 log f (P.372-16 §4.1 eq. 13).
    """
    known = NOISE_CATEGORIES[noise_category_name(category)]
    decade = math.log10(frequency_mhz)
    man_made_db = known.c_db - known.d_db * decade
    galactic_db = _GALACTIC_C_DB - _GALACTIC_D_DB * decade
    figure_db = _db(_ratio(man_made_db) + _ratio(galactic_db))
    source = known.source
    notes = []
    if frequency_mhz > _MAN_MADE_TO_MHZ:
        source += f", extrapolated above {_MAN_MADE_TO_MHZ:g} MHz"
        notes.append(
            f"noise lines end at {_MAN_MADE_TO_MHZ:g} MHz and are extrapolated to {frequency_mhz:g} MHz"
        )
        if known.home:
            notes.append("a modern house is noisier here than the extrapolated line (common practice)")
    elif frequency_mhz > _GALACTIC_TO_MHZ:
        source += f", galactic part extrapolated above {_GALACTIC_TO_MHZ:g} MHz"
    if figure_db < 0.0:
        notes.append(f"external noise of {figure_db:.1f} dB raised to 0 dB, surroundings at 290 K")
        figure_db = 0.0
    return ExternalNoise(figure_db + extra_db, man_made_db, galactic_db, extra_db, source, tuple(notes))


def cascaded_db(external_db: float, line_loss_db: float, noise_figure_db: float) -> float:
    """External noise, a line at 290 K and a receiver, at the receiver input above kT0B [dB].

    Parameters
    ----------
    external_db : float
        External noise figure [dB].
    line_loss_db : float
        Loss of the line between antenna and receiver [dB].
    noise_figure_db : float
        Noise figure of the receiver [dB].

    Returns
    -------
    float
        10 log10((f_ext + f_line f_rx - 1) / l_line), f_line = l_line [dB].

    References
    ----------
    .. [1] ITU-R P.372 §2 (system noise factor), brought from the antenna to the receiver input.
    """
    line = _ratio(line_loss_db)
    return _db((_ratio(external_db) + line * _ratio(noise_figure_db) - 1.0) / line)


def noise_figure_from_sensitivity_db(sensitivity_uv: float, channel_khz: float) -> float:
    """Noise figure from a sensitivity for 12 dB SINAD in µV across 50 Ω [dB].

    Parameters
    ----------
    sensitivity_uv : float
        Sensitivity across 50 Ω, not e.m.f. [µV].
    channel_khz : {25, 12.5}
        Channel width [kHz]: 12 dB SINAD comes at 5 dB carrier-to-noise in 15 kHz, or 7 dB in 9 kHz.

    Returns
    -------
    float
        Noise figure [dB].

    Raises
    ------
    StationError
        When it comes out below 1 dB or above 15 dB (the arithmetic is shown), or for another channel width.
    """
    if channel_khz not in _SINAD_RULE:
        raise StationError(
            f"channel_khz = {channel_khz:g}: accepted 25 or 12.5 kHz; or state noise_figure_db"
        )
    carrier_to_noise_db, bandwidth_hz = _SINAD_RULE[channel_khz]
    if not sensitivity_uv > 0.0:
        raise StationError(f"sensitivity_uv = {sensitivity_uv:g}: accepted above 0 µV")
    level_dbm = 20.0 * math.log10(sensitivity_uv * 1e-6) - _db(_OHM) + 30.0
    thermal_dbm = KT0_DBM_HZ + _db(bandwidth_hz)
    figure_db = level_dbm - carrier_to_noise_db - thermal_dbm
    if not 1.0 <= figure_db <= 15.0:
        raise StationError(
            f"sensitivity_uv = {sensitivity_uv:g} in {channel_khz:g} kHz: noise figure {figure_db:.1f} dB "
            f"({level_dbm:.1f} dBm - {carrier_to_noise_db:g} dB - ({thermal_dbm:.1f} dBm)); "
            "accepted 1 to 15 dB; check µV and channel, or state noise_figure_db"
        )
    return figure_db


def microvolts(level_dbm: float) -> float:
    """Voltage of a level across 50 Ω [µV]."""
    return math.sqrt(10.0 ** (level_dbm / 10.0) * 1e-3 * _OHM) * 1e6


def s_reading(level_dbm: float) -> str:
    """S-reading of a level above 30 MHz: "S7", and "S9+10" in steps of 5 dB above S9.

    References
    ----------
    .. [1] IARU Region 1 Technical Recommendation R.1.
    """
    if level_dbm > _S9_DBM:
        over_db = 5 * round((level_dbm - _S9_DBM) / 5.0)
        return f"S9+{over_db}" if over_db else "S9"
    units = math.floor(9.0 + (level_dbm - _S9_DBM) / _DB_PER_S + 0.5)
    return f"S{units}" if units >= 1 else "below S1"


def s_reading_dbm(text: str) -> float:
    """Level of an S-reading such as "S3" or "S9+10" [dBm]; `OutOfRangeError` for other text."""
    found = re.fullmatch(r"\s*S\s*(\d)\s*(?:\+\s*(\d{1,2}))?\s*(?:dB)?\s*", text, re.IGNORECASE)
    if found is None or (found[2] and found[1] != "9"):
        raise OutOfRangeError(f"S-reading {text!r}: accepted S0 to S9, or S9+10")
    return _S9_DBM + _DB_PER_S * (int(found[1]) - 9) + float(found[2] or 0)
