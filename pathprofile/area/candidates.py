"""Where a mast might stand: tops, a grid, and edges from which the ground falls away toward a station."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from pathprofile import geodesy
from pathprofile.area.grid import Grid
from pathprofile.errors import LocationError, OutOfRangeError

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy.typing as npt

    from pathprofile.area.mask import Mask

    Floats = npt.NDArray[np.float64]
    Bools = npt.NDArray[np.bool_]
    Ints = npt.NDArray[np.int64]

__all__ = [
    "EDGE_CELLS",
    "LEAST_BREAK",
    "LEAST_FALL",
    "STEEPEST_DEG",
    "Candidates",
    "Field",
    "candidates",
    "cell_m_of",
    "edge_breaks",
    "field_within",
    "prominence_m",
]

STEEPEST_DEG = 25.0
"""Steeper ground is left out: nobody puts up a mast there (common practice)."""
LEAST_BREAK = math.tan(math.radians(3.0))
"""How much steeper the ground ahead must fall than it fell before, to be an edge."""
LEAST_FALL = math.tan(math.radians(1.0))
"""How much the ground ahead must fall."""
EDGE_CELLS = 2
"""How far ahead and back an edge is looked for: one cell is too noisy."""
_PROMINENCE_CELLS = 6
_PROMINENCE_M = 500.0
_MOST_NODES = 2_000_000
_ROWS_AT_ONCE = 64


@dataclass(frozen=True)
class Field:
    """Ground on a square grid in which places are looked for.

    Attributes
    ----------
    grid : Grid
        Its middle is the given spot, or that of the area.
    ground_m : ndarray, shape grid.shape
        Ground, NaN where there is none [m].
    slope_deg : ndarray, shape grid.shape
        Steepest way up or down to a neighbour; 90 beside unknown ground.
    allowed : ndarray of bool, shape grid.shape
        Within the radius and the masks, no steeper than 25°, and not in water: ground of exactly 0 m with
        nothing but 0 m around it.
    """

    grid: Grid
    ground_m: Floats
    slope_deg: Floats
    allowed: Bools

    @property
    def cell_m(self) -> float:
        """Distance of two nodes [m]."""
        return self.grid.cell_m


class Candidates(NamedTuple):
    """Nodes of a field that are worth a look, and how each was found, both of length n."""

    row: Ints
    column: Ints
    found_as: tuple[str, ...]


def field_within(
    latitude_deg: float,
    longitude_deg: float,
    radius_m: float,
    cell_m: float,
    terrain: Any,
    *,
    round_shape: bool = True,
    masks: tuple[Mask, ...] = (),
) -> Field:
    """Read the ground round a place, and which of it may be used.

    Parameters
    ----------
    latitude_deg, longitude_deg : float
        Middle [degrees].
    radius_m : float
        How far to look [m].
    cell_m : float
        Spacing of the nodes, best that of the tiles [m]. Of areas that would take more than two million
        nodes every second, third … is looked at.
    terrain : TerrainStore
    round_shape : bool
        Whether only what lies within ``radius_m`` counts, or the whole square.
    masks : tuple of Mask
        A place must be in each of them.

    Returns
    -------
    Field

    Raises
    ------
    LocationError
        If nothing is left, and why.
    """
    if not (math.isfinite(radius_m) and 0.0 < radius_m <= 500_000.0):
        raise OutOfRangeError(f"radius {radius_m!r} m: give more than 0 and at most 500000 m")
    if not (math.isfinite(cell_m) and cell_m > 0.0):
        raise OutOfRangeError(f"cell {cell_m!r} m: give more than 0 m")
    cell_m *= max(1, math.ceil(2.0 * radius_m / cell_m / math.sqrt(_MOST_NODES)))
    grid = Grid(latitude_deg, longitude_deg, cell_m, max(1, int(radius_m / cell_m + 1e-9)))
    side = grid.shape[0]
    ground, slope = np.empty(grid.shape), np.empty(grid.shape)
    inside = np.ones(grid.shape, np.bool_)
    if round_shape:
        steps = np.arange(-grid.half, grid.half + 1) * cell_m
        inside = np.hypot(steps, steps[:, np.newaxis]) <= radius_m * (1.0 + 1e-9)
    for top in range(0, side, _ROWS_AT_ONCE):
        rows = slice(top, min(top + _ROWS_AT_ONCE, side))
        latitude, longitude = grid.places_of_rows(rows.start, rows.stop)
        ground[rows] = terrain.elevation_m(latitude, longitude)
        for mask in masks:
            inside[rows] &= mask.holds(latitude, longitude)
    if not inside.any():
        what = "mask and area have" if masks else "area has"
        raise LocationError(
            f"the {what} no point of the ground in it: it is empty, elsewhere, or narrower than the map's "
            f"cells of {cell_m:.0f} m"
        )
    _slopes(ground, cell_m, slope)
    known = inside & np.isfinite(ground)
    if not known.any():
        raise LocationError("no elevation tile has ground in the area to look in: add the tile there")
    allowed = known & (slope <= STEEPEST_DEG) & ((ground != 0.0) | (slope > 0.0))
    if not allowed.any():
        raise LocationError(
            f"all ground to look in is steeper than {STEEPEST_DEG:.0f}°, or water: widen the area, or move it"
        )
    return Field(grid, ground, slope, allowed)


def _slopes(ground: Floats, cell_m: float, slope: Floats) -> None:
    """Steepest way to any of the eight neighbours: crests and the feet of cliffs are steep too."""
    padded = np.pad(ground, 1, mode="edge")
    rows, columns = ground.shape
    steepest = np.zeros(ground.shape)
    for down in (-1, 0, 1):
        for right in (-1, 0, 1):
            if down == right == 0:
                continue
            other = padded[1 + down : 1 + down + rows, 1 + right : 1 + right + columns]
            rise = np.abs(other - ground) / (cell_m * math.hypot(down, right))
            np.maximum(steepest, np.where(np.isnan(rise), np.inf, rise), out=steepest)
    slope[:] = np.degrees(np.arctan(steepest))


def prominence_m(field: Field) -> Floats:
    """How far each node that is the highest of its surroundings stands above their mean [m]; else 0.

    Parameters
    ----------
    field : Field

    Returns
    -------
    ndarray, shape field.grid.shape
        Surroundings are a square with 500 m (at least six cells) to each side. Of a flat top only the node
        nearest its middle counts.
    """
    from scipy import ndimage

    half = max(_PROMINENCE_CELLS, round(_PROMINENCE_M / field.cell_m))
    side = 2 * min(half, field.grid.half) + 1
    known = np.isfinite(field.ground_m)
    filled = np.where(known, field.ground_m, 0.0)
    share = ndimage.uniform_filter(known.astype(np.float64), side, mode="constant")
    mean = ndimage.uniform_filter(filled, side, mode="constant") / np.maximum(share, 1e-9)
    lowest = np.where(known, field.ground_m, -np.inf)
    top = known & (lowest >= ndimage.maximum_filter(lowest, side, mode="nearest"))
    labels, count = ndimage.label(top, np.ones((3, 3)))
    found = np.zeros(field.ground_m.shape)
    middles = ndimage.center_of_mass(top, labels, range(1, count + 1))
    slices = ndimage.find_objects(labels)
    for number, (middle, where) in enumerate(zip(middles, slices, strict=True), start=1):
        rows, columns = np.nonzero(labels[where] == number)
        rows, columns = rows + where[0].start, columns + where[1].start
        at = int(np.argmin((rows - middle[0]) ** 2 + (columns - middle[1]) ** 2))
        row, column = rows[at], columns[at]
        found[row, column] = max(float(field.ground_m[row, column] - mean[row, column]), 0.0)
    return found


def edge_breaks(field: Field, azimuth_deg: float) -> Floats:
    """How sharply the ground breaks away ahead along an azimuth, at each node that is an edge; else 0.

    Parameters
    ----------
    field : Field
    azimuth_deg : float
        Of the station, clockwise from true north [degrees].

    Returns
    -------
    ndarray, shape field.grid.shape
        Slope behind less slope ahead, rising positive, over two cells each way. It counts where the ground
        ahead falls by 1° or more, the break is 3° or more, and neither neighbour along the azimuth has a
        sharper one.
    """
    from scipy import ndimage

    turn = math.radians(azimuth_deg)
    up, right = math.cos(turn), math.sin(turn)

    def shifted(values: Floats, cells: float) -> Floats:
        moved = ndimage.shift(
            values, (cells * up, -cells * right), order=1, mode="constant", cval=math.nan, prefilter=False
        )
        return np.asarray(moved, np.float64)

    reach_m = EDGE_CELLS * field.cell_m
    ahead = (shifted(field.ground_m, EDGE_CELLS) - field.ground_m) / reach_m
    behind = (field.ground_m - shifted(field.ground_m, -EDGE_CELLS)) / reach_m
    sharp = np.where(np.isnan(ahead) | np.isnan(behind), 0.0, behind - ahead)
    near = np.fmax(shifted(sharp, 1.0), shifted(sharp, -1.0))
    edge = (sharp >= LEAST_BREAK) & (ahead <= -LEAST_FALL) & (sharp >= np.nan_to_num(near) - 1e-12)
    return np.where(edge, sharp, 0.0)


def candidates(field: Field, toward: Mapping[str, float], *, most: int = 1200) -> Candidates:
    """Choose nodes to try: first tops, then edges facing each direction, then an even grid.

    Parameters
    ----------
    field : Field
    toward : mapping of str to float
        Azimuths of the stations by name, true [degrees]; those within 10° of each other share their edges.
    most : int
        How many nodes at most; a quarter for tops, half for edges, the rest for the grid.

    Returns
    -------
    Candidates
        In a fixed order, each node once.

    Raises
    ------
    OutOfRangeError
        For fewer than 12.
    """
    if most < 12:
        raise OutOfRangeError(f"{most!r} candidates: give 12 or more")
    found: dict[tuple[int, int], str] = {}
    prominence = np.where(field.allowed, prominence_m(field), 0.0)
    for node in _spread(prominence, most // 4, apart=1):
        found.setdefault(node, "top")
    sectors: dict[int, str] = {}
    for name, azimuth_deg in sorted(toward.items()):
        sectors.setdefault(round(azimuth_deg / 10.0) % 36, name)
    for sector, name in sorted(sectors.items()):
        breaks = edge_breaks(field, 10.0 * sector)
        # of edges the higher ones first: what is below hides behind them
        height = np.where(
            field.allowed & (breaks > 0.0), field.ground_m - np.nanmin(field.ground_m) + breaks, 0.0
        )
        for node in _spread(height, max(1, most // 2 // len(sectors)), apart=3):
            found.setdefault(node, f"edge toward {name}")
    left = most - len(found)
    step = max(1, math.isqrt(max(int(field.allowed.sum()) // max(left, 1), 0)))
    while True:
        rows, columns = np.nonzero(field.allowed)
        on = ((rows - field.grid.half) % step == 0) & ((columns - field.grid.half) % step == 0)
        if int(on.sum()) <= left:
            break
        step += 1
    for node in zip(rows[on].tolist(), columns[on].tolist(), strict=True):
        found.setdefault(node, "grid")
    nodes = sorted(found)
    return Candidates(
        np.array([row for row, _ in nodes], np.int64),
        np.array([column for _, column in nodes], np.int64),
        tuple(found[node] for node in nodes),
    )


def _spread(worth: Floats, most: int, *, apart: int) -> list[tuple[int, int]]:
    """Nodes of the largest worth above 0, none closer than ``apart`` nodes to one already chosen."""
    rows, columns = np.nonzero(worth > 0.0)
    order = np.lexsort((columns, rows, -worth[rows, columns]))
    taken = np.zeros(worth.shape, np.bool_)
    chosen: list[tuple[int, int]] = []
    for row, column in zip(rows[order].tolist(), columns[order].tolist(), strict=True):
        if taken[row, column]:
            continue
        chosen.append((row, column))
        if len(chosen) == most:
            break
        taken[max(row - apart + 1, 0) : row + apart, max(column - apart + 1, 0) : column + apart] = True
    return chosen


def cell_m_of(terrain: Any, latitude_deg: float, longitude_deg: float, radius_m: float) -> float:
    """Finest cell of the tiles round a place [m].

    Raises
    ------
    LocationError
        If there is no tile.
    """
    turn = np.linspace(0.0, 360.0, 25)
    rim = geodesy.direct(latitude_deg, longitude_deg, turn, radius_m)
    touched = terrain.tiles_touched(np.append(rim[0], latitude_deg), np.append(rim[1], longitude_deg))
    if not touched:
        raise LocationError(
            f"no elevation tile at {latitude_deg:.5f} {longitude_deg:.5f} to look for ground in: "
            "add the tile there"
        )
    return float(min(touch.cell_m for touch in touched))
