"""What of a contact is kept to be debriefed against: one row a station, band and mode."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from pathprofile import __version__
from pathprofile.errors import StationError
from pathprofile.link.modes import copy_word
from pathprofile.station.catalogue import MODES, band_of
from pathprofile.trip.names import name_key

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterable

    from pathprofile.contact import Contact
    from pathprofile.link.chance import Spread
    from pathprofile.link.evaluate import Direction, ModeRow

__all__ = ["SCHEMA", "PredictedRow", "PredictedWay", "SavedPrediction", "make_prediction"]

SCHEMA: Final = "pathprofile.prediction/1"


@dataclass(frozen=True, slots=True)
class PredictedWay:
    """One direction as predicted, at the receiver's input.

    ``level_dbm`` and ``sigma_db`` are None for a mode that was saved beside the one asked about: there the
    signal-to-noise alone is known. ``sigma_db`` is the whole standard deviation, time apart.
    """

    snr_db: float
    required_snr_db: float
    comfortable_snr_db: float
    chance: float
    level_dbm: float | None = None
    sigma_db: float | None = None
    s_reading: str | None = None
    copy_word: str | None = None

    @property
    def margin_db(self) -> float:
        """Margin over just readable [dB]."""
        return self.snr_db - self.required_snr_db


@dataclass(frozen=True, slots=True)
class PredictedRow:
    """One station on one band in one mode.

    ``out`` is you → them, ``back`` them → you; one is None with a station that does not answer. ``chance``
    and ``comfortable_chance`` are those of the pair. ``asked`` tells the mode that was asked about from
    others on its band. The last four are the standard deviations of `pathprofile.link.chance.Spread`.
    """

    station: str
    band: str
    frequency_mhz: float
    mode: str
    asked: bool
    distance_m: float
    azimuth_deg: float
    chance: float
    comfortable_chance: float
    verdict: str
    out: PredictedWay | None
    back: PredictedWay | None
    path_db: float
    location_db: float
    noise_out_db: float
    noise_back_db: float

    @property
    def shared_db(self) -> float:
        """Standard deviation of what strikes both directions alike [dB]."""
        return math.hypot(self.path_db, self.location_db)


@dataclass(frozen=True, slots=True)
class SavedPrediction:
    """What was predicted for one site and day.

    Attributes
    ----------
    date : datetime.date
    site : str
    book_digest : str
        Fingerprint of the book it was made from, see `digest_of`; empty where there was none.
    version : str
        Of the program that made it.
    rows : tuple of PredictedRow
    schema : str
    """

    date: dt.date
    site: str
    book_digest: str
    version: str
    rows: tuple[PredictedRow, ...]
    schema: str = SCHEMA

    def names(self) -> tuple[str, ...]:
        """Stations, each once."""
        return tuple(dict.fromkeys(row.station for row in self.rows))

    def by_station(self) -> dict[str, list[PredictedRow]]:
        """Rows of each station by its `name_key`, those asked about first."""
        found: dict[str, list[PredictedRow]] = {}
        for row in sorted(self.rows, key=lambda row: not row.asked):
            found.setdefault(name_key(row.station), []).append(row)
        return found


def make_prediction(contacts: Iterable[Contact], *, book_digest: str = "") -> SavedPrediction:
    """Keep of contacts what a debrief needs.

    Parameters
    ----------
    contacts : iterable of Contact
        All from one site on one day; one a station, band and mode.
    book_digest : str
        See `pathprofile.trip.prediction.digest_of`.

    Returns
    -------
    SavedPrediction
        A row for each contact, and one for each other mode in its table on the same band. The latter have
        no level, and take the standard deviations of the contact.

    Raises
    ------
    StationError
        For no contact, for contacts from several sites or days, or for two of one station, band and mode.
    """
    contacts = tuple(contacts)
    if not contacts:
        raise StationError("no contact to save: a prediction needs at least one station")
    first = contacts[0]
    site, date = first.you.station.name, first.reach.date
    asked: dict[tuple[str, str, str], PredictedRow] = {}
    others: dict[tuple[str, str, str], PredictedRow] = {}
    for contact in contacts:
        if (contact.you.station.name, contact.reach.date) != (site, date):
            raise StationError(
                f"contacts from {site!r} on {date} and from {contact.you.station.name!r} on "
                f"{contact.reach.date}: save one site and day at a time"
            )
        row = _row(contact)
        key = name_key(row.station), row.band, row.mode
        if key in asked:
            raise StationError(
                f"two contacts with {row.station!r} on {row.band} in {MODES[row.mode].label}: save one"
            )
        asked[key] = row
        for other in contact.modes:
            if other.band == row.band and other.mode != row.mode and other.pair is not None:
                others.setdefault((key[0], row.band, other.mode), _mode_row(contact, row, other))
    rows = (*asked.values(), *(row for key, row in others.items() if key not in asked))
    return SavedPrediction(date, site, book_digest, __version__, rows)


def _row(contact: Contact) -> PredictedRow:
    link = contact.link
    return PredictedRow(
        station=contact.them.station.name,
        band=band_of(link.frequency_mhz),
        frequency_mhz=link.frequency_mhz,
        mode=link.mode,
        asked=True,
        distance_m=contact.reach.leg.distance_m,
        azimuth_deg=contact.reach.from_end.azimuth_deg,
        chance=link.pair.chance,
        comfortable_chance=link.pair.comfortable_chance,
        verdict=link.pair.verdict.word,
        out=_way(link.out),
        back=_way(link.back),
        **_spread(link.spread),
    )


def _mode_row(contact: Contact, asked: PredictedRow, other: ModeRow) -> PredictedRow:
    if other.pair is None:
        raise StationError(f"{asked.station}: {other.reason}")
    return PredictedRow(
        station=asked.station,
        band=other.band,
        frequency_mhz=other.frequency_mhz,
        mode=other.mode,
        asked=False,
        distance_m=asked.distance_m,
        azimuth_deg=asked.azimuth_deg,
        chance=other.pair.chance,
        comfortable_chance=other.pair.comfortable_chance,
        verdict=other.pair.verdict.word,
        out=_mode_way(other.mode, other.out_margin_db, other.out_chance),
        back=_mode_way(other.mode, other.back_margin_db, other.back_chance),
        **_spread(contact.link.spread),
    )


def _way(direction: Direction | None) -> PredictedWay | None:
    if direction is None:
        return None
    budget = direction.budget
    return PredictedWay(
        snr_db=budget.snr_db,
        required_snr_db=budget.required_snr_db,
        comfortable_snr_db=budget.comfortable_snr_db,
        chance=direction.chance,
        level_dbm=budget.level_dbm,
        sigma_db=direction.sigma_db,
        s_reading=budget.s_reading,
        copy_word=budget.copy_word,
    )


def _mode_way(mode: str, margin_db: float | None, chance: float | None) -> PredictedWay | None:
    if margin_db is None or chance is None:
        return None
    needs = MODES[mode]
    snr_db = needs.readable_snr_db + margin_db
    return PredictedWay(
        snr_db=snr_db,
        required_snr_db=needs.readable_snr_db,
        comfortable_snr_db=needs.comfortable_snr_db,
        chance=chance,
        copy_word=copy_word(mode, snr_db),
    )


def _spread(spread: Spread) -> dict[str, float]:
    names = ("path_db", "location_db", "noise_out_db", "noise_back_db")
    return {name: getattr(spread, name) for name in names}
