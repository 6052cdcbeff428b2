"""Where within a walk should the mast stand: the best ground for the stations wanted."""

from __future__ import annotations

import math
import time
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from pathprofile import geodesy
from pathprofile.area.candidates import candidates, cell_m_of, field_within
from pathprofile.area.scout_search import LEAST_MOVE_CELLS, PER_DB, Means, Search, wanted_from
from pathprofile.area.scout_words import reasons
from pathprofile.area.work import PieceStore, State
from pathprofile.changes.spots import NOT_CHECKED
from pathprofile.errors import LocationError, OutOfRangeError, PathProfileError, TerrainGapError
from pathprofile.places.location import Location
from pathprofile.trip.areas import area_of
from pathprofile.trip.pairs import PairDesk, PairTask

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    import numpy.typing as npt

    from pathprofile.area.candidates import Field
    from pathprofile.area.mask import Mask
    from pathprofile.area.scout_search import Wanted
    from pathprofile.area.work import Engine
    from pathprofile.contact import Party
    from pathprofile.terrain.store import TerrainStore
    from pathprofile.trip.answer import PairAnswer
    from pathprofile.trip.terms import Terms

    Floats = npt.NDArray[np.float64]
    Node = tuple[int, int]
    Progress = Callable[[str, State], None]

__all__ = ["GoodGround", "Scouting", "StationGain", "scout"]

_MORE_THAN_ASKED = 2
_SEEDS_EACH = 3


class StationGain(NamedTuple):
    """What a place does for one station.

    ``before`` is the answer from the given spot, ``after`` that from the place. Gains are in chance of the
    pair, and in the margin of the weaker direction (None where either has none).
    """

    station: str
    weight: float
    before: PairAnswer
    after: PairAnswer

    @property
    def chance_gain(self) -> float:
        """Chance of the pair gained, -1 to 1."""
        return self.after.chance - self.before.chance

    @property
    def margin_gain_db(self) -> float | None:
        """Margin gained in the weaker direction [dB]."""
        margins = [_weaker_margin_db(each) for each in (self.before, self.after)]
        return None if margins[0] is None or margins[1] is None else margins[1] - margins[0]


@dataclass(frozen=True)
class GoodGround:
    """One place for the mast.

    Attributes
    ----------
    location : Location
    ground_m, slope_deg : float
        Ground there, and the steepest way to a neighbouring cell [m, degrees].
    distance_m, azimuth_deg : float
        From the given spot; azimuth true.
    found_as : str
        What led to it: ``"top"``, ``"grid"`` or ``"edge toward …"``.
    contacts : float
        Weighted sum of the chances.
    gain : float
        Of ``contacts`` over the given spot.
    stations : tuple of StationGain
        Largest weighted gain first.
    why : tuple of str
        Phrases: what is better about it, for the station that gains most.
    """

    location: Location
    ground_m: float
    slope_deg: float
    distance_m: float
    azimuth_deg: float
    found_as: str
    contacts: float
    gain: float
    stations: tuple[StationGain, ...]
    why: tuple[str, ...]


@dataclass(frozen=True)
class Scouting:
    """Best ground found.

    Attributes
    ----------
    spot : Location
        The given spot; without one the highest usable ground of the area.
    spot_is_given : bool
    spot_ground_m : float
    spot_contacts : float
        Weighted sum of the chances there.
    wanted_weight : float
        The most that it could be: the weights of all stations that count.
    places : tuple of GoodGround
        Best first; empty where nothing beats the given spot.
    cell_m : float
        Spacing of the ground looked at: nothing finer can be seen.
    looked_at : int
        Places judged by the loss alone.
    links_worked, links_kept : int
        Links worked out now, and taken from finished pieces.
    left_out : tuple of (str, str)
        Stations that do not count, each with the reason.
    notes : tuple of str
        What the user should know, one line each; what was not checked among them.
    """

    spot: Location
    spot_is_given: bool
    spot_ground_m: float
    spot_contacts: float
    wanted_weight: float
    places: tuple[GoodGround, ...]
    cell_m: float
    looked_at: int
    links_worked: int
    links_kept: int
    left_out: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]


