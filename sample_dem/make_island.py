"""Make the sample elevation tiles: an island that does not exist, in open ocean where no land is.

``python sample_dem/make_island.py [OUT]`` writes four one-degree tiles to ``OUT`` (default: this folder).

Nothing here is measured ground. Land is lifted along chosen ranges while rivers cut into it, so that valleys
drain and ridges branch as real ones do; the sea is then raised a little to drown the river mouths.

Heights are the same on every machine: noise comes from an integer hash, and the arithmetic uses only
``+ - * /`` and square roots, element by element, which IEEE 754 rounds the same way everywhere.
"""

from __future__ import annotations

import sys
import zipfile
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import numpy as np
import rasterio
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SOUTH_DEG, WEST_DEG, TILES_A_SIDE = 46, -22, 2
INTERVALS = 1200  # 3 arc-second steps in one tile; 1201 samples, edges shared with the neighbours
ZIPPED = "N46W021"
VOID = -32768
SEED = 20

# A flat map is enough to draw on: kilometres east and north of 47 N 21 W.
KM_A_DEG_EAST, KM_A_DEG_NORTH = 76.0, 111.2
HALF_EAST_KM, HALF_NORTH_KM = 76.0, 111.2
DROWNED_M = 7.0


class Range(NamedTuple):
    """A band of uplift along a line: end points and half width [km], uplift at each end."""

    x0: float
    y0: float
    x1: float
    y1: float
    width_km: float
    uplift0: float
    uplift1: float


LAND = (  # capsules: two ends and a radius [km]; their union, roughened, is the land
    (-26.0, 66.0, 2.0, 70.0, 27.0),
    (-20.0, 30.0, 6.0, 30.0, 30.0),
    (-4.0, 0.0, 8.0, -32.0, 31.0),
    (4.0, -52.0, 12.0, -66.0, 21.0),
    (47.0, -64.0, 51.0, -70.0, 5.5),
    (-52.0, -50.0, -50.0, -53.0, 2.6),
)
BAYS = (  # the same, taken away
    (38.0, 52.0, 16.0, 46.0, 3.0),
    (-44.0, -26.0, -14.0, -20.0, 3.2),
    (-30.0, 96.0, -34.0, 88.0, 2.0),
    (40.0, -50.0, 22.0, -42.0, 2.5),
    (-2.0, -100.0, 2.0, -84.0, 3.0),
)
RANGES = (
    Range(-44.0, 28.0, -34.0, 54.0, 17.0, 100.0, 175.0),  # the main range, high in the west
    Range(-34.0, 54.0, -17.0, 80.0, 16.0, 195.0, 140.0),
    Range(-17.0, 80.0, 16.0, 76.0, 14.0, 130.0, 60.0),
    Range(-36.0, 4.0, -3.5, 10.5, 8.0, 85.0, 120.0),  # the middle ridge, in two parts with a gap between
    Range(6.5, 14.0, 33.0, 22.0, 8.0, 125.0, 70.0),
    Range(-3.5, 10.5, 6.5, 14.0, 4.0, 58.0, 58.0),
    Range(-14.0, -58.0, 22.0, -50.0, 6.5, 30.0, 40.0),  # low southern downs
    Range(28.0, -16.0, 34.0, -34.0, 7.0, 20.0, 34.0),
    Range(47.0, -62.0, 49.0, -67.0, 4.0, 12.0, 16.0),
)
PLAIN_UPLIFT, HILL_UPLIFT = 3.5, 16.0
POLDER = (6.0, -76.0, 3.5)  # centre and radius [km] of drained ground a little below the sea
POLDER_M = -3.0
HOLES = ((-40.5, 48.4, 1.0), (-30.3, 63.4, 0.55))  # centre and radius [km] of holes in the data


def hashed(ix: Ints, iy: Ints, salt: int) -> Floats:
    """Return white noise in [-1, 1) for whole-number points, the same for ever."""
    with np.errstate(over="ignore"):
        word = (
            ix.astype(np.uint64) * np.uint64(0x9E3779B97F4A7C15)
            + iy.astype(np.uint64) * np.uint64(0xC2B2AE3D27D4EB4F)
            + np.uint64((SEED * 1000 + salt) * 0x165667B19E3779F9 % 2**64)
        )
        for multiplier in (0xBF58476D1CE4E5B9, 0x94D049BB133111EB):
            word = (word ^ (word >> np.uint64(30))) * np.uint64(multiplier)
        word ^= word >> np.uint64(31)
    return (word >> np.uint64(11)).astype(np.float64) / 2.0**52 - 1.0


