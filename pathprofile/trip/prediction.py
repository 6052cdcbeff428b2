"""The prediction as it stood on the day, kept beside the book: a debrief reads it, works out nothing anew."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import math
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from pathprofile import __version__
from pathprofile.atomic import write_atomically
from pathprofile.errors import StationError
from pathprofile.link.modes import copy_word
from pathprofile.station.catalogue import MODES, band_of
from pathprofile.trip.names import did_you_mean, is_plain_text, name_key, safe_file_name

if TYPE_CHECKING:
    from collections.abc import Iterable

    from pathprofile.contact import Contact
    from pathprofile.link.chance import Spread
    from pathprofile.link.evaluate import Direction, ModeRow

__all__ = [
    "SCHEMA",
    "PredictedRow",
    "PredictedWay",
    "SavedPrediction",
    "digest_of",
    "find_prediction",
    "make_prediction",
    "prediction_path",
    "read_prediction",
    "save_prediction",
]

SCHEMA: Final = "pathprofile.prediction/1"
_FAMILY, _, _MAJOR = SCHEMA.partition("/")
_LARGEST_BYTES: Final = 50_000_000
_VERDICTS: Final = frozenset({"solid", "workable", "marginal", "unlikely"})


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


def digest_of(book: bytes | str) -> str:
    """Fingerprint of a book's text: 16 hexadecimal digits of its SHA-256."""
    return hashlib.sha256(book.encode() if isinstance(book, str) else book).hexdigest()[:16]


