"""Targets that read a trip's files: book, lists of stations, log, saved prediction, refractivity maps."""
# ruff: noqa: D102 - the base class says what `make` and `try_out` are

from __future__ import annotations

import io
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuzz.case import Target, check_one_line, sure
from fuzz.mutate import ODD_TEXT, mutate_bytes, mutate_json, mutate_text, random_text
from fuzz.samples import BOOKS, LISTS, LOGS, prediction_text
from pathprofile.atmosphere import RefractivityMaps
from pathprofile.errors import OutOfRangeError, PathProfileError, StationError
from pathprofile.trip.book import read_book
from pathprofile.trip.debrief import debrief
from pathprofile.trip.importing import KINDS, import_into
from pathprofile.trip.log import read_log
from pathprofile.trip.prediction import read_prediction

if TYPE_CHECKING:
    from random import Random

__all__ = ["Books", "Imports", "Listed", "Logs", "Maps", "Predictions"]

_ENCODINGS = ("utf-8", "utf-8", "utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252", "latin-1")
_ODD_TOML = (
    *(
        "nan",
        "inf",
        "-0.0",
        "1e999",
        "9" * 5000,
        "0x7fffffffffffffffff",
        "true",
        "[]",
        "{}",
        "[[]]",
        '""',
        "''",
    ),
    *(
        "2026-06-14",
        "2026-06-14T12:00:00Z",
        "12:00:00",
        '"nan"',
        "[1, 'a']",
        "{ a = { b = {} } }",
        "-1",
        "1e-320",
    ),
    *("[" * 500 + "]" * 500, "[" * 3000, "{a=" * 400 + "1" + "}" * 400, '"' + "x" * 5000 + '"', '"\\ud800"'),
    *('"\\u0000"', '"\\u202e"', '"""\n\n"""', "1_000", "0o17", "+1", ".5", "1.", '"47 -21"', '"HN97"'),
)


def encoded(rng: Random, text: str) -> bytes:
    """Bytes of a text, most often UTF-8, sometimes in another encoding or one that does not hold it all."""
    if rng.random() < 0.7:
        return text.encode("utf-8", "surrogatepass")
    return text.encode(rng.choice(_ENCODINGS), rng.choice(("replace", "ignore", "xmlcharrefreplace")))


def spoilt_toml(rng: Random, text: str) -> str:
    """Make a book with lines lost, doubled, moved or given other values."""
    lines = text.splitlines()
    for _ in range(rng.randint(1, 3)):
        at = rng.randrange(len(lines))
        how = rng.randrange(7)
        key, mark, _value = lines[at].partition("=")
        if how <= 2 and mark:
            lines[at] = f"{key}= {rng.choice(_ODD_TOML)}"
        elif how == 3 and mark:
            lines[at] = (
                f"{rng.choice(('', 'x.', 'name.', ODD_TEXT[rng.randrange(40)]))}{key.strip()} ={_value}"
            )
        elif how == 4:
            lines.insert(rng.randrange(len(lines)), lines[at])
        elif how == 5 and len(lines) > 2:
            del lines[at]
        else:
            lines[at] = mutate_text(rng, lines[at], 2)
    return "\n".join(lines)


class Books(Target):
    """Trip books: one that is read holds stations with places, and me at every site."""

    name = "trip books"
    share = 9_000

    def make(self, rng: Random) -> bytes:
        book = rng.choice(BOOKS)
        how = rng.random()
        if how < 0.05:
            return random_text(rng, 200).encode("utf-8", "surrogatepass")
        if how < 0.2:
            return mutate_bytes(rng, book.encode(), head=len(book))
        return encoded(rng, spoilt_toml(rng, book))

    def try_out(self, given: bytes) -> str:
        path = self.folder / "trip.toml"
        path.write_bytes(given)
        try:
            book = read_book(path)
        except StationError as error:
            check_one_line(error)
            return "refused"
        for station in book.stations:
            book.weight(station.name)
            sure(book.station(station.name) is station, f"station {station.name!r} is not found by its name")
        book.start()
        book.tile_folders()
        for site in book.sites:
            site.location()
            try:
                book.operator_at(site)
            except StationError as error:
                check_one_line(error)
        return "taken"


class Listed(NamedTuple):
    """A list to import: its bytes, the kind it is said to be of, and the name of its file."""

    content: bytes
    kind: str | None
    name: str


