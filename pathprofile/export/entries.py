"""What every export says of a contact: the same facts, words and places in each format."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from pathprofile.contact import Contact
from pathprofile.export.text import one_line
from pathprofile.link.cautions import CAUTIONS, CONDITIONAL
from pathprofile.station.catalogue import MODES

if TYPE_CHECKING:
    from collections.abc import Iterable

    from pathprofile.places import Location
    from pathprofile.reach import PathEnd

__all__ = [
    "Fact",
    "NoResult",
    "Stop",
    "each_contact",
    "facts",
    "foreword",
    "path_name",
    "sight_words",
    "station_words",
    "stops",
]

Fact = float | str | None
_SIGHT = {"clear": "in sight", "partial": "in sight, but tight", "obstructed": "no line of sight"}


@dataclass(frozen=True)
class NoResult:
    """A station without an answer, so that no list drops it in silence.

    Attributes
    ----------
    name : str
    reason : str
        Why, as the error or the blank row said it.
    location : Location or None
        Where it is, if that is known.
    site : str
        From where it was asked, if it matters.
    """

    name: str
    reason: str
    location: Location | None = None
    site: str = ""


def each_contact(contacts: Contact | Iterable[Contact]) -> tuple[Contact, ...]:
    """One contact or many as a tuple."""
    return (contacts,) if isinstance(contacts, Contact) else tuple(contacts)


def facts(contact: Contact) -> dict[str, Fact]:
    """Facts of one contact, the unit in the key, rounded to what they are worth; None where unknown."""
    reach, link = contact.reach, contact.link
    loss, seen = reach.loss, reach.sightline
    return {
        "site": one_line(contact.you.station.name),
        "station": one_line(contact.them.station.name),
        "date": reach.date.isoformat(),
        "frequency_mhz": reach.frequency_mhz,
        "mode": link.mode,
        "verdict": link.pair.verdict.word,
        "odds": link.pair.verdict.text,
        "chance": _rounded(link.pair.chance, 3),
        "comfortable_chance": _rounded(link.pair.comfortable_chance, 3),
        "distance_m": _rounded(reach.leg.distance_m, 1),
        "azimuth_deg": _rounded(reach.from_end.azimuth_deg, 2),
        "magnetic_azimuth_deg": _rounded(reach.from_end.magnetic_azimuth_deg, 2),
        "back_azimuth_deg": _rounded(reach.to_end.azimuth_deg, 2),
        "magnetic_back_azimuth_deg": _rounded(reach.to_end.magnetic_azimuth_deg, 2),
        "out_margin_db": _rounded(link.out.budget.margin_db if link.out else None, 2),
        "back_margin_db": _rounded(link.back.budget.margin_db if link.back else None, 2),
        "weaker": "you → them" if link.weaker == "out" else "them → you",
        "line_of_sight": seen.verdict,
        "minimum_fresnel_ratio": _rounded(seen.minimum_fresnel_ratio, 3),
        "limiting_distance_m": _rounded(seen.limiting_distance_m, 1),
        "loss_db": _rounded(loss.loss_db, 2),
        "free_space_db": _rounded(loss.free_space_db, 2),
        "second_opinion_db": _rounded(loss.second_opinion_db, 2),
        "mechanism": loss.mechanism,
    }


def _rounded(value: float | None, decimals: int) -> float | None:
    return None if value is None or not math.isfinite(value) else round(float(value), decimals)


def path_name(contact: Contact) -> str:
    """Both ends, the verdict and its odds."""
    you, them = one_line(contact.you.station.name), one_line(contact.them.station.name)
    return f"{you} → {them}: {contact.link.pair.verdict.text}"


def sight_words(contact: Contact) -> str:
    """Line of sight in a few words."""
    return _SIGHT[contact.reach.sightline.verdict]


def station_words(contact: Contact) -> str:
    """One sentence for the station's waypoint: how far, which way, how sure, in which mode."""
    reach, link = contact.reach, contact.link
    return (
        f"{reach.leg.distance_m / 1000:.1f} km from {one_line(contact.you.station.name)}. "
        f"From there azimuth {_azimuths(reach.from_end)}; from here back {_azimuths(reach.to_end)}. "
        f"{link.pair.verdict.text[0].upper()}{link.pair.verdict.text[1:]}: {MODES[link.mode].label} on "
        f"{reach.frequency_mhz:g} MHz, {sight_words(contact)}."
    )


def _azimuths(end: PathEnd) -> str:
    return f"{_whole_turn(end.magnetic_azimuth_deg)}° magnetic, {_whole_turn(end.azimuth_deg)}° true"


def _whole_turn(azimuth_deg: float) -> str:
    return f"{round(azimuth_deg) % 360:03d}"


def foreword(contacts: tuple[Contact, ...], without: Iterable[NoResult]) -> list[str]:
    """Sentences for the head of a file: what the azimuths mean, who is missing, and the cautions."""
    days = sorted({contact.reach.date.isoformat() for contact in contacts})
    sentences = [f"Magnetic azimuths hold for {', '.join(days)}."] if days else []
    sentences += [f"Not answered: {one_line(one.name)}: {one_line(one.reason)}." for one in without]
    return [*sentences, CONDITIONAL, *CAUTIONS]


class Stop(NamedTuple):
    """A place to put on a map, once, however many paths end there.

    ``kind`` is "site" or "station"; ``contacts`` are the paths from the site or to the station.
    """

    kind: str
    name: str
    end: PathEnd
    contacts: list[Contact]


def stops(contacts: Iterable[Contact]) -> list[Stop]:
    """Sites first, then stations, each in the order of its first path."""
    found: dict[tuple[str, str, float, float], Stop] = {}
    for kind in ("site", "station"):
        for contact in contacts:
            party, end = (
                (contact.you, contact.reach.from_end)
                if kind == "site"
                else (contact.them, contact.reach.to_end)
            )
            name = one_line(party.station.name)
            key = (kind, name, end.location.latitude_deg, end.location.longitude_deg)
            found.setdefault(key, Stop(kind, name, end, [])).contacts.append(contact)
    return list(found.values())
