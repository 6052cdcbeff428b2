"""Paths, obstacles and places as GeoJSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pathprofile.export.entries import Fact, NoResult, each_contact, facts, foreword, stops
from pathprofile.export.files import write_export
from pathprofile.export.lines import cut_at_antimeridian, map_points
from pathprofile.export.reach_json import to_json
from pathprofile.export.text import one_line

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

    from pathprofile.contact import Contact

__all__ = ["SCHEMA", "geojson_document", "write_geojson"]

SCHEMA = "pathprofile.geojson/1"
SUFFIXES = (".geojson", ".json")


def geojson_document(
    contacts: Contact | Iterable[Contact], without: Iterable[NoResult] = ()
) -> dict[str, Any]:
    """Feature collection of one contact or many.

    Parameters
    ----------
    contacts : Contact or iterable of Contact
    without : iterable of NoResult
        Stations without an answer.

    Returns
    -------
    dict
        Features by their property ``kind``: ``path`` (a line along the geodesic), ``obstacle``, ``site``,
        ``station`` and ``no_result`` (without geometry where the place is not known). Every feature carries
        ``schema`` "pathprofile.geojson/1": keys may be added to it, never changed.

    References
    ----------
    .. [1] RFC 7946, The GeoJSON Format.
    """
    contacts, without = each_contact(contacts), tuple(without)
    features = []
    for contact in contacts:
        known = facts(contact)
        lines = cut_at_antimeridian(map_points(contact.reach))
        shape = (
            {"type": "LineString", "coordinates": lines[0]}
            if len(lines) == 1
            else {"type": "MultiLineString", "coordinates": lines}
        )
        features.append(_feature("path", shape, known | {"warnings": one_line(" ".join(contact.reach.warnings))}))
        for obstacle in contact.reach.obstacles.kept:
            place = contact.reach.place_at(obstacle.distance_m)
            features.append(
                _feature(
                    "obstacle",
                    _point(place.latitude_deg, place.longitude_deg),
                    {
                        "site": known["site"],
                        "station": known["station"],
                        "distance_m": round(obstacle.distance_m, 1),
                        "ground_m": round(obstacle.top_m, 1),
                        "clearance_m": round(obstacle.clearance_m, 1),
                        "radius_m": round(obstacle.radius_m, 1),
                        "nu": round(obstacle.nu, 3),
                    },
                )
            )
    for stop in stops(contacts):
        where = stop.end.location
        features.append(
            _feature(
                stop.kind,
                _point(where.latitude_deg, where.longitude_deg),
                {
                    "name": stop.name,
                    "uncertainty_m": round(where.uncertainty_m, 1),
                    "ground_m": round(stop.end.ground_m, 1),
                    "antenna_agl_m": round(stop.end.antenna_agl_m, 2),
                    "declination_deg": round(stop.end.declination_deg, 2),
                },
            )
        )
    for one in without:
        point = _point(one.location.latitude_deg, one.location.longitude_deg) if one.location else None
        properties: dict[str, Fact] = {
            "name": one_line(one.name),
            "site": one_line(one.site) or None,
            "reason": one_line(one.reason),
        }
        features.append(_feature("no_result", point, properties))
    return {
        "type": "FeatureCollection",
        "schema": SCHEMA,
        "notes": foreword(contacts, ()),
        "features": features,
    }


def write_geojson(
    path: Path | str,
    contacts: Contact | Iterable[Contact],
    without: Iterable[NoResult] = (),
    *,
    overwrite: bool = True,
) -> None:
    """Write `geojson_document` into a file; see there.

    Raises
    ------
    OutputError
        For a name that does not end in ``.geojson`` or ``.json``, or a file that cannot be written.
    """
    text = to_json(geojson_document(contacts, without)) + "\n"
    write_export(path, text.encode("utf-8"), "GeoJSON", SUFFIXES, overwrite=overwrite)


def _point(latitude_deg: float, longitude_deg: float) -> dict[str, Any]:
    return {"type": "Point", "coordinates": [round(longitude_deg, 6), round(latitude_deg, 6)]}


def _feature(kind: str, geometry: dict[str, Any] | None, properties: Mapping[str, Fact]) -> dict[str, Any]:
    return {
        "type": "Feature",
        "geometry": geometry,
        "properties": {"schema": SCHEMA, "kind": kind, **properties},
    }
