"""The prediction as it stood on the day, kept with the sheet: a debrief reads it, works out nothing anew."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from pathprofile import __version__
from pathprofile.atomic import write_atomically
from pathprofile.errors import StationError
from pathprofile.station.catalogue import MODES
from pathprofile.trip.names import did_you_mean, is_plain_text, safe_file_name
from pathprofile.trip.prediction_rows import (
    SCHEMA,
    PredictedRow,
    PredictedWay,
    SavedPrediction,
    make_prediction,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

    from pathprofile.contact import Contact

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

_FAMILY, _, _MAJOR = SCHEMA.partition("/")
_LARGEST_BYTES: Final = 30_000_000
_VERDICTS: Final = frozenset({"solid", "workable", "marginal", "unlikely"})


def digest_of(book: bytes | str) -> str:
    """Fingerprint of a book's text: 16 hexadecimal digits of its SHA-256."""
    return hashlib.sha256(book.encode() if isinstance(book, str) else book).hexdigest()[:16]


def prediction_path(book: Path | str, site: str, date: dt.date, *, folder: Path | str | None = None) -> Path:
    """Where a prediction lies: in ``folder``, else beside the book.

    Its name is that of book, site and day: ``trip-Gull-Tor-2026-06-14.prediction.json``.
    """
    book = Path(book)
    name = f"{book.stem}-{safe_file_name(site)}-{date:%Y-%m-%d}.prediction.json"
    return book.with_name(name) if folder is None else Path(folder) / name


def find_prediction(
    book: Path | str,
    *,
    site: str | None = None,
    date: dt.date | None = None,
    folders: Iterable[Path | str] = (),
) -> Path:
    """Find the prediction that was saved for a book.

    Parameters
    ----------
    book : Path or str
    site : str, optional
    date : datetime.date, optional
        To choose among several.
    folders : iterable of Path or str
        Where to look beside the book's own folder; copies of one prediction count as one.

    Raises
    ------
    StationError
        When none fits, or several do.
    """
    book = Path(book)
    places = list(dict.fromkeys([book.parent, *(Path(folder) for folder in folders)]))
    start = f"{book.stem}-" + (f"{safe_file_name(site)}-" if site is not None else "")
    end = (f"{date:%Y-%m-%d}" if date is not None else "") + ".prediction.json"
    fitting = [
        file
        for place in places
        for file in (sorted(place.glob("*.prediction.json")) if place.is_dir() else [])
        if file.name.casefold().startswith(start.casefold())
        and file.name.endswith(end)
        and (site is None or len(file.name) == len(start) + len("2026-06-14.prediction.json"))
    ]
    fitting = list({(file.name, _fingerprint(file)): file for file in reversed(fitting)}.values())[::-1]
    if len(fitting) == 1:
        return fitting[0]
    wanted = " ".join(
        part for part in (f"of {site!r}" if site else "", f"for {date}" if date else "") if part
    )
    if not fitting:
        own = book.parent.resolve()
        also = "".join(f" or in {str(place)!r}" for place in places[1:] if place.resolve() != own)
        raise StationError(
            f"no prediction {wanted + ' ' if wanted else ''}saved beside {str(book)!r}{also}: it is saved "
            "when the trip sheet is made, beside it, and cannot be made up afterwards; if it lies elsewhere, "
            "give --prediction"
        )
    if len({file.name for file in fitting}) == 1:
        paths = " and ".join(str(file) for file in fitting[:5])
        raise StationError(f"{paths} differ: name the one of the day with --prediction")
    names = ", ".join(file.name for file in fitting[:5])
    raise StationError(
        f"{len(fitting)} predictions beside {book.name!r} ({names}): name the site and the date"
    )


def _fingerprint(file: Path) -> str:
    """Digest of a file; where it lies, of one that cannot be read or is no prediction by its size."""
    try:
        small = file.stat().st_size <= _LARGEST_BYTES
        return hashlib.sha256(file.read_bytes()).hexdigest() if small else str(file.resolve())
    except OSError:
        return str(file.resolve())


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
