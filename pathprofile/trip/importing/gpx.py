"""GPX: waypoints are stations; tracks and routes are not."""

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

__all__ = ["read_gpx"]


def read_gpx(text: str, file: str) -> Iterator[Reading]:
    """Stations of the waypoints of a GPX file (1.0 or 1.1).

    Yields
    ------
    Entry or Remark

    Raises
    ------
    StationError
        For broken or dangerous XML; see `markup.read_elements`.
    """
    count = 0
    for point in read_elements(text, "wpt", "gpx", file):
        count += 1
        name = point.child_text("name")
        cells = {"name": name, "notes": plain_notes(point.child_text("desc", "cmt"))}
        try:
            yield entry_of(point.line, cells, {}, _location(point))
        except UnclearError as reason:
            yield Remark(point.line, plain_notes(name)[:80], f"{reason}; left out")
    if not count:
        yield Remark(1, "", "no waypoints; tracks and routes are not stations")


def _location(point: Element) -> Location:
    if not {"lat", "lon"} <= point.attributes.keys():
        raise UnclearError("no latitude and longitude")
    return read_place(f"{point.attributes['lat']}; {point.attributes['lon']}")
