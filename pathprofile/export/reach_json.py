"""One path as JSON: versioned, unit-suffixed keys, ``null`` for what is unknown and never NaN."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pathprofile.reach import PathEnd, Reach
    from pathprofile.sightline import LeastHeights

__all__ = ["SCHEMA", "reach_document", "to_json"]

SCHEMA = "pathprofile.reach/1"


def reach_document(
    reach: Reach, *, tiles: Sequence[Mapping[str, object]] = (), versions: Mapping[str, str] | None = None
) -> dict[str, Any]:
    """Whole result of one path as plain lists, numbers and text.

    Parameters
    ----------
    reach : Reach
    tiles : sequence of mapping
        Name and checksum of each elevation tile read.
    versions : mapping of str to str, optional
        Program and data versions.

    Returns
    -------
    dict
        ``schema`` "pathprofile.reach/1": keys may be added to it, never changed.
    """
    seen, profile, loss = reach.sightline, reach.profile, reach.loss
    limit = reach.limiting_place()
    document = {
        "schema": SCHEMA,
        "inputs": {
            "from": _end(reach.from_end),
            "to": _end(reach.to_end),
            "frequency_mhz": reach.frequency_mhz,
            "polarization": reach.polarization,
            "date": reach.date.isoformat(),
            "delta_n": reach.atmosphere.delta_n,
            "n0": reach.atmosphere.n0,
            "declination_deg": reach.from_end.declination_deg,
            "to_declination_deg": reach.to_end.declination_deg,
            "step_m": profile.step_m,
            "tiles": list(tiles),
            "versions": dict(versions or {}),
        },
        "path": {
            "distance_m": reach.leg.distance_m,
            "azimuth_deg": reach.leg.azimuth_deg,
            "back_azimuth_deg": reach.leg.back_azimuth_deg,
            "magnetic_azimuth_deg": reach.from_end.magnetic_azimuth_deg,
            "magnetic_back_azimuth_deg": reach.to_end.magnetic_azimuth_deg,
        },
        "profile": {
            "distance_m": profile.distance_m,
            "latitude_deg": profile.latitude_deg,
            "longitude_deg": profile.longitude_deg,
            "ground_m": profile.ground_m,
            "void_points": profile.void_points,
            "bridged_m": profile.bridged_m,
            "sources": list(profile.sources),
        },
        "sightline": {
            "verdict": seen.verdict,
            "k_factor": seen.k_factor,
            "minimum_clearance_m": seen.minimum_clearance_m,
            "minimum_fresnel_ratio": seen.minimum_fresnel_ratio,
            "limiting": {
                "distance_m": seen.limiting_distance_m,
                "latitude_deg": limit.latitude_deg,
                "longitude_deg": limit.longitude_deg,
                "ground_m": limit.ground_m,
                "clearance_m": seen.limiting_clearance_m,
                "region": seen.limiting_region,
            },
            "from_takeoff_deg": seen.from_takeoff_deg,
            "to_takeoff_deg": seen.to_takeoff_deg,
            "from_horizon_m": seen.from_horizon_m,
            "to_horizon_m": seen.to_horizon_m,
            "obstacles": [
                {
                    "distance_m": obstacle.distance_m,
                    "ground_m": obstacle.top_m,
                    "clearance_m": obstacle.clearance_m,
                    "radius_m": obstacle.radius_m,
                    "nu": obstacle.nu,
                }
                for obstacle in reach.obstacles.kept
            ],
            "obstacles_found": reach.obstacles.found,
            "height_for_sight_m": _heights(seen.height_for_sight_m),
            "height_for_fresnel_m": _heights(seen.height_for_fresnel_m),
        },
        "loss": {
            "primary": loss.primary,
            "loss_db": loss.loss_db,
            "free_space_db": loss.free_space_db,
            "mechanism": loss.mechanism,
            "methods": dict(loss.methods),
            "abstained": dict(loss.abstained),
            "second_opinion": loss.second_opinion,
            "second_opinion_db": loss.second_opinion_db,
            "second_opinion_k_factor": loss.second_opinion_k,
            "second_opinion_cautions": list(loss.second_opinion_cautions),
            "disagreement_db": loss.disagreement_db,
            "without_troposcatter_db": loss.without_troposcatter_db,
            "not_exceeded_db": {f"{share:g}": value for share, value in loss.not_exceeded_db.items()},
            "second_opinion_not_exceeded_db": {
                f"{share:g}": value for share, value in loss.second_opinion_not_exceeded_db.items()
            },
            "range_least_db": loss.range_db[0],
            "range_most_db": loss.range_db[1],
            "remarks": list(loss.remarks),
        },
        "reflection": _reflection(reach),
        "warnings": list(reach.warnings),
    }
    plain: dict[str, Any] = _plain(document)
    return plain


def to_json(document: Mapping[str, Any], *, indent: int | None = None) -> str:
    """JSON text of a document; refuses NaN rather than write it."""
    return json.dumps(_plain(document), allow_nan=False, ensure_ascii=False, indent=indent)


def _end(end: PathEnd) -> dict[str, object]:
    return {
        "label": end.location.label,
        "latitude_deg": end.location.latitude_deg,
        "longitude_deg": end.location.longitude_deg,
        "uncertainty_m": end.location.uncertainty_m,
        "ground_m": end.ground_m,
        "antenna_agl_m": end.antenna_agl_m,
    }


def _reflection(reach: Reach) -> dict[str, object] | None:
    """Reflected ray over water or plain: a range round the loss, not part of it."""
    if reach.mirror is None or reach.two_ray is None:
        return None
    return {
        "distance_m": reach.two_ray.reflection_m,
        "water": reach.mirror.water,
        "roughness_m": reach.mirror.roughness_m,
        "least_db": reach.two_ray.crest_db,
        "most_db": reach.two_ray.trough_db,
        "from_lobe_m": reach.two_ray.from_lobe_m,
        "to_lobe_m": reach.two_ray.to_lobe_m,
    }


def _heights(heights: LeastHeights) -> dict[str, object]:
    reasons = {"from": heights.from_reason, "to": heights.to_reason, "both": heights.both_reason}
    return {
        "from": heights.from_m,
        "to": heights.to_m,
        "both": heights.both_m,
        "reasons": {end: reason for end, reason in reasons.items() if reason},
    }


def _plain(value: Any) -> Any:
    """Reduce to lists, numbers and text; what is not a finite number becomes ``None``."""
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, np.ndarray):
        if value.dtype.kind == "f" and not np.isfinite(value).all():
            return [_plain(item) for item in value.tolist()]
        return value.tolist()
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    if isinstance(value, str):
        return value.encode("utf-8", "replace").decode()  # what no UTF-8 file can hold becomes "?"
    return value
