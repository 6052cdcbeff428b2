"""Stations of a list taken into a book, unless somebody knows better."""

from __future__ import annotations

import hashlib
import itertools
import json
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pathprofile.atomic import held, write_atomically
from pathprofile.errors import LocationError, StationError
from pathprofile.geodesy import inverse
from pathprofile.places import parse_location
from pathprofile.station.catalogue import band_of
from pathprofile.trip.book import MOST_STATIONS, ListedStation, parse_book
from pathprofile.trip.finding import read_book_text
from pathprofile.trip.importing.described import described, set_up_words
from pathprofile.trip.importing.entry import Entry, Remark, plain_notes
from pathprofile.trip.importing.geojson import read_geojson
from pathprofile.trip.importing.gpx import read_gpx
from pathprofile.trip.importing.kml import read_kml
from pathprofile.trip.importing.mail import read_mail
from pathprofile.trip.importing.positions import disagreement, exchanged, locator_in_disguise, too_far
from pathprofile.trip.importing.report import ImportReport
from pathprofile.trip.importing.rewriting import Block, rewritten
from pathprofile.trip.importing.table import has_header, read_table
from pathprofile.trip.importing.text import decode, numbered, read_list
from pathprofile.trip.names import name_key

if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import BinaryIO

    from pathprofile.places import Location
    from pathprofile.trip.book import Book
    from pathprofile.trip.importing.entry import Reading

__all__ = ["KINDS", "import_into"]

KINDS = ("csv", "text", "gpx", "geojson", "kml")
_SAME_PLACE_M = 1.0
_ORDER = ("name", "place", "receive_only", "listening_hours", "time_zone", "notes", "set_ups")


def import_into(
    book_path: Path | str,
    file: Path | str | BinaryIO,
    *,
    kind: str | None = None,
    from_location: Location | None = None,
) -> ImportReport:
    """Take the stations of a list into a book.

    Parameters
    ----------
    book_path : Path or str
        The book; it is written whole or not at all, with its comments, order and line ends as they were.
    file : Path, str or binary file
        The list, at most 10 MB: a table (comma, semicolon or tab), text pasted from mail, GPX waypoints,
        GeoJSON or KML points, in UTF-8, UTF-16, Windows-1252 or a mixture.
    kind : str, optional
        ``csv``, ``text`` (pasted from mail), ``gpx``, ``geojson`` or ``kml``; told by its content when None.
    from_location : Location, optional
        Where the list's distances and azimuths are checked from: by default the book's home, or else its
        first site.

    Returns
    -------
    ImportReport
        Added, changed, kept and unclear, by line.

    Raises
    ------
    StationError
        For a book or a list that cannot be read, or a list of more than 20 000 lines to report on.
    OutputError
        When the book cannot be written.

    Notes
    -----
    An imported station carries ``source = "file:line #digest"``; the digest is made from its other values as
    written. While it matches, nobody touched the station, and a later list may change it; once it does not,
    or where a station has no source, the book's values stay and the report shows what the list says. A place
    is never replaced by a vaguer one that agrees with it, and what a list no longer mentions stays.

    Distances and azimuths of a list are never used. Coordinates exactly on the centre or corner of a
    locator's cell are taken as that cell.
    """
    book_path = Path(book_path)
    read_book_text(book_path)  # what is wrong with it is said before a list is typed in
    name, raw = read_list(file)
    with held(book_path):
        return _taken(book_path, name, raw, kind, from_location)


