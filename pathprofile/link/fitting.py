"""Which of a station's set-ups serves a frequency and a mode, and which mode two stations share."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from pathprofile.link.antennas import DBD_TO_DBI, STACKED_PAIR_DB, gain_dbi
from pathprofile.station.catalogue import (
    MODES,
    band_of,
    band_span_mhz,
    customary_mode,
    mode_name,
    modes_customary,
    planning_mhz,
)

if TYPE_CHECKING:
    from pathprofile.station import Antenna, SetUp, Station

__all__ = [
    "UNKNOWN",
    "NoFit",
    "common_bands",
    "common_mode",
    "fitting_set_up",
    "modes_of",
    "own_band",
    "stated_gain",
    "what_it_has",
]

USUAL_BANDS: Final = ("6 m", "2 m", "1.25 m", "70 cm", "23 cm")
UNKNOWN: Final = object()
"""Gain of an antenna that says nothing about the band asked for."""


@dataclass(frozen=True, slots=True)
class NoFit:
    """Why a station has nothing for a band and mode."""

    reason: str


def fitting_set_up(station: Station, frequency_mhz: float, mode: str) -> SetUp | NoFit | None:
    """First set-up of a station that covers a frequency and a mode.

    Parameters
    ----------
    station : Station
        The station.
    frequency_mhz : float
        Frequency [MHz].
    mode : str
        Mode of the catalogue.

    Returns
    -------
    SetUp, NoFit or None
        The set-up; the reason why none fits; None where the station states no set-up at all.

    Notes
    -----
    One band's antenna is never used for another.
    """
    mode = mode_name(mode)
    band = band_of(frequency_mhz)
    if not station.set_ups:
        return None
    on_band = [s for s in station.set_ups if s.covers(frequency_mhz)]
    with_gain = [s for s in on_band if stated_gain(s.antenna, own_band(s, frequency_mhz)) is not UNKNOWN]
    fitting = [s for s in with_gain if mode in modes_of(s, frequency_mhz)]
    if fitting:
        return fitting[0]
    if with_gain:
        spots = [spot for s in with_gain if not s.modes and (spot := _spot_mhz(s, frequency_mhz))]
        why = f", which states no modes and {spots[0]:g} MHz, a place for {_label(spots[0])}" if spots else ""
        return NoFit(f"no {MODES[mode].label} on {band} at {station.name}{why}")
    if on_band and on_band[0].antenna.kind:
        return NoFit(
            f"no {band} gain known for the {on_band[0].antenna.kind} at {station.name}; state gain_dbi"
        )
    return NoFit(f"no {band} antenna at {station.name}")


def modes_of(set_up: SetUp, frequency_mhz: float) -> tuple[str, ...]:
    """Modes that a set-up has on the band of a frequency.

    Parameters
    ----------
    set_up : SetUp
    frequency_mhz : float
        Any frequency of the band [MHz].

    Returns
    -------
    tuple of str
        Those stated. Where none is: those customary on the frequency it listens or sends on, if that is
        stated for this band, else all of them.
    """
    if set_up.modes:
        return set_up.modes
    spot_mhz = _spot_mhz(set_up, frequency_mhz)
    return tuple(MODES) if spot_mhz is None else modes_customary(spot_mhz)


def common_bands(you: Station, them: Station) -> tuple[str, ...]:
    """Bands worth a row: those that either station states, or the usual five where neither states any.

    Returns
    -------
    tuple of str
        Results of `band_of`, by frequency.
    """
    stated = {band for station in (you, them) for set_up in station.set_ups for band in set_up.bands}
    return tuple(sorted(stated or set(USUAL_BANDS), key=planning_mhz))


def common_mode(you: Station, them: Station, frequency_mhz: float) -> str | NoFit:
    """Mode to ask about where none is named.

    Parameters
    ----------
    you, them : Station
        Both stations.
    frequency_mhz : float
        Frequency [MHz].

    Returns
    -------
    str or NoFit
        The customary mode where both have it, else the first of the catalogue that both have; or what each
        has, and what to ask instead.
    """
    found = _first_common(you, them, frequency_mhz)
    if found is not None:
        return found
    band = band_of(frequency_mhz)
    for other in common_bands(you, them):
        there = None if other == band else _first_common(you, them, planning_mhz(other))
        if there is not None:
            to_do = f"both have {MODES[there].label} on {other}: give --frequency {other.replace(' ', '')}"
            break
    else:
        to_do = "add a set-up in the book that goes with the other's"
    has = [what_it_has(each) for each in (you, them) if each.set_ups]
    return NoFit("; ".join([_nothing_shared(you, them, frequency_mhz), *has, to_do]))


def _nothing_shared(you: Station, them: Station, frequency_mhz: float) -> str:
    """Who has nothing at all for the band, else that they have no mode in common."""
    for station in (you, them):
        fits = [fitting_set_up(station, frequency_mhz, mode) for mode in MODES]
        reasons = [fit.reason for fit in fits if isinstance(fit, NoFit)]
        if len(reasons) == len(fits):
            return reasons[0]
    return f"no mode in common on {band_of(frequency_mhz)}"


def what_it_has(station: Station) -> str:
    """Modes and bands that a station states, in words."""
    if not station.set_ups:
        return f"{station.name} states nothing"
    texts: list[str] = []
    for set_up in station.set_ups:
        bands: dict[str, list[str]] = {}
        for band in set_up.bands:
            bands.setdefault(_modes_text(set_up, planning_mhz(band)), []).append(band)
        texts += (f"{modes} on {', '.join(alike)}" for modes, alike in bands.items())
    return f"{station.name} has {' and '.join(dict.fromkeys(texts))}"


def own_band(set_up: SetUp, frequency_mhz: float) -> str:
    """Key under which this set-up states its gain: a lone frequency keeps its own."""
    for band in set_up.bands:
        low, high = band_span_mhz(band)
        if low <= frequency_mhz <= high:
            return band
    return band_of(frequency_mhz)


def stated_gain(antenna: Antenna, band: str) -> float | object | None:
    """Gain as stated, None where nothing is stated, `UNKNOWN` where nothing is said about this band."""
    dbd = antenna.gain_dbd is not None
    stated = antenna.gain_dbd if dbd else antenna.gain_dbi
    if isinstance(stated, dict):
        stated = stated.get(band)
        if stated is None:
            return UNKNOWN
    if stated is not None:
        return stated + (DBD_TO_DBI if dbd else 0.0)
    if antenna.kind is None:
        return None
    of_kind = gain_dbi(antenna.kind, band)
    if of_kind is None:
        return UNKNOWN
    return of_kind + (STACKED_PAIR_DB if antenna.stacked_pair else 0.0)


def _first_common(you: Station, them: Station, frequency_mhz: float) -> str | None:
    for mode in (customary_mode(frequency_mhz), *MODES):
        if not any(isinstance(fitting_set_up(each, frequency_mhz, mode), NoFit) for each in (you, them)):
            return mode
    return None


def _spot_mhz(set_up: SetUp, frequency_mhz: float) -> float | None:
    """Frequency on which it listens, else sends, where that is stated for the band asked about."""
    stated = (each for each in (set_up.receive_mhz, set_up.transmit_mhz) if each is not None)
    return next((each for each in stated if band_of(each) == band_of(frequency_mhz)), None)


def _modes_text(set_up: SetUp, frequency_mhz: float) -> str:
    modes = modes_of(set_up, frequency_mhz)
    if set_up.modes:
        return ", ".join(MODES[mode].label for mode in modes)
    spot_mhz = _spot_mhz(set_up, frequency_mhz)
    if spot_mhz is None or len(modes) == len(MODES):
        return "all modes"
    return f"{_label(spot_mhz)} ({spot_mhz:g} MHz)"


def _label(frequency_mhz: float) -> str:
    return MODES[customary_mode(frequency_mhz)].label
