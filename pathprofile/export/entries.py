"""What every export says of an answer: the same facts, words and places in each format.

Answers come as whole contacts, as rows of a ranking or comparison, or as names without an answer; here they
become entries, and the formats know only those.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

from pathprofile.contact import Contact
from pathprofile.export.text import one_line
from pathprofile.link.cautions import CAUTIONS, CONDITIONAL
from pathprofile.link.words import odds_text
from pathprofile.station.catalogue import MODES
from pathprofile.trip.answer import PairAnswer, PathFigures, what_limits
from pathprofile.trip.areas import area_of, direction_span

if TYPE_CHECKING:
    from collections.abc import Iterable
    from typing import TypeAlias

    from pathprofile.link.evaluate import Pair
    from pathprofile.places import Location
    from pathprofile.reach import Aim
    from pathprofile.trip.answer import Directions

    Answer: TypeAlias = "Contact | PairAnswer | NoResult"
    Answers: TypeAlias = "Answer | Iterable[Answer]"

__all__ = ["FACTS", "Entry", "Fact", "Mark", "NoResult", "Stop", "entries", "foreword", "stops"]

Fact = float | str | None

FACTS = (
    "site",
    "station",
    "date",
    "frequency_mhz",
    "mode",
    "verdict",
    "odds",
    "chance",
    "comfortable_chance",
    "second_verdict",
    "second_chance",
    "methods_part_db",
    "distance_m",
    "azimuth_deg",
    "magnetic_azimuth_deg",
    "back_azimuth_deg",
    "magnetic_back_azimuth_deg",
    "out_margin_db",
    "back_margin_db",
    "weaker",
    "limits",
    "line_of_sight",
    "minimum_fresnel_ratio",
    "limiting_distance_m",
    "loss_db",
    "free_space_db",
    "second_opinion_db",
    "mechanism",
    "notes",
    "reason",
    "area",
    "nearest_m",
    "farthest_m",
    "lowest_third_chance",
    "highest_third_chance",
    "worst_chance",
    "best_chance",
)
"""Keys of the facts of every entry, the unit in the key; None where a fact is not known.

``methods_part_db`` is stated only where the methods part by more than 15 dB; ``odds`` then has both verdicts.
From ``area`` on facts are stated for a place known by an area only. Its point on the map is a typical one, to
which the path leads; distance and azimuths are those of its middle.
"""


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


class Mark(NamedTuple):
    """An obstacle on the map."""

    latitude_deg: float
    longitude_deg: float
    distance_m: float
    ground_m: float
    clearance_m: float
    radius_m: float
    nu: float


@dataclass(frozen=True)
class Entry:
    """One answer, ready for any format; names and sentences are fit for a file.

    Attributes
    ----------
    facts : dict of str to float, str or None
        By the keys of `FACTS`.
    site_at, station_at : Location or None
    site_ground_m, station_ground_m : float or None
    words : tuple of str
        Sentences on the path.
    marks : tuple of Mark
        Obstacles.
    """

    facts: dict[str, Fact]
    site_at: Location | None = None
    station_at: Location | None = None
    site_ground_m: float | None = None
    station_ground_m: float | None = None
    words: tuple[str, ...] = ()
    marks: tuple[Mark, ...] = ()

    @property
    def site(self) -> str:
        """Name of the site; empty if none was said."""
        return str(self.facts["site"] or "")

    @property
    def station(self) -> str:
        """Name of the station."""
        return str(self.facts["station"] or "")

    @property
    def verdict(self) -> str | None:
        """Verdict in a word; None without an answer."""
        return None if self.facts["verdict"] is None else str(self.facts["verdict"])

    @property
    def title(self) -> str:
        """Both ends, the verdict and its odds."""
        return f"{self.site} → {self.station}: {self.facts['odds'] or 'no answer'}"

    @property
    def station_words(self) -> str:
        """For the station's place on a map: how far, which way, how sure, in which mode; or why not."""
        facts, told = self.facts, []
        if facts["area"] is not None:
            told.append(f"{facts['area']}.")
        if facts["distance_m"] is not None:
            told.append(
                f"{self._how_far()}. "
                f"From there azimuth {self._azimuths('')}; from here back {self._azimuths('back_')}."
            )
        if facts["odds"] is not None:
            limits = f", {facts['limits']}" if facts["limits"] else ""
            mode = MODES[str(facts["mode"])].label
            told.append(
                f"{_capital(str(facts['odds']))}: {mode} on {_number(facts['frequency_mhz']):g} MHz{limits}."
            )
        if facts["lowest_third_chance"] is not None:
            low, high = (
                odds_text(_number(facts[f"{which}_third_chance"])) for which in ("lowest", "highest")
            )
            told.append(f"On the lowest third of its ground {low}, on the highest {high}.")
        if facts["reason"] is not None:
            told.append(f"No answer: {facts['reason']}")
        return " ".join(told)

    def _how_far(self) -> str:
        km = _number(self.facts["distance_m"]) / 1000
        whole = self.facts["area"] is not None
        return f"{km:.0f} km from {self.site} to its middle" if whole else f"{km:.1f} km from {self.site}"

    def _azimuths(self, way: str) -> str:
        magnetic, true = (self.facts[f"{name}azimuth_deg"] for name in (f"magnetic_{way}", way))
        return f"{_whole_turn(magnetic)}° magnetic, {_whole_turn(true)}° true"