def _taken(
    book_path: Path, name: str, raw: bytes, kind: str | None, from_location: Location | None
) -> ImportReport:
    """Take a list that has been read into a book that nobody else imports into meanwhile."""
    text = read_book_text(book_path)
    book, data = parse_book(text, book_path)
    listed, other_lines = decode(raw, name)
    if kind is None:
        kind = _kind_of(name, listed)
    elif kind not in KINDS:
        raise StationError(f"kind {kind!r} is not known; known: {', '.join(KINDS)}")
    start = from_location if from_location is not None else book.start()
    merge = _Merge(book, data, name, start)
    if other_lines:
        words = f"{numbered(other_lines)} not UTF-8, read as Windows-1252; look at the accents"
        merge.unclear.append(Remark(other_lines[0], "", words))
    readings = list(itertools.islice(_readings(kind, listed, name), MOST_STATIONS + 1))
    if len(readings) > MOST_STATIONS:
        raise StationError(f"{name}: more than {MOST_STATIONS} places; cut it to the stations wanted")
    for reading in readings:
        if isinstance(reading, Remark):
            merge.unclear.append(reading)
        else:
            merge.take(reading)
    if start is None and any(isinstance(r, Entry) and r.claim.stated for r in readings):
        words = "its distances and azimuths are not checked: the book has neither trip.home nor a site"
        merge.unclear.append(Remark(1, "", words))
    if merge.added_blocks or merge.changed_blocks:
        try:
            new_text = rewritten(text, data, merge.changed_blocks, merge.added_blocks)
        except StationError as error:
            raise StationError(f"{book_path}: {error}") from None
        parse_book(new_text, book_path)
        if read_book_text(book_path) != text:
            raise StationError(f"{book_path}: was changed meanwhile, perhaps by an editor; import again")
        write_atomically(book_path, new_text.encode())
    return ImportReport(
        book_path,
        name,
        kind,
        tuple(merge.added),
        tuple(merge.changed),
        tuple(merge.kept),
        tuple(merge.unclear),
        tuple(merge.doubts),
        merge.unchanged,
    )


