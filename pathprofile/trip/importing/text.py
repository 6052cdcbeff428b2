"""A list as text: read up to a limit, in whatever encoding its lines came."""

from __future__ import annotations

import codecs
import re
from pathlib import Path
from typing import TYPE_CHECKING

from pathprofile.errors import StationError
from pathprofile.trip.names import is_plain_text

if TYPE_CHECKING:
    from typing import BinaryIO

__all__ = ["LARGEST_LIST_BYTES", "check_free_text", "decode", "numbered", "read_list", "split_lines"]

LARGEST_LIST_BYTES = 10_000_000
MOST_LINES = 500_000
_MOST_FREE_TEXT = 1_200_000
_CONTAINERS = {
    b"PK\x03\x04": "a zip container (spreadsheet or packed map): save it as CSV, or unpack it first",
    b"\xd0\xcf\x11\xe0": "an old spreadsheet or document: save it as CSV or text",
    b"%PDF": "a PDF: copy its text into a file",
    b"\x1f\x8b": "gzip: unpack it first",
}
_MARKS = ((codecs.BOM_UTF8, "utf-8"), (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"))


def read_list(file: Path | str | BinaryIO) -> tuple[str, bytes]:
    """Name and bytes of a list.

    Parameters
    ----------
    file : Path, str or binary file
        An open file, such as standard input, is read to its end.

    Raises
    ------
    StationError
        When it cannot be read, is empty, or is larger than 10 MB; no more than that is ever read.
    """
    if isinstance(file, Path | str):
        name = "".join(c if is_plain_text(c) else "?" for c in Path(file).name)
        try:
            with Path(file).open("rb") as opened:
                raw = opened.read(LARGEST_LIST_BYTES + 1)
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or error
            raise StationError(f"cannot read the list {str(file)!r}: {reason}") from None
    else:
        name = "pasted text"
        raw = file.read(LARGEST_LIST_BYTES + 1)
    if len(raw) > LARGEST_LIST_BYTES:
        limit = LARGEST_LIST_BYTES // 10**6
        raise StationError(
            f"{name}: larger than {limit} MB, the most a list may be; cut it to the stations wanted"
        )
    if not raw.strip():
        raise StationError(f"{name}: empty; there is nothing to import")
    for start, what in _CONTAINERS.items():
        if raw.startswith(start):
            raise StationError(f"{name}: this is {what}")
    return name, raw


def decode(raw: bytes, name: str) -> tuple[str, list[int]]:
    """Text of a list, and the numbers of its lines that are in another encoding than the rest.

    UTF-8 and UTF-16 are recognised, with or without a byte-order mark. A line that is not UTF-8 among lines
    that are is read as Windows-1252.

    Raises
    ------
    StationError
        For bytes that are no text, and for more than 500 000 lines.
    """
    mark, encoding = next((known for known in _MARKS if raw.startswith(known[0])), (b"", _unmarked(raw)))
    raw = raw.removeprefix(mark)
    other: list[int] = []
    try:
        text = raw.decode(encoding, "strict" if encoding == "utf-8" else "replace")
    except UnicodeDecodeError:
        text, other = _line_by_line(raw)
    if "\0" in text:
        raise StationError(f"{name}: not text; lists are CSV, plain text, GPX, GeoJSON or KML")
    if text.count("\n") + text.count("\r") > MOST_LINES:
        raise StationError(f"{name}: more than {MOST_LINES} lines; cut it to the stations wanted")
    return text, other


def check_free_text(text: str) -> None:
    """Refuse more running text than can be searched for places in a few seconds.

    Raises
    ------
    StationError
    """
    if len(text) > _MOST_FREE_TEXT:
        raise StationError(
            f"{len(text) / 1e6:.1f} million characters of running text, more than {_MOST_FREE_TEXT / 1e6:g}: "
            "cut it to the part with stations, or give it column headers"
        )


def numbered(lines: list[int]) -> str:
    """Numbers of lines as a phrase, the first dozen in full."""
    more = f" and {len(lines) - 12} more" if len(lines) > 12 else ""
    return f"line{'s' if len(lines) > 1 else ''} {', '.join(map(str, lines[:12]))}{more}"


def split_lines(text: str) -> list[str]:
    """Lines, whatever ends them; other than `str.splitlines` on line ends alone."""
    return re.split(r"\r\n|\r|\n", text)


def _unmarked(raw: bytes) -> str:
    """UTF-16 without a mark shows by the zero byte in every other place of plain letters and digits."""
    start = raw[:2000]
    if start[1::2].count(0) > len(start) // 3:
        return "utf-16-le"
    if start[::2].count(0) > len(start) // 3:
        return "utf-16-be"
    return "utf-8"


def _line_by_line(raw: bytes) -> tuple[str, list[int]]:
    lines = []
    other = []
    for number, line in enumerate(re.split(rb"\r\n|\r|\n", raw), start=1):
        try:
            lines.append(line.decode("utf-8"))
        except UnicodeDecodeError:
            # The five bytes that Windows-1252 leaves open become the mark for unreadable ones.
            lines.append(line.decode("cp1252", "replace"))
            other.append(number)
    return "\n".join(lines), other