def entries(answers: Answers) -> tuple[Entry, ...]:
    """Entries of one answer or many, in their order."""
    if isinstance(answers, Contact | PairAnswer | NoResult):
        answers = (answers,)
    return tuple(_entry(answer) for answer in answers)


def _entry(answer: Answer) -> Entry:
    if isinstance(answer, Contact):
        return _of_contact(answer)
    return _of_pair(answer) if isinstance(answer, PairAnswer) else _of_missing(answer)


def _of_contact(contact: Contact) -> Entry:
    reach, link = contact.reach, contact.link
    known: dict[str, Fact] = {
        "site": contact.you.station.name,
        "station": contact.them.station.name,
        "date": reach.date.isoformat(),
        "frequency_mhz": reach.frequency_mhz,
        "mode": link.mode,
        "verdict": link.pair.verdict.word,
        "odds": link.verdict_text,
        "chance": _rounded(link.pair.chance, 3),
        "comfortable_chance": _rounded(link.pair.comfortable_chance, 3),
        "out_margin_db": _rounded(link.out.budget.margin_db if link.out else None, 2),
        "back_margin_db": _rounded(link.back.budget.margin_db if link.back else None, 2),
        "weaker": "you → them" if link.weaker == "out" else "them → you",
        "limits": what_limits(reach),
        "notes": " ".join(reach.warnings),
    }
    known |= _ways(contact.aim) | _path(PathFigures.of(reach))
    known |= _second(link.methods_part, link.second, link.disagreement_db)
    marks = []
    for obstacle in reach.obstacles.kept:
        place = reach.place_at(obstacle.distance_m)
        marks.append(
            Mark(
                place.latitude_deg,
                place.longitude_deg,
                round(obstacle.distance_m, 1),
                round(obstacle.top_m, 1),
                round(obstacle.clearance_m, 1),
                round(obstacle.radius_m, 1),
                round(obstacle.nu, 3),
            )
        )
    known |= _area_facts(contact.you.location, contact.them.location)
    return Entry(
        _complete(known),
        _within(reach.from_end.location, contact.you.location),
        _within(reach.to_end.location, contact.them.location),
        reach.from_end.ground_m,
        reach.to_end.ground_m,
        tuple(map(one_line, (link.who_hears_whom, f"{_capital(what_limits(reach))}.", *reach.warnings))),
        tuple(marks),
    )


def _of_pair(answer: PairAnswer) -> Entry:
    known: dict[str, Fact] = {
        "site": answer.you,
        "station": answer.them,
        "date": None if answer.date is None else answer.date.isoformat(),
        "out_margin_db": _rounded(answer.out_margin_db, 2),
        "back_margin_db": _rounded(answer.back_margin_db, 2),
        "weaker": answer.weaker,
        "limits": answer.limits,
        "notes": " ".join(answer.notes),
        "reason": answer.reason,
    }
    if answer.mode is not None:
        known |= {"frequency_mhz": answer.mode.frequency_mhz, "mode": answer.mode.mode}
    if answer.pair is not None:
        known |= {
            "verdict": answer.pair.verdict.word,
            "odds": answer.verdict_text,
            "chance": _rounded(answer.pair.chance, 3),
            "comfortable_chance": _rounded(answer.pair.comfortable_chance, 3),
        }
    if answer.directions is not None:
        known |= _ways(answer.directions)
    if answer.path is not None:
        known |= _path(answer.path)
    known |= _second(answer.methods_part, answer.second, answer.apart_db)
    stated = (answer.you_known or answer.you_at, answer.them_known or answer.them_at)
    known |= _area_facts(*stated)
    if answer.cell is not None:
        known |= {
            "lowest_third_chance": _rounded(answer.cell.lowest.pair.chance, 3),
            "highest_third_chance": _rounded(answer.cell.highest.pair.chance, 3),
            "worst_chance": _rounded(answer.cell.worst.chance, 3),
            "best_chance": _rounded(answer.cell.best.chance, 3),
        }
    words = [str(known.get("area") or ""), answer.who_hears_whom, *answer.notes]
    return Entry(
        _complete(known),
        _within(answer.you_at, stated[0]),
        _within(answer.them_at, stated[1]),
        words=tuple(one_line(text) for text in words if text),
    )