def make_prediction(contacts: Iterable[Contact], *, book_digest: str = "") -> SavedPrediction:
    """Keep of contacts what a debrief needs.

    Parameters
    ----------
    contacts : iterable of Contact
        All from one site on one day; one a station, band and mode.
    book_digest : str
        See `digest_of`.

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


def prediction_path(book: Path | str, site: str, date: dt.date) -> Path:
    """Where a prediction lies: beside the book, as ``trip-Gull-Tor-2026-06-14.prediction.json``."""
    book = Path(book)
    return book.with_name(f"{book.stem}-{safe_file_name(site)}-{date:%Y-%m-%d}.prediction.json")


def find_prediction(book: Path | str, *, site: str | None = None, date: dt.date | None = None) -> Path:
    """Prediction that lies beside a book.

    Parameters
    ----------
    book : Path or str
    site : str, optional
    date : datetime.date, optional
        To choose among several.

    Raises
    ------
    StationError
        When none fits, or several do.
    """
    book = Path(book)
    start = f"{book.stem}-" + (f"{safe_file_name(site)}-" if site is not None else "")
    end = (f"{date:%Y-%m-%d}" if date is not None else "") + ".prediction.json"
    files = sorted(book.parent.glob("*.prediction.json")) if book.parent.is_dir() else []
    fitting = [
        file
        for file in files
        if file.name.casefold().startswith(start.casefold())
        and file.name.endswith(end)
        and (site is None or len(file.name) == len(start) + len("2026-06-14.prediction.json"))
    ]
    if len(fitting) == 1:
        return fitting[0]
    wanted = " ".join(
        part for part in (f"of {site!r}" if site else "", f"for {date}" if date else "") if part
    )
    if not fitting:
        raise StationError(
            f"no prediction {wanted + ' ' if wanted else ''}saved beside {str(book)!r}: it is saved when the "
            "trip sheet is made, and cannot be made up afterwards"
        )
    names = ", ".join(file.name for file in fitting[:5])
    raise StationError(
        f"{len(fitting)} predictions beside {book.name!r} ({names}): name the site and the date"
    )


def save_prediction(
    contacts: Iterable[Contact], path: Path | str, *, book_digest: str = "", overwrite: bool = False
) -> SavedPrediction:
    """Write the prediction of one site and day.

    Parameters
    ----------
    contacts : iterable of Contact
        As for `make_prediction`.
    path : Path or str
        See `prediction_path`.
    book_digest : str
        See `digest_of`.
    overwrite : bool
        Whether an earlier prediction may be replaced. Once out on the hill it should not be.

    Returns
    -------
    SavedPrediction

    Raises
    ------
    StationError
        As for `make_prediction`.
    OutputError
        When it cannot be written, or exists.
    """
    prediction = make_prediction(contacts, book_digest=book_digest)
    document = {"schema": prediction.schema, **asdict(prediction), "date": prediction.date.isoformat()}
    text = json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False)
    write_atomically(path, (text + "\n").encode(), overwrite=overwrite)
    return prediction


def read_prediction(path: Path | str) -> SavedPrediction:
    """Read a saved prediction.

    Parameters
    ----------
    path : Path or str

    Returns
    -------
    SavedPrediction
        Keys that are not known are passed over.

    Raises
    ------
    StationError
        One line: no such file, no prediction, one of another version, or a value that is missing or no
        possible one.
    """
    document = _document(path)
    schema = document.get("schema")
    family, _, edition = str(schema).partition("/")
    if not isinstance(schema, str) or family != _FAMILY:
        raise StationError(f"{path}: no saved prediction: its schema is {schema!r}, not {SCHEMA!r}")
    made_by = document.get("version", "unknown")
    if edition.partition(".")[0] != _MAJOR:
        raise StationError(
            f"{path}: saved as {schema!r} by version {str(made_by)[:20]}, while version {__version__} reads "
            f"{SCHEMA!r}: debrief it with the version that saved it"
        )
    reader = _Reader(str(path), document, "")
    try:
        date = dt.date.fromisoformat(reader.text("date"))
    except ValueError:
        raise reader.refusal("date", "a date, such as 2026-06-14") from None
    rows = document.get("rows")
    if not isinstance(rows, list) or not rows:
        raise reader.refusal("rows", "a list of at least one station")
    return SavedPrediction(
        date=date,
        site=reader.text("site"),
        book_digest=reader.text("book_digest"),
        version=reader.text("version"),
        rows=tuple(_read_row(_Reader(str(path), row, f"rows[{n}].")) for n, row in enumerate(rows)),
        schema=schema,
    )


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


def _document(path: Path | str) -> dict[str, Any]:
    try:
        with Path(path).open("rb") as file:
            raw = file.read(_LARGEST_BYTES + 1)
    except FileNotFoundError:
        raise StationError(
            f"no saved prediction {str(path)!r}: it is saved when the trip sheet is made, and cannot be made "
            "up afterwards"
        ) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise StationError(f"cannot read the prediction {str(path)!r}: {reason}") from None
    if len(raw) > _LARGEST_BYTES:
        raise StationError(f"{path}: larger than {_LARGEST_BYTES // 10**6} MB, which no prediction is")
    try:
        document = json.loads(raw.decode("utf-8-sig"), parse_constant=_no_number)
    except (ValueError, RecursionError) as error:  # JSONDecodeError and UnicodeDecodeError are ValueErrors
        raise StationError(f"{path}: no saved prediction: not JSON ({str(error)[:80]})") from None
    if not isinstance(document, dict):
        raise StationError(f"{path}: no saved prediction: a JSON {type(document).__name__}, not an object")
    return document


def _no_number(text: str) -> float:
    raise ValueError(f"{text} is no number")


class _Reader:
    """Values of one JSON object, each checked; refusals name the file and the key."""

    def __init__(self, path: str, values: object, where: str) -> None:
        self._path = path
        self._where = where
        if not isinstance(values, dict):
            raise StationError(f"{path}: {where.rstrip('.')} is {values!r:.40}: accepted an object")
        self._values: dict[str, Any] = values

    def refusal(self, key: str, accepted: str) -> StationError:
        """Refuse a value."""
        what = f"is {self._values[key]!r:.40}" if key in self._values else "is missing"
        return StationError(
            f"{self._path}: {self._where}{key} {what}: accepted {accepted}; take the file as it was saved"
        )

    def text(self, key: str) -> str:
        """Get one line of text."""
        value = self._values.get(key)
        if not isinstance(value, str) or not is_plain_text(value):
            raise self.refusal(key, "one line of text")
        return value

    def optional_text(self, key: str) -> str | None:
        """Get one line of text, or None."""
        return None if self._values.get(key) is None else self.text(key)

    def flag(self, key: str) -> bool:
        """Get true or false."""
        value = self._values.get(key)
        if not isinstance(value, bool):
            raise self.refusal(key, "true or false")
        return value

    def number(self, key: str, low: float = -1000.0, high: float = 1000.0) -> float:
        """Get a number within limits."""
        value = self._values.get(key)
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            raise self.refusal(key, f"{low:g} to {high:g}")
        return float(value)

    def optional_number(self, key: str) -> float | None:
        """Get a number, or None."""
        return None if self._values.get(key) is None else self.number(key)

    def part(self, key: str) -> _Reader | None:
        """Get an object within, or None."""
        if key not in self._values:
            raise self.refusal(key, "an object, or null")
        value = self._values[key]
        return None if value is None else _Reader(self._path, value, f"{self._where}{key}.")


def _read_row(row: _Reader) -> PredictedRow:
    mode = row.text("mode")
    if mode not in MODES:
        raise row.refusal("mode", f"a mode of this version; {did_you_mean(mode, MODES)}")
    verdict = row.text("verdict")
    if verdict not in _VERDICTS:
        raise row.refusal("verdict", ", ".join(sorted(_VERDICTS)))
    out, back = _read_way(row.part("out")), _read_way(row.part("back"))
    if out is None and back is None:
        raise row.refusal("out", "an object where back is null")
    return PredictedRow(
        station=row.text("station"),
        band=row.text("band"),
        frequency_mhz=row.number("frequency_mhz", 30.0, 3000.0),
        mode=mode,
        asked=row.flag("asked"),
        distance_m=row.number("distance_m", 0.0, 2.1e7),
        azimuth_deg=row.number("azimuth_deg", -360.0, 360.0),
        chance=row.number("chance", 0.0, 1.0),
        comfortable_chance=row.number("comfortable_chance", 0.0, 1.0),
        verdict=verdict,
        out=out,
        back=back,
        path_db=row.number("path_db", 0.0, 40.0),
        location_db=row.number("location_db", 0.0, 40.0),
        noise_out_db=row.number("noise_out_db", 0.0, 40.0),
        noise_back_db=row.number("noise_back_db", 0.0, 40.0),
    )


def _read_way(way: _Reader | None) -> PredictedWay | None:
    if way is None:
        return None
    return PredictedWay(
        snr_db=way.number("snr_db"),
        required_snr_db=way.number("required_snr_db"),
        comfortable_snr_db=way.number("comfortable_snr_db"),
        chance=way.number("chance", 0.0, 1.0),
        level_dbm=way.optional_number("level_dbm"),
        sigma_db=way.optional_number("sigma_db"),
        s_reading=way.optional_text("s_reading"),
        copy_word=way.optional_text("copy_word"),
    )