class _Merge:
    """Holds every entry against the book and sorts it."""

    def __init__(self, book: Book, data: dict[str, Any], file: str, start: Location | None) -> None:
        self.added: list[Remark] = []
        self.changed: list[Remark] = []
        self.kept: list[Remark] = []
        self.unclear: list[Remark] = []
        self.doubts: list[Remark] = []
        self.unchanged = 0
        self.added_blocks: list[Block] = []
        self.changed_blocks: dict[int, Block] = {}
        self._stations: list[dict[str, Any]] = data.get("stations", [])
        self._index = {name_key(station.name): at for at, station in enumerate(book.stations)}
        self._sites = {name_key(site.name) for site in book.sites}
        self._bands = list(book.trip.bands)
        self._zone = book.trip.time_zone
        self._seen: dict[str, tuple[int, Location]] = {}
        self._file = file
        self._start = start

    def take(self, entry: Entry) -> None:
        """Sort one entry."""
        key = name_key(entry.name)
        location, place, comment = _placed(entry)
        if key in self._seen:
            line, other = self._seen[key]
            where = "at the same place as" if _same(location, other) else "but elsewhere than"
            self._leave_out(entry, f"the name again, {where} on line {line}")
            return
        self._seen[key] = entry.line, location
        if key in self._sites:
            self._leave_out(entry, "a candidate site of the book has this name")
            return
        if self._start is not None and (complaint := exchanged(self._start, entry.location)):
            self.unclear.append(Remark(entry.line, entry.name, f"{complaint} Left out"))
            return
        doubts, assumed = list(entry.doubts), list(entry.assumed)
        stated = self._stated(entry, place, doubts, assumed)
        if stated is None:
            return
        if comment:
            doubts.append(f"{comment}: taken as that cell, {place}")
        if self._start is not None:
            complaints = disagreement(entry.claim, self._start, location), too_far(self._start, location)
            doubts += [complaint for complaint in complaints if complaint]
        self.doubts += [Remark(entry.line, entry.name, doubt) for doubt in doubts]
        if key in self._index:
            self._update(entry, self._index[key], stated, location, comment)
        else:
            self.added.append(Remark(entry.line, entry.name, described(stated, assumed)))
            self.added_blocks.append(self._block(entry, stated, comment))

    def _leave_out(self, entry: Entry, why: str) -> None:
        self.unclear.append(Remark(entry.line, entry.name, f"{why}; left out"))

    def _stated(
        self, entry: Entry, place: str, doubts: list[str], assumed: list[str]
    ) -> dict[str, Any] | None:
        """Values for the book, checked by its own models; a set-up that they refuse becomes a note."""
        stated: dict[str, Any] = {"name": entry.name, "place": place}
        notes = [entry.notes] if entry.notes else []
        if entry.receive_only:
            stated["receive_only"] = True
        self._add_hours(entry, stated, notes, doubts, assumed)
        set_up = self._with_bands(entry.set_up, notes, doubts, assumed)
        try:
            ListedStation.read(stated)
        except StationError as error:
            self._leave_out(entry, _after_name(error, entry.name))
            return None
        if set_up:
            try:
                ListedStation.read({**stated, "set_ups": [set_up]})
            except StationError as error:
                doubts.append(f"its set-up is left out and kept as a note: {_after_name(error, entry.name)}")
                notes.append(set_up_words(set_up))
            else:
                stated["set_ups"] = [set_up]
        if notes:
            stated["notes"] = plain_notes("; ".join(notes))
        # The order of a book written by hand: set-ups last.
        return {key: stated[key] for key in sorted(stated, key=_ORDER.index)}

    def _add_hours(
        self,
        entry: Entry,
        stated: dict[str, Any],
        notes: list[str],
        doubts: list[str],
        assumed: list[str],
    ) -> None:
        """Add listening hours with their zone, else the book's; without one they are a note."""
        zone = entry.time_zone or self._zone
        if not entry.listening_hours:
            if entry.time_zone:
                stated["time_zone"] = entry.time_zone
            return
        if not zone:
            notes.append(f"listens {', '.join(entry.listening_hours)}")
            doubts.append("its listening hours have no time zone, nor has the book: kept as a note only")
            return
        stated["listening_hours"] = list(entry.listening_hours)
        stated["time_zone"] = zone
        if not entry.time_zone:
            assumed.append(f"hours in {zone}, the book's time zone")

    def _with_bands(
        self, set_up: dict[str, object], notes: list[str], doubts: list[str], assumed: list[str]
    ) -> dict[str, object]:
        """Add the band: as stated, by the frequency, or the only one that the book is about."""
        if not set_up or "bands" in set_up:
            return dict(sorted(set_up.items(), key=lambda item: item[0] != "bands"))
        for key in ("receive_mhz", "transmit_mhz"):
            if key in set_up:
                return {"bands": [band_of(set_up[key])], **set_up}
        if len(self._bands) == 1:
            assumed.append(f"{self._bands[0]}, the book's only band")
            return {"bands": list(self._bands), **set_up}
        doubts.append(f"no band is stated, so this is kept as a note only: {set_up_words(set_up)}")
        notes.append(set_up_words(set_up))
        return {}

    def _update(
        self, entry: Entry, at: int, stated: dict[str, Any], location: Location, comment: str
    ) -> None:
        old = self._stations[at]
        bare = {key: value for key, value in old.items() if key != "source"}
        new = dict(stated, name=old["name"])
        if _adds_nothing(location, parse_location(old["place"])):
            new["place"] = old["place"]
            comment = ""
        differing = [key for key, value in new.items() if bare.get(key) != value]
        if not differing:
            self.unchanged += 1
            return
        says = ", ".join(_short(key, new[key]) for key in differing)
        if _digest(bare) != old.get("source", "").rpartition("#")[2]:
            why = "corrected by hand" if "source" in old else "written by hand"
            apart = _apart_text(location, old["place"]) if "place" in differing else ""
            self.kept.append(Remark(entry.line, entry.name, f"{why}, kept; the list says {says}{apart}"))
            return
        was = ", ".join(_short(key, bare[key]) for key in differing if key in bare) or "nothing of it"
        self.changed.append(Remark(entry.line, entry.name, f"{says}; was {was}"))
        self.changed_blocks[at] = self._block(entry, {**bare, **new}, comment)

    def _block(self, entry: Entry, values: dict[str, Any], comment: str) -> Block:
        bare = {key: value for key, value in values.items() if key != "set_ups"}
        source = f"{self._file[:200]}:{entry.line} #{_digest(values)}"
        set_ups = {"set_ups": values["set_ups"]} if "set_ups" in values else {}
        return Block({**bare, "source": source, **set_ups}, comment)


