"""A station known by its locator alone: the link over all of its cell, never at the centre alone."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from pathprofile.errors import LocationError, OutOfRangeError, TerrainGapError
from pathprofile.geodesy import declination
from pathprofile.link.words import odds_text, verdict
from pathprofile.places.location import Location
from pathprofile.terrain.names import square_name
from pathprofile.trip.areas import area_of, dry_points
from pathprofile.trip.links import ModeOdds, choose, link_at, odds_at
from pathprofile.trip.splits import height_split, mean_pair

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from pathprofile.contact import Party
    from pathprofile.geodesy import Declination
    from pathprofile.link.evaluate import Pair
    from pathprofile.terrain.store import TerrainStore
    from pathprofile.trip.areas import GroundPoints
    from pathprofile.trip.links import Equipped, WantedLink
    from pathprofile.trip.splits import HeightSplit
    from pathprofile.trip.terms import Terms

    Floats = npt.NDArray[np.float64]

__all__ = [
    "CellAnswer",
    "CellOdds",
    "CellPoint",
    "Third",
    "cell_odds",
]

_ALIKE = 0.1
"""Chances that differ by no more are told as one."""
_PRIME = 7919
"""Step by which the points of a second area are scattered over those of the first."""


class CellPoint(NamedTuple):
    """One point of the area and the odds from there."""

    latitude_deg: float
    longitude_deg: float
    ground_m: float
    chance: float


@dataclass(frozen=True)
class Third:
    """Odds on a third of the ground, by height: for somebody who lives anywhere on it, equally likely.

    Attributes
    ----------
    from_m, to_m : float
        Its lowest and highest ground [m].
    pair : Pair
        Mean chances over it and their verdict.
    """

    from_m: float
    to_m: float
    pair: Pair


@dataclass(frozen=True)
class CellOdds:
    """The link over an area; arrays have one entry a point.

    Attributes
    ----------
    latitude_deg, longitude_deg, ground_m : ndarray, shape (n,)
        Where the station may be.
    chance, comfortable_chance : ndarray, shape (n,)
        Of the pair, from each point.
    parted : ndarray of bool, shape (n,)
        Where the methods part so far that nothing is called solid.
    pair : Pair
        Mean chances over the area and their verdict.
    second : Pair or None
        The same by the second opinion; None where a point has none.
    apart_db : float or None
        Median over the points of how far the second opinion lies off, without a sign [dB].
    lowest, middle, highest : Third
        Ground of one height belongs to all thirds that it borders on.
    best, worst : CellPoint
    typical_you, typical_them : Location
        Ends of the link whose chance is nearest the median.
    split : HeightSplit or None
        None where the odds are alike, whatever the height.
    notes : tuple of str
        How the points were chosen.
    """

    latitude_deg: Floats
    longitude_deg: Floats
    ground_m: Floats
    chance: Floats
    comfortable_chance: Floats
    parted: npt.NDArray[np.bool_]
    pair: Pair
    second: Pair | None
    apart_db: float | None
    lowest: Third
    middle: Third
    highest: Third
    best: CellPoint
    worst: CellPoint
    typical_you: Location
    typical_them: Location
    split: HeightSplit | None
    notes: tuple[str, ...]

    @property
    def by_height(self) -> bool:
        """Whether the thirds differ in words."""
        return len({third.pair.verdict.text for third in (self.lowest, self.middle, self.highest)}) > 1

    @property
    def alike(self) -> bool:
        """Whether every point has the same verdict, and odds within a tenth."""
        words = {
            verdict(chance, comfortable, may_be_solid=not parted).word
            for chance, comfortable, parted in zip(
                self.chance.tolist(), self.comfortable_chance.tolist(), self.parted.tolist(), strict=True
            )
        }
        return words == {self.pair.verdict.word} and self.best.chance - self.worst.chance <= _ALIKE

    @property
    def text(self) -> str:
        """One verdict where all points are alike, else the thirds; the tenths where thirds are alike."""
        if self.by_height:
            thirds = (self.lowest, self.middle, self.highest)
            return "; ".join(
                f"{name} third ({third.from_m:.0f} to {third.to_m:.0f} m) {third.pair.verdict.text}"
                for name, third in zip(("lowest", "middle", "highest"), thirds, strict=True)
            )
        if self.alike:
            return f"{self.pair.verdict.text} anywhere in the area"
        weakest, best = (odds_text(self._mean_of_tenth(side)) for side in (1, -1))
        return f"{self.pair.verdict.text} on the whole; weakest tenth of the area {weakest}, best {best}"

    def _mean_of_tenth(self, side: int) -> float:
        """Mean chance of the weakest tenth of the points, or of the best with -1."""
        count = max(1, round(0.1 * self.chance.size))
        return float(np.sort(self.chance)[::side][:count].mean())


class CellAnswer(NamedTuple):
    """Odds over an area in the mode chosen, the link from its typical point, and each mode's odds over it.

    ``modes`` has those to choose from, then those beside.
    """

    odds: CellOdds
    typical: WantedLink
    modes: list[ModeOdds]


def cell_odds(
    you: Party,
    them: Party,
    pairs: Sequence[Equipped],
    terrain: TerrainStore,
    terms: Terms,
    beside: Sequence[Equipped] = (),
) -> CellAnswer | str:
    """Work out the link at points all over the area in which a station is known to be.

    Parameters
    ----------
    you, them : Party
        At least one known by an area. Heights of ground are those of TO, or of FROM where TO is a point.
    pairs : sequence of Equipped
        Modes both have, in order of preference.
    terrain : TerrainStore
    terms : Terms
    beside : sequence of Equipped
        Modes whose odds are asked about too, but which are never chosen.

    Returns
    -------
    CellAnswer or str
        The odds in the mode chosen; or the reason why there are none.

    Raises
    ------
    LocationError, OutOfRangeError, TerrainError, TerrainGapError
        Where none of the points, or fewer than half of them, have a path.

    Notes
    -----
    Each point is worked out as if the station stood exactly there, so that no location variability is added.
    Of several modes one is chosen by `choose` on the odds over the whole area. Where both ends are areas
    their points are paired in a fixed scattered order.
    """
    ends = []
    for party in (you, them):
        found = _places(party, terrain, terms.cell_points)
        if isinstance(found, str):
            return found
        ends.append(found)
    ground, notes = _ground_of(ends)
    yours, theirs = _paired([end.parties for end in ends])
    count = len(theirs)

    # over one cell north hardly turns; the typical point gets its own
    norths = _norths(yours[0], theirs[0], terms)
    rows, kept, failed = [], [], []
    for i in range(count):
        try:
            found_here = odds_at(yours[i], theirs[i], [*pairs, *beside], terrain, terms, norths)
            rows.append([_Answer.of(odds) for odds in found_here])
            kept.append(i)
        except (TerrainGapError, LocationError) as error:
            failed.append(error)
    if len(failed) > count // 2:
        raise failed[0]
    if failed:
        notes.append(f"{len(failed)} of {count} points have no path ({failed[0]})")
    modes = [
        ModeOdds(pair.wanted, _mean(answers), _second(answers), _apart_db(answers))
        for pair, answers in zip([*pairs, *beside], zip(*rows, strict=True), strict=True)
    ]
    chosen = choose([odds.pair for odds in modes[: len(pairs)]])
    answers = [row[chosen] for row in rows]
    chances = np.array([answer.chance for answer in answers])
    at = kept[int(np.argmin(np.abs(chances - np.median(chances))))]
    odds = _gathered(ground, answers, kept, (yours[at].location, theirs[at].location), notes)
    return CellAnswer(odds, link_at(yours[at], theirs[at], pairs[chosen], terrain, terms), modes)


def _norths(you: Party, them: Party, terms: Terms) -> tuple[Declination, Declination]:
    ends = (you.location, them.location)
    first, last = (declination(end.latitude_deg, end.longitude_deg, terms.date) for end in ends)
    return first, last


class _Answer(NamedTuple):
    """What is kept of each point's link."""

    chance: float
    comfortable: float
    parted: bool
    second: Pair | None
    apart_db: float | None

    @classmethod
    def of(cls, odds: ModeOdds) -> _Answer:
        agreed = odds.second is not None and odds.second.verdict.word == "solid"
        return cls(
            odds.pair.chance,
            odds.pair.comfortable_chance,
            odds.methods_part and not agreed,
            odds.second,
            odds.apart_db,
        )


