"""What each mode needs, and what its listener calls a signal."""

from __future__ import annotations

from typing import Literal

from pathprofile.link.noise import s_reading
from pathprofile.station.catalogue import MODES, Mode, Polarization, mode_name

__all__ = ["MODES", "Mode", "copy_word", "default_polarization", "mode_name", "signal_reading"]

FM_VOICE = frozenset({"fm", "fm-narrow"})
_QUIET_ABOVE_COMFORTABLE_DB = 10.0  # full limiting: the hiss is gone (common practice)


def default_polarization(mode: str) -> Polarization:
    """Polarization customary for a mode (common practice): vertical where FM receivers are used."""
    return MODES[mode_name(mode)].polarization


def copy_word(mode: str, snr_db: float) -> Literal["not readable", "noisy", "readable", "quiet"] | None:
    """Word for how an FM voice signal sounds; None for other modes.

    Parameters
    ----------
    mode : str
        Mode of the catalogue.
    snr_db : float
        Signal-to-noise in the mode's noise bandwidth [dB].

    Notes
    -----
    Noisy from just readable, readable from comfortable, quiet 10 dB above that (common practice).
    """
    if mode not in FM_VOICE:
        return None
    known = MODES[mode]
    if snr_db < known.readable_snr_db:
        return "not readable"
    if snr_db < known.comfortable_snr_db:
        return "noisy"
    return "readable" if snr_db < known.comfortable_snr_db + _QUIET_ABOVE_COMFORTABLE_DB else "quiet"


def signal_reading(mode: str, level_dbm: float) -> str | None:
    """S-reading of a level; None on FM receivers, whose meters are nothing like it."""
    return None if MODES[mode].fm_receiver else s_reading(level_dbm)
