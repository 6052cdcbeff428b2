"""Ends that were typed too coarsely for the answer."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from pathprofile.errors import PathProfileError
from pathprofile.geodesy import inverse
from pathprofile.reach.assessing import assess
from pathprofile.reach.surveying import survey

if TYPE_CHECKING:
    from pathprofile.reach.result import Reach
    from pathprofile.terrain.store import TerrainStore

__all__ = ["doubtful_places"]

_LOOK_ROUND_MOST_M = 2000.0
_HIGHER_BY_M = 10.0


def doubtful_places(answer: Reach, terrain: TerrainStore) -> tuple[str, ...]:
    """Warnings about ends typed too coarsely for the answer: higher ground within the digits typed."""
    found = (_higher_ground_warning(answer, terrain, at_from=at_from) for at_from in (True, False))
    return tuple(text for text in found if text is not None)


def _higher_ground_warning(answer: Reach, terrain: TerrainStore, *, at_from: bool) -> str | None:
    """Whether higher ground within the digits typed would change the path."""
    end = answer.from_end if at_from else answer.to_end
    location = end.location
    stated = answer.survey.options.from_ground_m if at_from else answer.survey.options.to_ground_m
    if stated is not None or location.uncertainty_m < answer.profile.cell_m / 2.0:
        return None
    if location.uncertainty_m > _LOOK_ROUND_MOST_M:
        return (
            f"{location.label}: good to ±{location.uncertainty_m / 1000:.0f} km only, too vague for a "
            "verdict; distance and azimuth are those of its centre"
        )
    top = terrain.highest_within(location.latitude_deg, location.longitude_deg, location.uncertainty_m)
    if top is None or top.ground_m - end.ground_m < _HIGHER_BY_M:
        return None
    moved = replace(location, latitude_deg=top.latitude_deg, longitude_deg=top.longitude_deg)
    ends = (moved, answer.to_end.location) if at_from else (answer.from_end.location, moved)
    try:
        there = assess(
            survey(*ends, terrain, date=answer.date, options=answer.survey.options),
            frequency_mhz=answer.frequency_mhz,
            from_antenna_agl_m=answer.from_end.antenna_agl_m,
            to_antenna_agl_m=answer.to_end.antenna_agl_m,
            polarization=answer.polarization,
            atmosphere=answer.atmosphere,
            surroundings=answer.surroundings,
            deciding_only=True,
        )
    except PathProfileError:
        return None  # no path from there, as at the other end itself: nothing to compare with
    gain_db = answer.loss.loss_db - there.loss.loss_db
    if there.sightline.verdict == answer.sightline.verdict and abs(gain_db) < 3.0:
        return None
    away_m = inverse(
        location.latitude_deg, location.longitude_deg, top.latitude_deg, top.longitude_deg
    ).distance_m
    return (
        f"{location.label}: typed to ±{location.uncertainty_m:.0f} m; higher ground {away_m:.0f} m away, "
        f"{top.ground_m - end.ground_m:.0f} m more, would change the path by {gain_db:.0f} dB "
        f"({there.sightline.verdict} from there); did you mean that?"
    )
