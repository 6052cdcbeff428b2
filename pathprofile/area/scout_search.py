"""Scores of many places by the loss alone, and the way from a good one to the best one nearby."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from pathprofile import geodesy
from pathprofile.area.many_links import FarEnd, losses_between
from pathprofile.area.verdicts import VerdictTable, needs_of
from pathprofile.atmosphere import Atmosphere
from pathprofile.errors import PathProfileError
from pathprofile.link.chance import time_spread
from pathprofile.trip.areas import too_vague
from pathprofile.trip.links import choose, equipped, links_at

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence
    from pathlib import Path

    import numpy.typing as npt

    from pathprofile.area.candidates import Field
    from pathprofile.area.work import Engine, PieceStore, State
    from pathprofile.contact import Party
    from pathprofile.link.ends import End
    from pathprofile.terrain.store import TerrainStore
    from pathprofile.trip.links import WantedLink
    from pathprofile.trip.terms import Terms

    Floats = npt.NDArray[np.float64]
    Node = tuple[int, int]
    Progress = Callable[[str, State], None]

__all__ = ["LEAST_MOVE_CELLS", "PER_DB", "Means", "Search", "Wanted", "wanted_from"]

LEAST_MOVE_CELLS = 2.0
"""Shorter moves mean nothing on a grid of these cells."""
PER_DB = 1e-4
"""Of equal odds the lower loss is better: 10 dB count as a thousandth of a contact."""
_APART_SHARE = 0.1
_MOST_ROUNDS = 60


class Wanted(NamedTuple):
    """A station, the link to it from the given spot, and how losses become chances."""

    party: Party
    weight: float
    link: WantedLink
    table: VerdictTable
    far: FarEnd


def wanted_from(
    spot: Party, stations: Sequence[Party], terrain: TerrainStore, terms: Terms
) -> tuple[list[Wanted], tuple[tuple[str, str], ...]]:
    """Stations with their links from the spot, and those that do not count."""
    found = []
    left_out = []
    for party in stations:
        name, weight = party.station.name, terms.weight(party.station.name)
        try:
            if not weight > 0.0:
                left_out.append((name, "not wanted"))
            elif (reason := too_vague(party.location)) is not None:
                left_out.append((name, reason))
            elif isinstance(pairs := equipped(spot, party, terms), str):
                left_out.append((name, pairs))
            else:
                links = links_at(spot, party, pairs, terrain, terms)
                found.append(
                    _station(party, weight, links[choose([each.link.pair for each in links])], terms)
                )
        except PathProfileError as error:
            left_out.append((name, str(error)))
    return found, tuple(left_out)


def _station(party: Party, weight: float, link: WantedLink, terms: Terms) -> Wanted:
    reach, both = link.reach, link.link
    stated = terms.ground_m.get(party.station.name, terms.options.to_ground_m)
    return Wanted(
        party,
        weight,
        link,
        VerdictTable(needs_of(both, time_spread(reach.loss.not_exceeded_db, reach.loss.loss_db))),
        FarEnd(
            party.location.latitude_deg,
            party.location.longitude_deg,
            math.nan if stated is None else stated,
            both.them.height_m,
            both.you.height_m,
            both.frequency_mhz,
            both.you.polarization != "horizontal",
            terms.options.step_m or reach.profile.cell_m,
        ),
    )


class Means(NamedTuple):
    """How losses are worked out."""

    threads: int
    engine: Engine | None
    store: PieceStore | None
    cache_dir: Path | None
    progress: Progress | None


class Search:
    """Scores of nodes by the loss alone; each is worked out once."""

    def __init__(
        self,
        field: Field,
        wanted: Sequence[Wanted],
        terrain: TerrainStore,
        terms: Terms,
        means: Means,
        spot: Party,
        spot_ground_m: float,
    ) -> None:
        self.field = field
        self.worked = self.kept = self.looked_at = 0
        self._wanted = wanted
        self._terrain = terrain
        self._terms = terms
        self._means = means
        self._score: dict[Node, float] = {}
        here = spot.location
        fast = self._losses(
            None,
            np.array([here.latitude_deg]),
            np.array([here.longitude_deg]),
            np.array([spot_ground_m]),
        )[0]
        whole = np.array([each.link.reach.loss.loss_db for each in wanted])
        self._more_db = np.where(np.isfinite(fast), whole - fast, 0.0)

    def judge(self, stage: str, nodes: Iterable[Node]) -> None:
        """Work out the scores of nodes that have none."""
        new = [node for node in nodes if node not in self._score]
        if not new:
            return
        latitude, longitude = self.field.grid.places(*np.array(new).T)
        loss = self._losses(stage, latitude, longitude, None) + self._more_db
        contacts = np.zeros(len(new))
        penalty = np.zeros(len(new))
        for column, each in enumerate(self._wanted):
            one = loss[:, column] + _off_beam_db(each, latitude, longitude)
            contacts += each.weight * np.nan_to_num(each.table.chance(one).astype(np.float64))
            penalty += each.weight * np.nan_to_num(one, nan=400.0)
        score = contacts - PER_DB * penalty / sum(each.weight for each in self._wanted)
        self._score.update(zip(new, score.tolist(), strict=True))
        self.looked_at += len(new)

    def best(self, nodes: Iterable[Node], count: int) -> list[Node]:
        """Nodes in order of their scores, far enough from the spot and from each other."""
        field = self.field
        apart = max(LEAST_MOVE_CELLS, _APART_SHARE * field.grid.half)
        chosen: list[Node] = []
        for node in sorted(dict.fromkeys(nodes), key=lambda each: (-self._score[each], each)):
            if all(math.hypot(node[0] - one[0], node[1] - one[1]) >= apart for one in chosen):
                chosen.append(node)
                if len(chosen) == count:
                    break
        return chosen

    def refine(self, seeds: Sequence[Node], step: int) -> list[Node]:
        """Move each seed to the best of its eight neighbours while that is better, in ever smaller steps."""
        at = list(seeds)
        for _ in range(_MOST_ROUNDS):
            around = [self._neighbours(node, step) for node in at]
            self.judge("refining", [node for each in around for node in each])
            moved = False
            for index, nodes in enumerate(around):
                better = min(nodes, key=lambda node: (-self._score[node], node), default=at[index])
                if self._score[better] > self._score[at[index]]:
                    at[index] = better
                    moved = True
            if moved:
                continue
            if step == 1:
                break
            step //= 2
        return at

    def score(self, node: Node) -> float:
        """Weighted sum of the chances, by the loss alone, less a little for loss."""
        return self._score[node]

    def _neighbours(self, node: Node, step: int) -> list[Node]:
        side = self.field.grid.shape[0]
        return [
            (row, column)
            for row in (node[0] - step, node[0], node[0] + step)
            for column in (node[1] - step, node[1], node[1] + step)
            if (row, column) != node
            and 0 <= row < side
            and 0 <= column < side
            and self.field.allowed[row, column]
        ]

    def _losses(
        self, stage: str | None, latitude: Floats, longitude: Floats, ground_m: Floats | None
    ) -> Floats:
        means, options = self._means, self._terms.options
        progress = means.progress
        found = losses_between(
            latitude,
            longitude,
            [each.far for each in self._wanted],
            self._terrain,
            atmosphere=self._terms.atmosphere or Atmosphere(),
            ground_m=ground_m,
            sea_where_missing=options.sea_where_missing,
            threads=means.threads,
            cache_dir=means.cache_dir,
            engine=means.engine,
            store=means.store,
            progress=None if progress is None or stage is None else lambda state: progress(stage, state),
        )
        self.worked += found.worked
        self.kept += found.kept
        return found.loss_db


def _off_beam_db(each: Wanted, latitude: Floats, longitude: Floats) -> Floats | float:
    """Pattern of beams that do not turn, less what it takes at the spot already [dB]."""
    you, them = each.link.link.you, each.link.link.them
    if you.pointing_deg is None and them.pointing_deg is None:
        return 0.0
    leg = each.link.reach.leg
    base = _pattern_db(you, leg.azimuth_deg) + _pattern_db(them, leg.back_azimuth_deg)
    more = np.zeros(latitude.size)
    for index, place in enumerate(zip(latitude.tolist(), longitude.tolist(), strict=True)):
        way = geodesy.inverse(*place, each.far.latitude_deg, each.far.longitude_deg)
        more[index] = _pattern_db(you, way.azimuth_deg) + _pattern_db(them, way.back_azimuth_deg) - base
    return more


def _pattern_db(end: End, azimuth_deg: float) -> float:
    return 0.0 if end.pointing_deg is None else end.pattern.loss_db(azimuth_deg - end.pointing_deg)