def _ways(ways: Aim | Directions) -> dict[str, Fact]:
    """How far and which way; of an area, to its middle."""
    return {
        "distance_m": _rounded(ways.distance_m, 1),
        "azimuth_deg": _rounded(ways.azimuth_deg, 2),
        "magnetic_azimuth_deg": _rounded(ways.magnetic_azimuth_deg, 2),
        "back_azimuth_deg": _rounded(ways.back_azimuth_deg, 2),
        "magnetic_back_azimuth_deg": _rounded(ways.back_magnetic_azimuth_deg, 2),
    }


def _path(path: PathFigures) -> dict[str, Fact]:
    return {
        "line_of_sight": path.line_of_sight,
        "minimum_fresnel_ratio": _rounded(path.minimum_fresnel_ratio, 3),
        "limiting_distance_m": _rounded(path.limiting_distance_m, 1),
        "loss_db": _rounded(path.loss_db, 2),
        "free_space_db": _rounded(path.free_space_db, 2),
        "second_opinion_db": _rounded(path.second_opinion_db, 2),
        "mechanism": path.mechanism,
    }


def _second(methods_part: bool, second: Pair | None, apart_db: float | None) -> dict[str, Fact]:
    """Second verdict, and how far the methods part where they do."""
    return {
        "second_verdict": None if second is None else second.verdict.word,
        "second_chance": None if second is None else _rounded(second.chance, 3),
        "methods_part_db": _rounded(abs(apart_db), 1) if methods_part and apart_db is not None else None,
    }


def _area_facts(you: Location, them: Location) -> dict[str, Fact]:
    """Say of a place that is no point where it may be, how near and how far."""
    vague = them if area_of(them) is not None else you if area_of(you) is not None else None
    span = direction_span(you, them)
    if vague is None or span is None:
        return {}
    shape = "square" if vague.cell is not None else "area"
    written = f" ({one_line(vague.text)})" if vague.text.strip() else ""
    which = "The station" if vague is them else "The site"
    return {
        "area": f"{which} is somewhere in this {shape}{written}, ±{vague.uncertainty_m / 1000:.1f} km, "
        f"not at the point shown: {span.text}",
        "nearest_m": _rounded(span.nearest_m, 0),
        "farthest_m": _rounded(span.farthest_m, 0),
    }


def _within(point: Location, stated: Location) -> Location:
    """Typical point of an area, known no better than the area."""
    if area_of(stated) is None:
        return point
    uncertainty_m = max(point.uncertainty_m, stated.uncertainty_m)
    return replace(point, uncertainty_m=uncertainty_m, cell=stated.cell)


def _of_missing(missing: NoResult) -> Entry:
    known: dict[str, Fact] = {"site": missing.site, "station": missing.name, "reason": missing.reason}
    return Entry(_complete(known), station_at=missing.location)


def _complete(known: dict[str, Fact]) -> dict[str, Fact]:
    """All keys of `FACTS`, texts on one line and empty ones as None."""
    return {
        key: (one_line(value) or None) if isinstance(value, str) else value
        for key, value in ((key, known.get(key)) for key in FACTS)
    }


def _rounded(value: float | None, decimals: int) -> float | None:
    """As many digits as the figure is worth."""
    return None if value is None or not math.isfinite(value) else round(float(value), decimals)


def _number(fact: Fact) -> float:
    return float(fact) if fact is not None else math.nan


def _whole_turn(azimuth_deg: Fact) -> str:
    return f"{round(_number(azimuth_deg)) % 360:03d}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def foreword(found: Iterable[Entry]) -> list[str]:
    """Sentences for the head of a file: what the azimuths mean, who has no place in it, and the cautions."""
    found = tuple(found)
    days = sorted({str(entry.facts["date"]) for entry in found} - {"None"})
    told = [f"Magnetic azimuths hold for {', '.join(days)}."] if days else []
    told += [
        f"Not answered: {entry.station}: {entry.facts['reason']}."
        for entry in found
        if entry.station_at is None
    ]
    return [*told, CONDITIONAL, *CAUTIONS]


class Stop(NamedTuple):
    """A place to put on a map, once, however many paths end there.

    ``kind`` is "site" or "station"; ``entries`` are those from the site or to the station.
    """

    kind: str
    name: str
    where: Location
    ground_m: float | None
    entries: list[Entry]

    @property
    def words(self) -> list[str]:
        """Sentences for a station, titles of the paths for a site."""
        return [entry.title if self.kind == "site" else entry.station_words for entry in self.entries]


def stops(found: Iterable[Entry]) -> list[Stop]:
    """Sites first, then stations, each in the order of its first entry."""
    found = tuple(found)
    known: dict[tuple[str, str, float, float], Stop] = {}
    for kind in ("site", "station"):
        for entry in found:
            name, where, ground_m = (
                (entry.site, entry.site_at, entry.site_ground_m)
                if kind == "site"
                else (entry.station, entry.station_at, entry.station_ground_m)
            )
            if where is not None:
                key = (kind, name, where.latitude_deg, where.longitude_deg)
                known.setdefault(key, Stop(kind, name, where, ground_m, [])).entries.append(entry)
    return list(known.values())
