"""The two drawings of a trip sheet as plain SVG parts: the profile of a path and the ring of azimuths."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    from pathprofile.trip.sheet_aiming import Beam
    from pathprofile.trip.sheet_profile import SheetProfile

    Floats = npt.NDArray[np.float64]

__all__ = [
    "PROFILE_HEIGHT",
    "PROFILE_WIDTH",
    "Mark",
    "ProfilePicture",
    "RingArc",
    "profile_picture",
    "ring_arcs",
]

PROFILE_WIDTH = 480.0
PROFILE_HEIGHT = 168.0
_LEFT, _RIGHT, _TOP, _FLOOR = 14.0, 14.0, 26.0, 146.0
_UNDERGROUND = 12.0
_ZONE_SHARE = 0.6
_TICKS_MOST = 6
_MARK_APART = 15.0
_RING_RADIUS = 40.0
_LETTER_RADIUS = 55.0
_INNER_LETTER_RADIUS = 26.0
_LETTERS_APART_DEG = 14.0


@dataclass(frozen=True, slots=True)
class Mark:
    """Something at a point of a drawing, with its text."""

    x: float
    y: float
    text: str


@dataclass(frozen=True)
class ProfilePicture:
    """Path data of one profile, in units of a drawing 480 wide."""

    ground: str
    zone: str
    line: str
    blocked: tuple[str, ...]
    filled: tuple[tuple[float, float], ...]
    ends: tuple[tuple[float, float], tuple[float, float]]
    marks: tuple[Mark, ...]
    ticks: tuple[Mark, ...]
    floor: float
    left: float
    width: float


def profile_picture(profile: SheetProfile) -> ProfilePicture:
    """Lay out a profile: ground on the curved Earth, straight line, 0.6 of the first Fresnel zone."""
    whole_m = float(profile.distance_m[-1])
    share = _ZONE_SHARE * profile.fresnel_m
    lowest = min(float(profile.raised_m.min()), float(profile.line_m.min()))
    highest = max(float(profile.raised_m.max()), float((profile.line_m + share).max()))
    span = max(highest - lowest, 1.0)

    def x_of(distance_m: Floats | float) -> Floats | float:
        return _LEFT + (PROFILE_WIDTH - _LEFT - _RIGHT) * distance_m / whole_m

    def y_of(height_m: Floats | float) -> Floats | float:
        return _FLOOR - _UNDERGROUND - (_FLOOR - _UNDERGROUND - _TOP) * (height_m - lowest) / span

    x = np.asarray(x_of(profile.distance_m))
    ground, line = np.asarray(y_of(profile.raised_m)), np.asarray(y_of(profile.line_m))
    upper, lower = np.asarray(y_of(profile.line_m + share)), np.asarray(y_of(profile.line_m - share))
    lower = np.minimum(lower, _FLOOR)
    peaks = [
        Mark(
            float(x_of(peak.distance_m)),
            float(np.interp(peak.distance_m, profile.distance_m, ground)),
            str(number),
        )
        for number, peak in enumerate(profile.peaks, 1)
    ]
    return ProfilePicture(
        ground=f"M{x[0]:.1f} {_FLOOR}L{_pairs(x, ground)}L{x[-1]:.1f} {_FLOOR}Z",
        zone=f"M{_pairs(x, upper)}L{_pairs(x[::-1], lower[::-1])}Z",
        line=f"M{x[0]:.1f} {line[0]:.1f}L{x[-1]:.1f} {line[-1]:.1f}",
        blocked=tuple(
            f"M{_pairs(x[run], ground[run])}L{_pairs(x[run][::-1], line[run][::-1])}Z"
            for run in _runs(profile.clearance_m < 0.0)
        ),
        filled=tuple((float(x[run][0]), float(x[run][-1] - x[run][0])) for run in _runs(profile.filled)),
        ends=((float(x[0]), float(line[0])), (float(x[-1]), float(line[-1]))),
        marks=tuple(_apart(peaks)),
        ticks=tuple(
            Mark(float(x_of(at_km * 1000.0)), _FLOOR, f"{at_km:g}") for at_km in _ticks(whole_m / 1000.0)
        ),
        floor=_FLOOR,
        left=_LEFT,
        width=PROFILE_WIDTH - _LEFT - _RIGHT,
    )


def _pairs(x: Floats, y: Floats) -> str:
    return " ".join(f"{a:.1f} {b:.1f}" for a, b in zip(x.tolist(), y.tolist(), strict=True))


def _runs(mask: npt.NDArray[np.bool_]) -> list[slice]:
    """Stretches of two or more marked points."""
    padded = np.concatenate(([False], mask, [False])).astype(int)
    starts, stops = np.flatnonzero(np.diff(padded) == 1), np.flatnonzero(np.diff(padded) == -1)
    return [slice(int(a), int(b)) for a, b in zip(starts, stops, strict=True) if b - a > 1]


def _apart(marks: list[Mark]) -> list[Mark]:
    """Leave out marks that would cover an earlier, more important one."""
    kept: list[Mark] = []
    for mark in marks:
        if all(abs(mark.x - other.x) >= _MARK_APART for other in kept):
            kept.append(mark)
    return kept


def _ticks(whole_km: float) -> list[float]:
    power = 10.0 ** math.floor(math.log10(whole_km / _TICKS_MOST))
    step = next(s * power for s in (1, 2, 5, 10, 20) if whole_km / (s * power) <= _TICKS_MOST)
    count = math.floor(whole_km / step + 1e-9)
    return [round(i * step, 6) for i in range(count + 1)]


@dataclass(frozen=True, slots=True)
class RingArc:
    """One beam on the ring, drawn round azimuth 0 and turned to its own by ``azimuth_deg``."""

    letter: str
    azimuth_deg: float
    arc: str
    letter_radius: float
    letter_x: float
    letter_y: float


def ring_arcs(beams: tuple[Beam, ...], letters: tuple[str, ...]) -> tuple[RingArc, ...]:
    """Lay out the beams round a ring, true north up."""
    found: list[RingArc] = []
    for beam, letter in zip(beams, letters, strict=True):
        half = math.radians(min(beam.within_deg, 179.0))
        x, y = _RING_RADIUS * math.sin(half), -_RING_RADIUS * math.cos(half)
        large = int(beam.within_deg > 90.0)
        near = [arc for arc in found if _apart_deg(arc.azimuth_deg, beam.azimuth_deg) < _LETTERS_APART_DEG]
        outside = all(arc.letter_radius != _LETTER_RADIUS for arc in near)
        radius = _LETTER_RADIUS if outside else _INNER_LETTER_RADIUS
        at = math.radians(beam.azimuth_deg)
        found.append(
            RingArc(
                letter,
                beam.azimuth_deg,
                f"M{-x:.2f} {y:.2f}A{_RING_RADIUS} {_RING_RADIUS} 0 {large} 1 {x:.2f} {y:.2f}",
                radius,
                radius * math.sin(at),
                -radius * math.cos(at),
            )
        )
    return tuple(found)


def _apart_deg(one: float, other: float) -> float:
    return abs((one - other + 180.0) % 360.0 - 180.0)
