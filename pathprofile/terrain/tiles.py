"""One elevation raster: where it lies, how fine it is, how its numbers are to be read. Headers only."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from pathprofile.errors import TerrainError
from pathprofile.terrain.frames import Projections, metres_per_degree, outline_bounds
from pathprofile.terrain.library import library_errors, open_dataset
from pathprofile.terrain.names import ModelKind, datum_from_name, kind_from_name, square_name
from pathprofile.terrain.soundness import (
    check_bounds,
    check_cells,
    check_numbers,
    check_size,
    is_complete,
    plain_words,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Affine6", "CrsKind", "Tile", "complaint_about", "read_tile"]

Affine6 = tuple[float, float, float, float, float, float]
CrsKind = Literal["wgs84", "degrees", "projected"]

# Sizes of an .hgt file: squares of 2-byte samples.
_HGT_SIDES = (1201, 1801, 3601, 7201)
# Datums that agree with WGS 84 to a metre or two, well within any cell: no transformation is wanted.
_LIKE_WGS84 = re.compile(
    r'(?:DATUM|ENSEMBLE)\["(WGS_1984|World[ _]Geodetic[ _]System[ _]1984|North_American_Datum_1983|NAD83'
    r"|ETRS_?1989|ETRS89|European_Terrestrial_Reference_System_1989|International_Terrestrial_Reference_Frame"
    r'|ITRF|Geocentric_Datum_of_Australia|GDA|New_Zealand_Geodetic_Datum_2000)[^"]*"'
)
_FEET = {"ft": 0.3048, "foot": 0.3048, "feet": 0.3048, "international foot": 0.3048}
_SURVEY_FEET = {"us survey foot": 1200 / 3937, "ftus": 1200 / 3937, "us-ft": 1200 / 3937}
_UNITS_M = (
    {"": 1.0, "m": 1.0, "metre": 1.0, "meter": 1.0, "metres": 1.0, "meters": 1.0} | _FEET | _SURVEY_FEET
)
_UNITS_M |= {"cm": 0.01, "dm": 0.1, "mm": 0.001, "km": 1000.0}


@dataclass(frozen=True)
class Tile:
    """An elevation raster, from its header.

    Attributes
    ----------
    name : str
        Customary name of the one-degree square it fills (``N46W021``), otherwise the file's stem.
    path : str
        The file on disk.
    source : str
        What the raster library opens; differs from `path` inside an archive.
    height, width : int
        Rows and columns.
    transform : tuple of 6 floats
        Affine ``a b c d e f``: x = a col + b row + c, y = d col + e row + f, where (0, 0) is the outer
        corner of the first cell, so that the first sample lies at (0.5, 0.5).
    crs_kind : {"wgs84", "degrees", "projected"}
        ``wgs84`` also for datums within about 2 m of it; ``degrees`` for other geographic systems.
    crs_wkt : str
        Horizontal coordinate reference system as well-known text; empty for ``wgs84``.
    dtype : str
    nodata : float or None
        As the file states it (may be NaN).
    has_mask : bool
        Whether the file marks voids by a mask of its own.
    scale, offset : float
        Metres = (stored scale + offset) unit_m.
    unit_m : float
        Metres of one unit of height.
    block_height, block_width : int
        What the file decodes at once.
    in_archive : bool
        Inside a zip or gzip stream, where only reading from the start is cheap.
    south_deg, west_deg, north_deg, east_deg : float
        Bounds including the outer half cells [degrees]; east < west across the 180th meridian.
    cell_m : float
        Shorter side of a cell on the ground, at the middle [m].
    cell_sides_m : tuple of 2 floats
        Both sides: along a row, along a column [m].
    cell_deg : tuple of 2 floats or None
        Latitude and longitude spacing [degrees]; None for projected rasters.
    vertical_datum : str or None
    model_kind : {"surface", "bare", "unknown"}
    """

    name: str
    path: str
    source: str
    height: int
    width: int
    transform: Affine6
    crs_kind: CrsKind
    crs_wkt: str
    dtype: str
    nodata: float | None
    has_mask: bool
    scale: float
    offset: float
    unit_m: float
    block_height: int
    block_width: int
    in_archive: bool
    south_deg: float
    west_deg: float
    north_deg: float
    east_deg: float
    cell_m: float
    cell_sides_m: tuple[float, float]
    cell_deg: tuple[float, float] | None
    vertical_datum: str | None
    model_kind: ModelKind

    @property
    def turned(self) -> bool:
        """Whether rows are not parallel to an axis of the coordinate system."""
        return self.transform[1] != 0.0 or self.transform[3] != 0.0

    @property
    def cell_area_m2(self) -> float:
        """Ground area of a cell, by which the finest tile is found.

        Tiles of one square with the same spacing get exactly the same, wherever their half cells lie, so that
        the order in which the user named them decides, and decides alike in every square.
        """
        if self.cell_deg is None:
            area_m2 = self.cell_sides_m[0] * self.cell_sides_m[1]
        else:
            north_m, east_m = metres_per_degree(round(self.south_deg + self.north_deg) / 2)
            area_m2 = float(self.cell_deg[0] * north_m * self.cell_deg[1] * east_m)
        return float(f"{area_m2:.5g}")

    def to_json(self) -> dict[str, Any]:
        """Return plain values for the index (NaN as text, which JSON lacks)."""
        facts = dict(self.__dict__)
        if self.nodata is not None and math.isnan(self.nodata):
            facts["nodata"] = "nan"
        return facts

    @classmethod
    def from_json(cls, facts: dict[str, Any]) -> Tile:
        """Undo `to_json`."""
        nodata = facts["nodata"]
        cell_deg = facts["cell_deg"]
        return cls(
            **facts
            | {
                "nodata": None if nodata is None else float(nodata),
                "transform": tuple(facts["transform"]),
                "cell_sides_m": tuple(facts["cell_sides_m"]),
                "cell_deg": None if cell_deg is None else tuple(cell_deg),
            }
        )


def read_tile(path: Path, source: str, projections: Projections) -> Tile:
    """Read the header of one raster.

    Parameters
    ----------
    path : Path
        The file on disk, for messages and checksums.
    source : str
        What the raster library opens.
    projections : Projections
        Shared by all tiles of a store.

    Returns
    -------
    Tile

    Raises
    ------
    TerrainError
        For a file that is no raster, is truncated, has no coordinate reference system, or holds
        something else than heights.
    """
    try:
        with open_dataset(source) as dataset:
            return _tile_of(dataset, path, source, projections)
    except library_errors() as error:
        raise TerrainError(complaint_about(path)) from error


def complaint_about(path: Path) -> str:
    """Say in one line why a file cannot be read as elevations."""
    try:
        size = path.stat().st_size
        with path.open("rb") as stream:
            head = stream.read(512)
    except OSError as error:
        return f"cannot read elevation file {str(path)!r}: {error.strerror}; check its name and permissions"
    again = "remove it or fetch it again"
    if size == 0:
        return f"elevation file {str(path)!r} is empty; {again}"
    if b"<VRTDataset" in head:
        return f"elevation file {str(path)!r} only names other files; give the folder of those files instead"
    if head.startswith((b"CDF", b"\x89HDF")):
        return (
            f"elevation file {str(path)!r} is netCDF or HDF, which is not read; convert it to GeoTIFF at home"
        )
    if not re.search(rb"[^\t\n\r\x20-\x7e]", head):
        return f"elevation file {str(path)!r} holds text, not heights; {again}"
    if path.suffix.lower() == ".hgt":
        if size not in {2 * side * side for side in _HGT_SIDES}:
            sizes = " or ".join(str(2 * side * side) for side in (1201, 3601))
            return (
                f"elevation file {str(path)!r} is truncated or damaged: {size} bytes, where an .hgt has"
                f" {sizes}; {again}"
            )
        return (
            f"elevation file {str(path)!r} does not carry its place in its name; "
            "name an .hgt after its south-west corner, for example N46W021.hgt"
        )
    return f"elevation file {str(path)!r} is not a raster that can be read, or is truncated; {again}"


def _tile_of(
    dataset: Any,
    path: Path,
    source: str,
    projections: Projections,
) -> Tile:
    if not dataset.crs:
        raise TerrainError(
            f"elevation file {str(path)!r} has no coordinate reference system, so its place is unknown; "
            "give it one (a .prj file beside it will do)"
        )
    colours = [colour.name for colour in dataset.colorinterp]
    if dataset.count > 2 or colours[0] in {"red", "palette"} or dataset.dtypes[0].startswith("complex"):
        raise TerrainError(
            f"elevation file {str(path)!r} holds {dataset.count} bands of {dataset.dtypes[0]}, not heights; "
            "give a raster with one band of heights"
        )
    check_size(dataset, path)
    if not is_complete(dataset, path):
        raise TerrainError(
            f"elevation file {str(path)!r} is truncated: it lacks samples; remove it or fetch it again"
        )
    wkt = str(dataset.crs.to_wkt())
    horizontal, vertical = _split(wkt)
    crs_kind: CrsKind = "projected"
    if dataset.crs.is_geographic and re.search(r'UNIT\["degree"', wkt, re.IGNORECASE):
        alike = 'PRIMEM["Greenwich",0' in wkt and _LIKE_WGS84.search(wkt)
        crs_kind = "wgs84" if alike else "degrees"
    transform = dataset.transform
    affine: Affine6 = tuple(float(value) for value in tuple(transform)[:6])  # type: ignore[assignment]
    check_numbers(affine, (dataset.scales[0], dataset.offsets[0]), path)
    height, width = int(dataset.height), int(dataset.width)
    crs_wkt = "" if crs_kind == "wgs84" else horizontal
    if not projections.knows(crs_wkt):
        raise TerrainError(
            f"elevation file {str(path)!r} has a coordinate reference system from which no latitude and"
            " longitude on Earth follow; give it another, or save it in WGS 84"
        )
    latitude, longitude = projections.to_degrees(crs_wkt, *_outline(affine, height, width))
    known = np.isfinite(latitude) & np.isfinite(longitude)
    cell_deg = 0.0 if crs_kind == "projected" else math.hypot(affine[3], affine[4])
    check_bounds(latitude[known], longitude[known], cell_deg, path)
    south, west, north, east = outline_bounds(latitude[known], longitude[known])
    sides = _cell_sides_m(affine, crs_wkt, height, width, projections)
    check_cells(sides, path)
    inner_name = Path(source).name
    block_height, block_width = dataset.block_shapes[0]
    unit = str(dataset.units[0] or "").strip().lower()
    return Tile(
        name=_name_of(path, south, west, north, east),
        path=str(path),
        source=source,
        height=height,
        width=width,
        transform=affine,
        crs_kind=crs_kind,
        crs_wkt=crs_wkt,
        dtype=str(dataset.dtypes[0]),
        nodata=None if dataset.nodata is None else float(dataset.nodata),
        has_mask=not {flag.name for flag in dataset.mask_flag_enums[0]} <= {"all_valid", "nodata"},
        scale=float(dataset.scales[0]),
        offset=float(dataset.offsets[0]),
        unit_m=_vertical_unit_m(vertical) or _UNITS_M.get(unit, 1.0),
        block_height=int(block_height),
        block_width=int(block_width),
        in_archive=source != str(path),
        south_deg=south,
        west_deg=west,
        north_deg=north,
        east_deg=east,
        cell_m=min(sides),
        cell_sides_m=sides,
        cell_deg=None
        if crs_kind == "projected"
        else (math.hypot(affine[1], affine[4]), math.hypot(affine[0], affine[3])),
        vertical_datum=_vertical_datum(wkt, vertical, dataset.tags()) or datum_from_name(inner_name),
        model_kind=_stated_kind(dataset.tags()) or kind_from_name(inner_name),
    )


def _split(wkt: str) -> tuple[str, str]:
    """Horizontal and vertical part of well-known text; the vertical part may be empty."""
    start = re.search(r",VERT_?(CS|CRS)\[", wkt)
    if not start:
        return wkt, ""
    vertical = wkt[start.start() + 1 :]
    inside = re.match(r'COMPD_CS\["[^"]*",|COMPOUNDCRS\["[^"]*",', wkt)
    return (wkt[inside.end() : start.start()] if inside else wkt), vertical


def _stated_kind(tags: dict[str, str]) -> ModelKind | None:
    """Kind of ground from a tag ``MODEL_KIND``, for files whose names do not tell."""
    stated = tags.get("MODEL_KIND", "").strip().casefold()
    return "surface" if stated == "surface" else "bare" if stated == "bare" else None


def _vertical_datum(wkt: str, vertical: str, tags: dict[str, str]) -> str | None:
    stated = re.match(r'\w+\["([^"]+)"', vertical)
    if stated:
        return plain_words(re.sub(r" (height|depth)\b.*$", "", stated.group(1)))
    if "ellipsoidal height" in wkt.lower():
        return "ellipsoid"
    if tags.get("DTED_VerticalDatum", "").strip().upper() == "E96":
        return "EGM96"
    return next(
        (
            plain_words(value)
            for key, value in sorted(tags.items())
            if re.fullmatch(r"vertical_?datum", key, re.IGNORECASE)
        ),
        None,
    )


def _vertical_unit_m(vertical: str) -> float | None:
    unit = re.search(r'UNIT\["[^"]*",([0-9.eE+-]+)', vertical)
    try:
        return float(unit.group(1)) if unit else None
    except ValueError:
        return None


def _outline(affine: Affine6, height: int, width: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return a closed line along the outer edge of a raster, in its own coordinates."""
    there = np.linspace(0.0, 1.0, 33)
    back, zero, one = there[::-1], np.zeros_like(there), np.ones_like(there)
    col = np.concatenate((there, one, back, zero)) * width
    row = np.concatenate((zero, there, one, back)) * height
    a, b, c, d, e, f = affine
    return a * col + b * row + c, d * col + e * row + f