class _Places(NamedTuple):
    """A party at each of the points where it may be; ``ground`` is None for a party that is a point."""

    parties: list[Party]
    ground: GroundPoints | None


def _places(party: Party, terrain: TerrainStore, wanted: int) -> _Places | str:
    cell = area_of(party.location)
    if cell is None:
        return _Places([party], None)
    ground = dry_points(cell, terrain, wanted)
    if not ground.ground_m.size:
        return _nowhere_to_live(party, ground)
    label = party.location.label or party.station.name
    at = [
        replace(party, location=Location(float(latitude), float(longitude), label))
        for latitude, longitude in zip(ground.latitude_deg, ground.longitude_deg, strict=True)
    ]
    return _Places(at, ground)


def _nowhere_to_live(party: Party, ground: GroundPoints) -> str:
    location = party.location
    if not ground.water and not ground.steep:
        square = square_name(location.latitude_deg, location.longitude_deg)
        return f"{party.station.name}: no elevation data under {location.text.strip()}; get tile {square}"
    return (
        f"{party.station.name}: no dry and gentle ground at {location.text.strip()} ({ground.water} points "
        f"in water, {ground.steep} on slopes over 30°, {ground.unknown} without a height); check the place"
    )


def _ground_of(ends: list[_Places]) -> tuple[GroundPoints, list[str]]:
    """Ground whose heights are asked about, and how its points were chosen."""
    notes = []
    for end in ends:
        if end.ground is None:
            continue
        count = end.ground.ground_m.size
        left = (
            (end.ground.water, "in water"),
            (end.ground.steep, "too steep"),
            (end.ground.unknown, "without a height"),
        )
        without = "".join(f", {number} {why} left out" for number, why in left if number)
        notes.append(f"{end.parties[0].station.name}: {count} point{'s' * (count > 1)} of the area{without}")
    # An area of one point is paired with every point of the other, whose heights then tell odds apart.
    ground = ends[0].ground if ends[1].ground is None or len(ends[1].parties) == 1 else ends[1].ground
    ground = ground or ends[1].ground
    if ground is None:
        raise OutOfRangeError("both places are points: a link over an area needs a locator")
    return ground, notes


