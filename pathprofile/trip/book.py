"""The book of a trip: one TOML file with stations, candidate sites, my own set-ups and the day's defaults."""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Self, TypeVar

from pydantic import AfterValidator, Field, PrivateAttr, ValidationError, field_validator, model_validator

from pathprofile.errors import LocationError, StationError
from pathprofile.station.catalogue import band_of, mode_name
from pathprofile.station.checks import Stated, Within
from pathprofile.station.models import HeightM, SetUp, Station
from pathprofile.trip.finding import find_book, read_book_text
from pathprofile.trip.names import did_you_mean, is_plain_text, name_key
from pathprofile.trip.toml_lines import TomlLines

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from pathprofile.places import Location

__all__ = [
    "MOST_STATIONS",
    "Book",
    "Landmark",
    "ListedStation",
    "Site",
    "Trip",
    "find_book",
    "parse_book",
    "read_book",
]

MOST_STATIONS = 20_000
_KEY_FIRST = re.compile(r"[a-z_]+(?:\[\d+\])?(?:\.[a-z_]+(?:\[\d+\])?)*(?=$|[ :=])")
_LONG_WORD = re.compile(r"(?<=\S{80})\S+")
_TOMLLIB_LINE = re.compile(r"^(?P<what>.*) \(at (?:line (?P<line>\d+), column \d+|end of document)\)$")


def _readable_place(text: str) -> str:
    from pathprofile.places import parse_location

    try:
        parse_location(text)
    except LocationError as error:
        # The value stands before it, so only the reason and the accepted forms are kept.
        raise ValueError(str(error).partition(" as a place: ")[2] or str(error)) from None
    return text


def _plain_name(text: str) -> str:
    if not is_plain_text(text):
        raise ValueError("a name is one line without control characters")
    if text != " ".join(text.split()):
        raise ValueError("a name has single spaces between its words and none around them")
    return text


Name = Annotated[str, Field(min_length=1, max_length=80), AfterValidator(_plain_name)]
PlaceText = Annotated[str, Field(min_length=1, max_length=200), AfterValidator(_readable_place)]
Weight = Annotated[float, Within(0.0, 100.0, "(1 is usual, 0 leaves the station out of the choice)")]


class ListedStation(Station):
    """A station of the book.

    ``source`` is written by an import and tells where the values came from and what they were; a station
    that no longer matches it was corrected by hand and is left alone by later imports.
    """

    name: Name
    place: PlaceText
    source: Annotated[str, Field(max_length=300)] = ""


class Site(Stated):
    """A place that I could drive to.

    ``ground_m`` replaces the height of the ground in the elevation data. ``height_m`` and ``max_height_m``
    limit my antennas here, above the ground. ``set_ups`` names some of my set-ups; empty means all of them.
    """

    name: Name
    place: PlaceText
    ground_m: Annotated[float, Within(-450.0, 8900.0, "m above sea level")] | None = None
    height_m: HeightM | None = None
    max_height_m: HeightM | None = None
    set_ups: tuple[str, ...] = ()
    notes: str = ""

    @model_validator(mode="after")
    def _height_within_limit(self) -> Self:
        height, most = self.height_m, self.max_height_m
        if height is not None and most is not None and height > most:
            raise StationError(f"height_m = {height:g}: above the stated limit max_height_m = {most:g}")
        return self

    def location(self) -> Location:
        """Where the site is, read from ``place``."""
        from pathprofile.places import parse_location

        return parse_location(self.place, label=self.name)


class Landmark(Stated):
    """Something that can be seen from a site and whose place is known, to aim by."""

    name: Name
    place: PlaceText
    notes: str = ""

    def location(self) -> Location:
        """Where the landmark is, read from ``place``."""
        from pathprofile.places import parse_location

        return parse_location(self.place, label=self.name)


