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

__all__ = [
    "closed",
    "degrees",
    "facts",
    "footnote",
    "headline",
    "open_ends",
    "pointing",
    "row_text",
    "unreached",
]

_COUNTED = (
    ("above", "above the horizon"),
    ("below", "hidden below it"),
    ("before", "nearer than it"),
    ("unknown", "not known"),
)
_JUST_DEG = 0.05
_SHORT = 0.99
"""Ground known less far than this share of how far was looked counts as cut short."""


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
    """Give the range of the horizon in a few words, where it is known."""
    if not np.isfinite(skyline.elevation_deg).any():
        return "No ground known around the site"
    known = closed(skyline)
    if not known.any():
        return f"Horizon at least {degrees(float(np.nanmin(skyline.least_deg)))} all round"
    low, high = float(skyline.elevation_deg[known].min()), float(skyline.elevation_deg[known].max())
    where = " where known" if skyline.open_end.any() else ""
    return f"Horizon from {degrees(low)} to {degrees(high)}{where}"


def facts(skyline: Skyline, stations: Sequence[OnSkyline], declination_deg: float | None) -> list[str]:
    """Say where the horizon is highest and lowest, where it is open, and how the stations stand."""
    said = open_ends(skyline)
    known = closed(skyline)
    if known.any():
        angle_deg = np.where(known, skyline.elevation_deg, np.nan)
        for word, index in (
            ("Highest", int(np.nanargmax(angle_deg))),
            ("Lowest" if known.all() else "Lowest known", int(np.nanargmin(angle_deg))),
        ):
            where = pointing(float(skyline.azimuth_deg[index]), declination_deg)
            far = away(float(skyline.distance_m[index]))
            ground = metres_and_feet(float(skyline.ground_m[index]))
            said.append(f"{word}: {where}, {far} off, ground {ground}.")
    if stations:
        counts = {name: sum(one.stands == name for one in stations) for name, _ in _COUNTED}
        parts = [f"{counts[name]} {words}" for name, words in _COUNTED if counts[name]]
        said.append(f"Stations: {', '.join(parts)}.")
    short = unreached(skyline) & ~skyline.open_end
    if short.any():
        said.append(
            f"On {percent(float(short.mean()))} of the bearings the ground is known only to "
            f"{away(float(skyline.reach_m[short].min()))} or more: the horizon may be higher there."
        )
    said.append(f"Seen from {metres_and_feet(skyline.eye_amsl_m)} above the sea.")
    return said


def open_ends(skyline: Skyline) -> list[str]:
    """Say where the horizon is only known to be no lower than so much, and what ended the look."""
    said = []
    for ended, why in (
        (unreached(skyline), "the map ends {} off or farther"),
        (~unreached(skyline), "the look ends at the radius asked, {}"),
    ):
        those = skyline.open_end & ended
        if those.any():
            share, far = percent(float(those.mean())), away(float(skyline.reach_m[those].min()))
            least = degrees(float(skyline.least_deg[those].min()))
            said.append(
                f"On {share} of the bearings {why.format(far)}, short of the horizon: it must be "
                f"higher there than the ground known, at least {least}."
            )
    return said


def row_text(one: OnSkyline, declination_deg: float | None) -> str:
    """How a station stands, for the list."""
    over = abs(one.elevation_deg - one.horizon_deg)
    by = "just" if over < _JUST_DEG else f"{over:.1f}°"
    nowhere = not np.isfinite(one.elevation_deg)
    stands = {
        "above": "above all ground known" if one.open_end else f"{by} above",
        "below": "below ground known" if one.open_end else f"{by} below",
        "before": "nearer than horizon",
        "unknown": "no ground known there" if nowhere else "not known",
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


def closed(skyline: Skyline) -> npt.NDArray[np.bool_]:
    """Bearings on which the horizon is that of ground known, not a lower bound, shape (r,)."""
    return np.isfinite(skyline.elevation_deg) & ~skyline.open_end


def unreached(skyline: Skyline) -> npt.NDArray[np.bool_]:
    """Bearings on which the ground is known less far than was looked, shape (r,)."""
    return np.asarray(skyline.reach_m < _SHORT * skyline.looked_m)
