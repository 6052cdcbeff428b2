"""Who talks to whom: places as typed, or names from the trip book."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from pathprofile.cli.asked import station_of
from pathprofile.contact import Party
from pathprofile.places import parse_location

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pathprofile.places import Location

__all__ = ["Parties", "parties"]


@dataclass(frozen=True)
class Parties:
    """Both sides, and the elevation folders that the book names."""

    you: Party
    them: Party
    dem: Sequence[str]


def parties(
    from_place: str,
    to_place: str,
    book: str | None,
    frequency_mhz: float,
    *,
    polarization: str | None,
    heights: tuple[str | None, str | None],
    powers_w: tuple[float | None, float | None],
    antennas: tuple[str | None, str | None],
    feedlines: tuple[str | None, str | None],
    noises: tuple[str | None, str | None],
) -> Parties:
    """Both sides of a contact, what the command line says on top of what the book says."""
    sides = []
    for index, text in enumerate((from_place, to_place)):
        location = _place(text)
        station = station_of(
            _short_name(location, ("you", "them")[index]),
            text,
            frequency_mhz,
            height=heights[index],
            power_w=powers_w[index],
            antenna=antennas[index],
            feedline=feedlines[index],
            noise=noises[index],
            polarization=polarization,
        )
        sides.append(Party(station, location, "open" if index == 0 else "suburb"))
    return Parties(sides[0], sides[1], ())


def _place(text: str) -> Location:
    return parse_location(text)


def _short_name(location: Location, fallback: str) -> str:
    return location.label or location.text.strip() or fallback
