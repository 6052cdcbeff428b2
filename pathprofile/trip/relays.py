"""Where a wanted station is out of reach: the best single relay among the other stations."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from pathprofile.link.evaluate import Pair
from pathprofile.link.words import both_verdicts, verdict
from pathprofile.trip.pairs import PairDesk, PairTask

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from pathprofile.contact import Party
    from pathprofile.terrain.store import TerrainStore
    from pathprofile.trip.answer import PairAnswer
    from pathprofile.trip.pairs import Progress
    from pathprofile.trip.terms import Terms

__all__ = ["Relay", "best_relays", "relayed"]

_MOST_CANDIDATES = 8
_FIRST_LOOK_POINTS = 9


@dataclass(frozen=True)
class Relay:
    """One station handing messages on to another.

    Attributes
    ----------
    site, via, to : str
        You, the relay, the station out of reach.
    pair : Pair
        Odds of both hops: the products of their chances.
    direct_chance : float
        Without the relay.
    first, second : PairAnswer
        You → relay, relay → station.
    weaker_hop : str
        In words.
    sentence : str
    notes : tuple of str
    """

    site: str
    via: str
    to: str
    pair: Pair
    direct_chance: float
    first: PairAnswer
    second: PairAnswer
    weaker_hop: str
    sentence: str
    notes: tuple[str, ...]


def best_relays(
    site: Party,
    stations: Sequence[Party],
    direct: Sequence[PairAnswer],
    terrain: TerrainStore,
    terms: Terms,
    *,
    workers: int = 1,
    progress: Progress | None = None,
    desk: PairDesk | None = None,
) -> tuple[Relay, ...]:
    """Find the best single relay for every wanted station that is out of reach.

    Parameters
    ----------
    site : Party
        You.
    stations : sequence of Party
        All of them; each may relay unless it only listens.
    direct : sequence of PairAnswer
        From the site to all of ``stations``, in any order.
    terrain : TerrainStore
    terms : Terms
    workers, progress, desk
        As for `pathprofile.trip.ranking.rank`.

    Returns
    -------
    tuple of Relay
        One for each station of weight above 0 that is "unlikely" and that a relay makes likelier, in the
        order of ``stations``.

    Notes
    -----
    Errors of path and noise of two hops are nearly independent, so that the chance is the product. Candidates
    are the eight stations likeliest from the site. Where a relay or a station is known by its locator, nine
    points of its area are looked at first and the best relay is then worked out over all of it.
    """
    by_name = {answer.them: answer for answer in direct}
    candidates = sorted(
        (party for party in stations if _may_relay(party, by_name.get(party.station.name))),
        key=lambda party: (-by_name[party.station.name].chance, party.station.name),
    )[:_MOST_CANDIDATES]
    targets = [party for party in stations if _out_of_reach(by_name.get(party.station.name), terms)]
    hops = [
        PairTask(relay, target)
        for target in targets
        for relay in candidates
        if relay.station.name != target.station.name
        and by_name[relay.station.name].chance > by_name[target.station.name].chance
    ]
    if not hops:
        return ()
    if desk is None:
        with PairDesk(terrain, terms, workers=workers) as own:
            return _found(site, targets, hops, by_name, own, progress)
    return _found(site, targets, hops, by_name, desk, progress)


def relayed(first: PairAnswer, second: PairAnswer) -> Pair | None:
    """Odds over two hops, nearly independent: the products; None where a hop has no verdict."""
    if first.pair is None or second.pair is None:
        return None
    readable = first.pair.chance * second.pair.chance
    comfortable = first.pair.comfortable_chance * second.pair.comfortable_chance
    may_be_solid = "solid" == first.pair.verdict.word == second.pair.verdict.word
    return Pair(readable, comfortable, verdict(readable, comfortable, may_be_solid=may_be_solid))


def _may_relay(party: Party, answer: PairAnswer | None) -> bool:
    return answer is not None and answer.pair is not None and not party.station.receive_only


def _out_of_reach(answer: PairAnswer | None, terms: Terms) -> bool:
    return (
        answer is not None
        and answer.verdict is not None
        and answer.verdict.word == "unlikely"
        and terms.weight(answer.them) > 0.0
    )


def _found(
    site: Party,
    targets: Sequence[Party],
    hops: Sequence[PairTask],
    direct: Mapping[str, PairAnswer],
    desk: PairDesk,
    progress: Progress | None,
) -> tuple[Relay, ...]:
    looked = desk.answer(hops, progress=progress, cell_points=_FIRST_LOOK_POINTS, pictures=False)
    best: dict[str, tuple[float, PairTask]] = {}
    for task, second in zip(hops, looked, strict=True):
        target = task.them.station.name
        pair = relayed(direct[task.you.station.name], second)
        if pair is not None and pair.chance > best.get(target, (direct[target].chance, task))[0]:
            best[target] = (pair.chance, task)
    tasks = [best[party.station.name][1] for party in targets if party.station.name in best]
    found = []
    for task, second in zip(tasks, desk.answer(tasks, pictures=False), strict=True):
        relay = _relay(site, direct[task.you.station.name], second, direct[task.them.station.name])
        if relay is not None:
            found.append(relay)
    return tuple(found)


def _by_second_opinion(hop: PairAnswer) -> PairAnswer:
    """Take the second opinion of a hop whose methods part."""
    return replace(hop, pair=hop.second) if hop.methods_part and hop.second is not None else hop


def _relay(site: Party, first: PairAnswer, second: PairAnswer, direct: PairAnswer) -> Relay | None:
    pair = relayed(first, second)
    if pair is None or pair.chance <= direct.chance or first.pair is None or second.pair is None:
        return None
    text = pair.verdict.text
    parted = [hop.apart_db for hop in (first, second) if hop.methods_part and hop.apart_db is not None]
    other = relayed(_by_second_opinion(first), _by_second_opinion(second))
    if parted and other is not None:
        text = both_verdicts(pair.verdict, other.verdict, max(parted))
    weaker = first if first.pair.chance <= second.pair.chance else second
    weaker_hop = f"{weaker.you} to {weaker.them}"
    notes = [f"{hop.you} to {hop.them} in {hop.mode.text}" for hop in (first, second) if hop.mode]
    if first.cell is not None and second.cell is not None:
        notes.append(
            f"{first.them} is known by its locator: both hops share its place, so the product is rough"
        )
    return Relay(
        site=site.station.name,
        via=first.them,
        to=second.them,
        pair=pair,
        direct_chance=direct.chance,
        first=first,
        second=second,
        weaker_hop=weaker_hop,
        sentence=(
            f"{second.them} by way of {first.them}: {text}; "
            f"the weaker hop is {weaker_hop}, {weaker.verdict_text}."
        ),
        notes=tuple(notes),
    )