def _cell_sides_m(
    affine: Affine6, crs_wkt: str, height: int, width: int, projections: Projections
) -> tuple[float, float]:
    """Ground length of a step along a row and along a column, at the middle of a raster."""
    a, b, c, d, e, f = affine
    col = width / 2 + np.array([-0.5, 0.5, 0.0, 0.0])
    row = height / 2 + np.array([0.0, 0.0, -0.5, 0.5])
    latitude, longitude = projections.to_degrees(crs_wkt, a * col + b * row + c, d * col + e * row + f)
    if not np.isfinite([*latitude, *longitude]).all():
        return math.nan, math.nan
    north_m, east_m = metres_per_degree(latitude.mean())
    sides = [
        math.hypot(
            (latitude[i + 1] - latitude[i]) * north_m,
            math.remainder(longitude[i + 1] - longitude[i], 360.0) * east_m,
        )
        for i in (0, 2)
    ]
    return float(sides[0]), float(sides[1])


def _name_of(path: Path, south: float, west: float, north: float, east: float) -> str:
    width = (east - west) % 360.0
    if 0.98 <= north - south <= 1.02 and 0.98 <= width <= 1.02:
        return square_name((south + north) / 2, west + width / 2)
    return re.sub(r"(\.(hgt|tiff?|zip|gz|asc|dt[012]|img))+$", "", path.name, flags=re.IGNORECASE)
