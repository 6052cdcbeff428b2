"""From one site every station, or from every site one station: best odds first."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from pathprofile.trip.inquiries import most_decisive
from pathprofile.trip.pairs import PairDesk, PairTask

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from pathprofile.contact import Party
    from pathprofile.link.words import VerdictWord
    from pathprofile.terrain.store import TerrainStore
    from pathprofile.trip.answer import PairAnswer
    from pathprofile.trip.inquiries import Inquiry
    from pathprofile.trip.pairs import Picture, Progress
    from pathprofile.trip.terms import Terms

__all__ = ["Ranking", "inquiries_of", "rank", "rank_sites", "ranked"]

_ORDER: Mapping[VerdictWord, int] = {"solid": 0, "workable": 1, "marginal": 2, "unlikely": 3}
_DIRECTION_ONLY, _FAILED = 4, 5


@dataclass(frozen=True)
class Ranking:
    """Answers in order of their odds.

    Attributes
    ----------
    of : str
        The site from which all stations were asked for, or the station for which all sites were.
    rows : tuple of PairAnswer
        By verdict, chance, distance and name; then those with a direction and no verdict; then those that
        failed. Those two carry their reason.
    inquiries : tuple of Inquiry
        The most decisive questions, at most three.
    """

    of: str
    rows: tuple[PairAnswer, ...]
    inquiries: tuple[Inquiry, ...]

    @property
    def in_reach(self) -> tuple[PairAnswer, ...]:
        """Rows that are workable or better."""
        return tuple(row for row in self.rows if row.in_reach)


def rank(
    site: Party,
    stations: Sequence[Party],
    terrain: TerrainStore,
    terms: Terms,
    *,
    workers: int = 1,
    progress: Progress | None = None,
    picture: Picture | None = None,
    desk: PairDesk | None = None,
) -> Ranking:
    """Rank stations by the odds of a contact from one site.

    Parameters
    ----------
    site : Party
        You.
    stations : sequence of Party
        Known by points or by locators.
    terrain : TerrainStore
    terms : Terms
        What is wanted, and how much.
    workers, progress, picture
        As for `pathprofile.trip.pairs.run_pairs`.
    desk : PairDesk, optional
        One that is open already, in place of ``workers`` and ``picture``.

    Returns
    -------
    Ranking
        One row a station, failures included.
    """
    tasks = [PairTask(site, station) for station in stations]
    answers = _asked(tasks, terrain, terms, workers, progress, picture, desk)
    return Ranking(site.station.name, ranked(answers), inquiries_of(answers, terms))


def rank_sites(
    station: Party,
    sites: Sequence[Party],
    terrain: TerrainStore,
    terms: Terms,
    *,
    workers: int = 1,
    progress: Progress | None = None,
    picture: Picture | None = None,
    desk: PairDesk | None = None,
) -> Ranking:
    """Rank sites by the odds of a contact with one station: which summits can this home reach.

    Parameters
    ----------
    station : Party
        At home.
    sites : sequence of Party
        You, at each of the sites.
    terrain, terms, workers, progress, picture, desk
        As for `rank`.

    Returns
    -------
    Ranking
        One row a site. You are at the site in every row; azimuths at the home are the back azimuths.
    """
    tasks = [PairTask(site, station) for site in sites]
    answers = _asked(tasks, terrain, terms, workers, progress, picture, desk)
    return Ranking(station.station.name, ranked(answers, by_site=True), inquiries_of(answers, terms))


def ranked(answers: Iterable[PairAnswer], *, by_site: bool = False) -> tuple[PairAnswer, ...]:
    """Put answers into the order of `Ranking.rows`, whatever order they come in."""

    def key(row: PairAnswer) -> tuple[int, float, float, str]:
        distance_m = row.directions.distance_m if row.directions else float("inf")
        name = row.you if by_site else row.them
        if row.verdict is not None:
            return _ORDER[row.verdict.word], -row.chance, distance_m, name
        vague = any(inquiry.about == "place" for inquiry in row.inquiries)
        return (_DIRECTION_ONLY if vague else _FAILED), 0.0, distance_m, name

    return tuple(sorted(answers, key=key))


def inquiries_of(answers: Iterable[PairAnswer], terms: Terms) -> tuple[Inquiry, ...]:
    """Most decisive questions of many answers, weighted by how much each station is wanted."""
    return most_decisive((terms.weight(row.them), each) for row in answers for each in row.inquiries)


def _asked(
    tasks: Sequence[PairTask],
    terrain: TerrainStore,
    terms: Terms,
    workers: int,
    progress: Progress | None,
    picture: Picture | None,
    desk: PairDesk | None,
) -> list[PairAnswer]:
    if desk is not None:
        return desk.answer(tasks, progress=progress)
    with PairDesk(terrain, terms, workers=workers, picture=picture) as own:
        return own.answer(tasks, progress=progress)
