"""GeoJSON: features that are points are stations; their properties are read as the columns of a table."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any

from pathprofile.errors import StationError
from pathprofile.trip.book import MOST_STATIONS
from pathprofile.trip.importing.columns import entry_of, field_and_unit
from pathprofile.trip.importing.entry import Remark, UnclearError, plain_notes
from pathprofile.trip.importing.positions import read_place

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pathprofile.places import Location
    from pathprofile.trip.importing.entry import Reading

__all__ = ["read_geojson"]

_FEATURES = re.compile(r'"features"\s*:\s*\[')
_GAP = re.compile(r"[\s,]*")


def _no_constant(name: str) -> object:
    raise ValueError(f"{name} is not JSON")


# Numbers stay text, so that the digits written tell how well a place is known.
_DECODER = json.JSONDecoder(parse_float=str, parse_int=str, parse_constant=_no_constant)


def read_geojson(text: str, file: str) -> Iterator[Reading]:
    """Stations of the point features of a GeoJSON text, longitude first as the format has it.

    Yields
    ------
    Entry or Remark

    Raises
    ------
    StationError
        For broken JSON, for JSON that is not GeoJSON, and for coordinates other than WGS 84.

    References
    ----------
    .. [1] RFC 7946, The GeoJSON Format, 2016.
    """
    try:
        data = _DECODER.decode(text.lstrip("\ufeff"))
    except json.JSONDecodeError as error:
        raise StationError(f"{file}, line {error.lineno}: broken JSON: {error.msg}") from None
    except ValueError as error:
        raise StationError(f"{file}: broken JSON: {error}") from None
    except RecursionError:
        raise StationError(f"{file}: broken JSON: nested too deep") from None
    kind = data.get("type") if isinstance(data, dict) else None
    if kind not in ("FeatureCollection", "Feature"):  # no set: a list has no hash
        raise StationError(f"{file}: not GeoJSON with features; its type is {str(kind)[:40]!r}")
    if "crs" in data and not re.search(r"CRS84|4326|4979", json.dumps(data["crs"])):
        raise StationError(f"{file}: its coordinates are not WGS 84 degrees; save it as RFC 7946 GeoJSON")
    features = data.get("features") if kind == "FeatureCollection" else [data]
    if not isinstance(features, list):
        raise StationError(f"{file}: not GeoJSON: its features are not a list")
    features = features[: MOST_STATIONS + 1]  # one too many is refused by whoever asked
    for line, feature in zip(_lines_of(text, len(features)), features, strict=True):
        cells: dict[str, str] = {}
        try:
            cells, units = _cells(feature)
            yield entry_of(line, cells, units, _point(feature))
        except UnclearError as reason:
            yield Remark(line, plain_notes(cells.get("name", ""))[:80], f"{reason}; left out")


def _cells(feature: Any) -> tuple[dict[str, str], dict[str, str]]:
    properties = feature.get("properties") if isinstance(feature, dict) else None
    cells: dict[str, str] = {}
    units: dict[str, str] = {}
    for key, value in (properties if isinstance(properties, dict) else {}).items():
        field, unit = field_and_unit(key)
        if field and field not in cells and isinstance(value, str):
            cells[field], units[field] = value, unit
    return cells, units


def _point(feature: Any) -> Location:
    geometry = feature.get("geometry") if isinstance(feature, dict) else None
    if not isinstance(geometry, dict) or geometry.get("type") != "Point":
        kind = geometry.get("type") if isinstance(geometry, dict) else None
        raise UnclearError(f"no point but {str(kind)[:40]!r}")
    numbers = geometry.get("coordinates")
    if not (isinstance(numbers, list) and len(numbers) >= 2 and all(isinstance(n, str) for n in numbers[:2])):
        raise UnclearError("no longitude and latitude in its coordinates")
    return read_place(f"{numbers[1]}; {numbers[0]}")


def _lines_of(text: str, count: int) -> list[int]:
    """Lines on which the features start; all 1 where they cannot be told."""
    start = _FEATURES.search(text)
    if start is None:
        return [1] * count
    at, seen, line = start.end(), 0, 1
    lines = []
    try:
        for _ in range(count):
            gap = _GAP.match(text, at)
            at = gap.end() if gap else at
            line += text.count("\n", seen, at)
            seen = at
            lines.append(line)
            _, at = _DECODER.raw_decode(text, at)
    except ValueError:
        return [1] * count
    return lines