class Imports(Target):
    """Lists taken into a book: nothing of the book is lost, and the same list again changes nothing."""

    name = "imported lists"
    share = 11_000

    def make(self, rng: Random) -> Listed:
        kind, text = rng.choice(LISTS)
        how = rng.random()
        if how < 0.05:
            content = random_text(rng, 300).encode("utf-8", "surrogatepass")
        elif how < 0.2:
            content = mutate_bytes(rng, encoded(rng, text), head=len(text))
        elif kind == "geojson" and how < 0.6:
            content = mutate_json(rng, text).encode("utf-8", "surrogatepass")
        else:
            content = encoded(rng, mutate_text(rng, text, 6))
        named = rng.choice((kind, kind, None, rng.choice(KINDS)))
        return Listed(content, named, f"list.{rng.choice((kind, 'txt', 'csv', 'kml'))}")

    def try_out(self, given: Listed) -> str:
        book_path, file = self.folder / "trip.toml", self.folder / given.name
        before = BOOKS[0].encode()
        book_path.write_bytes(before)
        file.write_bytes(given.content)
        names = {station.name for station in read_book(book_path).stations}
        try:
            report = import_into(book_path, file, kind=given.kind)
        except PathProfileError as error:
            check_one_line(error)
            sure(book_path.read_bytes() == before, "a refused list has changed the book")
            return "refused"
        sure("\x1b" not in str(report), "the report carries control characters to the terminal")
        after = read_book(book_path)
        lost = names - {station.name for station in after.stations}
        sure(not lost, f"stations lost: {lost}")
        sure(
            len(after.stations) == len(names) + len(report.added),
            "the report counts other stations than the book",
        )
        text = book_path.read_bytes()
        again = import_into(book_path, io.BytesIO(given.content) if given.kind else file, kind=given.kind)
        sure(not again.added, f"the same list again adds {again.added[:2]}")
        sure(given.kind or book_path.read_bytes() == text, f"the same list again changes {again.changed[:2]}")
        sure(not list(self.folder.glob(".*")), "a part-written file stays behind")
        return "taken"


class Logs(Target):
    """Logs: every row that is kept has a station, and every line number is one of the file's."""

    name = "logs"
    share = 9_000

    def make(self, rng: Random) -> bytes:
        log = rng.choice(LOGS)
        how = rng.random()
        if how < 0.05:
            return random_text(rng, 300).encode("utf-8", "surrogatepass")
        if how < 0.2:
            return mutate_bytes(rng, encoded(rng, log), head=len(log))
        return encoded(rng, mutate_text(rng, log, 6))

    def try_out(self, given: bytes) -> str:
        try:
            log = read_log(io.BytesIO(given))
        except StationError as error:
            check_one_line(error)
            return "refused"
        lines = max(given.count(b"\n") + given.count(b"\r"), 0) + 1
        for row in log.rows:
            sure(row.station and 1 <= row.line <= lines, f"row {row} of {lines} lines")
        for remark in log.unclear:
            sure(1 <= remark.line <= lines, f"remark {remark} of {lines} lines")
            check_one_line(Exception(str(remark)))
        return "taken"


class Predictions(Target):
    """Saved predictions, held against a log where they are read."""

    name = "saved predictions"
    share = 4_000

    def make(self, rng: Random) -> tuple[bytes, bytes]:
        text = prediction_text()
        how = rng.random()
        if how < 0.25:
            raw = mutate_bytes(rng, text.encode(), head=len(text))
        elif how < 0.5:
            raw = encoded(rng, mutate_text(rng, text, 4))
        else:
            raw = mutate_json(rng, text).encode("utf-8", "surrogatepass")
        return raw, mutate_text(rng, LOGS[0], 3).encode("utf-8", "replace")

    def try_out(self, given: tuple[bytes, bytes]) -> str:
        path = self.folder / "a.prediction.json"
        path.write_bytes(given[0])
        try:
            prediction = read_prediction(path)
        except StationError as error:
            check_one_line(error)
            return "refused"
        for row in prediction.rows:
            sure(0.0 <= row.chance <= 1.0, f"chance {row.chance}")
        try:
            found = debrief(prediction, read_log(io.BytesIO(given[1])))
        except StationError as error:
            check_one_line(error)
            return "refused"
        check_one_line(Exception(found.sentence))
        return "taken"


class Maps(Target):
    """A user's copy of the refractivity maps."""

    name = "refractivity maps"
    share = 300

    def __init__(self) -> None:
        super().__init__()
        rows = [" ".join(f"{40 + (r + c) % 20:7.2f}" for c in range(241)) for r in range(121)]
        self._map = "\n".join(rows).encode()
        self._n0 = "\n".join([" ".join(["325"] * 241)] * 121).encode()

    def make(self, rng: Random) -> tuple[bytes, float, float]:
        head = rng.choice((50, 5000, len(self._map)))
        odd = rng.choice((b"", b"nan", b"1e999", b"#", b"\x00", b"-999", b"\xff", b"9" * 9000))
        at = rng.randrange(len(self._map))
        raw = rng.choice(
            (mutate_bytes(rng, self._map, head=head), self._map[:at] + odd + self._map[at + 7 :])
        )
        return raw, rng.uniform(-90, 90), rng.uniform(-180, 180)

    def try_out(self, given: tuple[bytes, float, float]) -> str:
        (self.folder / "DN50.TXT").write_bytes(given[0])
        (self.folder / "N050.TXT").write_bytes(self._n0)
        try:
            air = RefractivityMaps.read(self.folder).at(*given[1:])
        except OutOfRangeError as error:
            check_one_line(error)
            return "refused"
        sure(np.isfinite(air.k_factor) and abs(air.n0 - 325.0) < 1e-9, f"{air}")
        return "taken"
