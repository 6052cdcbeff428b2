"""Polygons on land: where one may look for ground, read from GeoJSON in any coordinate reference system."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from pathprofile.errors import LocationError
from pathprofile.terrain.frames import Projections

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Bools = npt.NDArray[np.bool_]

__all__ = ["Mask", "mask_from", "read_mask"]

_CRS84 = re.compile(r"(?:urn:ogc:def:crs:)?OGC:[\d.]*:?CRS84", re.IGNORECASE)
_EPSG = re.compile(
    r"(?:urn:ogc:def:crs:EPSG:[\d.]*:|https?://www\.opengis\.net/def/crs/EPSG/[\d.]+/|EPSG:)(\d{4,6})",
    re.IGNORECASE,
)
_OUTLINE_POINTS = 20
_FARTHEST = 1e9  # no system counts so far, in whatever unit
_MOST_BYTES = 16 * 2**20


@dataclass(frozen=True)
class Mask:
    """One or more polygons with their holes.

    Attributes
    ----------
    polygons : tuple of tuple of ndarray, each of shape (n, 2)
        Rings of each polygon, the outer one first: x and y in the mask's own system, first and last alike.
        In degrees, longitudes of a ring run on across the 180° meridian.
    crs : str
        The system: empty for longitude and latitude on WGS 84, else ``EPSG:…``.
    """

    polygons: tuple[tuple[Floats, ...], ...]
    crs: str = ""

    def holds(self, latitude_deg: npt.ArrayLike, longitude_deg: npt.ArrayLike) -> Bools:
        """Whether places lie in one of the polygons and in none of its holes.

        Parameters
        ----------
        latitude_deg, longitude_deg : array_like
            Places [degrees]; any shapes that broadcast.

        Returns
        -------
        ndarray of bool
            Of the broadcast shape. Edges are straight in the mask's own system; a place on an edge belongs to
            one side only.
        """
        latitude, longitude = np.broadcast_arrays(
            np.asarray(latitude_deg, np.float64), np.asarray(longitude_deg, np.float64)
        )
        shape = latitude.shape
        x, y = Projections().from_degrees(self.crs, latitude.ravel(), longitude.ravel())
        inside = np.zeros(x.shape, np.bool_)
        for rings in self.polygons:
            here = x if self.crs else _turned_to(rings[0], x)
            within = np.zeros(x.shape, np.bool_)
            for ring in rings:
                within ^= _in_ring(ring, here, y)
            inside |= within
        return inside.reshape(shape)

    @property
    def outline_deg(self) -> tuple[Floats, Floats]:
        """Latitude and longitude of points along all outer rings [degrees]."""
        share = np.linspace(0.0, 1.0, _OUTLINE_POINTS, endpoint=False)
        parts = [
            ring[:-1, np.newaxis] + np.diff(ring, axis=0)[:, np.newaxis] * share[:, np.newaxis]
            for ring in (rings[0] for rings in self.polygons)
        ]
        points = np.concatenate([part.reshape(-1, 2) for part in parts])
        latitude, longitude = Projections().to_degrees(self.crs, points[:, 0], points[:, 1])
        return np.asarray(latitude, np.float64), np.asarray(longitude, np.float64)


def read_mask(path: Path | str) -> Mask:
    """Read polygons from a GeoJSON file.

    Parameters
    ----------
    path : Path or str

    Returns
    -------
    Mask

    Raises
    ------
    LocationError
        If the file cannot be read, or as `mask_from`.
    """
    file = Path(path)
    try:
        if file.stat().st_size > _MOST_BYTES:
            raise LocationError(
                f"mask {str(path)!r} is larger than {_MOST_BYTES // 2**20} MB: simplify its outlines"
            )
        text = file.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise LocationError(
            f"mask {str(path)!r} cannot be read ({error.strerror}); give a GeoJSON file"
        ) from error
    except UnicodeDecodeError as error:
        raise LocationError(f"mask {str(path)!r} is no text: give a GeoJSON file") from error
    try:
        content = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise LocationError(
            f"mask {str(path)!r} is no GeoJSON ({str(error)[:80]}); give a file of polygons"
        ) from error
    return mask_from(content, str(path))


def mask_from(content: object, name: str = "mask") -> Mask:
    """Take the polygons out of decoded GeoJSON.

    Parameters
    ----------
    content : object
        A geometry, feature or collection with Polygon and MultiPolygon geometries only.
    name : str
        How errors call it.

    Returns
    -------
    Mask

    Raises
    ------
    LocationError
        For no polygon at all, another kind of geometry, rings that are none, degrees that are impossible, or
        a coordinate reference system that is not known.

    Notes
    -----
    Coordinates are longitude and latitude on WGS 84 [1]_, unless a member ``crs`` names an EPSG code as the
    specification of 2008 allowed; places are then brought into that system, not outlines out of it.

    References
    ----------
    .. [1] IETF RFC 7946, "The GeoJSON Format", sections 3.1.6, 4 and B.1.
    """
    if not isinstance(content, dict):
        raise LocationError(f"{name} is no GeoJSON object: give polygons")
    crs = _crs_of(content, name)
    try:
        found = _polygons(content, name)
    except RecursionError:
        raise LocationError(f"{name} is nested too deep: give polygons") from None
    if not all(isinstance(polygon, list) for polygon in found):
        raise LocationError(f"{name} has a polygon that is no list of rings: give lists of positions")
    polygons = tuple(tuple(_ring(ring, crs, name) for ring in polygon) for polygon in found if polygon)
    if not polygons:
        raise LocationError(f"{name} is empty: it holds no polygon; draw the land that may be entered")
    if all(_area(rings[0]) == 0.0 for rings in polygons):
        raise LocationError(f"{name} is empty: its polygons have no area; draw the land that may be entered")
    return Mask(polygons, crs)


def _crs_of(content: dict[str, Any], name: str) -> str:
    stated = content.get("crs")
    if stated is None:
        return ""
    properties = stated.get("properties") if isinstance(stated, dict) else None
    text = (
        str(properties.get("name")) if isinstance(properties, dict) and "name" in properties else repr(stated)
    )
    if _CRS84.fullmatch(text):
        return ""
    code = _EPSG.fullmatch(text)
    if code is None:
        raise LocationError(
            f"{name} is in the coordinate reference system {text[:80]!r}, which is not understood: save it "
            "in longitude and latitude (WGS 84), or with an EPSG code"
        )
    if code[1] == "4326":
        return ""
    crs = f"EPSG:{code[1]}"
    try:
        Projections().from_degrees(crs, np.zeros(1), np.zeros(1))
    except Exception as error:  # the library's own errors, which only its importers know
        raise LocationError(
            f"{name} is in {crs}, which is not known here: save it in longitude and latitude (WGS 84)"
        ) from error
    return crs


def _polygons(item: object, name: str) -> list[list[Any]]:
    """All polygons of a GeoJSON object, each a list of rings."""
    kind = item.get("type") if isinstance(item, dict) else None
    if not isinstance(item, dict) or kind is None:
        raise LocationError(f"{name} holds something that is no GeoJSON object: give polygons")
    if kind == "FeatureCollection":
        return [polygon for each in _listed(item, "features", name) for polygon in _polygons(each, name)]
    if kind == "GeometryCollection":
        return [polygon for each in _listed(item, "geometries", name) for polygon in _polygons(each, name)]
    if kind == "Feature":
        geometry = item.get("geometry")
        return [] if geometry is None else _polygons(geometry, name)
    if kind == "Polygon":
        return [_listed(item, "coordinates", name)]
    if kind == "MultiPolygon":
        return _listed(item, "coordinates", name)
    raise LocationError(f"{name} holds a {kind!r:.60}: give Polygon or MultiPolygon only")


def _listed(item: dict[str, Any], member: str, name: str) -> list[Any]:
    found = item.get(member)
    if not isinstance(found, list):
        raise LocationError(f"{name}: a {item['type']!r:.60} without a list of {member}")
    return found


def _ring(points: object, crs: str, name: str) -> Floats:
    try:
        ring = np.array([(float(point[0]), float(point[1])) for point in points], np.float64)  # type: ignore[attr-defined]
    except (TypeError, ValueError, IndexError, KeyError, OverflowError):
        raise LocationError(f"{name} has a ring that is no list of positions: give x and y of each") from None
    if ring.shape[0] < 3 or not np.isfinite(ring).all():
        raise LocationError(
            f"{name} has a ring of {ring.shape[0]} points: give at least three, and the first again"
        )
    if np.abs(ring).max() > _FARTHEST:
        raise LocationError(
            f"{name} has a corner at {np.abs(ring).max():g}, which is nowhere on Earth: mend it"
        )
    if (ring[0] != ring[-1]).any():
        ring = np.concatenate([ring, ring[:1]])
    if crs:
        return ring
    if np.abs(ring[:, 1]).max() > 90.0 or np.abs(ring[:, 0]).max() > 360.0:
        far = ring[np.abs(ring).sum(axis=1).argmax()]
        raise LocationError(
            f"{name} has a corner at {far[0]:g} {far[1]:g}, which is no longitude and latitude: save it in "
            "WGS 84, or name its coordinate reference system (crs)"
        )
    ring[:, 0] = np.unwrap(ring[:, 0], period=360.0)
    return ring


def _area(ring: Floats) -> float:
    x, y = ring[:, 0] - ring[0, 0], ring[:, 1] - ring[0, 1]
    return abs(float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]))) / 2.0


def _turned_to(ring: Floats, longitude: Floats) -> Floats:
    """Longitudes by whole turns as near as can be to the middle of a ring."""
    middle = 0.5 * (ring[:, 0].min() + ring[:, 0].max())
    return np.asarray(longitude - 360.0 * np.round((longitude - middle) / 360.0))


def _in_ring(ring: Floats, x: Floats, y: Floats) -> Bools:
    """Whether a ray eastward crosses a ring an odd number of times."""
    odd = np.zeros(x.shape, np.bool_)
    near = (y >= ring[:, 1].min()) & (y <= ring[:, 1].max()) & (x <= ring[:, 0].max())
    some = np.flatnonzero(near)
    px, py = x[some], y[some]
    found = np.zeros(some.shape, np.bool_)
    for (x1, y1), (x2, y2) in zip(ring[:-1].tolist(), ring[1:].tolist(), strict=True):
        if y1 == y2:
            continue
        crosses = (y1 > py) != (y2 > py)
        found ^= crosses & (px < x1 + (py - y1) * ((x2 - x1) / (y2 - y1)))
    odd[some] = found
    return odd