def scout(
    you: Party,
    stations: Sequence[Party],
    terrain: TerrainStore,
    terms: Terms,
    *,
    within_m: float | None = None,
    area: Mask | None = None,
    mask: Mask | None = None,
    most: int = 5,
    most_candidates: int = 1200,
    workers: int = 1,
    threads: int = 2,
    engine: Engine | None = None,
    resume: Path | str | None = None,
    cache_dir: Path | None = None,
    progress: Progress | None = None,
) -> Scouting:
    """Find the best ground for the stations wanted.

    Parameters
    ----------
    you : Party
        Who moves; the location is the given spot, unless only an ``area`` is given.
    stations : sequence of Party
        Whom to reach; `Terms.weight` says how much, 0 leaves one out.
    terrain : TerrainStore
    terms : Terms
        Modes wanted, weights, atmosphere, how the ground is read.
    within_m : float, optional
        Look within this distance of the given spot [m].
    area : Mask, optional
        Look inside these polygons; alone, or within the distance as well.
    mask : Mask, optional
        Land that may be entered: nothing outside is looked at.
    most : int
        How many places to list.
    most_candidates : int
        How many places to try before those around the best are tried.
    workers : int
        Processes that judge the best places in full, see `pathprofile.trip.pairs.PairDesk`.
    threads : int
        How many compute losses while one reads the ground, in each process.
    engine : Engine, optional
        Where losses are worked out, see `pathprofile.area.cluster.engine_for`; by default here.
    resume : Path, optional
        Folder in which finished pieces are kept and looked for.
    cache_dir : Path, optional
        Where compiled code is kept, see `pathprofile.area.compiled.compiled`.
    progress : callable, optional
        Told the stage ("looking", "refining", "judging") and its `State`; refining goes in rounds, each of
        which counts anew.

    Returns
    -------
    Scouting

    Raises
    ------
    OutOfRangeError
        For neither a distance nor an area, and for numbers that cannot be.
    LocationError
        Where there is no ground to look in: an empty mask, no tile, all too steep.
    StationError, PathProfileError
        If no station can be worked from the spot at all.

    Notes
    -----
    Candidates are tops, edges facing the stations and an even grid; the best of them are moved, in ever
    smaller steps, to the best node around. All of this goes by the P.1812 median loss over bare inland ground
    on each link's own geodesic. At the given spot it is set equal to the whole answer (roofs, pattern and
    time spread included), and the difference is taken alike all over the area. What comes out best is then
    answered in full (`pathprofile.trip.answer.answer_pair`), which alone decides order and figures; the best
    place before refining is answered too, so that refining never makes the list worse.

    A mode is chosen for each station at the given spot and kept for the search. A station known by its
    locator counts in the search by the middle of its cell, in the answer by all of it.

    Places nearer the given spot than two cells are not offered, nor are places nearer each other than that.

    **Memory**: 90 bytes a node of the ground looked at, at most two million of them; 8 bytes a link; beside
    them as `pathprofile.area.many_links.losses_between`.

    References
    ----------
    .. [1] ITU-R P.1812-8 (09/2025).
    """
    if within_m is None and area is None:
        raise OutOfRangeError("no place to look in: give a distance from the spot, or an area")
    if most < 1:
        raise OutOfRangeError(f"{most!r} places: give 1 or more")
    field = _field(you, terrain, within_m, tuple(each for each in (area, mask) if each is not None))
    spot = _spot(you, field, given=within_m is not None)
    terms = _ground_by_name(terms, spot)
    spot_ground_m = _spot_ground(spot, terrain, terms)
    wanted, left_out = wanted_from(spot, stations, terrain, terms)
    if not wanted:
        reasons_given = (
            "; ".join(f"{name}: {reason}" for name, reason in left_out[:3]) or "no station is wanted"
        )
        raise PathProfileError(f"nobody to look for ground for ({reasons_given}); widen the list of stations")

    store = None if resume is None else PieceStore(resume, terrain)
    search = Search(
        field,
        wanted,
        terrain,
        terms,
        Means(threads, engine, store, cache_dir, progress),
        spot,
        spot_ground_m,
    )
    toward = {
        each.party.station.name: geodesy.inverse(
            spot.location.latitude_deg,
            spot.location.longitude_deg,
            each.far.latitude_deg,
            each.far.longitude_deg,
        ).azimuth_deg
        for each in wanted
    }
    tried = candidates(field, toward, most=most_candidates)
    nodes = list(zip(tried.row.tolist(), tried.column.tolist(), strict=True))
    search.judge("looking", nodes)
    seeds = search.best(nodes, most * _SEEDS_EACH)
    step = 1 << max(0, int(math.log2(max(1.0, math.sqrt(int(field.allowed.sum()) / max(len(nodes), 1))))))
    refined = search.refine(seeds, step)
    chosen = search.best(refined, most + _MORE_THAN_ASKED)
    chosen += [seed for seed in seeds[:1] if seed not in chosen]

    came_from = dict(zip(nodes, tried.found_as, strict=True))
    origin = {end: came_from[start] for start, end in reversed(list(zip(seeds, refined, strict=True)))}
    judged = _judged(spot, chosen, search, stations, terrain, terms, workers, progress)
    found = _listed(judged, origin, came_from, search, wanted, terrain, terms, most, within_m is not None)
    notes = [
        NOT_CHECKED,
        (
            f"the map's cells are {field.cell_m:.0f} m: it cannot see a move shorter than "
            f"{LEAST_MOVE_CELLS * field.cell_m:.0f} m, and none is offered"
        ),
    ]
    if area_of(you.location) is not None and within_m is not None:
        notes.append(f"{you.station.name} is known by an area: its middle was taken for the given spot")
    if not found:
        notes.append("nothing better than the given spot was found")
    return Scouting(
        spot=spot.location,
        spot_is_given=within_m is not None,
        spot_ground_m=spot_ground_m,
        spot_contacts=judged[0].contacts,
        wanted_weight=math.fsum(terms.weight(party.station.name) for party in stations),
        places=found,
        cell_m=field.cell_m,
        looked_at=search.looked_at,
        links_worked=search.worked,
        links_kept=search.kept,
        left_out=left_out,
        notes=(*notes, *(store.notes if store is not None else ())),
    )


