"""One pair in the modes wanted: equipped once, the ground read once, the mode chosen."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

from pathprofile.contact import path_facts, path_over, spread_over, stated_clutter, survey_between
from pathprofile.link.chance import time_spread
from pathprofile.link.ends import End, equip_pair
from pathprofile.link.evaluate import PARTING_DB, evaluate, pair_odds
from pathprofile.link.fitting import what_it_has

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from pathprofile.contact import Party
    from pathprofile.geodesy import Declination
    from pathprofile.link.chance import Spread, TimeSpread
    from pathprofile.link.evaluate import Link, Pair
    from pathprofile.link.path import PathFacts
    from pathprofile.reach import GroundOptions, Reach, Survey
    from pathprofile.terrain.store import TerrainStore
    from pathprofile.trip.terms import Terms, Wanted

__all__ = [
    "Equipped",
    "ModeOdds",
    "WantedLink",
    "choose",
    "equipped",
    "link_at",
    "links_at",
    "odds_at",
    "options_for",
    "serves",
]

_SERVING = ("solid", "workable")


@dataclass(frozen=True)
class Equipped:
    """Both ends in a mode that both have."""

    wanted: Wanted
    you: End
    them: End


@dataclass(frozen=True)
class WantedLink:
    """The answer in one mode wanted."""

    wanted: Wanted
    reach: Reach
    link: Link


class ModeOdds(NamedTuple):
    """A mode and its odds; over an area, those of all of it.

    ``second`` is the pair under the second opinion, ``apart_db`` how far that lies off, without a sign [dB].
    """

    wanted: Wanted
    pair: Pair
    second: Pair | None = None
    apart_db: float | None = None

    @classmethod
    def of(cls, found: WantedLink) -> ModeOdds:
        """Odds of a link between two points."""
        link = found.link
        apart_db = None if link.disagreement_db is None else abs(link.disagreement_db)
        return cls(found.wanted, link.pair, link.second, apart_db)

    @property
    def methods_part(self) -> bool:
        """Whether the second opinion lies more than 15 dB off; over an area, in the middle of its points."""
        return self.apart_db is not None and self.apart_db > PARTING_DB


def serves(pair: Pair) -> bool:
    """Whether a pair is workable or better."""
    return pair.verdict.word in _SERVING


def equipped(you: Party, them: Party, terms: Terms) -> list[Equipped] | str:
    """Both ends in every mode wanted that both have, or the reason why there is none."""
    found = []
    for wanted in terms.wanted:
        one, other = equip_pair(
            you.station,
            them.station,
            wanted.frequency_mhz,
            wanted.mode,
            unstated_surroundings=(you.unstated, them.unstated),
        )
        if isinstance(one, End) and isinstance(other, End):
            if one.receive_only and other.receive_only:
                return f"neither {one.station} nor {other.station} answers"
            found.append(Equipped(wanted, one, other))
    return found or f"no mode wanted in common: {what_it_has(you.station)}; {what_it_has(them.station)}"


def link_at(
    you: Party,
    them: Party,
    pair: Equipped,
    terrain: TerrainStore,
    terms: Terms,
) -> WantedLink:
    """Link between two places in one mode; see `links_at`."""
    return links_at(you, them, [pair], terrain, terms)[0]


def links_at(
    you: Party,
    them: Party,
    pairs: Sequence[Equipped],
    terrain: TerrainStore,
    terms: Terms,
) -> list[WantedLink]:
    """Links between two places in several modes, over ground read once.

    Parameters
    ----------
    you, them : Party
        Where both are.
    pairs : sequence of Equipped
        What both use.
    terrain : TerrainStore
    terms : Terms

    Returns
    -------
    list of WantedLink
        One for each of ``pairs``.

    Raises
    ------
    LocationError, OutOfRangeError, TerrainError, TerrainGapError
        As for `pathprofile.contact.contact`.
    """
    found = []
    for pair, path in _paths(you, them, pairs, terrain, terms, None):
        link = evaluate(pair.you, pair.them, path.facts, spread=_spread(pair, path, terms))
        found.append(WantedLink(pair.wanted, path.reach, link))
    return found


def odds_at(
    you: Party,
    them: Party,
    pairs: Sequence[Equipped],
    terrain: TerrainStore,
    terms: Terms,
    norths: tuple[Declination, Declination],
) -> list[ModeOdds]:
    """Odds of `links_at` alone, which is quicker: for one point of many.

    ``norths`` is the declination at both ends; the rest, and what is raised, as for `links_at`.
    """
    found = []
    for pair, path in _paths(you, them, pairs, terrain, terms, norths):
        apart_db = path.facts.disagreement_db
        odds = pair_odds(pair.you, pair.them, path.facts, _spread(pair, path, terms), path.time)
        found.append(ModeOdds(pair.wanted, *odds, None if apart_db is None else abs(apart_db)))
    return found


class _Path(NamedTuple):
    """A path and what all modes that ask the same of it share."""

    reach: Reach
    facts: PathFacts
    time: TimeSpread


def _spread(pair: Equipped, path: _Path, terms: Terms) -> Spread:
    return terms.spread or spread_over(pair.you, pair.them, path.reach)


def _paths(
    you: Party,
    them: Party,
    pairs: Sequence[Equipped],
    terrain: TerrainStore,
    terms: Terms,
    norths: tuple[Declination, Declination] | None,
) -> Iterator[tuple[Equipped, _Path]]:
    """Path of every mode; with ``norths`` for its odds alone."""
    options = options_for(you, them, terms)
    read: dict[tuple[object, ...], Survey] = {}
    paths: dict[tuple[object, ...], _Path] = {}
    for pair in pairs:
        ends = (pair.you, pair.them)
        # what is assumed round an end is no roof over the path, what is stated is
        round_them = tuple((end.surroundings, stated_clutter(end)) for end in ends)
        if round_them not in read:
            read[round_them] = survey_between(
                you, them, ends, terrain, date=terms.date, options=options, norths=norths
            )
        # modes of one set-up ask the same of the path
        asked = (
            *round_them,
            pair.wanted.frequency_mhz,
            pair.you.height_m,
            pair.them.height_m,
            pair.you.polarization,
        )
        if asked not in paths:
            reach = path_over(
                read[round_them],
                pair.you,
                pair.them,
                atmosphere=terms.atmosphere,
                surroundings=terms.surroundings,
                odds_only=norths is not None,
            )
            facts = path_facts(reach)
            paths[asked] = _Path(reach, facts, time_spread(facts.time_losses_db, facts.loss_db))
        yield pair, paths[asked]


def choose(odds: Sequence[Pair]) -> int:
    """Index of the mode to use: the first that is workable or better, else the likeliest.

    Parameters
    ----------
    odds : sequence of Pair
        In order of preference, at least one.

    Returns
    -------
    int
        Of two alike the one preferred.
    """
    for index, pair in enumerate(odds):
        if serves(pair):
            return index
    return max(range(len(odds)), key=lambda index: (odds[index].chance, -index))


def options_for(you: Party, them: Party, terms: Terms) -> GroundOptions:
    """Ground stated for a place by name."""
    stated = [terms.ground_m.get(party.station.name) for party in (you, them)]
    return replace(
        terms.options,
        from_ground_m=terms.options.from_ground_m if stated[0] is None else stated[0],
        to_ground_m=terms.options.to_ground_m if stated[1] is None else stated[1],
    )