def spline_weights(fraction: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Return the four weights of the uniform cubic B-spline."""
    f, g = fraction, 1.0 - fraction
    return (
        g * g * g / 6.0,
        (4.0 - 3.0 * f * f * (1.0 + g)) / 6.0,
        (4.0 - 3.0 * g * g * (1.0 + f)) / 6.0,
        f * f * f / 6.0,
    )


def resample(grid: Floats, rows: Floats, cols: Floats) -> Floats:
    """Evaluate the cubic B-spline of ``grid`` on the lattice of fractional ``rows`` by ``cols``."""
    for axis, position in ((0, rows), (1, cols)):
        base = np.floor(position).astype(np.int64)
        last = grid.shape[axis] - 1
        shape = (-1, 1) if axis == 0 else (1, -1)
        parts = [
            np.take(grid, np.clip(base + k - 1, 0, last), axis=axis) * weight.reshape(shape)
            for k, weight in enumerate(spline_weights(position - base))
        ]
        grid = parts[0] + parts[1] + parts[2] + parts[3]
    return grid


def noise(x_km: Floats, y_km: Floats, wavelength_km: float, salt: int) -> Floats:
    """Smooth noise on the lattice ``y_km`` by ``x_km``, a hill or a hollow each wavelength, in about ±1."""
    step = wavelength_km / 2.0
    x, y = x_km / step, y_km / step
    x0, y0 = int(np.floor(x.min())) - 1, int(np.floor(y.min())) - 1
    nx, ny = int(np.floor(x.max())) + 3 - x0, int(np.floor(y.max())) + 3 - y0
    white = hashed(np.arange(nx)[None, :] + x0, np.arange(ny)[:, None] + y0, salt)
    return 1.8 * resample(white, y - y0, x - x0)


def rough(x_km: Floats, y_km: Floats, wavelength_km: float, octaves: int, salt: int) -> Floats:
    """Sum of ``octaves`` noises, each half as long and half as strong as the one before."""
    total = np.zeros((y_km.size, x_km.size))
    for octave in range(octaves):
        total += noise(x_km, y_km, wavelength_km / 2**octave, salt + octave) / 2**octave
    return total


class Sheet(NamedTuple):
    """A square-celled drawing sheet: cell size and the coordinates of its columns and rows [km]."""

    cell_km: float
    x_km: Floats
    y_km: Floats


def sheet(cell_km: float) -> Sheet:
    """Lay out a sheet over the whole area with a margin, rows from north to south."""
    nx, ny = int(HALF_EAST_KM / cell_km) + 4, int(HALF_NORTH_KM / cell_km) + 4
    return Sheet(cell_km, np.arange(-nx, nx + 1) * cell_km, np.arange(ny, -ny - 1, -1) * cell_km)


def off_segment(x: Floats, y: Floats, ends: tuple[float, float, float, float]) -> tuple[Floats, Floats]:
    """Distance [km] to a segment, and how far along it the nearest point lies (0 to 1)."""
    x0, y0, x1, y1 = ends
    dx, dy = x1 - x0, y1 - y0
    along = np.clip(((x - x0) * dx + (y - y0) * dy) / (dx * dx + dy * dy), 0.0, 1.0)
    ex, ey = x - x0 - along * dx, y - y0 - along * dy
    return np.sqrt(ex * ex + ey * ey), along


def land_and_uplift(on: Sheet) -> tuple[NDArray[np.bool_], Floats]:
    """Where land is, and how fast it rises."""
    bend_x = 9.0 * rough(on.x_km, on.y_km, 44.0, 6, 100)
    bend_y = 9.0 * rough(on.x_km, on.y_km, 44.0, 6, 120)
    x, y = on.x_km[None, :] + bend_x, on.y_km[:, None] + bend_y
    shore = np.full(x.shape, 1e3)
    for x0, y0, x1, y1, radius in LAND:
        gap = off_segment(x, y, (x0, y0, x1, y1))[0] - radius
        blend = np.clip(0.5 + (gap - shore) / 12.0, 0.0, 1.0) if radius > 10.0 else (gap > shore) * 1.0
        shore = gap + (shore - gap) * blend - (3.0 * blend * (1.0 - blend) if radius > 10.0 else 0.0)
    for x0, y0, x1, y1, radius in BAYS:
        gap, along = off_segment(x, y, (x0, y0, x1, y1))
        shore = np.maximum(shore, radius * (1.3 - along) - gap)
    x, y = on.x_km[None, :] + 0.5 * bend_x, on.y_km[:, None] + 0.5 * bend_y
    uplift = np.zeros(x.shape)
    for band in RANGES:
        gap, along = off_segment(x, y, band[:4])
        near = np.clip(1.0 - (gap / band.width_km) * (gap / band.width_km), 0.0, 1.0)
        uplift = np.maximum(uplift, near * near * (band.uplift0 + (band.uplift1 - band.uplift0) * along))
    uplift *= 1.0 + 0.45 * rough(on.x_km, on.y_km, 14.0, 3, 140)
    hills = np.maximum(rough(on.x_km, on.y_km, 30.0, 4, 150), 0.0)
    return shore < 0.0, np.maximum(uplift, 0.0) + PLAIN_UPLIFT + HILL_UPLIFT * hills * hills


NEIGHBOURS = tuple((dr, dc) for dr in (-1, 0, 1) for dc in (-1, 0, 1) if dr or dc)


def downhill(height: Floats, sea: NDArray[np.bool_], pull: Floats, cell_km: float) -> tuple[Ints, Floats]:
    """Return the lower neighbour each cell drains to (itself in pits and sea) and the distance to it [km].

    ``pull`` makes some cells more attractive than others, lest rivers run straight in eight directions.
    """
    rows, cols = height.shape
    inner = height[1:-1, 1:-1]
    steepest, shift, step = np.zeros(inner.shape), np.zeros(inner.shape, np.int64), np.ones(inner.shape)
    for dr, dc in NEIGHBOURS:
        run = cell_km * (float(np.sqrt(2.0)) if dr and dc else 1.0)
        there = (slice(1 + dr, rows - 1 + dr), slice(1 + dc, cols - 1 + dc))
        slope = (inner - height[there]) * pull[there] / run
        better = slope > steepest
        steepest[better], shift[better], step[better] = slope[better], dr * cols + dc, run
    target = np.arange(height.size).reshape(height.shape)
    target[1:-1, 1:-1] += np.where(sea[1:-1, 1:-1], 0, shift)
    length = np.ones(height.shape)
    length[1:-1, 1:-1] = step
    return target.ravel(), length.ravel()


def carve(
    height: Floats, sea: NDArray[np.bool_], uplift: Floats, cell_km: float, steps: int, dt: float
) -> Floats:
    """Raise the land while rivers cut it: stream power, implicit in time, from the river mouths up."""
    z, rise = height.ravel().copy(), np.where(sea, 0.0, uplift).ravel() * dt
    rows, cols = height.shape
    pull = 1.0 + 0.45 * hashed(np.arange(cols)[None, :], np.arange(rows)[:, None], rows)
    for _ in range(steps):
        target, length = downhill(z.reshape(height.shape), sea, pull, cell_km)
        depth, ahead = (target != np.arange(target.size)).astype(np.int64), target
        while True:  # steps to the mouth, by doubling the stride
            more = depth[ahead]
            if not more.any():
                break
            depth, ahead = depth + more, ahead[ahead]
        order = np.argsort(depth, kind="stable")
        starts = np.concatenate([[0], np.cumsum(np.bincount(depth))])
        levels = [order[a:b] for a, b in pairwise(starts)]
        drained = np.full(z.size, cell_km * cell_km)
        for cells in reversed(levels[1:]):
            np.add.at(drained, target[cells], drained[cells])
        power = dt * np.sqrt(drained) / length
        z += rise
        for cells in levels[1:]:
            z[cells] = (z[cells] + power[cells] * z[target[cells]]) / (1.0 + power[cells])
    return z.reshape(height.shape)


def soften(height: Floats, passes: int) -> Floats:
    """Let slopes creep: a small blur, repeated."""
    for _ in range(passes):
        for axis in (0, 1):
            ahead, behind = np.roll(height, -1, axis), np.roll(height, 1, axis)
            height = 0.5 * height + 0.25 * (ahead + behind)
    return height


def island() -> NDArray[np.int16]:
    """Heights of the whole area [m], rows from north to south, 3 arc-seconds apart, sea 0, holes ``VOID``."""
    on = sheet(0.8)
    height = 2.0 + noise(on.x_km, on.y_km, 2.0, 1)
    for cell_km, steps, dt in ((0.8, 40, 0.6), (0.4, 14, 0.4), (0.2, 4, 0.3)):
        fine = sheet(cell_km)
        rows, cols = (on.y_km[0] - fine.y_km) / on.cell_km, (fine.x_km - on.x_km[0]) / on.cell_km
        height, on = resample(height, rows, cols), fine
        land, uplift = land_and_uplift(on)
        height = np.where(
            land, np.maximum(height, 0.0) + 0.5 + 0.5 * noise(on.x_km, on.y_km, 3 * cell_km, 2), 0.0
        )
        height = carve(height, ~land, uplift, cell_km, steps, dt)
    height = soften(height, 2)

    samples = INTERVALS * TILES_A_SIDE
    steps_deg = np.arange(samples + 1) / INTERVALS
    x_km = steps_deg * KM_A_DEG_EAST - HALF_EAST_KM
    y_km = HALF_NORTH_KM - steps_deg * KM_A_DEG_NORTH
    ground = resample(height, (on.y_km[0] - y_km) / on.cell_km, (x_km - on.x_km[0]) / on.cell_km) - DROWNED_M
    ground += rough(x_km, y_km, 9.0, 3, 210) * np.clip(0.2 * ground, 0.0, 4.0)
    crags = 1.0 - 2.0 * np.abs(noise(x_km, y_km, 1.1, 200)) + rough(x_km, y_km, 0.5, 2, 201)
    ground += crags * np.clip(0.035 * ground + 0.4, 0.6, 26.0)
    return finish(ground, x_km, y_km)


def finish(ground: Floats, x_km: Floats, y_km: Floats) -> NDArray[np.int16]:
    """Drain the polder, set the sea level, round to whole metres and cut the holes."""
    x, y = x_km[None, :], y_km[:, None]
    ragged = np.maximum(1.0 + 0.35 * rough(x_km, y_km, 5.0, 3, 220), 0.3)
    cx, cy, radius = POLDER
    out = np.sqrt((x - cx) * (x - cx) + (y - cy) * (y - cy)) / (radius * ragged)
    drained = np.clip(3.0 - 3.0 * out, 0.0, 1.0)
    metres = np.where(ground > 0.0, np.maximum(np.rint(ground), 1.0), 0.0)
    metres = np.where(drained > 0.0, np.rint(metres + (POLDER_M - metres) * drained), metres)
    ragged = np.maximum(1.0 + 0.45 * rough(x_km, y_km, 1.2, 3, 230), 0.3)
    for cx, cy, radius in HOLES:
        out = np.sqrt((x - cx) * (x - cx) + (y - cy) * (y - cy)) / (radius * ragged)
        metres[out < 1.0] = VOID
    return metres.astype(np.int16)


def tiles() -> dict[str, NDArray[np.int16]]:
    """Return the tiles by name, each 1201 by 1201 with the edge samples shared between neighbours."""
    whole = island()
    cut = {}
    for row in range(TILES_A_SIDE):
        for col in range(TILES_A_SIDE):
            name = f"N{SOUTH_DEG + TILES_A_SIDE - 1 - row:02d}W{-(WEST_DEG + col):03d}"
            top, left = row * INTERVALS, col * INTERVALS
            cut[name] = whole[top : top + INTERVALS + 1, left : left + INTERVALS + 1]
    return cut


def write_zipped_hgt(path: Path, name: str, heights: NDArray[np.int16]) -> None:
    """Write big-endian samples, north row first, as one member of a zip archive."""
    member = zipfile.ZipInfo(f"{name}.hgt", date_time=(1980, 1, 1, 0, 0, 0))
    member.compress_type = zipfile.ZIP_DEFLATED
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr(member, heights.astype(">i2").tobytes(), compresslevel=9)


def write_geotiff(path: Path, name: str, heights: NDArray[np.int16]) -> None:
    """Write a tiled, compressed GeoTIFF whose samples sit on whole multiples of 3 arc-seconds."""
    half = 0.5 / INTERVALS
    north, west = int(name[1:3]) + 1, -int(name[4:7])
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=heights.shape[1],
        height=heights.shape[0],
        count=1,
        dtype="int16",
        crs="EPSG:4326",
        transform=rasterio.Affine(1 / INTERVALS, 0.0, west - half, 0.0, -1 / INTERVALS, north + half),
        nodata=VOID,
        tiled=True,
        blockxsize=256,
        blockysize=256,
        compress="deflate",
        predictor=2,
        zlevel=9,
    ) as out:
        out.update_tags(
            AREA_OR_POINT="Point",
            SOURCE="invented island, no real ground",
            VERTICAL_DATUM="EGM96",
            MODEL_KIND="surface",
            UNITS="m",
        )
        out.write(heights, 1)


def main(folder: Path) -> None:
    """Write all tiles to ``folder``."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, heights in tiles().items():
        if name == ZIPPED:
            write_zipped_hgt(folder / f"{name}.hgt.zip", name, heights)
        else:
            write_geotiff(folder / f"{name}.tif", name, heights)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parent)
