"""KML: placemarks that are points are stations."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pathprofile.trip.importing.columns import entry_of
from pathprofile.trip.importing.entry import Remark, UnclearError, plain_notes
from pathprofile.trip.importing.markup import read_elements
from pathprofile.trip.importing.positions import read_place

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pathprofile.places import Location
    from pathprofile.trip.importing.entry import Reading
    from pathprofile.trip.importing.markup import Element

__all__ = ["read_kml"]


def read_kml(text: str, file: str) -> Iterator[Reading]:
    """Stations of the point placemarks of a KML file, longitude first as the format has it.

    Yields
    ------
    Entry or Remark

    Raises
    ------
    StationError
        For broken or dangerous XML; see `markup.read_elements`.
    """
    for placemark in read_elements(text, "Placemark", "kml", file):
        name = placemark.child_text("name")
        cells = {"name": name, "notes": plain_notes(placemark.child_text("description", "Snippet"))}
        try:
            yield entry_of(placemark.line, cells, {}, _point(placemark))
        except UnclearError as reason:
            yield Remark(placemark.line, plain_notes(name)[:80], f"{reason}; left out")


def _point(placemark: Element) -> Location:
    points = list(placemark.all("Point"))
    if len(points) != 1:
        raise UnclearError("a line or an area, not a point" if not points else f"{len(points)} points in one")
    numbers = points[0].child_text("coordinates").split(",")
    if len(numbers) not in {2, 3}:
        raise UnclearError("no longitude and latitude in its coordinates")
    return read_place(f"{numbers[1].strip()}; {numbers[0].strip()}")
