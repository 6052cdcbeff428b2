"""What a list says of one station, before anything is believed."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, field
from html import unescape
from typing import TYPE_CHECKING, NamedTuple

from pathprofile.trip.names import is_plain_text

if TYPE_CHECKING:
    from pathprofile.places import Location

__all__ = [
    "LONGEST_LINE",
    "Claim",
    "Entry",
    "Reading",
    "Remark",
    "UnclearError",
    "as_number",
    "plain_notes",
    "read_claim",
    "split_unit",
    "tidy_name",
]

LONGEST_LINE = 20_000
_LONGEST_NAME = 80
_LONGEST_NOTES = 500
_TAG = re.compile(r"<[/!?]?[a-zA-Z][^<>]{0,500}>")
_BLOCK_TAG = re.compile(r"<(?:/?(?:p|div|li|tr|td|h\d)\b[^<>]{0,200}|br\s*/?)>", re.IGNORECASE)
_FORMULA = re.compile(r"=|[+\-@]\s*[A-Za-z_]+\s*[(!|]|@\w+\(|[+\-]\s*\d+\s*[+\-*/(]")
_NUMBER = re.compile(r"\s*([+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+))\s*(.{0,20}?)\s*")
_DISTANCE_M = {
    **dict.fromkeys(("km", "kilometres", "kilometers", "kms"), 1000.0),
    **dict.fromkeys(("mi", "mile", "miles"), 1609.344),
    **dict.fromkeys(("nmi", "nm"), 1852.0),
    "m": 1.0,
}


class Remark(NamedTuple):
    """Something to tell about a line of the list; ``name`` is empty where none was read."""

    line: int
    name: str
    text: str

    def __str__(self) -> str:
        return f"line {self.line}: {self.name + ': ' if self.name else ''}{self.text}"


class UnclearError(Exception):
    """A line that cannot be used, with the reason."""


@dataclass(frozen=True)
class Claim:
    """A distance and an azimuth that a list states: never used, only checked.

    ``distance_m`` is None where no distance is stated; ``distance_text`` is as written. Without a unit the
    distance is held against kilometres and miles both.
    """

    distance_m: float | None = None
    distance_text: str = ""
    has_unit: bool = True
    azimuth_deg: float | None = None

    @property
    def stated(self) -> bool:
        """Whether there is anything to check."""
        return self.distance_m is not None or self.azimuth_deg is not None


@dataclass(frozen=True)
class Entry:
    """A station as a list states it.

    Attributes
    ----------
    line : int
        Where it stands, counted from 1.
    name : str
    location : Location
        Read from the text in the list, which it keeps.
    notes : str
    receive_only : bool
    set_up : dict
        Keys of a set-up; ``bands`` may be missing.
    listening_hours : tuple of str
        As ``18:00-20:00``.
    time_zone : str
        Theirs; empty where the list says none.
    assumed : tuple of str
        What the list does not say but means.
    claim : Claim
    doubts : tuple of str
        What was not understood and left out.
    """

    line: int
    name: str
    location: Location
    notes: str = ""
    receive_only: bool = False
    set_up: dict[str, object] = field(default_factory=dict)
    listening_hours: tuple[str, ...] = ()
    time_zone: str = ""
    assumed: tuple[str, ...] = ()
    claim: Claim = Claim()
    doubts: tuple[str, ...] = ()


# What a reader yields, in the order of the list.
Reading = Entry | Remark


def tidy_name(raw: str) -> tuple[str, str]:
    """Name that can go into a book, and what had to be done to it (empty when nothing).

    Raises
    ------
    UnclearError
        For an empty or far too long name, and for a spreadsheet formula.
    """
    if _FORMULA.match(raw.strip()):
        raise UnclearError(f"the name is a spreadsheet formula, {_short(raw)}")
    raw = unicodedata.normalize("NFC", raw[:LONGEST_LINE])
    plain = " ".join(_untagged("".join(c if is_plain_text(c) else " " for c in raw)).split())
    doubt = "" if plain == " ".join(raw.split()) else "the name held markup or unseen characters, left out"
    if not plain:
        raise UnclearError("there is no name" if not raw.strip() else f"no name is left of {_short(raw)}")
    if len(plain) > _LONGEST_NAME:
        raise UnclearError(f"the name has {len(plain)} characters, at most {_LONGEST_NAME}: {_short(plain)}")
    return plain, doubt


def plain_notes(raw: str) -> str:
    """One line of text without markup, cut where it is long."""
    text = unescape(_untagged(raw[: 4 * _LONGEST_NOTES]))
    text = " ".join("".join(c if is_plain_text(c) else " " for c in text).split())
    return text if len(text) <= _LONGEST_NOTES else text[: _LONGEST_NOTES - 1] + "…"


def _untagged(text: str) -> str:
    return _TAG.sub("", _BLOCK_TAG.sub(" ", text))


def split_unit(text: str, unit: str = "") -> tuple[float, str] | None:
    """Split a cell into number and unit, the column's ``unit`` where it has none; None for no number."""
    found = _NUMBER.fullmatch(unicodedata.normalize("NFKC", text[:60]).replace("\u2212", "-"))
    if found is None:
        return None
    return float(found[1].replace(",", ".")), (found[2] or unit).casefold().rstrip(".")


def as_number(text: str) -> float | None:
    """Bare number, decimal comma or point; None for anything else."""
    parts = split_unit(text)
    return parts[0] if parts is not None and not parts[1] else None


def read_claim(distance: str, unit: str, azimuth: str) -> Claim:
    """Claim from a distance (with the unit of its column) and an azimuth, each perhaps empty."""
    metres, has_unit = None, True
    if (parts := split_unit(distance, unit)) is not None:
        has_unit = parts[1] in _DISTANCE_M
        metres = parts[0] * _DISTANCE_M.get(parts[1], 1000.0)
    degrees = split_unit(azimuth)
    shown = plain_notes(distance)
    if unit and as_number(distance) is not None:
        shown += f" {unit}"
    return Claim(metres, shown, has_unit, degrees[0] % 360.0 if degrees is not None else None)


def _short(text: str) -> str:
    plain = "".join(c if is_plain_text(c) else " " for c in text[:200])
    return repr(plain if len(plain) <= 40 else plain[:39] + "…")
