"""What the picture of a skyline says in words; numbers come from the result, only units are turned here."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from pathprofile import __version__
from pathprofile.atmosphere import EARTH_RADIUS_M
from pathprofile.draw.coverage_words import away, metres_and_feet, percent
from pathprofile.draw.scales import grouped

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    import numpy.typing as npt

    from pathprofile.area.landmarks import OnSkyline
    from pathprofile.area.skyline import Skyline

__all__ = ["degrees", "facts", "footnote", "headline", "pointing", "row_text", "unreached"]

_COUNTED = (
    ("above", "above the horizon"),
    ("below", "hidden below it"),
    ("before", "nearer than it"),
    ("unknown", "not known"),
)
_JUST_DEG = 0.05
_SHORT = 0.99
"""Bearings on which the ground is known less far than this share of the farthest."""


def degrees(value_deg: float) -> str:
    """Elevation angle with its sign."""
    text = grouped(value_deg, 1)
    return f"{'+' if value_deg >= 0.05 else ''}{text}°"


def pointing(azimuth_deg: float, declination_deg: float | None) -> str:
    """Where to point, magnetic first."""
    true = f"{round(azimuth_deg) % 360:03d}° true"
    if declination_deg is None:
        return true
    return f"{round(azimuth_deg - declination_deg) % 360:03d}° magnetic ({true})"


def headline(skyline: Skyline) -> str:
    """Give the range of the horizon in a few words."""
    if not np.isfinite(skyline.elevation_deg).any():
        return "No ground known around the site"
    low, high = float(np.nanmin(skyline.elevation_deg)), float(np.nanmax(skyline.elevation_deg))
    return f"Horizon from {degrees(low)} to {degrees(high)}"


def facts(skyline: Skyline, stations: Sequence[OnSkyline], declination_deg: float | None) -> list[str]:
    """Say where the horizon is highest and lowest, and how the stations stand."""
    said = []
    if np.isfinite(skyline.elevation_deg).any():
        for word, index in (
            ("Highest", int(np.nanargmax(skyline.elevation_deg))),
            ("Lowest", int(np.nanargmin(skyline.elevation_deg))),
        ):
            where = pointing(float(skyline.azimuth_deg[index]), declination_deg)
            far = away(float(skyline.distance_m[index]))
            ground = metres_and_feet(float(skyline.ground_m[index]))
            said.append(f"{word}: {where}, {far} off, ground {ground}.")
    if stations:
        counts = {name: sum(one.stands == name for one in stations) for name, _ in _COUNTED}
        parts = [f"{counts[name]} {words}" for name, words in _COUNTED if counts[name]]
        said.append(f"Stations: {', '.join(parts)}.")
    share = float(unreached(skyline).mean())
    if share > 0.0:
        said.append(
            f"On {percent(share)} of the bearings the ground is known only to "
            f"{away(float(skyline.reach_m.min()))} or more: the horizon may be higher there."
        )
    said.append(f"Seen from {metres_and_feet(skyline.eye_amsl_m)} above the sea.")
    return said


def row_text(one: OnSkyline, declination_deg: float | None) -> str:
    """How a station stands, for the list."""
    over = abs(one.elevation_deg - one.horizon_deg)
    by = "just" if over < _JUST_DEG else f"{over:.1f}°"
    stands = {
        "above": f"{by} above",
        "below": f"{by} below",
        "before": "nearer than horizon",
        "unknown": "not known",
    }[one.stands]
    azimuth = one.landmark.azimuth_deg
    where = f"{round(azimuth) % 360:03d}° true"
    if declination_deg is not None:
        where = f"{round(azimuth - declination_deg) % 360:03d}° mag. ({round(azimuth) % 360:03d}°)"
    return f"{where}, {away(one.landmark.distance_m)}, {stands}"


def footnote(skyline: Skyline, terrain: str, date: dt.date | None) -> str:
    """Where the picture comes from."""
    parts = [
        f"Map {terrain}" if terrain else "",
        f"k {skyline.effective_radius_m / EARTH_RADIUS_M:.2f}",
        date.isoformat() if date else "",
        f"pathprofile {__version__}",
    ]
    return ". ".join(part for part in parts if part)


def unreached(skyline: Skyline) -> npt.NDArray[np.bool_]:
    """Bearings on which the ground is known less far than on others, shape (r,)."""
    return np.asarray(skyline.reach_m < _SHORT * skyline.reach_m.max())
