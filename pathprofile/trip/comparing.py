"""Sites against stations: who reaches whom, and which site to drive to."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pathprofile.errors import OutOfRangeError
from pathprofile.link.words import odds_text
from pathprofile.trip.pairs import PairDesk, PairTask
from pathprofile.trip.ranking import inquiries_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pathprofile.contact import Party
    from pathprofile.terrain.store import TerrainStore
    from pathprofile.trip.answer import PairAnswer
    from pathprofile.trip.inquiries import Inquiry
    from pathprofile.trip.pairs import Picture, Progress
    from pathprofile.trip.terms import Terms

__all__ = ["Comparison", "SiteScore", "compare", "scores"]

_NAMED = 3
_NEAR = 0.05


@dataclass(frozen=True)
class SiteScore:
    """How a site does.

    Attributes
    ----------
    site : str
    reached : tuple of str
        Stations workable or better from here, in the order given.
    reached_weight : float
        Their weights together.
    worst_chance : float
        Least chance from here among the stations that any of the sites reaches; 0 where none does.
    only_here : tuple of str
        Stations that no other site reaches.
    only_weight : float
        Their weights together.
    expected_weight : float
        Sum of weight times chance over all stations.
    answered : int
        Pairs that have a verdict.
    doubtful : tuple of str
        Those of ``reached`` that one of two methods which part has out of reach.
    doubtful_weight : float
        Their weights together.
    """

    site: str
    reached: tuple[str, ...]
    reached_weight: float
    worst_chance: float
    only_here: tuple[str, ...]
    only_weight: float
    expected_weight: float
    answered: int
    doubtful: tuple[str, ...] = ()
    doubtful_weight: float = 0.0


@dataclass(frozen=True)
class Comparison:
    """Sites against stations.

    Attributes
    ----------
    sites, stations : tuple of str
        Rows and columns, in the order given.
    matrix : tuple of tuple of PairAnswer
        ``matrix[row][column]``.
    scores : tuple of SiteScore
        Best first.
    wanted_weight : float
        Weights of all wanted stations together: the most that a site can have.
    pick : str
        The site to drive to.
    sentence : str
        The pick, for whom, and what is lost, in one sentence.
    notes : tuple of str
        What the pick hangs on.
    inquiries : tuple of Inquiry
        The most decisive questions, at most three.
    """

    sites: tuple[str, ...]
    stations: tuple[str, ...]
    matrix: tuple[tuple[PairAnswer, ...], ...]
    scores: tuple[SiteScore, ...]
    wanted_weight: float
    pick: str
    sentence: str
    notes: tuple[str, ...]
    inquiries: tuple[Inquiry, ...]


def compare(
    sites: Sequence[Party],
    stations: Sequence[Party],
    terrain: TerrainStore,
    terms: Terms,
    *,
    workers: int = 1,
    progress: Progress | None = None,
    picture: Picture | None = None,
    desk: PairDesk | None = None,
) -> Comparison:
    """Work out every station from every site and pick a site.

    Parameters
    ----------
    sites : sequence of Party
        You, at each of the sites.
    stations : sequence of Party
        Known by points or by locators.
    terrain : TerrainStore
    terms : Terms
        What is wanted, and how much; a station of weight 0 is shown and does not count.
    workers, progress, picture, desk
        As for `pathprofile.trip.ranking.rank`.

    Returns
    -------
    Comparison

    Raises
    ------
    OutOfRangeError
        Without a site or a station, or with two sites or two stations of one name.

    Notes
    -----
    Sites are ordered by

    1. the weight of the stations that are workable or better;
    2. of equals, the better worst case: the least chance among the stations that any site reaches;
    3. then the weight of the stations that no other site reaches;
    4. then the expected weight of contacts, Σ weight · chance; then the name.

    More weight for a station never favours a site from which its verdict is worse. Where the expected weight
    speaks for another site, a note says so.
    """
    for what, parties in (("site", sites), ("station", stations)):
        names = [party.station.name for party in parties]
        if not names:
            raise OutOfRangeError(f"nothing to compare: give at least one {what}")
        twice, count = Counter(names).most_common(1)[0]
        if count > 1:
            raise OutOfRangeError(f"two {what}s are called {twice!r}: give each a name of its own")
    tasks = [PairTask(site, station) for site in sites for station in stations]
    if desk is not None:
        answers = desk.answer(tasks, progress=progress)
    else:
        with PairDesk(terrain, terms, workers=workers, picture=picture) as own:
            answers = own.answer(tasks, progress=progress)
    width = len(stations)
    matrix = tuple(tuple(answers[row * width : (row + 1) * width]) for row in range(len(sites)))
    ordered = scores(matrix, terms)
    return Comparison(
        sites=tuple(party.station.name for party in sites),
        stations=tuple(party.station.name for party in stations),
        matrix=matrix,
        scores=ordered,
        wanted_weight=_wanted_weight(matrix, terms),
        pick=ordered[0].site,
        sentence=_sentence(matrix, ordered, terms),
        notes=tuple(_notes(matrix, ordered, terms)),
        inquiries=inquiries_of(answers, terms),
    )


def scores(matrix: Sequence[Sequence[PairAnswer]], terms: Terms) -> tuple[SiteScore, ...]:
    """Score sites, best first, by the criteria of `compare`.

    Parameters
    ----------
    matrix : sequence of sequence of PairAnswer
        A row a site.
    terms : Terms
        Weights.

    Returns
    -------
    tuple of SiteScore
    """
    columns = [column for column in range(len(matrix[0])) if terms.weight(matrix[0][column].them) > 0.0]
    reachable = [column for column in columns if any(row[column].in_reach for row in matrix)]
    found = []
    for row in matrix:
        here = [row[column] for column in columns if row[column].in_reach]
        doubtful = [each for each in here if each.in_doubt]
        only = [
            row[column]
            for column in reachable
            if row[column].in_reach and sum(other[column].in_reach for other in matrix) == 1
        ]
        found.append(
            SiteScore(
                site=row[0].you,
                reached=tuple(each.them for each in here),
                reached_weight=sum(terms.weight(each.them) for each in here),
                worst_chance=min((row[column].chance for column in reachable), default=0.0),
                only_here=tuple(each.them for each in only),
                only_weight=sum(terms.weight(each.them) for each in only),
                expected_weight=sum(terms.weight(row[c].them) * row[c].chance for c in columns),
                answered=sum(each.pair is not None for each in row),
                doubtful=tuple(each.them for each in doubtful),
                doubtful_weight=sum(terms.weight(each.them) for each in doubtful),
            )
        )
    return tuple(
        sorted(
            found,
            key=lambda s: (-s.reached_weight, -s.worst_chance, -s.only_weight, -s.expected_weight, s.site),
        )
    )


def _wanted_weight(matrix: Sequence[Sequence[PairAnswer]], terms: Terms) -> float:
    return sum(terms.weight(each.them) for each in matrix[0])


def _sentence(matrix: Sequence[Sequence[PairAnswer]], ordered: Sequence[SiteScore], terms: Terms) -> str:
    best, rest = ordered[0], ordered[1:]
    wanted = sum(terms.weight(each.them) > 0.0 for each in matrix[0])
    if not best.reached:
        row = next(row for row in matrix if row[0].you == best.site)
        likely = max(row, key=lambda each: each.chance)
        if likely.verdict is None:
            return f"No site has a verdict for any wanted station: {likely.reason}."
        alone = "" if rest else " alone"
        return (
            f"{best.site}{alone} comes nearest, though no wanted station is within reach: "
            f"{likely.them} is {likely.verdict_text}."
        )
    count = len(best.reached)
    text = f"{best.site}: {count} of {wanted} wanted station{'s' * (wanted != 1)} within reach"
    weighted = any(terms.weight(each.them) not in {0.0, 1.0} for each in matrix[0])
    if weighted:
        text += f" (weight {best.reached_weight:g})"
    if rest:
        second = rest[0]
        figure = f"{len(second.reached)}" + (f" (weight {second.reached_weight:g})" if weighted else "")
        if second.reached_weight < best.reached_weight:
            text += f" against {figure} from {second.site}"
        else:
            same = ", the same as" if len(second.reached) == len(best.reached) else f" against {figure}"
            text += f"{same} from {second.site}, {_better_in(best, second)}"
        if best.only_here:
            text += f"; only it reaches {_listed(best.only_here)}"
    named = set(best.reached)
    parts = []
    for site in rest:
        lost = tuple(station for station in site.reached if station not in named)
        named.update(lost)
        if lost:
            parts.append(f"{_listed(lost)} (from {site.site})")
    if parts:
        text += f"; you lose {' and '.join(parts)}"
    elif rest:
        text += "; you lose nobody"
    return text + "."


def _apart(ahead: float, behind: float) -> str:
    """Two figures, with a second decimal where one does not tell them apart."""
    decimals = 1 if f"{ahead:.1f}" != f"{behind:.1f}" else 2
    return f"{ahead:.{decimals}f} to {behind:.{decimals}f}"


def _better_in(best: SiteScore, second: SiteScore) -> str:
    """Say which criterion told two sites with the same stations apart."""
    if best.worst_chance > second.worst_chance:
        least, lesser = odds_text(best.worst_chance), odds_text(second.worst_chance)
        figures = "" if least == lesser else f": {least} against {lesser}"
        return f"but with better odds for the hardest of those that any site reaches{figures}"
    if best.only_weight > second.only_weight:
        return "but more that no other site reaches"
    if best.expected_weight > second.expected_weight:
        return "but with the better odds in all"
    return "and as good: take the easier road"


def _listed(names: tuple[str, ...]) -> str:
    if len(names) > _NAMED:
        return f"{', '.join(names[:_NAMED])} and {len(names) - _NAMED} more"
    return " and ".join(filter(None, [", ".join(names[:-1]), names[-1]]))


def _notes(matrix: Sequence[Sequence[PairAnswer]], ordered: Sequence[SiteScore], terms: Terms) -> list[str]:
    best = ordered[0]
    notes = []
    ahead = max(ordered, key=lambda s: s.expected_weight)
    if ahead.expected_weight > best.expected_weight + _NEAR:
        weighted = any(terms.weight(each.them) not in {0.0, 1.0} for each in matrix[0])
        notes.append(
            f"Nearly a toss-up: with the chances of all wanted stations{', times their weights,' * weighted} "
            f"added up {ahead.site} is ahead, {_apart(ahead.expected_weight, best.expected_weight)} of a "
            f"possible {_wanted_weight(matrix, terms):g}."
        )
    notes += [
        f"Of what {each.site} reaches (weight {each.reached_weight:g}), weight {each.doubtful_weight:g} is "
        f"within reach by one method only: {_listed(each.doubtful)}."
        for each in ordered
        if each.doubtful
    ]
    for column, each in enumerate(matrix[0]):
        reasons = {row[column].reason for row in matrix if row[column].pair is None}
        if reasons and all(row[column].pair is None for row in matrix):
            notes.append(f"{each.them} does not count: {min(reasons)}")
    notes += [
        f"{row[0].you} to {each.them}: no verdict. {each.reason}"
        for row in matrix
        for column, each in enumerate(row)
        if each.pair is None and any(other[column].pair is not None for other in matrix)
    ]
    unwanted = [each.them for each in matrix[0] if terms.weight(each.them) == 0.0]
    if unwanted:
        notes.append(f"Left out of the choice, weight 0: {_listed(tuple(unwanted))}.")
    return notes
