"""Paths, obstacles and places as GeoJSON."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from pathprofile.export.entries import Fact, entries, foreword, stops
from pathprofile.export.files import write_export
from pathprofile.export.lines import cut_at_antimeridian, map_points

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from pathprofile.export.entries import Answers, Entry, Stop

__all__ = ["SCHEMA", "geojson_document", "write_geojson"]

SCHEMA = "pathprofile.geojson/1"
SUFFIXES = (".geojson", ".json")


def geojson_document(answers: Answers) -> dict[str, Any]:
    """Feature collection of one answer or many.

    Parameters
    ----------
    answers : Contact, PairAnswer or NoResult, or iterable of them
        Whole contacts, rows of a ranking or comparison, names without an answer.

    Returns
    -------
    dict
        Features by their property ``kind``: ``path`` (a line along the geodesic), ``obstacle``, ``site``,
        ``station``, and ``no_result`` for an answer that failed (without geometry where the place is not
        known). Every feature carries ``schema`` "pathprofile.geojson/1": keys may be added, never changed.

    References
    ----------
    .. [1] RFC 7946, The GeoJSON Format.
    """
    found = entries(answers)
    answered = [entry for entry in found if entry.verdict is not None]
    features: list[dict[str, Any]] = []
    for entry in answered:
        features.append(_feature("path", _path(entry), entry.facts))
        ends: dict[str, Fact] = {"site": entry.site, "station": entry.station}
        for mark in entry.marks:
            point = _point(mark.latitude_deg, mark.longitude_deg)
            features.append(
                _feature("obstacle", point, ends | dict(zip(mark._fields[2:], mark[2:], strict=True)))
            )
    features += [_place(stop) for stop in stops(answered)]
    for entry in found:
        if entry.verdict is None:
            where = entry.station_at
            place = None if where is None else _point(where.latitude_deg, where.longitude_deg)
            features.append(_feature("no_result", place, {"name": entry.station} | entry.facts))
    return {
        "type": "FeatureCollection",
        "schema": SCHEMA,
        "notes": foreword(found),
        "features": features,
    }


def write_geojson(path: Path | str, answers: Answers, *, overwrite: bool = True) -> None:
    """Write `geojson_document` into a file; see there.

    Raises
    ------
    OutputError
        For a name that does not end in ``.geojson`` or ``.json``, or a file that cannot be written.
    """
    text = json.dumps(geojson_document(answers), allow_nan=False, ensure_ascii=False) + "\n"
    write_export(path, text.encode("utf-8"), "GeoJSON", SUFFIXES, overwrite=overwrite)


def _path(entry: Entry) -> dict[str, Any] | None:
    if entry.site_at is None or entry.station_at is None:
        return None
    lines = cut_at_antimeridian(map_points(entry.site_at, entry.station_at))
    if len(lines) == 1:
        return {"type": "LineString", "coordinates": lines[0]}
    return {"type": "MultiLineString", "coordinates": lines}


def _place(stop: Stop) -> dict[str, Any]:
    properties: dict[str, Fact] = {
        "name": stop.name,
        "uncertainty_m": round(stop.where.uncertainty_m, 1),
        "ground_m": None if stop.ground_m is None else round(stop.ground_m, 1),
        "description": ("; " if stop.kind == "site" else " ").join(stop.words),
    }
    return _feature(stop.kind, _point(stop.where.latitude_deg, stop.where.longitude_deg), properties)


def _point(latitude_deg: float, longitude_deg: float) -> dict[str, Any]:
    return {"type": "Point", "coordinates": [round(longitude_deg, 6), round(latitude_deg, 6)]}


def _feature(kind: str, geometry: dict[str, Any] | None, properties: Mapping[str, Fact]) -> dict[str, Any]:
    return {
        "type": "Feature",
        "geometry": geometry,
        "properties": {"schema": SCHEMA, "kind": kind, **properties},
    }