def _readings(kind: str, text: str, name: str) -> Iterator[Reading]:
    if kind == "gpx":
        return read_gpx(text, name)
    if kind == "kml":
        return read_kml(text, name)
    if kind == "geojson":
        return read_geojson(text, name)
    return read_table(text) if kind == "csv" else read_mail(text)


def _kind_of(name: str, text: str) -> str:
    """Tell what the text is; the name's ending decides only between text and a table without headers."""
    start = text[:4000].lstrip("\ufeff \t\r\n")
    if start.startswith("<"):
        # A document type may hide the root; the readers refuse it whichever is tried.
        found = re.search(r"<(?:\w{1,20}:)?(gpx|kml)\b", text[:100_000])
        if found:
            return found[1]
        if start.startswith(("<?xml", "<!DOCTYPE")):
            return "kml" if name.lower().endswith(".kml") else "gpx"
    if start.startswith("{"):
        return "geojson"
    if has_header(text) or name.lower().endswith((".csv", ".tsv")):
        return "csv"
    return "text"


def _placed(entry: Entry) -> tuple[Location, str, str]:
    """Location and text for the book, and the comment where coordinates turn out to be a locator."""
    place = entry.location.text
    disguise = locator_in_disguise(entry.location)
    if disguise is None:
        return entry.location, place if "," in place else place.replace(";", ","), ""
    comment = f"{place.replace(';', '')}, exactly the {disguise.where} of this cell"
    return parse_location(disguise.locator), disguise.locator, comment


def _apart_m(one: Location, other: Location) -> float:
    try:
        return inverse(
            one.latitude_deg, one.longitude_deg, other.latitude_deg, other.longitude_deg
        ).distance_m
    except LocationError:  # one and the same place, or its antipode
        return 0.0 if abs(one.latitude_deg - other.latitude_deg) < 1.0 else 2.0e7


def _same(one: Location, other: Location) -> bool:
    return _apart_m(one, other) <= _SAME_PLACE_M


def _adds_nothing(new: Location, old: Location) -> bool:
    """Whether a place is the one known already, or a vaguer one that agrees with it."""
    if _same(new, old) and new.uncertainty_m == old.uncertainty_m:
        return True
    return (
        new.uncertainty_m > old.uncertainty_m and _apart_m(new, old) <= new.uncertainty_m + old.uncertainty_m
    )


def _apart_text(new: Location, old_place: str) -> str:
    return f", {_apart_m(new, parse_location(old_place)) / 1000.0:.1f} km from the book's {old_place!r}"


def _short(key: str, value: Any) -> str:
    if key == "set_ups" and len(value) == 1:
        return ", ".join(_short(part, of) for part, of in value[0].items())
    text = json.dumps(value, ensure_ascii=False)
    return f"{key} = {text if len(text) <= 120 else text[:119] + '…'}"


def _after_name(error: StationError, name: str) -> str:
    return str(error).removeprefix(f"{name[:60]}: ")


def _digest(values: dict[str, Any]) -> str:
    """Eight hexadecimal digits that stand for a station's values as written, its source apart."""
    bare = {key: value for key, value in values.items() if key != "source"}
    written = json.dumps(bare, sort_keys=True, ensure_ascii=False, default=str)
    return hashlib.sha256(written.encode("utf-8", "replace")).hexdigest()[:8]
