"""The ground along a path: equal steps, holes bridged and counted, sources named."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from pathprofile.errors import OutOfRangeError, TerrainError, TerrainGapError
from pathprofile.geodesy import inverse, points_along
from pathprofile.terrain.names import ModelKind, square_name
from pathprofile.terrain.store import NO_TILE, TerrainStore
from pathprofile.terrain.voids import Bridge, from_surroundings, runs_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from pathprofile.geodesy import PathPoints
    from pathprofile.terrain.tiles import Tile

__all__ = [
    "FEWEST_POINTS",
    "LONGEST_BRIDGE_M",
    "MOST_POINTS",
    "TerrainProfile",
    "extract_profile",
]

FEWEST_POINTS = 33
_FINE_STEP_M = 31.0  # about one arc-second: what a fine open model holds
MOST_POINTS = 200_000
# Up to here a hole is crossed straight along the path, and up to there from the ground around it [m].
_STRAIGHT_BRIDGE_M = 300.0
LONGEST_BRIDGE_M = 3_000.0
# Stated ground that differs more from the model's is reported [m].
_GROUND_DIFFERENCE_M = 15.0
# A path is straight between points this far apart, to about 2 cm in both latitude and longitude [m].
_LOOK_AHEAD_M = 1_000.0


@dataclass(frozen=True)
class TerrainProfile:
    """The ground along the shortest path between two places.

    Attributes
    ----------
    distance_m, latitude_deg, longitude_deg, ground_m : ndarray, shape (n,)
        Equally spaced points, both ends included; ground above sea level. All finite.
    void_mask : ndarray of bool, shape (n,)
        Points over a hole in the data, whose height was bridged or taken as sea.
    sea_mask : ndarray of bool, shape (n,)
        Points taken as sea at 0 m because the caller said so, over holes or missing tiles.
    source_index : ndarray of int, shape (n,)
        Which of `tiles` each height comes from; -1 where there is none.
    tiles : tuple of Tile
        Those used, in the order the path meets them.
    sources : tuple of str
        Their names.
    bridges : tuple of Bridge
        Stretches with made-up heights.
    bridged_m : float
        Their length together [m].
    void_points, sea_points : int
        How many points the masks mark.
    step_m : float
        Distance between neighbouring points: at most the finest cell, half of it where cells are coarser
        than an arc-second [m].
    cell_m : float
        Shorter ground side of the finest cell that the path comes over [m].
    model_kinds : tuple of {"surface", "bare", "unknown"}
        Kinds of ground in `tiles`.
    vertical_datums : tuple of str
        Known vertical datums of `tiles`.
    from_ground_stated, to_ground_stated : bool
        Whether the ground of that end was stated rather than read.
    warnings : tuple of str
        What the user should know, one line each.
    """

    distance_m: NDArray[np.float64]
    latitude_deg: NDArray[np.float64]
    longitude_deg: NDArray[np.float64]
    ground_m: NDArray[np.float64]
    void_mask: NDArray[np.bool_]
    sea_mask: NDArray[np.bool_]
    source_index: NDArray[np.int32]
    tiles: tuple[Tile, ...]
    sources: tuple[str, ...]
    bridges: tuple[Bridge, ...]
    bridged_m: float
    void_points: int
    sea_points: int
    step_m: float
    cell_m: float
    model_kinds: tuple[ModelKind, ...]
    vertical_datums: tuple[str, ...]
    from_ground_stated: bool
    to_ground_stated: bool
    warnings: tuple[str, ...]

    def __post_init__(self) -> None:
        for array in (
            self.distance_m,
            self.latitude_deg,
            self.longitude_deg,
            self.ground_m,
            self.void_mask,
            self.sea_mask,
            self.source_index,
        ):
            array.setflags(write=False)

    @property
    def count(self) -> int:
        """How many points."""
        return int(self.distance_m.size)


def extract_profile(
    store: TerrainStore,
    from_latitude_deg: float,
    from_longitude_deg: float,
    to_latitude_deg: float,
    to_longitude_deg: float,
    *,
    step_m: float | None = None,
    strict_holes: bool = False,
    sea_where_missing: bool = False,
    sea_where_hole: bool = False,
    accept_mixed_datums: bool = False,
    from_ground_m: float | None = None,
    to_ground_m: float | None = None,
) -> TerrainProfile:
    """Read the ground along the geodesic between two places.

    Parameters
    ----------
    store : TerrainStore
    from_latitude_deg, from_longitude_deg, to_latitude_deg, to_longitude_deg : float
        The ends [degrees].
    step_m : float, optional
        Longest step [m]; by default the shorter ground side of the finest cell the path comes over.
    strict_holes : bool
        Refuse every hole instead of bridging it.
    sea_where_missing : bool
        Take stretches without a tile as sea at 0 m.
    sea_where_hole : bool
        Take holes that would be refused as sea at 0 m: those too wide to bridge, or all of them together
        with `strict_holes`.
    accept_mixed_datums : bool
        Go on when tiles with different known vertical datums meet on the path.
    from_ground_m, to_ground_m : float, optional
        Stated ground of an end [m], used in place of the model's.

    Returns
    -------
    TerrainProfile
        With at least 33 points however short the path.

    Raises
    ------
    TerrainGapError
        For an end outside all tiles, a missing tile, or a hole that may not be bridged; says which and where.
    TerrainError
        For mixed vertical datums, or a damaged tile.
    LocationError
        For impossible, equal or antipodal ends.
    OutOfRangeError
        For an impossible step or stated ground.

    Notes
    -----
    Holes up to 300 m along the path are bridged straight; up to 3 km from the ground all round them. At most
    200 000 points are taken: where finer cells would need more, the step is longer and a warning says so.
    """
    _check(step_m, from_ground_m, to_ground_m)
    ends = (from_latitude_deg, from_longitude_deg, to_latitude_deg, to_longitude_deg)
    leg = inverse(*ends)
    warnings: list[str] = []
    cell_m = _finest_cell_m(store, ends, leg.distance_m)
    points = points_along(*ends, _count(leg.distance_m, cell_m, step_m, warnings))
    model_m, source = store.sample(points.latitude_deg, points.longitude_deg)
    ground_m = model_m.copy()
    for end, stated_m in ((0, from_ground_m), (-1, to_ground_m)):
        if stated_m is not None:
            ground_m[end] = stated_m
            warnings += _difference(("FROM", "TO")[end], stated_m, float(model_m[end]))

    absent = np.isnan(ground_m)
    missing, void = absent & (source == NO_TILE), absent & (source != NO_TILE)
    sea = np.zeros(absent.shape, np.bool_)
    if missing.any():
        if not sea_where_missing:
            raise _missing_tiles(store, points, missing)
        ground_m[missing], sea[missing] = 0.0, True
        warnings.append(
            f"no tile for {_stretches(points, missing)}: taken as sea at 0 m as asked"
            f" ({_names(points, missing)})"
        )
    names = [tile.name for tile in store.tiles]
    bridges = []
    for first, last in runs_of(void):
        bridge = _bridge(points, first, last, names[source[first]])
        if strict_holes or bridge.length_m > LONGEST_BRIDGE_M:
            if not sea_where_hole:
                raise _hole(bridge, strict=strict_holes)
            sea[first : last + 1] = True
        else:
            bridges.append(bridge)
            _fill(store, points, ground_m, first, last, bridge, float(store.tiles[source[first]].cell_m))
    if (sea & void).any():
        rim_m = _rim_m(ground_m, sea & void)
        ground_m[sea & void] = 0.0
        warnings.append(
            f"a hole at {_stretches(points, sea & void)} is taken as sea at 0 m as asked;"
            f" the ground beside it stands at up to {rim_m:.0f} m"
        )
    if bridges:
        longest = max(bridges, key=lambda bridge: bridge.length_m)
        warnings.append(
            f"{len(bridges)} hole{'s' * (len(bridges) > 1)} in the elevation data bridged,"
            f" {_km(sum(bridge.length_m for bridge in bridges))} km of the path; the widest,"
            f" {_km(longest.length_m)} km, begins at {_km(longest.start_m)} km in {longest.tile}"
        )
    used = [int(index) for index in dict.fromkeys(source[source != NO_TILE].tolist())]
    tiles = tuple(store.tiles[index] for index in used)
    number = np.full(len(store.tiles) + 1, NO_TILE, np.int32)
    number[used] = np.arange(len(used))
    datums = _datums(tiles, accept_mixed_datums, warnings)
    return TerrainProfile(
        distance_m=points.distance_m,
        latitude_deg=points.latitude_deg,
        longitude_deg=points.longitude_deg,
        ground_m=ground_m,
        void_mask=void,
        sea_mask=sea,
        source_index=number[source],
        tiles=tiles,
        sources=tuple(dict.fromkeys(tile.name for tile in tiles)),
        bridges=tuple(bridges),
        bridged_m=math.fsum(bridge.length_m for bridge in bridges),
        void_points=int(void.sum()),
        sea_points=int(sea.sum()),
        step_m=leg.distance_m / (points.distance_m.size - 1),
        cell_m=cell_m,
        model_kinds=tuple(dict.fromkeys(tile.model_kind for tile in tiles)),
        vertical_datums=datums,
        from_ground_stated=from_ground_m is not None,
        to_ground_stated=to_ground_m is not None,
        warnings=tuple(warnings),
    )


def _check(step_m: float | None, from_ground_m: float | None, to_ground_m: float | None) -> None:
    if step_m is not None and not (math.isfinite(step_m) and step_m > 0):
        raise OutOfRangeError(f"step {step_m!r} m is impossible: give a length above 0 m")
    for end, ground_m in (("FROM", from_ground_m), ("TO", to_ground_m)):
        if ground_m is not None and not -500.0 <= ground_m <= 9_000.0:
            raise OutOfRangeError(
                f"ground {ground_m!r} m at {end} is not on Earth: give -500 to 9000 m above sea level"
            )


def _finest_cell_m(store: TerrainStore, ends: tuple[float, float, float, float], distance_m: float) -> float:
    """Shorter ground side of the finest cell that a path comes over, before any height is read."""
    look = points_along(*ends, max(FEWEST_POINTS, math.ceil(distance_m / _LOOK_AHEAD_M) + 1))
    touched = store.tiles_touched(look.latitude_deg, look.longitude_deg)
    if not touched:
        names = _names(look, np.ones(look.distance_m.shape, np.bool_))
        raise TerrainGapError(_end_outside("FROM", *ends[:2], names))
    return min(touch.cell_m for touch in touched)


def _count(distance_m: float, cell_m: float, step_m: float | None, warnings: list[str]) -> int:
    wanted_m = _usual_step_m(cell_m) if step_m is None else step_m
    count = max(FEWEST_POINTS, math.ceil(distance_m / wanted_m - 1e-9) + 1)
    if count > MOST_POINTS:
        count = MOST_POINTS
        warnings.append(
            f"the ground is read every {distance_m / (count - 1):.0f} m, more coarsely than every"
            f" {wanted_m:.1f} m, to keep to {MOST_POINTS} points: narrow ridges may be missed"
        )
    elif step_m is not None and step_m > 1.001 * cell_m:
        warnings.append(
            f"steps of up to {step_m:.0f} m are longer than the {cell_m:.0f} m cells of the tiles:"
            " narrow ridges may be missed"
        )
    return count


def _usual_step_m(cell_m: float) -> float:
    """Half a coarse cell, a whole fine one.

    Between its samples a model bends where cells meet. Next to an antenna such a bend can hide the horizon,
    and steps as long as a coarse cell jump over it: on a real path at 3 arc-seconds that was 16 dB.
    """
    return min(cell_m, max(0.5 * cell_m, _FINE_STEP_M))


def _difference(end: str, stated_m: float, model_m: float) -> list[str]:
    difference_m = abs(stated_m - model_m)
    if not difference_m > _GROUND_DIFFERENCE_M:
        return []
    side = "less" if model_m < stated_m else "more"
    warning = (
        f"ground at {end} is taken as stated, {stated_m:.0f} m; the elevation data have {model_m:.0f} m"
        f" there, {difference_m:.0f} m {side}: check place and height"
    )
    return [warning]


def _bridge(points: PathPoints, first: int, last: int, tile: str) -> Bridge:
    start_m = float(points.distance_m[max(first - 1, 0)])
    stop_m = float(points.distance_m[min(last + 1, points.distance_m.size - 1)])
    both_sides = first > 0 and last + 1 < points.distance_m.size
    straight = both_sides and stop_m - start_m <= _STRAIGHT_BRIDGE_M
    how: Literal["along the path", "from its surroundings"] = (
        "along the path" if straight else "from its surroundings"
    )
    return Bridge(start_m, stop_m, how, tile)


def _fill(
    store: TerrainStore,
    points: PathPoints,
    ground_m: NDArray[np.float64],
    first: int,
    last: int,
    bridge: Bridge,
    cell_m: float,
) -> None:
    run = slice(first, last + 1)
    if bridge.how == "along the path":
        beside = [first - 1, last + 1]
        ground_m[run] = np.interp(points.distance_m[run], points.distance_m[beside], ground_m[beside])
        return
    ground_m[run] = from_surroundings(store, points.latitude_deg[run], points.longitude_deg[run], cell_m)
    if np.isnan(ground_m[run]).any():
        raise _hole(bridge, strict=False)


def _hole(bridge: Bridge, *, strict: bool) -> TerrainGapError:
    why = (
        "holes are refused (--strict-holes)"
        if strict
        else f"too wide to bridge (at most {LONGEST_BRIDGE_M / 1000:.0f} km)"
    )
    return TerrainGapError(
        f"tile {bridge.tile} has a hole on the path from {_km(bridge.start_m)} to {_km(bridge.stop_m)} km,"
        f" {why}; use another tile there, or state that it is sea (--sea-where-hole)"
    )


def _missing_tiles(store: TerrainStore, points: PathPoints, missing: NDArray[np.bool_]) -> TerrainGapError:
    names = _names(points, missing)
    for refused in store.refused:
        if any(name.lower() in refused.path.lower() for name in names.split(", ")):
            return TerrainGapError(
                f"the path needs {names} at {_stretches(points, missing)}: {refused.reason}"
            )
    for end, index in (("FROM", 0), ("TO", -1)):
        if missing[index]:
            place = float(points.latitude_deg[index]), float(points.longitude_deg[index])
            return TerrainGapError(_end_outside(end, *place, names))
    return TerrainGapError(
        f"missing elevation tile {names} at {_stretches(points, missing)} of the path;"
        " put it with the others, or state that it is sea (--sea-where-missing)"
    )


def _end_outside(end: str, latitude_deg: float, longitude_deg: float, names: str) -> str:
    square = square_name(latitude_deg, longitude_deg)
    needs = f"tile {square}" if names == square else f"tile {square} (the path also lacks others: {names})"
    return (
        f"{end} ({latitude_deg:.5f} {longitude_deg:.5f}) lies outside all elevation tiles;"
        f" put {needs} with the others, or state that it is sea (--sea-where-missing)"
    )


def _names(points: PathPoints, mask: NDArray[np.bool_]) -> str:
    """Customary names of the squares that the marked points lie in, at most four."""
    names = _unique(
        square_name(float(latitude), float(longitude))
        for latitude, longitude in zip(points.latitude_deg[mask], points.longitude_deg[mask], strict=True)
    )
    return ", ".join(names[:4]) + (f", and {len(names) - 4} more" if len(names) > 4 else "")


def _unique(names: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(names))


def _stretches(points: PathPoints, mask: NDArray[np.bool_]) -> str:
    """Where marked points lie, from the last point before to the next one after; at most three stretches."""
    end = points.distance_m.size - 1
    parts = [
        f"{_km(points.distance_m[max(first - 1, 0)])} to {_km(points.distance_m[min(last + 1, end)])}"
        for first, last in runs_of(mask)
    ]
    return ", ".join(parts[:3]) + " km" + (f" and {len(parts) - 3} more stretches" if len(parts) > 3 else "")


def _rim_m(ground_m: NDArray[np.float64], mask: NDArray[np.bool_]) -> float:
    beside = [
        ground_m[index]
        for first, last in runs_of(mask)
        for index in (first - 1, last + 1)
        if 0 <= index < ground_m.size
    ]
    return float(np.nanmax(beside)) if beside else 0.0


def _km(distance_m: float) -> str:
    return f"{distance_m / 1000:.1f}" if distance_m >= 1000 or distance_m == 0 else f"{distance_m / 1000:.2f}"


def _datums(tiles: tuple[Tile, ...], accept_mixed: bool, warnings: list[str]) -> tuple[str, ...]:
    known: dict[str, str] = {}
    for tile in tiles:
        if tile.vertical_datum is not None:
            known.setdefault(tile.vertical_datum, tile.name)
    if len(known) > 1:
        pairs = " and ".join(f"{datum} ({name})" for datum, name in known.items())
        if not accept_mixed:
            raise TerrainError(
                f"tiles with different vertical datums meet on the path: {pairs}; use tiles of one datum,"
                " or accept the mixture (accept-mixed-datums)"
            )
        warnings.append(f"vertical datums are mixed, as accepted: {pairs}; heights may jump where they meet")
    unknown = _unique(tile.name for tile in tiles if tile.vertical_datum is None)
    if unknown:
        count = len(unknown) - 1
        more = f" and {count} more tile{'s' * (count > 1)}" if count else ""
        warnings.append(f"vertical datum of {unknown[0]}{more} unknown; heights taken as above sea level")
    if "ellipsoid" in known:
        warnings.append(
            f"heights of {known['ellipsoid']} are above the ellipsoid, tens of metres from sea level"
        )
    return tuple(known)