def _paired(sides: list[list[Party]]) -> tuple[list[Party], list[Party]]:
    """Make both lists as long as the one that is asked about; another area's points are scattered over it."""
    yours, theirs = sides
    if len(theirs) == 1:
        return yours, theirs * len(yours)
    return [yours[i * _PRIME % len(yours)] for i in range(len(theirs))], theirs


def _mean(answers: Sequence[_Answer]) -> Pair:
    return mean_pair(
        np.array([answer.chance for answer in answers]),
        np.array([answer.comfortable for answer in answers]),
        np.array([answer.parted for answer in answers]),
    )


def _second(answers: Sequence[_Answer]) -> Pair | None:
    """Odds over the area by the second opinion."""
    seconds = [answer.second for answer in answers if answer.second is not None]
    if len(seconds) < len(answers):
        return None
    return mean_pair(
        np.array([each.chance for each in seconds]),
        np.array([each.comfortable_chance for each in seconds]),
        np.zeros(len(seconds), bool),
    )


def _apart_db(answers: Sequence[_Answer]) -> float | None:
    apart_db = [answer.apart_db for answer in answers if answer.apart_db is not None]
    return float(np.median(apart_db)) if apart_db else None


def _gathered(
    ground: GroundPoints,
    answers: list[_Answer],
    kept: list[int],
    typical: tuple[Location, Location],
    notes: list[str],
) -> CellOdds:
    chance = np.array([answer.chance for answer in answers])
    comfortable = np.array([answer.comfortable for answer in answers])
    parted = np.array([answer.parted for answer in answers])
    latitude, longitude, height_m = (
        part[kept] for part in (ground.latitude_deg, ground.longitude_deg, ground.ground_m)
    )

    def point(index: int) -> CellPoint:
        return CellPoint(
            float(latitude[index]), float(longitude[index]), float(height_m[index]), float(chance[index])
        )

    def third(inside: npt.NDArray[np.bool_]) -> Third:
        return Third(
            float(height_m[inside].min()),
            float(height_m[inside].max()),
            mean_pair(chance[inside], comfortable[inside], parted[inside]),
        )

    ranked = np.sort(height_m)
    low_m, high_m = ranked[(ranked.size - 1) // 3], ranked[ranked.size - 1 - (ranked.size - 1) // 3]
    return CellOdds(
        latitude_deg=latitude,
        longitude_deg=longitude,
        ground_m=height_m,
        chance=chance,
        comfortable_chance=comfortable,
        parted=parted,
        pair=mean_pair(chance, comfortable, parted),
        second=_second(answers),
        apart_db=_apart_db(answers),
        lowest=third(height_m <= low_m),
        middle=third((height_m >= low_m) & (height_m <= high_m)),
        highest=third(height_m >= high_m),
        best=point(int(np.argmax(chance))),
        worst=point(int(np.argmin(chance))),
        typical_you=typical[0],
        typical_them=typical[1],
        split=height_split(height_m, chance, comfortable, parted),
        notes=tuple(notes),
    )
