"""What the trip commands share: the book, its parties and terms, files to save, progress."""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from pathprofile.cli.width import shown
from pathprofile.errors import OutputError, StationError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from pathprofile.contact import Contact, Party
    from pathprofile.trip.answer import PairAnswer
    from pathprofile.trip.book import Book
    from pathprofile.trip.pairs import Picture, Progress
    from pathprofile.trip.terms import Terms

__all__ = [
    "SAVE_SUFFIXES",
    "Outing",
    "check_formats",
    "check_saves",
    "outing",
    "pictures_into",
    "progress_on_terminal",
    "progress_shown",
    "require",
    "save_all",
]

SAVE_SUFFIXES = (".gpx", ".kml", ".geojson", ".csv")
_SHOW_FROM = 20


@dataclass(frozen=True)
class Outing:
    """A book turned into parties and terms."""

    book: Book
    sites: tuple[Party, ...]
    stations: tuple[Party, ...]
    terms: Terms
    dem: Sequence[str]


def outing(
    given: str | None, date: str | None, bands: Sequence[str] | None, modes: Sequence[str] | None
) -> Outing:
    """Read the book in use; the day and the modes wanted may be stated over it.

    Raises
    ------
    StationError
        When there is no book, or it names no station.
    """
    from pathprofile.cli.asked import contact_day
    from pathprofile.cli.parties import book_in_use
    from pathprofile.station.catalogue import mode_name
    from pathprofile.trip.from_book import site_party, station_party, terms_of
    from pathprofile.trip.terms import wanted_modes

    book = book_in_use(given)
    if book is None:
        raise StationError(
            "no trip book: give --book FILE, or write one with 'pathprofile new trip.toml' and fill it in"
        )
    when = contact_day(date, book)
    wanted: tuple[Any, ...] = ()
    if bands or modes:
        wanted = wanted_modes(
            bands or book.trip.bands or ("2 m",), [mode_name(mode) for mode in modes or book.trip.modes]
        )
    return Outing(
        book,
        tuple(site_party(book, site) for site in book.sites),
        tuple(station_party(book, station) for station in book.stations),
        terms_of(book, date=when, wanted=wanted),
        [str(folder) for folder in book.tile_folders()],
    )


def require(trip: Outing, *kinds: str) -> None:
    """Refuse a book that lacks sites or stations, before the elevation tiles are opened.

    Raises
    ------
    StationError
        With what to add.
    """
    name = "the book" if trip.book.path is None else trip.book.path.name
    for kind in kinds:
        if not (trip.sites if kind == "site" else trip.stations):
            example = "Hilltop" if kind == "site" else "Far farm"
            also = ", or read a list in with 'pathprofile book add'" if kind == "station" else ""
            raise StationError(
                f'no {kind} in {name}: add [[{kind}s]] with name = "{example}" and '
                f'place = "47.7483 -21.0008" on lines of their own{also}'
            )


def check_formats(*, as_csv: bool, as_json: bool) -> None:
    """Refuse two formats at once on standard output."""
    if as_csv and as_json:
        raise OutputError("--csv and --json together: give one of them; --save writes a CSV file beside JSON")


def check_saves(paths: Iterable[str]) -> None:
    """Refuse names that nothing can be saved under, before any work is done."""
    for text in paths:
        if Path(text).suffix.lower() not in SAVE_SUFFIXES:
            raise OutputError(f"cannot save {text!r}: give a name that ends in {', '.join(SAVE_SUFFIXES)}")
        if not Path(text).parent.is_dir():
            raise OutputError(
                f"cannot write {text!r}: there is no folder {str(Path(text).parent)!r}; make it first"
            )


def save_all(paths: Iterable[str], answers: Sequence[PairAnswer]) -> None:
    """Save answers into files, each by its suffix."""
    from pathprofile.cli.asked import in_place_of
    from pathprofile.export.geojson import write_geojson
    from pathprofile.export.gpx import write_gpx
    from pathprofile.export.kml import write_kml
    from pathprofile.export.tables import write_station_csv

    writers = {".gpx": write_gpx, ".kml": write_kml, ".geojson": write_geojson, ".csv": write_station_csv}
    for text in paths:
        instead = in_place_of(text)
        writers[Path(text).suffix.lower()](text, answers)
        typer.echo(shown(f"saved {text}{instead}"), err=True)


def pictures_into(folder: str | None, pairs: Sequence[tuple[Party, Party]]) -> Picture | None:
    """Prepare to draw each pair into a folder, under distinct names; safe to send to another process."""
    if folder is None:
        return None
    from pathprofile.trip.names import safe_file_names

    try:
        Path(folder).mkdir(exist_ok=True)
    except OSError as error:
        raise OutputError(f"cannot draw into {folder!r}: {error.strerror}; name another folder") from error
    names = safe_file_names(f"{you.station.name} to {them.station.name}" for you, them in pairs)
    older = sum((Path(folder) / f"{name}.png").is_file() for name in names)
    if older:
        what = "an older picture" if older == 1 else f"{older} older pictures"
        typer.echo(shown(f"draws in place of {what} in {folder}"), err=True)
    return partial(_draw_pair, folder, tuple(names))


def _draw_pair(folder: str, names: tuple[str, ...], index: int, answer: PairAnswer, contact: Contact) -> str:
    from pathprofile.cli.reach import draw

    del answer
    path = Path(folder) / f"{names[index]}.png"
    draw(contact, str(path))
    return path.name


def progress_on_terminal(what: str) -> Callable[[int, int], None]:
    """Progress with the time left, on a terminal only."""
    started = time.monotonic()

    def show(done: int, of: int) -> None:
        if not sys.stderr.isatty():
            return
        spent = time.monotonic() - started
        left = f", {spent * (of - done) / done:.0f} s left" if 0 < done < of and spent > 1.0 else ""
        sys.stderr.write(f"\r{done} of {of} {what}{left}   {chr(10) if done >= of else ''}")
        sys.stderr.flush()

    return show


def progress_shown() -> Progress:
    """Progress on standard error: a line that rewrites itself on a terminal, nothing for a few pairs."""

    def show(done: int, of: int) -> None:
        if of >= _SHOW_FROM and sys.stderr.isatty():
            end = "\n" if done == of else ""
            sys.stderr.write(f"\r{done} of {of} pairs{end}")
            sys.stderr.flush()

    return show
