"""What an import did, line by line of the list."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from pathprofile.trip.importing.entry import Remark

__all__ = ["ImportReport"]


@dataclass(frozen=True)
class ImportReport:
    """What became of a list.

    Attributes
    ----------
    book : Path
        The book written to; it was left as it was where nothing is added or changed.
    file : str
        Name of the list.
    kind : str
        ``csv``, ``text``, ``gpx``, ``geojson`` or ``kml``.
    added, changed : tuple of Remark
        Stations that are new, with what was read of each and what was assumed, and untouched ones that the
        list states otherwise now.
    kept : tuple of Remark
        Stations written or corrected by hand of which the list says something else; left as they are.
    unclear : tuple of Remark
        Lines left out, each with its reason.
    doubts : tuple of Remark
        Stations taken, with something to look at: a locator in disguise, a distance from elsewhere.
    unchanged : int
        Stations of the list that the book holds already.
    """

    book: Path
    file: str
    kind: str
    added: tuple[Remark, ...]
    changed: tuple[Remark, ...]
    kept: tuple[Remark, ...]
    unclear: tuple[Remark, ...]
    doubts: tuple[Remark, ...]
    unchanged: int

    def summary(self) -> str:
        """All in one line."""
        counts = (
            (len(self.added), "added"),
            (len(self.changed), "changed"),
            (self.unchanged, "there already"),
            (len(self.kept), "kept as corrected by hand"),
            (len(self.unclear), "unclear"),
            (len(self.doubts), "to look at"),
        )
        said = ", ".join(f"{count} {what}" for count, what in counts if count)
        return f"{self.file} into {self.book.name}: {said or 'nothing found'}"

    def __str__(self) -> str:
        return "\n".join(self.lines())

    def lines(self) -> list[str]:
        """Give the summary, then every remark on a line of its own."""
        groups = (
            ("added", self.added),
            ("changed", self.changed),
            ("kept", self.kept),
            ("look at", self.doubts),
            ("unclear", self.unclear),
        )
        return [self.summary(), *(f"{what}: {remark}" for what, remarks in groups for remark in remarks)]