def _field(you: Party, terrain: TerrainStore, within_m: float | None, masks: tuple[Mask, ...]) -> Field:
    if within_m is not None:
        at = you.location
        cell_m = cell_m_of(terrain, at.latitude_deg, at.longitude_deg, within_m)
        return field_within(at.latitude_deg, at.longitude_deg, within_m, cell_m, terrain, masks=masks)
    latitude, longitude = masks[0].outline_deg
    turned = np.unwrap(longitude, period=360.0)
    middle = (
        0.5 * float(latitude.min() + latitude.max()),
        math.remainder(0.5 * float(turned.min() + turned.max()), 360.0),
    )
    far_m = 1.0
    for place in zip(latitude.tolist(), longitude.tolist(), strict=True):
        try:
            far_m = max(far_m, geodesy.inverse(*middle, place[0], math.remainder(place[1], 360.0)).distance_m)
        except LocationError:
            continue  # a corner on the middle itself
    cell_m = cell_m_of(terrain, *middle, far_m)
    return field_within(*middle, far_m + cell_m, cell_m, terrain, round_shape=False, masks=masks)


def _spot(you: Party, field: Field, *, given: bool) -> Party:
    """You at the spot that all is compared with, taken as a point."""
    if given:
        here = you.location
        if area_of(here) is not None:
            here = Location(here.latitude_deg, here.longitude_deg, here.label, text=here.text)
        return replace(you, location=here)
    row, column = divmod(int(np.where(field.allowed, field.ground_m, -np.inf).argmax()), field.grid.shape[1])
    return replace(you, location=_location(field, (row, column), "highest ground of the area"))


def _ground_by_name(terms: Terms, spot: Party) -> Terms:
    """Ground stated for the spot does not go with the mast."""
    stated = terms.options.from_ground_m
    if stated is None:
        return terms
    return replace(
        terms,
        options=replace(terms.options, from_ground_m=None),
        ground_m={spot.station.name: stated, **terms.ground_m},
    )


def _spot_ground(spot: Party, terrain: TerrainStore, terms: Terms) -> float:
    stated = terms.ground_m.get(spot.station.name)
    if stated is not None:
        return stated
    here = spot.location
    found = float(terrain.elevation_m(here.latitude_deg, here.longitude_deg))
    if not math.isfinite(found):
        raise TerrainGapError(
            f"no ground known at the spot ({here.latitude_deg:.5f} {here.longitude_deg:.5f}): it lies in a "
            "hole of the elevation data or outside all tiles; move it, add the tile, or state its ground"
        )
    return found


class _Judged(NamedTuple):
    """A place answered in full; the first is the spot, which has no node."""

    node: Node | None
    party: Party
    answers: tuple[PairAnswer, ...]
    contacts: float
    score: float


