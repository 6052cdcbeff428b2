"""The operator's log: a table whose columns are known by their headers, with reports in any form."""

from __future__ import annotations

import csv
import datetime as dt
import re
import unicodedata
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, Final, NamedTuple

from pathprofile.errors import OutOfRangeError, PathProfileError, StationError
from pathprofile.quantities import parse_frequency_mhz
from pathprofile.station.catalogue import band_of, mode_name
from pathprofile.trip.importing.text import decode, split_lines
from pathprofile.trip.names import is_plain_text
from pathprofile.trip.reports import NO_REPORT, Report, parse_report

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

__all__ = ["COLUMNS", "Log", "LogRow", "Unclear", "parse_log", "read_log"]

_LARGEST_BYTES: Final = 5_000_000
_MOST_ROWS: Final = 2_000
_LONGEST_CELL: Final = 200
_HEADER_WITHIN: Final = 15
_DELIMITERS: Final = (";", "\t", ",", "|")

# Words that head a column, as logs of several countries have them; spaces, accents and case do not count.
COLUMNS: Final[Mapping[str, str]] = {
    "time": "time utc timeutc utctime qsotime gmt zeit uhrzeit heure hora ora tijd timeon start",
    "date": "date day qsodate datum tag jour fecha data",
    "station": "station stationname name names call callsign who rufzeichen stationsname indicatif"
    " indicativo nom nombre nome naam",
    "mode": "mode modes betriebsart modo",
    "frequency": "frequency freq qrg mhz frequenz frequence frecuencia frequenza frequentie",
    "band": "band bande banda",
    "sent": "sent reportsent sentreport rstsent senders rsts srst given gave igave reportgiven"
    " gegeben gesendet envoye enviado inviato verzonden theirs",
    "received": "received rcvd recd reportreceived receivedreport rstrcvd rstreceived rstr rrst got igot"
    " erhalten empfangen recu recibido ricevuto ontvangen mine",
    "heard": "heard heardthem worked copied gehort entendu oido sentito gehoord",
    "remarks": "remarks remark notes note comment comments bemerkung bemerkungen remarque observaciones"
    " commenti opmerking",
}
_FIELD_OF: Final = {word: name for name, words in COLUMNS.items() for word in words.split()}
_YES: Final = frozenset({"y", "yes", "true", "1", "x", "heard", "ja", "j", "oui", "o", "si", "s", "✓", "✔"})
_NO: Final = frozenset({"n", "no", "false", "0", "nein", "non", "nee", "nil", "not heard", "✗", "✘"})
_MODE_WORDS: Final = {"usb": "ssb", "lsb": "ssb", "nbfm": "fm-narrow"}
_ISO_DATE: Final = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})")
_DATE_AHEAD: Final = re.compile(r"^(?:\d{4}-\d{1,2}-\d{1,2}|\d{8})[\sT]*")
_CLOCK: Final = re.compile(r"(\d{1,2})[:.hH]?(\d{2})(?:[:.]?(\d{2}))?(?!\d)")


class Unclear(NamedTuple):
    """Something in the log that could not be used, and why; the line counts from 1."""

    line: int
    text: str

    def __str__(self) -> str:
        return f"line {self.line}: {self.text}"


@dataclass(frozen=True, slots=True)
class LogRow:
    """One call.

    Attributes
    ----------
    line : int
        Where it stands, counted from 1.
    station : str
        As written.
    time : str
        As written; empty where a clock never shows it. For the record alone: nothing is worked out from it.
    date : datetime.date or None
        Where one stands in the row, year first.
    mode : str
        A mode of the catalogue; empty where none is written.
    band : str
        See `pathprofile.station.catalogue.band_of`; empty where none is written.
    sent : Report
        What you gave them: how you heard them (them → you).
    received : Report
        What they gave you: how they heard you (you → them).
    heard : bool or None
        Whether you heard them; None where nothing is written.
    remarks : str
    """

    line: int
    station: str
    time: str = ""
    date: dt.date | None = None
    mode: str = ""
    band: str = ""
    sent: Report = NO_REPORT
    received: Report = NO_REPORT
    heard: bool | None = None
    remarks: str = ""


@dataclass(frozen=True, slots=True)
class Log:
    """Rows of a log in its order, and what in it was unclear."""

    name: str
    rows: tuple[LogRow, ...]
    unclear: tuple[Unclear, ...]


class _Header(NamedTuple):
    line: int
    delimiter: str
    fields: dict[str, int]
    unit: str
    width: int


