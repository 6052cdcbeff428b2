"""Coordinate frames of rasters: degrees to a raster's own coordinates and back, and where its samples lie."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from pathprofile.terrain.tiles import Tile

__all__ = ["Frame", "Placement", "Projections", "metres_per_degree", "outline_bounds", "placements_of"]

# WGS 84: semi-major axis [m], and first eccentricity squared from the flattening
# (NGA.STND.0036, 2014, table 3.1).
_A_M = 6_378_137.0
_E2 = (2 - 1 / 298.257223563) / 298.257223563


def metres_per_degree(latitude_deg: ArrayLike) -> tuple[Any, Any]:
    """Ground length of a degree of latitude and of longitude.

    Parameters
    ----------
    latitude_deg : array_like
        Any shape [degrees].

    Returns
    -------
    north_m, east_m : ndarray
        Metres of one degree northward and eastward, on the WGS 84 ellipsoid at height 0.

    Notes
    -----
    Meant for lengths of a few kilometres; for more use the geodesic.

    References
    ----------
    .. [1] J. P. Snyder, "Map Projections: A Working Manual", USGS Professional Paper 1395 (1987),
       eqs. 4-18 and 4-20.
    """
    phi = np.radians(latitude_deg)
    w2 = 1.0 - _E2 * np.sin(phi) ** 2
    meridian_m = _A_M * (1.0 - _E2) / (w2 * np.sqrt(w2))
    prime_vertical_m = _A_M / np.sqrt(w2)
    return np.radians(meridian_m), np.radians(prime_vertical_m * np.cos(phi))


class Projections:
    """Coordinate transformations, each made once: making one costs far more than using it."""

    def __init__(self) -> None:
        self._known: dict[str, Any] = {}

    def knows(self, crs_wkt: str) -> bool:
        """Whether latitude and longitude on Earth follow from coordinates in a system."""
        if not crs_wkt:
            return True
        from pyproj.exceptions import ProjError

        try:
            return self._transformer(crs_wkt) is not None
        except ProjError:
            return False

    def to_degrees(self, crs_wkt: str, x: NDArray[Any], y: NDArray[Any]) -> tuple[NDArray[Any], NDArray[Any]]:
        """Latitude and longitude [degrees] of coordinates in a system; infinite where it does not reach."""
        if not crs_wkt:
            return y, x
        longitude, latitude = self._transformer(crs_wkt).transform(x, y, direction="INVERSE")
        return np.asarray(latitude), np.asarray(longitude)

    def from_degrees(
        self, crs_wkt: str, latitude_deg: NDArray[Any], longitude_deg: NDArray[Any]
    ) -> tuple[NDArray[Any], NDArray[Any]]:
        """Coordinates in a system of places given in degrees; infinite where it does not reach."""
        if not crs_wkt:
            return longitude_deg, latitude_deg
        x, y = self._transformer(crs_wkt).transform(longitude_deg, latitude_deg)
        return np.asarray(x), np.asarray(y)

    def _transformer(self, crs_wkt: str) -> Any:
        if crs_wkt not in self._known:
            from pyproj import Transformer, network

            # No shift grid is fetched, whatever the environment says.
            network.set_network_enabled(active=False)  # type: ignore[attr-defined]
            self._known[crs_wkt] = Transformer.from_crs("EPSG:4326", crs_wkt, always_xy=True)
        return self._known[crs_wkt]


def outline_bounds(
    latitude_deg: NDArray[Any], longitude_deg: NDArray[Any]
) -> tuple[float, float, float, float]:
    """South, west, north and east [degrees] of a closed line; east < west across the 180th meridian.

    A line that goes once round the globe has a pole inside, the one nearer to it.
    """
    turned = np.unwrap(longitude_deg, period=360.0)
    south, north = float(latitude_deg.min()), float(latitude_deg.max())
    if abs(turned[-1] - turned[0]) > 180.0:
        return (south, -180.0, 90.0, 180.0) if south + north > 0 else (-90.0, -180.0, north, 180.0)
    west, east = float(turned.min()), float(turned.max())
    if east - west >= 360.0:
        return south, -180.0, north, 180.0
    shift = -360.0 * math.floor((west + 180.0) / 360.0)
    west, east = west + shift, east + shift
    return south, west, north, east if east <= 180.0 else east - 360.0


@dataclass(frozen=True)
class Placement:
    """A tile in its frame, with straight axes: sample (row, col) lies at (x0 + col dx, y0 + row dy).

    Attributes
    ----------
    index : int
        Of the tile in its store; tiles are numbered from the finest to the coarsest.
    x0, y0, dx, dy : float
        First sample and spacing; `dy` is negative where the first row is the northern one.
    west, south, east, north : float
        Outermost samples. Between them four samples surround every point.
    cell_x, cell_y : float
        Spacing without sign.
    """

    index: int
    rows: int
    cols: int
    x0: float
    y0: float
    dx: float
    dy: float
    west: float = field(init=False)
    south: float = field(init=False)
    east: float = field(init=False)
    north: float = field(init=False)
    cell_x: float = field(init=False)
    cell_y: float = field(init=False)

    def __post_init__(self) -> None:
        x1, y1 = self.x0 + (self.cols - 1) * self.dx, self.y0 + (self.rows - 1) * self.dy
        for name, value in (
            ("west", min(self.x0, x1)),
            ("east", max(self.x0, x1)),
            ("south", min(self.y0, y1)),
            ("north", max(self.y0, y1)),
            ("cell_x", abs(self.dx)),
            ("cell_y", abs(self.dy)),
        ):
            object.__setattr__(self, name, value)

    def holds(
        self, x: NDArray[np.float64], y: NDArray[np.float64], margin: float = 1e-7
    ) -> NDArray[np.bool_]:
        """Which points lie among the samples, or no more than `margin` cells outside them."""
        mx, my = margin * self.cell_x, margin * self.cell_y
        inside = (x >= self.west - mx) & (x <= self.east + mx)
        inside &= (y >= self.south - my) & (y <= self.north + my)
        return inside

    def grid(self, x: NDArray[np.float64], y: NDArray[np.float64]) -> tuple[NDArray[Any], NDArray[Any]]:
        """Column and row in fractions of a cell from the first sample; outside points move onto the edge."""
        col = (x - self.x0) / self.dx
        row = (y - self.y0) / self.dy
        np.clip(col, 0.0, self.cols - 1, out=col)
        np.clip(row, 0.0, self.rows - 1, out=row)
        return col, row


def placements_of(index: int, tile: Tile) -> list[Placement]:
    """Where a tile lies in its frame: once, or more often where longitude wraps round at 180 degrees."""
    a, b, c, d, e, f = tile.transform
    if tile.turned:
        return [Placement(index, tile.height, tile.width, 0.0, 0.0, 1.0, 1.0)]
    x0, y0 = a * 0.5 + b * 0.5 + c, d * 0.5 + e * 0.5 + f
    first = Placement(index, tile.height, tile.width, x0, y0, a, e)
    if tile.crs_kind == "projected":
        return [first]
    shifts = range(-math.ceil((first.east + 182) / 360), math.ceil((182 - first.west) / 360) + 1)
    shifted = [Placement(index, tile.height, tile.width, x0 + 360.0 * k, y0, a, e) for k in shifts]
    return [p for p in shifted if p.east > -180.0 - 2 * p.cell_x and p.west < 180.0 + 2 * p.cell_x]


class Frame:
    """Tiles that share coordinates, so that the strip between two of them can be interpolated across.

    A tile whose rows are turned against its coordinate system has a frame to itself, in cells.

    Parameters
    ----------
    tiles : sequence of (index, Tile)
        Finest first.
    projections : Projections
    """

    def __init__(self, tiles: list[tuple[int, Tile]], projections: Projections) -> None:
        first = tiles[0][1]
        self.crs_wkt = first.crs_wkt
        self.in_degrees = first.crs_kind != "projected" and not first.turned
        self._turned = _inverse(first) if first.turned else None
        self._straight = first.transform
        self._projections = projections
        self.placements = [p for index, tile in tiles for p in placements_of(index, tile)]
        edges = [(p.west, p.south, p.east, p.north, p.cell_x, p.cell_y) for p in self.placements]
        west, south, east, north, cell_x, cell_y = np.array(edges).T
        # One strip wide enough for the coarsest: the partner across a seam must not be overlooked.
        wide_x, wide_y = 1.5 * cell_x.max(), 1.5 * cell_y.max()
        self._west, self._south, self._east, self._north = (
            west - wide_x,
            south - wide_y,
            east + wide_x,
            north + wide_y,
        )
        bounds = np.array([(t.south_deg, t.west_deg, t.north_deg, t.east_deg) for _, t in tiles])
        centre = bounds[:, 1] + ((bounds[:, 3] - bounds[:, 1]) % 360.0) / 2
        half = ((bounds[:, 3] - bounds[:, 1]) % 360.0) / 2
        half[(half == 0) & (bounds[:, 3] != bounds[:, 1])] = 180.0
        offset = np.remainder(centre - centre[0] + 180.0, 360.0) - 180.0
        low, high = float((offset - half).min()), float((offset + half).max())
        self._middle_deg = float(centre[0]) + (low + high) / 2
        self._reach_deg = (high - low) / 2 + 0.5
        self._south_deg, self._north_deg = float(bounds[:, 0].min()) - 0.5, float(bounds[:, 2].max()) + 0.5

    def xy(
        self, latitude_deg: NDArray[np.float64], longitude_deg: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Coordinates in this frame; NaN far from all its tiles, where projections are not to be trusted."""
        x, y = longitude_deg, latitude_deg
        if self.crs_wkt:
            near = (
                np.abs(np.remainder(longitude_deg - self._middle_deg + 180.0, 360.0) - 180.0)
                <= self._reach_deg
            )
            near &= (latitude_deg >= self._south_deg) & (latitude_deg <= self._north_deg)
            x, y = np.full(latitude_deg.shape, np.nan), np.full(latitude_deg.shape, np.nan)
            if near.any():
                x[near], y[near] = self._projections.from_degrees(
                    self.crs_wkt, latitude_deg[near], longitude_deg[near]
                )
                x[~np.isfinite(x)] = np.nan
        if self._turned is not None:
            a, b, c, d, e, f = self._turned
            x, y = a * x + b * y + c, d * x + e * y + f
        return x, y

    def degrees(
        self, x: NDArray[np.float64], y: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Latitude and longitude of coordinates in this frame."""
        if self._turned is not None:
            a, b, c, d, e, f = self._straight
            x, y = a * (x + 0.5) + b * (y + 0.5) + c, d * (x + 0.5) + e * (y + 0.5) + f
        return self._projections.to_degrees(self.crs_wkt, x, y)

    def cell_sides_m(
        self, p: Placement, latitude_deg: NDArray[np.float64], longitude_deg: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Ground length of one cell along a row and along a column, at places [m]."""
        nudge = 1e-4
        latitude = np.clip(latitude_deg, -89.99, 89.99)
        x0, y0 = self.xy(latitude - nudge, longitude_deg)
        x1, y1 = self.xy(latitude + nudge, longitude_deg)
        x2, y2 = self.xy(latitude, longitude_deg - nudge)
        x3, y3 = self.xy(latitude, longitude_deg + nudge)
        north_m, east_m = metres_per_degree(latitude)
        # Cells per metre to the north and to the east; inverting that matrix gives metres per cell.
        col_north, row_north = (
            (x1 - x0) / p.cell_x / (2 * nudge * north_m),
            (y1 - y0) / p.cell_y / (2 * nudge * north_m),
        )
        col_east, row_east = (
            (x3 - x2) / p.cell_x / (2 * nudge * east_m),
            (y3 - y2) / p.cell_y / (2 * nudge * east_m),
        )
        area = np.abs(col_north * row_east - col_east * row_north)
        return np.hypot(row_north, row_east) / area, np.hypot(col_north, col_east) / area

    def near(self, x: NDArray[np.float64], y: NDArray[np.float64]) -> list[int]:
        """Positions in `placements` of those that points may touch, finest first."""
        if x.size == 0:
            return []
        x_low, x_high, y_low, y_high = (
            np.fmin.reduce(x),
            np.fmax.reduce(x),
            np.fmin.reduce(y),
            np.fmax.reduce(y),
        )
        hit = (
            (self._west <= x_high) & (self._east >= x_low) & (self._south <= y_high) & (self._north >= y_low)
        )
        return [int(i) for i in np.flatnonzero(hit)]


def _inverse(tile: Tile) -> tuple[float, float, float, float, float, float]:
    """Affine from coordinates to fractional column and row counted from the first sample."""
    a, b, c, d, e, f = tile.transform
    det = a * e - b * d
    ia, ib, id_, ie = e / det, -b / det, -d / det, a / det
    return ia, ib, -ia * c - ib * f - 0.5, id_, ie, -id_ * c - ie * f - 0.5