class Trip(Stated):
    """Defaults of the trip.

    ``tiles`` are folders with elevation data, seen from the book's own folder. ``home`` is the place from
    which distances in imported lists are checked. ``weights`` says how much a station is wanted; 1 where
    nothing is said.
    """

    tiles: tuple[str, ...] = ()
    bands: tuple[str, ...] = ()
    modes: tuple[str, ...] = ()
    date: dt.date | None = None
    time_zone: str | None = None
    home: PlaceText | None = None
    weights: dict[str, Weight] = Field(default_factory=dict)

    @field_validator("bands")
    @classmethod
    def _known_bands(cls, value: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(dict.fromkeys(band_of(item) for item in value))

    @field_validator("modes")
    @classmethod
    def _known_modes(cls, value: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(dict.fromkeys(mode_name(item) for item in value))

    @field_validator("date", mode="before")
    @classmethod
    def _plain_date(cls, value: object) -> object:
        if value is None or type(value) is dt.date:
            return value
        try:
            return dt.date.fromisoformat(str(value))
        except ValueError:
            raise ValueError("accepted: a date, such as 2026-06-14") from None

    @field_validator("time_zone")
    @classmethod
    def _known_zone(cls, value: str | None) -> str | None:
        if value is not None:
            try:
                Station(name="zone", place="0 0", time_zone=value)  # a station's zone has the same rule
            except StationError as error:
                raise ValueError("accepted" + str(error).rpartition("accepted")[2]) from None
        return value


_Entry = TypeVar("_Entry", Site, ListedStation)


class _MisplacedError(StationError):
    """A refusal of something that does not fit the rest of the book, with its place in the data."""

    def __init__(self, loc: tuple[str | int, ...], words: str) -> None:
        super().__init__(words)
        self.loc = loc


class Book(Stated):
    """Everything about a trip, as read from its file.

    Attributes
    ----------
    trip : Trip
        Defaults.
    my_set_ups : dict of str to SetUp
        What I carry, by a name of my own.
    sites : tuple of Site
        Candidates, in the order of the file.
    stations : tuple of ListedStation
        Who is wanted, in the order of the file.
    landmarks : tuple of Landmark
        What can be aimed at.
    notes : str
        Anything.
    """

    trip: Trip = Trip()
    my_set_ups: dict[str, SetUp] = Field(default_factory=dict)
    sites: tuple[Site, ...] = ()
    stations: Annotated[tuple[ListedStation, ...], Field(max_length=MOST_STATIONS)] = ()
    landmarks: tuple[Landmark, ...] = ()
    notes: str = ""

    _path: Path | None = PrivateAttr(default=None)

    @model_validator(mode="after")
    def _names_tell_apart(self) -> Self:
        used: dict[str, str] = {}
        for kind, what in (("sites", "site"), ("stations", "station")):
            for index, entry in enumerate(getattr(self, kind)):
                key = name_key(entry.name)
                if key in used:
                    words = f"name = {entry.name!r}: there is a {used[key]} of that name already; change one"
                    raise _MisplacedError((kind, index, "name"), words)
                used[key] = what
        for index, site in enumerate(self.sites):
            for name in site.set_ups:
                if name not in self.my_set_ups:
                    hint = did_you_mean(name, self.my_set_ups)
                    words = f"{site.name}: set_ups: {name!r} is not among my_set_ups; {hint}"
                    raise _MisplacedError(("sites", index, "set_ups"), words)
        stations = {name_key(station.name) for station in self.stations}
        for name in self.trip.weights:
            if name_key(name) not in stations:
                hint = did_you_mean(name, (station.name for station in self.stations))
                raise _MisplacedError(("trip", "weights", name), f"trip.weights: no station {name!r}; {hint}")
        return self

    @property
    def path(self) -> Path | None:
        """The file that the book was read from."""
        return self._path

    def station(self, name: str) -> ListedStation:
        """Station of that name; letter case does not count.

        Raises
        ------
        StationError
            When there is none; the closest names are suggested.
        """
        return _named(name, self.stations, "station", self)

    def site(self, name: str) -> Site:
        """Site of that name; letter case does not count.

        Raises
        ------
        StationError
            When there is none; the closest names are suggested.
        """
        return _named(name, self.sites, "site", self)

    def weight(self, name: str) -> float:
        """How much a station is wanted: as stated in ``trip.weights``, else 1."""
        key = name_key(name)
        return next((weight for stated, weight in self.trip.weights.items() if name_key(stated) == key), 1.0)

    def tile_folders(self) -> tuple[Path, ...]:
        """Folders of ``trip.tiles``, seen from the book's folder."""
        beside = self._path.parent if self._path else Path()
        return tuple(beside / Path(folder).expanduser() for folder in self.trip.tiles)

    def start(self) -> Location | None:
        """Home, or else the first site: where distances of imported lists are checked from."""
        from pathprofile.places import parse_location

        if self.trip.home is not None:
            return parse_location(self.trip.home, label="home")
        return self.sites[0].location() if self.sites else None

    def operator_at(self, site: Site | str) -> Station:
        """Me at a site: my set-ups there, with the heights that the site allows.

        Parameters
        ----------
        site : Site or str
            The site or its name.

        Returns
        -------
        Station
            The site's ``height_m`` replaces that of a set-up; the lower of both limits holds.
        """
        site = self.site(site) if isinstance(site, str) else site
        chosen = [self.my_set_ups[name] for name in site.set_ups] or list(self.my_set_ups.values())
        return Station(
            name=site.name,
            place=site.place,
            set_ups=tuple(_fitted(set_up, site) for set_up in chosen),
            notes=site.notes,
        )


def read_book(path: Path | str) -> Book:
    """Read a book.

    Parameters
    ----------
    path : Path or str
        A TOML file, UTF-8, at most 20 MB, 400 000 lines, 400 000 commas and 20 000 stations.

    Returns
    -------
    Book

    Raises
    ------
    StationError
        One line: the file, the line, the key, its value, what is accepted, and for an unknown key the
        nearest known one.
    """
    book, _ = parse_book(read_book_text(path), path)
    return book


def parse_book(text: str, path: Path | str) -> tuple[Book, dict[str, Any]]:
    """Book and bare data from a book's text; ``path`` is named in refusals, which are as `read_book`'s."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        found = _TOMLLIB_LINE.match(str(error))
        what = found["what"] if found else str(error)
        line = found["line"] if found and found["line"] else str(text.rstrip().count("\n") + 1)
        raise StationError(f"{path}, line {line}: not TOML: {what[:120]}") from None
    except ValueError as error:  # a number of more digits than Python cares to read
        raise StationError(f"{path}: not TOML: {str(error).partition(';')[0][:120]}") from None
    except RecursionError:
        raise StationError(f"{path}: brackets are nested too deep") from None
    try:
        book = Book.read(data)
    except StationError as error:
        loc, what = _fault(error)
        line = TomlLines(text).line_of(loc)
        where = f"{path}, line {line}" if line else f"{path}"
        raise StationError(f"{where}: {_LONG_WORD.sub('…', what)}") from None
    book._path = Path(path)  # noqa: SLF001 - the model is frozen; its file is known only here
    return book, data


def _named(name: str, entries: Sequence[_Entry], what: str, book: Book) -> _Entry:
    key = name_key(name)
    for entry in entries:
        if name_key(entry.name) == key:
            return entry
    hint = did_you_mean(name, (entry.name for entry in entries))
    where = f" in {book.path.name}" if book.path else ""
    raise StationError(f"no {what} {name[:80]!r}{where}; {hint}")


def _fitted(set_up: SetUp, site: Site) -> SetUp:
    limits = [limit for limit in (set_up.max_height_m, site.max_height_m) if limit is not None]
    most = min(limits, default=None)
    height = site.height_m if site.height_m is not None else set_up.height_m
    if height is not None and most is not None:
        height = min(height, most)
    return set_up.model_copy(update={"height_m": height, "max_height_m": most})


def _fault(error: StationError) -> tuple[tuple[str | int, ...], str]:
    """Where in the data a refusal points, and its words without the parts that the line number tells.

    A refusal of a nested table is a `StationError` that keeps the `ValidationError` it was made from as its
    context, so the way down can be followed to the key itself.
    """
    loc: tuple[str | int, ...] = ()
    words = innermost = error
    while isinstance(innermost.__context__, ValidationError):
        detail = innermost.__context__.errors(include_url=False)[0]
        loc += detail["loc"]
        cause = detail.get("ctx", {}).get("error")
        if not isinstance(cause, StationError):
            return loc, str(words)
        innermost = cause
        if words is error and len(loc) >= 2 and isinstance(loc[1], int):
            words = cause  # of a station or site: it starts with the name
    if isinstance(innermost, _MisplacedError):
        loc += innermost.loc
    elif named := _KEY_FIRST.match(str(innermost)):
        loc += tuple(_parts(named[0]))
    return loc, str(words)


def _parts(dotted: str) -> Iterable[str | int]:
    for part in re.findall(r"[a-z_]+|\d+", dotted):
        yield int(part) if part.isdigit() else part