def read_log(file: Path | str | BinaryIO) -> Log:
    """Read a log.

    Parameters
    ----------
    file : Path, str or binary file
        A table parted by commas, semicolons, tabs or bars, at most 5 MB; an open file is read to its end.

    Returns
    -------
    Log

    Raises
    ------
    StationError
        One line, when it cannot be read, is empty, is no text, or has no column of stations.
    """
    if isinstance(file, Path | str):
        name = Path(file).name
        try:
            with Path(file).open("rb") as opened:
                raw = opened.read(_LARGEST_BYTES + 1)
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or error
            raise StationError(f"cannot read the log {str(file)!r}: {reason}") from None
    else:
        name, raw = "log", file.read(_LARGEST_BYTES + 1)
    if len(raw) > _LARGEST_BYTES:
        raise StationError(f"{name}: larger than {_LARGEST_BYTES // 10**6} MB, the most a log may be")
    if not raw.strip():
        raise StationError(f"{name}: empty; write one row for each call, under a line of column names")
    if raw.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0", b"%PDF")):
        raise StationError(f"{name}: a spreadsheet or document, not a table of text: save it as CSV")
    text, _ = decode(raw, name)
    return parse_log(text, name)


def parse_log(text: str, name: str = "log") -> Log:
    """Log from its text; see `read_log`.

    A row that cannot be used is left out and becomes an `Unclear`; a report or another cell that cannot is
    passed over with an `Unclear`, and the rest of the row kept.
    """
    lines = split_lines(text.removeprefix("\ufeff"))
    header = _find_header(lines)
    if header is None:
        raise StationError(
            f"{name}: no column names found: the first line needs a column named station, and sent, received "
            "or heard"
        )
    rows: list[LogRow] = []
    unclear: list[Unclear] = []
    undated: list[tuple[int, str]] = []
    for line, cells in _cells_below(lines, header):
        if len(rows) >= _MOST_ROWS:
            unclear.append(Unclear(line, f"more than {_MOST_ROWS} calls; the rest is left out"))
            break
        if len(cells) > header.width:
            hint = "; a decimal comma in a table parted by commas?" if header.delimiter == "," else ""
            unclear.append(
                Unclear(line, f"{len(cells)} cells under {header.width} column names{hint}; left out")
            )
            continue
        texts = {field: _tidy(cells[at]) if at < len(cells) else "" for field, at in header.fields.items()}
        if not any(texts.values()):
            continue
        if not texts["station"]:
            unclear.append(Unclear(line, "no station named; left out"))
            continue
        row, doubts = _row(line, texts, header.unit)
        if row is not None and row.date is None and (texts.get("date") or "").strip("-? "):
            undated.append((line, texts["date"]))
        unclear.extend(Unclear(line, f"{texts['station'][:40]}: {doubt}") for doubt in doubts)
        if row is not None:
            rows.append(row)
    if undated:
        line, written = undated[0]
        more = f" (and {len(undated) - 1} more)" if len(undated) > 1 else ""
        words = f"date {written[:20]!r}{more} is not read, nor held against the day: year first, 2026-06-14"
        unclear.append(Unclear(line, words))
    if not rows and not unclear:
        raise StationError(f"{name}: no call below the column names; write one row for each call")
    return Log(name, tuple(rows), tuple(unclear))


def _find_header(lines: list[str]) -> _Header | None:
    best: _Header | None = None
    for number, line in enumerate(lines[:_HEADER_WITHIN], start=1):
        for delimiter in _DELIMITERS:
            cells = _split(line[:5000], delimiter)
            fields: dict[str, int] = {}
            unit = ""
            for column, cell in enumerate(cells):
                field, stated = _field_of(cell)
                if field is not None and field not in fields:
                    fields[field] = column
                    unit = stated if field == "frequency" else unit
            useful = "station" in fields and fields.keys() & {"sent", "received", "heard"}
            if useful and (best is None or len(fields) > len(best.fields)):
                best = _Header(number, delimiter, fields, unit, len(cells))
    return best


def _field_of(cell: str) -> tuple[str | None, str]:
    """Field a header stands for, and for a frequency its unit."""
    plain = unicodedata.normalize("NFKD", cell.casefold().replace("ß", "ss"))
    words = re.findall(r"[a-z]+", "".join(c for c in plain if not unicodedata.combining(c)))
    unit = next((word for word in words if word in {"khz", "mhz", "ghz", "hz"}), "")
    joined = "".join(words)
    if joined in _FIELD_OF:
        return _FIELD_OF[joined], unit
    passed = {unit, "utc", "local", "report", "y", "n", "yes", "no"}
    rest = "".join(word for word in words if word not in passed)
    if rest in _FIELD_OF:
        return _FIELD_OF[rest], unit
    if words[:1] and words[0] in {"sent", "received", "heard", "frequency"}:
        return words[0], unit
    return None, ""


