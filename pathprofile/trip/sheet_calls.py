"""One contact as a row of a trip sheet: whom, when, on what, where to point, what to expect."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from pathprofile.link.ends import NoFit, fitting_set_up
from pathprofile.link.words import odds_text
from pathprofile.station.catalogue import MODES
from pathprofile.trip.areas import area_of
from pathprofile.trip.sheet_hours import Window, windows_on
from pathprofile.trip.sheet_order import ToCall

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from pathprofile.contact import Contact
    from pathprofile.link.budget import LinkBudget
    from pathprofile.link.evaluate import Pair
    from pathprofile.link.words import Verdict
    from pathprofile.trip.cells import CellOdds
    from pathprofile.trip.sheet_figures import Setting
    from pathprofile.trip.sheet_order import Placed

__all__ = ["Area", "Better", "Call", "Expectation", "expectation", "make_call", "to_call"]

_FM_VOICE_WORDS = {"not readable": "too weak"}


@dataclass(frozen=True, slots=True)
class Expectation:
    """What one side should hear.

    ``word`` is an S-reading; noisy, readable or quiet in FM voice; good (comfortable) or just (readable) in
    other modes of an FM receiver; too weak in both. ``sigma_db`` is the standard deviation of the level about
    it.
    """

    word: str
    level_dbm: float
    level_uv: float
    margin_db: float
    sigma_db: float


@dataclass(frozen=True, slots=True)
class Better:
    """Another mode on the same frequency, the mast as it is, that does better by a whole verdict."""

    mode: str
    label: str
    verdict: Verdict
    gain_db: float


@dataclass(frozen=True, slots=True)
class Area:
    """A station known by an area alone: what it is known by, and the odds on its lower and higher ground.

    ``kind`` is cell for a locator or grid square, area for degrees with few decimals.
    """

    kind: Literal["cell", "area"]
    lowest: Pair
    highest: Pair


@dataclass(frozen=True)
class Call:
    """One contact of a sheet.

    Attributes
    ----------
    key : int
        Of the contact as given to the sheet, from 0.
    part : {"prove", "sweep", "hard", "odds"}
        Of the order, as ``sweep``, ``turning`` and ``together_min``: see `Placed`.
    listen_mhz, send_mhz : float or None
        What to set on the own radio: the other station's transmit and receive frequency. One is None with a
        station that does not send, or does not answer.
    frequency_stated : bool
        False where the frequency is only the one the path was calculated for.
    good_within_deg : float or None
        How far the beam may be off before 1 dB is lost; None all round.
    you_hear, they_hear : Expectation or None
    settings : tuple of Setting
        The planned mode first; with an area those of its typical point.
    area : Area or None
        Where the station is known by an area: then ``chance`` and ``verdict`` are those over all of it.
    """

    key: int
    part: Literal["prove", "sweep", "hard", "odds"]
    sweep: int
    turning: str
    together_min: tuple[int, int] | None
    name: str
    latitude_deg: float
    longitude_deg: float
    position_uncertain_m: float
    distance_m: float
    azimuth_deg: float
    magnetic_azimuth_deg: float
    good_within_deg: float | None
    band: str
    listen_mhz: float | None
    send_mhz: float | None
    frequency_stated: bool
    tone_hz: float | None
    packet_address: str | None
    packet_path: str | None
    mode: str
    mode_label: str
    polarization: str
    their_polarization: str
    power_w: float
    receive_only: bool
    windows: tuple[Window, ...]
    verdict: Verdict
    chance: float
    odds: str
    you_hear: Expectation | None
    they_hear: Expectation | None
    better: Better | None
    notes: str
    settings: tuple[Setting, ...]
    contact: Contact
    area: Area | None = None


def to_call(contact: Contact, windows: Sequence[Window]) -> ToCall:
    """Reduce a contact to what the order asks of it."""
    link = contact.link
    return ToCall(
        link.pair.chance,
        contact.aim.azimuth_deg,
        link.you.polarization,
        link.them.receive_only,
        tuple((window.start_min, window.end_min) for window in windows),
        link.second.chance if link.methods_part and link.second is not None else None,
    )


def station_windows(contact: Contact, date: dt.date, zone: dt.tzinfo) -> tuple[Window, ...]:
    """Find the listening hours of the other station on that day at the site."""
    station = contact.them.station
    return windows_on(station.listening_hours, station.time_zone, date, zone)


def make_call(
    key: int,
    contact: Contact,
    placed: Placed,
    windows: tuple[Window, ...],
    settings: tuple[Setting, ...],
    over: CellOdds | None = None,
) -> Call:
    """Row of the sheet for one contact.

    Parameters
    ----------
    key : int
        Of the contact as given.
    contact : Contact
    placed : Placed
        Its place in the order.
    windows : tuple of Window
    settings : tuple of Setting
        From `settings_of`.
    over : CellOdds, optional
        Odds over the area, for a contact whose ``them.location`` is one.
    """
    stated_at = contact.them.location
    area = None
    if over is not None and area_of(stated_at) is not None:
        kind: Literal["cell", "area"] = "area" if stated_at.cell is None else "cell"
        area = Area(kind, over.lowest.pair, over.highest.pair)
    link, reach = contact.link, contact.reach
    set_up = fitting_set_up(contact.them.station, link.frequency_mhz, link.mode)
    stated = None if set_up is None or isinstance(set_up, NoFit) else set_up
    receive_mhz = transmit_mhz = None
    if stated is not None:
        receive_mhz, transmit_mhz = stated.receive_mhz, stated.transmit_mhz
        if stated.shift_mhz is not None and receive_mhz is not None:
            transmit_mhz = receive_mhz + stated.shift_mhz
    known = receive_mhz if receive_mhz is not None else transmit_mhz
    fallback = link.frequency_mhz if known is None else known
    return Call(
        key=key,
        part=placed.part,
        sweep=placed.sweep,
        turning=placed.turning,
        together_min=placed.together_min,
        name=contact.them.station.name,
        latitude_deg=stated_at.latitude_deg,
        longitude_deg=stated_at.longitude_deg,
        position_uncertain_m=max(reach.to_end.location.uncertainty_m, stated_at.uncertainty_m),
        distance_m=contact.aim.distance_m,
        azimuth_deg=contact.aim.azimuth_deg,
        magnetic_azimuth_deg=contact.aim.magnetic_azimuth_deg,
        good_within_deg=link.good_within_deg,
        band=link.you.band,
        listen_mhz=fallback if transmit_mhz is None else transmit_mhz,
        send_mhz=None if link.them.receive_only else fallback if receive_mhz is None else receive_mhz,
        frequency_stated=known is not None,
        tone_hz=None if stated is None else stated.tone_hz,
        packet_address=None if stated is None else stated.packet_address,
        packet_path=None if stated is None else stated.packet_path,
        mode=link.mode,
        mode_label=MODES[link.mode].label,
        polarization=link.you.polarization,
        their_polarization=link.them.polarization,
        power_w=link.you.power_w,
        receive_only=link.them.receive_only,
        windows=windows,
        verdict=link.pair.verdict,
        chance=link.pair.chance,
        odds=odds_text(link.pair.verdict.chance),
        you_hear=None if link.back is None else expectation(link.back.budget, link.back.sigma_db),
        they_hear=None if link.out is None else expectation(link.out.budget, link.out.sigma_db),
        better=None if area is not None else _better(settings),
        notes=contact.them.station.notes,
        settings=settings,
        contact=contact,
        area=area,
    )


def expectation(budget: LinkBudget, sigma_db: float) -> Expectation:
    """Say what the receiver of one direction should make of it."""
    if budget.s_reading is not None:
        word = budget.s_reading
    elif budget.copy_word is not None:
        word = _FM_VOICE_WORDS.get(budget.copy_word, budget.copy_word)
    elif budget.comfortable_margin_db >= 0.0:
        word = "good"
    else:
        word = "just" if budget.margin_db >= 0.0 else "too weak"
    return Expectation(word, budget.level_dbm, budget.level_uv, budget.margin_db, sigma_db)


def _better(settings: tuple[Setting, ...]) -> Better | None:
    """Voice or Morse in which the same station is a verdict better."""
    planned = settings[0].link.pair
    if planned.verdict.word == "solid":
        return None
    rows = [
        setting
        for setting in settings[1:]
        if setting.mode in {"fm", "fm-narrow", "ssb", "morse"}
        and setting.polarization == settings[0].polarization
        and setting.link.pair.verdict.word != planned.verdict.word
        and setting.link.pair.chance > planned.chance
    ]
    if not rows:
        return None
    best = max(rows, key=lambda setting: setting.link.pair.chance)
    return Better(best.mode, best.label, best.link.pair.verdict, _weaker_db(best) - _weaker_db(settings[0]))


def _weaker_db(setting: Setting) -> float:
    ways = (setting.link.out, setting.link.back)
    return min(way.budget.margin_db for way in ways if way is not None)
