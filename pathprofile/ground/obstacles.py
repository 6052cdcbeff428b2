"""What stands in the way: the ground under the stretched string, gathered into a few obstacles."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from pathprofile.errors import OutOfRangeError
from pathprofile.ground.hull import stretched_string
from pathprofile.sightline import SPEED_OF_LIGHT_M_PER_S, bulge_m, fresnel_radius_m

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

__all__ = ["Obstacle", "Obstacles", "find_obstacles"]

_JOIN_SHARE = 0.02
"""Share of the path: tops closer together than this are one obstacle."""
_TOUCHING_SHARE = 0.1
"""Share of the first Fresnel radius: ground this close to the string as good as touches it."""
_SMOOTH_SHARE = 0.5
_LEAST_NU = -0.78
"""An edge further below the line costs nothing (ITU-R P.526-16, §4.1)."""
_SLACK_M = 0.1
_LEAST_BEND = 1e-12


@dataclass(frozen=True)
class Obstacle:
    """One obstacle and the edge that stands for it.

    Attributes
    ----------
    distance_m, top_m : float
        The edge: distance from the first antenna, height above sea level without the bulge [m].
    clearance_m : float
        Straight line between the antennas minus the edge, on the curved Earth; negative where it obstructs
        [m].
    nu : float
        Diffraction parameter of the edge on the whole path, positive where it obstructs.
    radius_m : float
        Radius of the rounding between the tangents; 0 for a single top and for ground under the string [m].
    start_m, stop_m : float
        Where the string first and last touches the obstacle; under the string, where it would if raised [m].
    """

    distance_m: float
    top_m: float
    clearance_m: float
    nu: float
    radius_m: float
    start_m: float
    stop_m: float


@dataclass(frozen=True)
class Obstacles:
    """The obstacles of a path.

    Attributes
    ----------
    kept : tuple of Obstacle
        Those of largest ν, in order along the path.
    found : int
        How many there were.
    smooth_reason : str or None
        Why methods that take edges should abstain: an obstacle is as round as the Earth itself.
    distance_m, from_antenna_amsl_m, to_antenna_amsl_m, effective_radius_m : float
        Of the path: its length, the antenna tips above sea level, the effective Earth radius [m].
    """

    kept: tuple[Obstacle, ...]
    found: int
    smooth_reason: str | None
    distance_m: float
    from_antenna_amsl_m: float
    to_antenna_amsl_m: float
    effective_radius_m: float

    @property
    def main(self) -> Obstacle | None:
        """The obstacle of largest ν."""
        return max(self.kept, key=lambda obstacle: obstacle.nu, default=None)

    def edges(self) -> tuple[Floats, Floats]:
        """Antenna tip, kept edges, antenna tip, as the loss methods take them.

        Returns
        -------
        distance_m, height_m : ndarray, shape (len(kept) + 2,)
            Distance, and height on a flat Earth (the bulge added) [m].
        """
        distance_m = np.array([0.0, *(each.distance_m for each in self.kept), self.distance_m])
        height_m = np.array(
            [self.from_antenna_amsl_m, *(each.top_m for each in self.kept), self.to_antenna_amsl_m]
        )
        return distance_m, height_m + bulge_m(distance_m, self.effective_radius_m)


def find_obstacles(
    distance_m: npt.ArrayLike,
    ground_m: npt.ArrayLike,
    *,
    from_antenna_amsl_m: float,
    to_antenna_amsl_m: float,
    effective_radius_m: float,
    frequency_mhz: float,
    most: int = 5,
) -> Obstacles:
    """Gather the ground that matters into a few obstacles.

    Parameters
    ----------
    distance_m, ground_m : array_like, shape (n,)
        Profile from antenna to antenna, distances rising from 0, ground above sea level [m].
    from_antenna_amsl_m, to_antenna_amsl_m : float
        Antenna tips above sea level [m].
    effective_radius_m : float
        Effective Earth radius [m].
    frequency_mhz : float
        Frequency [MHz].
    most : int
        Obstacles to keep, by ν.

    Returns
    -------
    Obstacles

    Raises
    ------
    OutOfRangeError
        For a profile that is not two rows of at least two finite numbers with distances rising from 0, or a
        frequency or radius that is not positive.

    Notes
    -----
    On a flat Earth, with the bulge added, a string stretched from tip to tip over the ground is straight but
    where it touches. The points it touches are not yet edges: rounded ground touches at every sample.

    **Touched by the string.** Neighbouring points of touch belong to one obstacle if they are at most 2 % of
    the path apart, or if all ground between them is within 0.1 of the first Fresnel radius of that stretch
    of string. The edge that stands for the obstacle is where the string's pieces before and after it cross,
    so the string elsewhere stays as it was. Its radius is that of the arc that turns by their angle over the
    distance from first to last touch.

    **Under the string.** Each straight piece of the string, from tip to tip on a path in sight, has its own
    Fresnel zone. Ground higher than ν = −0.78 in it costs something: the same grouping over the ground
    raised by 0.55 of the local radius finds it, and the edge is the top of largest ν. Left out is foreground:
    ground as round as the Earth, without a top, or within 2 % of the path from an obstacle that holds the
    string up; but a path in sight always keeps the obstacle of largest ν. Those touched by the string come
    first when there are too many.

    **As round as the Earth.** Over smooth Earth the ground would stay within 0.1 of the first Fresnel radius
    F of a tangent for √(2 · 0.1 F · effective radius) on either side of an obstacle. If the ground there,
    above sea level, is straight to 0.1 F over at least half of that stretch, and so is the obstacle itself,
    no edge stands for it: `smooth_reason` says so.
    """
    d, ground = _checked(distance_m, ground_m, effective_radius_m, frequency_mhz)
    tips_m = (from_antenna_amsl_m, to_antenna_amsl_m)
    if not all(map(math.isfinite, tips_m)):
        raise OutOfRangeError(f"obstacles: antenna tips at {tips_m!r} m above sea level: give finite heights")
    path = _Path(d, ground, tips_m, effective_radius_m, frequency_mhz)
    string = stretched_string(d, path.height_m, _SLACK_M)
    runs = path.runs(string, d, path.below(string))
    found = path.touched(string, runs)
    bounds = [0, *(string[i] for run in runs for i in run), d.size - 1]
    for start, stop in zip(bounds[::2], bounds[1::2], strict=True):
        found += path.under_string(start, stop)
    main = max(found, key=lambda each: each.obstacle.nu, default=None)
    found = [each for each in found if each.touched or not each.foreground or (each is main and not runs)]
    found.sort(key=lambda each: (not each.touched, -each.obstacle.nu))
    kept = sorted(found[:most], key=lambda each: each.obstacle.distance_m)
    smooth = next((each.obstacle for each in kept if each.round_as_earth), None)
    reason = None
    if smooth is not None:
        at_km = smooth.distance_m / 1000.0
        reason = f"ground as round as the Earth itself about {at_km:.1f} km: no edge stands for it"
    return Obstacles(
        kept=tuple(each.obstacle for each in kept),
        found=len(found),
        smooth_reason=reason,
        distance_m=float(d[-1]),
        from_antenna_amsl_m=float(from_antenna_amsl_m),
        to_antenna_amsl_m=float(to_antenna_amsl_m),
        effective_radius_m=float(effective_radius_m),
    )


def _checked(
    distance_m: npt.ArrayLike, ground_m: npt.ArrayLike, effective_radius_m: float, frequency_mhz: float
) -> tuple[Floats, Floats]:
    d, ground = (np.asarray(values, dtype=np.float64) for values in (distance_m, ground_m))
    if d.ndim != 1 or d.shape != ground.shape or d.size < 2:
        raise OutOfRangeError(
            f"obstacles: distances of shape {d.shape}, ground of shape {ground.shape}: "
            "give two rows of one length, at least 2"
        )
    if not (d[0] == 0.0 and math.isfinite(d[-1]) and (d[1:] > d[:-1]).all()):
        raise OutOfRangeError(
            f"obstacles: distances from {d[0]!r} to {d[-1]!r} m: "
            "give finite distances that start at 0 and rise at every point"
        )
    if not np.isfinite(ground).all():
        at = int(np.argmin(np.isfinite(ground)))
        raise OutOfRangeError(f"obstacles: ground {ground[at]!r} m at point {at}: give finite heights")
    if not (0.0 < frequency_mhz < math.inf and 0.0 < effective_radius_m < math.inf):
        raise OutOfRangeError(
            f"obstacles: frequency {frequency_mhz!r} MHz, effective radius {effective_radius_m!r} m: "
            "give finite numbers above 0"
        )
    return d, ground


def _below(distance_m: Floats, height_m: Floats, string: list[int]) -> Floats:
    depth_m: Floats = np.interp(distance_m, distance_m[string], height_m[string]) - height_m
    return depth_m


class _Candidate(NamedTuple):
    obstacle: Obstacle
    touched: bool
    """By the string."""
    round_as_earth: bool
    foreground: bool
    """Under the string, and as round as the Earth or the shoulder of what holds the string up there."""


class _Path:
    """The profile on a flat Earth, antenna tips in place of the ground at both ends."""

    def __init__(
        self,
        distance_m: Floats,
        ground_m: Floats,
        tips_m: tuple[float, float],
        effective_radius_m: float,
        frequency_mhz: float,
    ) -> None:
        self.distance_m = distance_m
        self.whole_m = float(distance_m[-1])
        self.radius_m = effective_radius_m
        self.frequency_mhz = frequency_mhz
        self.wavelength_m = SPEED_OF_LIGHT_M_PER_S / (frequency_mhz * 1e6)
        self.ground_m = ground_m
        self.height_m = ground_m + bulge_m(distance_m, effective_radius_m)
        self.height_m[[0, -1]] = tips_m

    def below(self, string: list[int]) -> Floats:
        """Depth of the ground below the string [m]."""
        return _below(self.distance_m, self.height_m, string)

    def runs(self, string: list[int], distance_m: Floats, depth_m: Floats) -> list[tuple[int, int]]:
        """First and last place in the string of each group of inner points that are one obstacle."""
        runs: list[tuple[int, int]] = []
        for i in range(1, len(string) - 1):
            piece = slice(string[i - 1], string[i] + 1)
            if runs and self._joined(distance_m[piece], depth_m[piece]):
                runs[-1] = (runs[-1][0], i)
            else:
                runs.append((i, i))
        return runs

    def touched(self, string: list[int], runs: list[tuple[int, int]]) -> list[_Candidate]:
        """Obstacles that hold the string up."""
        found = []
        x, y = self.distance_m[string].tolist(), self.height_m[string].tolist()
        for low, high in runs:
            at_m, top_m, radius_m = x[low], y[low], 0.0
            if high > low:
                # The tangents cross between the first and the last touch, as the string only ever turns down.
                entry = (y[low] - y[low - 1]) / (x[low] - x[low - 1])
                leave = (y[high + 1] - y[high]) / (x[high + 1] - x[high])
                bend = max(entry - leave, _LEAST_BEND)
                crossing_m = x[low] + (y[high] - y[low] - leave * (x[high] - x[low])) / bend
                at_m = min(max(crossing_m, x[low]), x[high])
                top_m += entry * (at_m - x[low])
                radius_m = (x[high] - x[low]) / bend
            round_as_earth = self._as_round_as_earth(at_m, string[low], string[high])
            obstacle = self._obstacle(at_m, top_m, radius_m, x[low], x[high])
            found.append(_Candidate(obstacle, touched=True, round_as_earth=round_as_earth, foreground=False))
        return found

    def under_string(self, start: int, stop: int) -> list[_Candidate]:
        """Obstacles under one straight piece of the string, but near enough to cost something."""
        x = self.distance_m[start : stop + 1] - self.distance_m[start]
        y = self.height_m[start : stop + 1]
        apart_m = float(x[-1])
        fresnel_m = fresnel_radius_m(x, self.frequency_mhz)
        depth_m = y[0] + x * ((y[-1] - y[0]) / apart_m) - y
        raised_m = -_LEAST_NU / math.sqrt(2.0) * fresnel_m - depth_m
        string = stretched_string(x, raised_m, _SLACK_M)
        if len(string) == 2:
            return []
        shoulder_m = _JOIN_SHARE * self.whole_m
        ratio = np.full(x.size, np.inf)
        ratio[1:-1] = depth_m[1:-1] / fresnel_m[1:-1]
        # A top is nearer to the string than its neighbours, and no shoulder of what holds the string up.
        apart = np.ones(x.size, dtype=np.bool_)
        apart[1:-1] = (depth_m[1:-1] <= depth_m[:-2]) & (depth_m[1:-1] <= depth_m[2:])
        if start > 0:
            apart &= x > shoulder_m
        if stop < self.distance_m.size - 1:
            apart &= x < apart_m - shoulder_m
        found = []
        for low, high in self.runs(string, x, _below(x, raised_m, string)):
            start_m, stop_m = float(x[string[low]]), float(x[string[high]])
            first, final = map(int, x.searchsorted((start_m - 0.5 * shoulder_m, stop_m + 0.5 * shoulder_m)))
            run = slice(max(first, 1), min(final, x.size - 1))
            tops = np.flatnonzero(apart[run])
            foreground = tops.size == 0
            at = run.start + int(ratio[run].argmin() if foreground else tops[ratio[run][tops].argmin()])
            at_m = float(self.distance_m[start + at])
            round_as_earth = self._as_round_as_earth(at_m, start + at, start + at)
            extent = (float(self.distance_m[start + string[i]]) for i in (low, high))
            found.append(
                _Candidate(
                    self._obstacle(at_m, float(y[at]), 0.0, *extent),
                    touched=False,
                    round_as_earth=round_as_earth,
                    foreground=foreground or round_as_earth,
                )
            )
        return found

    def _joined(self, distance_m: Floats, depth_m: Floats) -> bool:
        """Whether two points where the string touches, the ends of this piece of it, are one obstacle."""
        apart_m = float(distance_m[-1] - distance_m[0])
        if distance_m.size == 2 or apart_m <= _JOIN_SHARE * self.whole_m:
            return True
        fresnel_m = 0.5 * math.sqrt(self.wavelength_m * apart_m)
        return float(depth_m.max()) <= _TOUCHING_SHARE * fresnel_m

    def _as_round_as_earth(self, at_m: float, start: int, stop: int) -> bool:
        """Whether the ground about an obstacle, above sea level, is straight to a small part of the zone."""
        fresnel_m = math.sqrt(self.wavelength_m * at_m * (self.whole_m - at_m) / self.whole_m)
        near_m = _TOUCHING_SHARE * fresnel_m
        reach_m = math.sqrt(2.0 * near_m * self.radius_m)
        start_m, stop_m = self.distance_m[start] - reach_m, self.distance_m[stop] + reach_m
        low = max(1, int(self.distance_m.searchsorted(start_m)))
        high = min(self.distance_m.size - 1, int(self.distance_m.searchsorted(stop_m, side="right")))
        weight = self.distance_m[low + 1 : high + 1] - self.distance_m[low - 1 : high - 1]
        weight /= weight.sum()
        x = self.distance_m[low:high] - weight @ self.distance_m[low:high]
        y = self.ground_m[low:high] - weight @ self.ground_m[low:high]
        spread = weight @ (x * x)
        straight = np.abs(y - (weight @ (x * y) / spread if spread > 0.0 else 0.0) * x) <= near_m
        return bool(straight[start - low] and straight[stop - low] and weight @ straight >= _SMOOTH_SHARE)

    def _obstacle(
        self, at_m: float, top_m: float, radius_m: float, start_m: float, stop_m: float
    ) -> Obstacle:
        ends_m = at_m * (self.whole_m - at_m)
        from_m, to_m = float(self.height_m[0]), float(self.height_m[-1])
        clearance_m = from_m + (to_m - from_m) * at_m / self.whole_m - top_m
        return Obstacle(
            distance_m=at_m,
            top_m=top_m - ends_m / (2.0 * self.radius_m),
            clearance_m=clearance_m,
            nu=-clearance_m * math.sqrt(2.0 * self.whole_m / (self.wavelength_m * ends_m)),
            radius_m=radius_m,
            start_m=start_m,
            stop_m=stop_m,
        )