def _cells_below(lines: list[str], header: _Header) -> Iterator[tuple[int, list[str]]]:
    at = header.line
    while at < len(lines):
        first, joined = at + 1, lines[at]
        at += 1
        end = at
        while joined.count('"') % 2 and end < min(len(lines), first + 10):  # a remark over several lines
            joined += " " + lines[end]
            end += 1
        if joined.count('"') % 2:
            joined = lines[first - 1].replace('"', "")  # a quotation mark that never closes
        else:
            at = end
        cells = _split(joined, header.delimiter)
        while cells and not cells[-1].strip():
            cells.pop()
        if cells:
            yield first, cells


def _split(line: str, delimiter: str) -> list[str]:
    try:
        return next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
    except csv.Error:
        return [line]


def _tidy(cell: str) -> str:
    """One line of text that shows as it is."""
    plain = "".join(c if is_plain_text(c) else " " for c in cell[: 2 * _LONGEST_CELL])
    return " ".join(unicodedata.normalize("NFC", plain).split())[:_LONGEST_CELL]


def _row(line: int, texts: dict[str, str], unit: str) -> tuple[LogRow | None, list[str]]:
    """Row from its cells, and doubts. None where mode or band are wrong: any comparison would be too."""
    doubts: list[str] = []
    try:
        mode = _mode(texts.get("mode", ""))
        band = _band(texts, unit)
    except PathProfileError as error:
        return None, [f"{error}; left out"]
    reports = {}
    for field in ("sent", "received"):
        try:
            reports[field] = parse_report(texts.get(field, ""))
        except OutOfRangeError as error:
            doubts.append(f"{field}: {error}")
            reports[field] = NO_REPORT
    time = texts.get("time", "")
    if not _may_be_time(time):
        doubts.append(f"time: {time[:20]!r} is no time of day; passed over")
        time = ""
    heard = None
    word = texts.get("heard", "").casefold()
    if word in _YES or word in _NO:
        heard = word in _YES
    elif word and word not in {"-", "--", "?"}:
        doubts.append(f"heard: {word[:20]!r} is neither y nor n; passed over")
    if heard is False and reports["sent"].heard:
        doubts.append(f"not heard, yet a report of {reports['sent'].text!r} was sent; left out")
        return None, doubts
    if heard and reports["sent"].kind == "not heard":
        doubts.append(f"heard, yet {reports['sent'].text!r} under sent; left out")
        return None, doubts
    return (
        LogRow(
            line=line,
            station=texts["station"],
            time=time,
            date=_date(texts.get("date", "")) or _date(texts.get("time", "")),
            mode=mode,
            band=band,
            sent=reports["sent"],
            received=reports["received"],
            heard=heard,
            remarks=texts.get("remarks", ""),
        ),
        doubts,
    )


def _mode(text: str) -> str:
    return mode_name(_MODE_WORDS.get(text.casefold(), text)) if text else ""


def _band(texts: dict[str, str], unit: str) -> str:
    """Band of a row; a bare number too large for MHz is in kHz or Hz."""
    text = texts.get("frequency", "") or texts.get("band", "")
    if not text:
        return ""
    compact = text.replace(" ", "").replace(",", ".")
    if re.fullmatch(r"\d+(?:\.\d+)?", compact):
        number = float(compact)
        scale = {"hz": 1e-6, "khz": 1e-3, "ghz": 1e3}.get(unit, 1.0)
        if not unit:
            scale = 1e-6 if number >= 3e7 else 1e-3 if number > 3000.0 else 1.0
        return band_of(number * scale)
    if re.fullmatch(r"[\d.]+[kmg]?hz", compact, re.IGNORECASE):
        return band_of(parse_frequency_mhz(compact))
    return band_of(text)


def _may_be_time(text: str) -> bool:
    """Whether a clock may show it; words, and figures that are no clock's, are not judged."""
    found = _CLOCK.match(_DATE_AHEAD.sub("", text))
    if found is None:
        return True
    hour, minute, second = (int(part or 0) for part in found.groups())
    return (hour < 24 and minute < 60 and second <= 60) or (hour, minute, second) == (24, 0, 0)


def _date(text: str) -> dt.date | None:
    found = _ISO_DATE.search(text)
    compact = re.fullmatch(r"(\d{4})(\d{2})(\d{2})", text)
    parts = found or compact
    try:
        return dt.date(*(int(part) for part in parts.groups())) if parts else None
    except ValueError:
        return None
