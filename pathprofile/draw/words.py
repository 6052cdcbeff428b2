"""What a picture of a path says in words; numbers come from the result, only units are turned here."""

from __future__ import annotations

import unicodedata
from typing import TYPE_CHECKING

from pathprofile import __version__
from pathprofile.draw.scales import grouped
from pathprofile.propagation.methods import METHOD_NAMES

if TYPE_CHECKING:
    from collections.abc import Callable

    from pathprofile.places import Location
    from pathprofile.reach import Aim, PathEnd, Reach

__all__ = [
    "CAUTION",
    "FEET_PER_METRE",
    "METRES_PER_MILE",
    "bulge_note",
    "consolation",
    "direction_sentence",
    "distance",
    "end_note",
    "footnote",
    "ground_label",
    "headline",
    "loss_sentence",
    "place_name",
    "printable",
    "set_up_sentence",
    "shortened",
    "sight_sentence",
]

FEET_PER_METRE = 1.0 / 0.3048
METRES_PER_MILE = 1609.344
CAUTION = "A prediction is not a safety line. Keep masts twice their height from power lines."

_NO_SIGHT_IS_USUAL_M = 50_000.0
_BULGE_SEEN_M = 1.0
_MISSING_GLYPH = "\N{WHITE SQUARE}"
_MODEL_KINDS = {"surface": "surface model", "bare": "bare ground"}
_HEADLINES = {
    "clear": "Clear line of sight",
    "partial": "In sight, but tight",
    "obstructed": "No line of sight",
}


def printable(text: str, has_glyph: Callable[[str], bool]) -> str:
    """Return one line of text, control characters dropped, a square for every letter the typeface lacks."""
    composed = " ".join(unicodedata.normalize("NFC", text).split())
    shown = (c for c in composed if unicodedata.category(c) not in {"Cc", "Cf", "Cs"})
    return "".join(c if has_glyph(c) else _MISSING_GLYPH for c in shown)


def place_name(location: Location, has_glyph: Callable[[str], bool]) -> str:
    """Name of a place, or its coordinates when it has none or most of its letters cannot be shown."""
    name = printable(location.label or "", has_glyph)
    letters = name.replace(" ", "")
    if 2 * letters.count(_MISSING_GLYPH) >= len(letters):
        north = "N" if location.latitude_deg >= 0 else "S"
        east = "E" if location.longitude_deg >= 0 else "W"
        return f"{abs(location.latitude_deg):.4f}° {north} {abs(location.longitude_deg):.4f}° {east}"
    return name


def shortened(text: str, width: float, width_of: Callable[[str], float]) -> str:
    """Text cut to a width, with an ellipsis for what was cut."""
    if width_of(text) <= width:
        return text
    shortest, longest = 0, len(text)
    while longest - shortest > 1:
        middle = (shortest + longest) // 2
        if width_of(text[:middle].rstrip() + "…") <= width:
            shortest = middle
        else:
            longest = middle
    return text[:shortest].rstrip() + "…"


def distance(distance_m: float) -> str:
    """Distance in both systems of units."""
    if distance_m < 1000.0:
        return f"{distance_m:.0f} m / {distance_m * FEET_PER_METRE:.0f} ft"
    decimals = 2 if distance_m < 10_000.0 else 1
    return f"{distance_m / 1000:.{decimals}f} km / {distance_m / METRES_PER_MILE:.{decimals}f} mi"


def headline(reach: Reach) -> str:
    """Give the answer about the line of sight, in a few words."""
    return _HEADLINES[reach.sightline.verdict]


def consolation(reach: Reach) -> str | None:
    """Say what an operator should not conclude from a path without sight."""
    if reach.sightline.in_sight:
        return None
    usual = "Usual at this distance; that" if reach.leg.distance_m >= _NO_SIGHT_IS_USUAL_M else "That"
    return f"{usual} alone does not rule out a contact."


def sight_sentence(reach: Reach) -> str:
    """Say what limits the line of sight, and where."""
    sight = reach.sightline
    where = _short_distance(sight.limiting_distance_m)
    clearance = _metres(abs(sight.limiting_clearance_m))
    main = reach.obstacles.main
    if not sight.in_sight and main is not None and main.clearance_m < 0.0:
        crest = reach.crest_index(main)
        where = _short_distance(float(reach.survey.cluttered.distance_m[crest]))
        clearance = _metres(abs(float(sight.clearance_m[crest])))
    if not sight.in_sight:
        # by its share of the loss: other ground may stand higher above the line
        return f"Counts most: ground {clearance} above the line, {where} out."
    ratio = sight.minimum_fresnel_ratio
    return (
        f"Tightest {where} out: {clearance} below the line, "
        f"{'over 10' if ratio > 10 else f'{ratio:.2f}'} of a Fresnel radius (0.6 wanted)."
    )


