"""Why one spot is better than another, in phrases: height, the edge ahead, the ridge on the way."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from pathprofile import geodesy
from pathprofile.area.candidates import EDGE_CELLS, LEAST_BREAK, LEAST_FALL
from pathprofile.errors import PathProfileError
from pathprofile.trip.links import equipped, link_at

if TYPE_CHECKING:
    from typing import Any

    from pathprofile.contact import Party
    from pathprofile.places.location import Location
    from pathprofile.reach import Reach
    from pathprofile.terrain.store import TerrainStore
    from pathprofile.trip.answer import PairAnswer
    from pathprofile.trip.terms import Terms

__all__ = ["edge_ahead_m", "reasons"]

_LOOK_AHEAD_M = 1500.0
_OWN_GROUND_M = 2000.0
_CREST_WITHIN_M = 1000.0
_LEAST_M = 1.0
_IN_METRES_BELOW_M = 995.0


def reasons(
    spot: Party,
    place: Party,
    station: Party,
    terrain: TerrainStore,
    terms: Terms,
    cell_m: float,
    answer: PairAnswer,
) -> tuple[str, ...]:
    """Phrases on what a place has over the given spot, for one station.

    Parameters
    ----------
    spot, place : Party
        You, at both.
    station : Party
        The station that gains most.
    terrain : TerrainStore
    terms : Terms
    cell_m : float
        Cells of the map [m].
    answer : PairAnswer
        From the place; its mode is asked for at both.

    Returns
    -------
    tuple of str
        None of them where a path cannot be had.
    """
    name = station.station.name
    target = answer.them_at
    reaches = []
    for you in (spot, place):
        pairs = equipped(you, station, terms)
        if isinstance(pairs, str):
            return ()
        pair = next((each for each in pairs if each.wanted == answer.mode), pairs[0])
        try:
            reaches.append(link_at(you, _at(station, target), pair, terrain, terms).reach)
        except PathProfileError:
            return ()
    before, after = reaches
    found = []
    higher_m = after.from_end.ground_m - before.from_end.ground_m
    if abs(higher_m) >= _LEAST_M:
        found.append(f"{abs(higher_m):.0f} m {'higher' if higher_m > 0.0 else 'lower'}")
    edges = [edge_ahead_m(you.location, target, terrain, cell_m) for you in (spot, place)]
    if edges[1] is not None and (edges[0] is None or edges[0] - edges[1] >= cell_m):
        if edges[1] < cell_m:
            found.append(f"on the edge toward {name}")
        elif edges[0] is not None:
            found.append(f"{edges[0] - edges[1]:.0f} m nearer the edge toward {name}")
    if after.sightline.in_sight and not before.sightline.in_sight:
        found.append(f"in sight of {name}")
    saved_db = before.loss.loss_db - after.loss.loss_db
    lower_m = _lower_m(before, after)
    # a line that crosses the ridge elsewhere may gain in spite of it: that explains nothing
    if lower_m is not None and abs(lower_m) >= _LEAST_M and lower_m * saved_db > 0.0:
        found.append(_ridge(before, lower_m))
    if abs(saved_db) >= 0.5:
        found.append(f"{abs(saved_db):.0f} dB {'less' if saved_db > 0.0 else 'more'} loss to {name}")
    return tuple(found)


def edge_ahead_m(here: Location, there: Location, terrain: Any, cell_m: float) -> float | None:
    """How far ahead toward another place the ground breaks away [m]; None without an edge within 1.5 km.

    Parameters
    ----------
    here, there : Location
        The edge faces ``there``.
    terrain : TerrainStore
    cell_m : float
        Cells of the map [m].

    Notes
    -----
    An edge is where the slope over two cells ahead falls by 1° or more, and by 3° or more steeper than over
    two cells behind, and no sharper one is within a cell. The first one counts.
    """
    leg = geodesy.inverse(here.latitude_deg, here.longitude_deg, there.latitude_deg, there.longitude_deg)
    step_m = cell_m / 2.0
    reach = 2 * EDGE_CELLS
    count = max(int(min(_LOOK_AHEAD_M, leg.distance_m) / step_m), reach)
    along_m = np.arange(-reach - 2, count + reach + 3) * step_m
    heights = terrain.elevation_m(
        *geodesy.direct(
            here.latitude_deg,
            here.longitude_deg,
            np.where(along_m < 0.0, leg.azimuth_deg + 180.0, leg.azimuth_deg),
            np.abs(along_m),
        )
    )
    middle = heights[reach:-reach]
    ahead = (heights[2 * reach :] - middle) / (reach * step_m)
    behind = (middle - heights[: -2 * reach]) / (reach * step_m)
    sharp = np.nan_to_num(behind - ahead)
    inner = sharp[2:-2]
    edge = (
        (inner >= LEAST_BREAK)
        & (ahead[2:-2] <= -LEAST_FALL)
        & (inner >= np.maximum(sharp[:-4], sharp[4:]))
        & (inner >= np.maximum(sharp[1:-3], sharp[3:-1]))
    )
    at = np.flatnonzero(edge)
    return float(along_m[reach + 2 :][at[0]]) if at.size else None


def _lower_m(before: Reach, after: Reach) -> float | None:
    """By how much what limited the spot stands lower against the new line.

    It is the highest ground against either line within 1 km, at its distance from the far end.
    """
    main = before.obstacles.main
    if main is None:
        return None
    back_m = float(before.profile.distance_m[-1]) - main.distance_m
    clearances = []
    for each in (before, after):
        distance_m = each.survey.cluttered.distance_m
        near = np.abs(distance_m - (float(distance_m[-1]) - back_m)) <= _CREST_WITHIN_M
        near[[0, -1]] = False
        if not near.any():
            return None
        clearances.append(float(each.sightline.clearance_m[near].min()))
    return clearances[1] - clearances[0]


def _ridge(before: Reach, lower_m: float) -> str:
    main = before.obstacles.main
    at_m = 0.0 if main is None else main.distance_m
    what = "ground" if at_m < _OWN_GROUND_M else "ridge"
    at = f"{at_m / 1000:.1f} km" if at_m < 10_000.0 else f"{at_m / 1000:.0f} km"
    if at_m < _IN_METRES_BELOW_M:
        at = f"{round(at_m, -1):.0f} m"
    side = "lower" if lower_m > 0.0 else "higher"
    return f"{what} at {at} {abs(lower_m):.0f} m {side} against the line"


def _at(party: Party, location: Location) -> Party:
    return replace(party, location=location)