def _judged(
    spot: Party,
    chosen: Sequence[Node],
    search: Search,
    stations: Sequence[Party],
    terrain: TerrainStore,
    terms: Terms,
    workers: int,
    progress: Progress | None,
) -> list[_Judged]:
    """Answer the spot and the places chosen in full, all stations of each."""
    parties = [spot]
    for number, node in enumerate(chosen, start=1):
        place = _location(search.field, node, f"place {number}")
        station = spot.station.model_copy(update={"name": f"{spot.station.name}, {place.label}"})
        parties.append(replace(spot, station=station, location=place))
    counted = [party for party in stations if terms.weight(party.station.name) > 0.0]
    tasks = [PairTask(party, station) for party in parties for station in counted]
    with PairDesk(terrain, terms, workers=workers) as desk:
        answers = desk.answer(tasks, progress=_Pace(progress))
    weights = [terms.weight(party.station.name) for party in counted]
    found = []
    for number, party in enumerate(parties):
        row = tuple(answers[number * len(counted) : (number + 1) * len(counted)])
        contacts = math.fsum(weight * each.chance for weight, each in zip(weights, row, strict=True))
        margin_db = math.fsum(
            weight * (-100.0 if (margin := _weaker_margin_db(each)) is None else margin)
            for weight, each in zip(weights, row, strict=True)
        )
        score = contacts + PER_DB * margin_db / math.fsum(weights)
        found.append(_Judged(chosen[number - 1] if number else None, party, row, contacts, score))
    return found


class _Pace:
    """Progress of the full answers, with the time left."""

    def __init__(self, progress: Progress | None) -> None:
        self._progress = progress
        self._began = time.monotonic()

    def __call__(self, done: int, of: int) -> None:
        if self._progress is not None:
            spent = time.monotonic() - self._began
            self._progress("judging", State(done, of, spent * (of - done) / done if done else None))


def _listed(
    judged: Sequence[_Judged],
    origin: dict[Node, str],
    came_from: dict[Node, str],
    search: Search,
    wanted: Sequence[Wanted],
    terrain: TerrainStore,
    terms: Terms,
    most: int,
    given: bool,
) -> tuple[GoodGround, ...]:
    """Places better than the spot, best first, with what each gains and why."""
    spot = judged[0]
    field = search.field
    parties = {each.party.station.name: each.party for each in wanted}
    found: list[GoodGround] = []
    taken: list[Node] = []
    for each in sorted(judged[1:], key=lambda one: (-one.score, one.node or (0, 0))):
        if each.node is None or (given and each.score <= spot.score):
            continue
        away_m, azimuth_deg = _leg(spot.party.location, each.party.location)
        near = [math.hypot(each.node[0] - one[0], each.node[1] - one[1]) for one in taken]
        if min(near, default=math.inf) < LEAST_MOVE_CELLS or (
            given and away_m < LEAST_MOVE_CELLS * field.cell_m - 1e-6
        ):
            continue
        gains = tuple(
            sorted(
                (
                    StationGain(before.them, terms.weight(before.them), before, after)
                    for before, after in zip(spot.answers, each.answers, strict=True)
                ),
                key=lambda gain: (
                    -gain.weight * (gain.chance_gain + PER_DB * (gain.margin_gain_db or 0.0)),
                    gain.station,
                ),
            )
        )
        key = next((gain for gain in gains if gain.station in parties and gain.after.mode is not None), None)
        why: tuple[str, ...] = ()
        if key is not None:
            why = reasons(
                spot.party, each.party, parties[key.station], terrain, terms, field.cell_m, key.after
            )
        found.append(
            GoodGround(
                location=each.party.location,
                ground_m=float(field.ground_m[each.node]),
                slope_deg=float(field.slope_deg[each.node]),
                distance_m=away_m,
                azimuth_deg=azimuth_deg,
                found_as=origin.get(each.node) or came_from[each.node],
                contacts=each.contacts,
                gain=each.contacts - spot.contacts,
                stations=gains,
                why=why,
            )
        )
        taken.append(each.node)
        if len(found) == most:
            break
    return tuple(found)


def _location(field: Field, node: Node, label: str) -> Location:
    latitude, longitude = (float(part) for part in field.grid.places(node[0], node[1]))
    return Location(latitude, longitude, label, text=f"{latitude:.5f} {longitude:.5f}")


def _leg(here: Location, there: Location) -> tuple[float, float]:
    if (here.latitude_deg, here.longitude_deg) == (there.latitude_deg, there.longitude_deg):
        return 0.0, 0.0
    leg = geodesy.inverse(here.latitude_deg, here.longitude_deg, there.latitude_deg, there.longitude_deg)
    return leg.distance_m, leg.azimuth_deg


def _weaker_margin_db(answer: PairAnswer) -> float | None:
    margins = [each for each in (answer.out_margin_db, answer.back_margin_db) if each is not None]
    return min(margins, default=None)
