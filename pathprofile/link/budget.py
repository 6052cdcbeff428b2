"""The budget of one direction: every term in decibels, each with its source.

Three sums of the terms make the answer: those of plane "level" give the level at the receiver input, those of
"noise" the noise there, and "required" is what the mode needs; margin = level - noise - required.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple

from pathprofile.errors import OutOfRangeError, StationError
from pathprofile.link.antennas import PolarizationLoss, polarization_loss
from pathprofile.link.modes import copy_word, signal_reading
from pathprofile.link.noise import KT0_DBM_HZ, cascaded_db, microvolts
from pathprofile.station.catalogue import MODES

if TYPE_CHECKING:
    from pathprofile.link.ends import End
    from pathprofile.link.path import PathFacts

__all__ = ["LinkBudget", "Term", "budget"]


class Term(NamedTuple):
    """One term of a budget. ``plane`` is the sum it belongs to; those of "eirp" enter the level too."""

    name: str
    value_db: float
    source: str
    plane: Literal["eirp", "level", "noise", "required"]


@dataclass(frozen=True, slots=True)
class LinkBudget:
    """One direction of a link, all at the input of the receiver.

    ``eirp_dbm`` is that of the middle of the lobe. ``margin_db`` is over just readable copy.
    """

    sender: str
    receiver: str
    mode: str
    frequency_mhz: float
    eirp_dbm: float
    path_loss_db: float
    polarization: PolarizationLoss
    level_dbm: float
    level_uv: float
    s_reading: str | None
    copy_word: str | None
    noise_dbm: float
    snr_db: float
    required_snr_db: float
    comfortable_snr_db: float
    margin_db: float
    comfortable_margin_db: float
    terms: tuple[Term, ...]
    notes: tuple[str, ...]


def budget(sender: End, receiver: End, path: PathFacts) -> LinkBudget:
    """Budget from ``sender`` to ``receiver``.

    Parameters
    ----------
    sender, receiver : End
        Both ends, on the same frequency and in the same mode.
    path : PathFacts
        The path, seen from ``sender`` (`PathFacts.reversed` for the other direction).

    Returns
    -------
    LinkBudget
        The terms and their sums.

    Raises
    ------
    StationError
        When the ends differ in mode.
    OutOfRangeError
        When an end or the path is for another frequency, or the loss is no number.
    """
    if sender.mode != receiver.mode:
        raise StationError(
            f"{sender.station} in {sender.mode}, {receiver.station} in {receiver.mode}: choose one mode"
        )
    for end in (sender, receiver):
        if not math.isclose(end.frequency_mhz, path.frequency_mhz, rel_tol=0.02):
            raise OutOfRangeError(
                f"{end.station} on {end.frequency_mhz:g} MHz, path for {path.frequency_mhz:g} MHz: "
                "accepted within 2 % of each other"
            )
    if not math.isfinite(path.loss_db):
        raise OutOfRangeError(f"path loss {path.loss_db!r} dB: accepted a finite number")
    mode = MODES[sender.mode]
    polarization = polarization_loss(sender.polarization, receiver.polarization, in_sight=path.in_sight)
    terms = (
        Term("power", 10.0 * math.log10(sender.power_w * 1e3), sender.sources["power"], "eirp"),
        Term("sender's feedline", 0.0 - sender.line_loss_db, sender.sources["feedline"], "eirp"),
        Term("sender's antenna", sender.gain_dbi, sender.sources["antenna gain"], "eirp"),
        Term(
            "sender's pattern",
            0.0 - _off_beam_db(sender, path.azimuth_out_deg, path.takeoff_out_deg),
            _PATTERN,
            "level",
        ),
        Term("path", 0.0 - path.loss_db, path.method, "level"),
        Term("polarization", 0.0 - polarization.loss_db, _polarization_source(polarization), "level"),
        Term(
            "receiver's pattern",
            0.0 - _off_beam_db(receiver, path.azimuth_back_deg, path.takeoff_back_deg),
            _PATTERN,
            "level",
        ),
        Term("receiver's antenna", receiver.gain_dbi, receiver.sources["antenna gain"], "level"),
        Term("receiver's feedline", 0.0 - receiver.line_loss_db, receiver.sources["feedline"], "level"),
        *_noise_terms(receiver, mode.noise_bandwidth_hz),
        Term("needed by the mode", mode.readable_snr_db, mode.source, "required"),
    )
    eirp_dbm = sum(term.value_db for term in terms if term.plane == "eirp")
    level_dbm = eirp_dbm + sum(term.value_db for term in terms if term.plane == "level")
    noise_dbm = sum(term.value_db for term in terms if term.plane == "noise")
    snr_db = level_dbm - noise_dbm
    return LinkBudget(
        sender=sender.station,
        receiver=receiver.station,
        mode=sender.mode,
        frequency_mhz=path.frequency_mhz,
        eirp_dbm=eirp_dbm,
        path_loss_db=path.loss_db,
        polarization=polarization,
        level_dbm=level_dbm,
        level_uv=microvolts(level_dbm),
        s_reading=signal_reading(sender.mode, level_dbm),
        copy_word=copy_word(sender.mode, snr_db),
        noise_dbm=noise_dbm,
        snr_db=snr_db,
        required_snr_db=mode.readable_snr_db,
        comfortable_snr_db=mode.comfortable_snr_db,
        margin_db=snr_db - mode.readable_snr_db,
        comfortable_margin_db=snr_db - mode.comfortable_snr_db,
        terms=terms,
        notes=_notes(sender, receiver, polarization),
    )


_PATTERN = (
    "-12 (off/width)² to the front-to-back floor; widths from the gain where not stated (common practice)"
)


def _off_beam_db(end: End, azimuth_deg: float, takeoff_deg: float) -> float:
    off_deg = 0.0 if end.pointing_deg is None else azimuth_deg - end.pointing_deg
    return end.pattern.loss_db(off_deg, takeoff_deg)


def _polarization_source(loss: PolarizationLoss) -> str:
    if loss.least_db < loss.most_db:
        return f"crossed: {loss.least_db:g} to {loss.most_db:g} dB (common practice)"
    return "common practice" if loss.loss_db else "alike"


def _noise_terms(receiver: End, bandwidth_hz: float) -> tuple[Term, ...]:
    noise = receiver.noise
    source = receiver.sources["noise"]
    bandwidth = Term("noise bandwidth", 10.0 * math.log10(bandwidth_hz), f"{bandwidth_hz:g} Hz", "noise")
    if noise.density_dbm_hz is not None:
        return Term("measured noise in 1 Hz", noise.density_dbm_hz, source, "noise"), bandwidth
    thermal = Term("thermal noise in 1 Hz", KT0_DBM_HZ, "kT0 at 290 K", "noise")
    if noise.rise_db is not None:  # a load at 290 K makes kT0B, to which the receiver adds its own
        own = Term(
            "receiver's own noise", receiver.noise_figure_db, receiver.sources["noise figure"], "noise"
        )
        return thermal, bandwidth, own, Term("measured noise rise", noise.rise_db, source, "noise")
    external_db = noise.external.figure_db if noise.external is not None else 0.0
    above_db = cascaded_db(external_db, receiver.line_loss_db, receiver.noise_figure_db)
    above = Term("noise above thermal", above_db, f"outside, line and receiver as powers; {source}", "noise")
    if not noise.desensitization_db:
        return thermal, bandwidth, above
    lost = Term("desensitization", noise.desensitization_db, receiver.sources["desensitization"], "noise")
    return thermal, bandwidth, above, lost


def _notes(sender: End, receiver: End, polarization: PolarizationLoss) -> tuple[str, ...]:
    notes = [*sender.notes, *receiver.notes]
    if polarization.least_db < polarization.most_db:
        notes.append(
            f"crossed polarization ({sender.polarization} to {receiver.polarization}): "
            f"{polarization.least_db:g} to {polarization.most_db:g} dB, {polarization.loss_db:g} dB taken"
        )
    return tuple(dict.fromkeys(notes))