def direction_sentence(reach: Reach, aim: Aim | None = None) -> str:
    """Where to point, magnetic and true, at both ends: along the path, unless ``aim`` is another."""

    def both(magnetic_deg: float, true_deg: float) -> str:
        return f"{_bearing(magnetic_deg)} magnetic ({_bearing(true_deg)} true)"

    aim = aim or reach.aim
    here = both(aim.magnetic_azimuth_deg, aim.azimuth_deg)
    there = both(aim.back_magnetic_azimuth_deg, aim.back_azimuth_deg)
    return f"Point {here}; the other end {there}."


def loss_sentence(reach: Reach) -> str:
    """Best estimate, second opinion, and how far methods part."""
    loss = reach.loss
    if loss.second_opinion_db is not None and loss.disagreement_db is not None:
        return (
            f"Loss {loss.loss_db:.1f} dB, best estimate; second opinion {loss.second_opinion_db:.1f} dB: "
            f"methods disagree by {loss.disagreement_db:.1f} dB."
        )
    others = [db for name, db in loss.methods.items() if name not in {loss.primary, "free_space"}]
    spread = f"; other methods {min(others):.1f} to {max(others):.1f} dB" if others else ""
    return f"Loss {loss.loss_db:.1f} dB, best estimate{spread}; free space {loss.free_space_db:.1f} dB."


def set_up_sentence(reach: Reach) -> str:
    """Frequency, polarization and antenna heights."""
    heights = [end.antenna_agl_m for end in (reach.from_end, reach.to_end)]
    different = list(dict.fromkeys(heights))
    metres = " and ".join(_metres(h) for h in different)
    feet = " and ".join(f"{h * FEET_PER_METRE:.0f}" for h in different)
    who = "Antennas" if len(different) > 1 else "Both antennas"
    return f"{reach.frequency_mhz:.7g} MHz, {reach.polarization}. {who} {metres} ({feet} ft) above ground."


def ground_label(reach: Reach, index: int) -> tuple[str, str]:
    """Two short lines on a point of the profile: how high and where, and where it is against the line."""
    ground, sight = reach.survey.cluttered, reach.sightline
    height_m = float(ground.ground_m[index] + ground.clutter_m[index])
    distance_m, clearance_m = float(ground.distance_m[index]), float(sight.clearance_m[index])
    decimals = 2 if distance_m < 10_000.0 else 1 if distance_m < 100_000.0 else 0
    limits = index == sight.limiting_index and sight.in_sight
    return (
        f"{_metres(height_m)} at {distance_m / 1000:.{decimals}f} km",
        f"{_metres(abs(clearance_m))} {'above' if clearance_m < 0 else 'below'} line"
        + (", tightest" if limits else ""),
    )


def bulge_note(reach: Reach) -> str | None:
    """Say why heights on the scale are not those of the labels; nothing where both are within a metre."""
    most_m = reach.leg.distance_m**2 / (8.0 * reach.atmosphere.effective_radius_m)
    if most_m < _BULGE_SEEN_M:
        return None
    return (
        f"Heights drawn with the Earth's bulge (k {reach.atmosphere.k_factor:.2f}); "
        "labels give metres above the sea"
    )


def end_note(end: PathEnd) -> str:
    """Ground and mast of one end."""
    return f"ground {_metres(end.ground_m)}, antenna {_metres(end.antenna_agl_m)} up"


def footnote(reach: Reach) -> str:
    """Where the figures come from."""
    terrain = _terrain(reach)
    method = METHOD_NAMES.get(reach.loss.primary, reach.loss.primary)
    k_factor = f"k {reach.atmosphere.k_factor:.2f}"
    return f"Map {terrain}. {k_factor}. {method}. {reach.date.isoformat()}. pathprofile {__version__}"


def _terrain(reach: Reach) -> str:
    kinds = [_MODEL_KINDS[kind] for kind in reach.profile.model_kinds if kind in _MODEL_KINDS]
    sources = list(dict.fromkeys(reach.profile.sources))
    named = ", ".join(sources[:2]) + (f" and {len(sources) - 2} more" if len(sources) > 2 else "")
    return named + (f" ({' and '.join(kinds)})" if kinds else "")


def _bearing(azimuth_deg: float) -> str:
    return f"{round(azimuth_deg) % 360:03d}°"


def _metres(value_m: float) -> str:
    decimals = 1 if abs(value_m) < 10.0 and abs(value_m - round(value_m)) >= 0.05 else 0
    return f"{grouped(value_m, decimals)} m"


def _short_distance(distance_m: float) -> str:
    if distance_m < 1000.0:
        return f"{distance_m:.0f} m"
    return f"{distance_m / 1000:.{1 if distance_m < 100_000.0 else 0}f} km"
