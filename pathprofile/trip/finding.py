"""Which file is the book, and its text; needs no models, so that asking costs next to nothing."""

from __future__ import annotations

import tomllib
from pathlib import Path

from pathprofile.errors import StationError

__all__ = ["KEYS_OF_A_BOOK", "LARGEST_BOOK_BYTES", "find_book", "read_book_text"]

USUAL_NAME = "trip.toml"
LARGEST_BOOK_BYTES = 20_000_000
_MOST_MARKS = 400_000
KEYS_OF_A_BOOK = {"trip", "my_set_ups", "sites", "stations", "landmarks", "notes"}
_MARKS_OF_A_BOOK = {"trip", "my_set_ups", "sites", "stations"}


def find_book(folder: Path | str = ".") -> Path | None:
    """Book of a folder: ``trip.toml``, or else the only ``.toml`` file there that holds a book.

    Parameters
    ----------
    folder : Path or str
        Where to look; folders within are not searched.

    Returns
    -------
    Path or None
        None where there is no book.

    Raises
    ------
    StationError
        Where several files could be meant.
    """
    folder = Path(folder)
    usual = folder / USUAL_NAME
    if usual.is_file():
        return usual
    books = [file for file in sorted(folder.glob("*.toml")) if file.is_file() and _looks_like_book(file)]
    if len(books) > 1:
        names = ", ".join(file.name for file in books[:5])
        raise StationError(f"{len(books)} books in {str(folder)!r} ({names}); name the one that is meant")
    return books[0] if books else None


def _looks_like_book(file: Path) -> bool:
    try:
        data = tomllib.loads(read_book_text(file))
    except (StationError, ValueError, RecursionError):
        return False
    return bool(_MARKS_OF_A_BOOK & data.keys()) and data.keys() <= KEYS_OF_A_BOOK


def read_book_text(path: Path | str) -> str:
    """Text of a book, its line ends as they are; `StationError` where it cannot be read."""
    try:
        with Path(path).open("rb") as file:
            raw = file.read(LARGEST_BOOK_BYTES + 1)
    except FileNotFoundError:
        raise StationError(
            f"no book {str(path)!r}: give the name of a book, or write a new one to fill in"
        ) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise StationError(f"cannot read the book {str(path)!r}: {reason}") from None
    if len(raw) > LARGEST_BOOK_BYTES:
        raise StationError(f"{path}: larger than {LARGEST_BOOK_BYTES // 10**6} MB, which no book is")
    for mark, what in ((b"\n", "lines"), (b",", "commas")):
        if raw.count(mark) > _MOST_MARKS:
            raise StationError(f"{path}: more than {_MOST_MARKS} {what}, which no book has")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise StationError(f"{path}, line {line}: not UTF-8 text; save the book as UTF-8") from None
