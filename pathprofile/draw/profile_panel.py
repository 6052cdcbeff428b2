"""The profile: ground on the curved Earth in ink, hatched above the line; the room the line needs marked."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from pathprofile.draw import labels, words
from pathprofile.draw.marks import Mark, numbered_marks, worth_naming
from pathprofile.draw.scales import format_tick, round_ticks, thinned
from pathprofile.draw.style import HIGHLIGHT, INK, PAPER, Sizes
from pathprofile.sightline import CLEAR_SHARE, bulge_m, fresnel_radius_m

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from pathprofile.draw.sheet import Floats, Frame, Sheet
    from pathprofile.reach import PathEnd, Reach

__all__ = ["ABOVE", "draw_profile", "hatch"]

FOOTING = 44.0
"""Solid ground under the lowest point, where the ends' names stand [layout points]."""
ABOVE = 18.0
"""Room above the panel for its title [layout points]."""
HATCH_STEP = 4.5
_SKIES = (30.0, 48.0, 72.0, 100.0)
"""Room for labels above the highest curve, least first [layout points]."""
_MOST_LABELS = 5
_MOST_TRIED = 9
_SEA_DEPTH = 6.0
_SEA_RISE = 8.0
_SEA_WORD = "sea level"
_SEA_WORD_AT = sorted((i / 50.0 for i in range(4, 47)), key=lambda share: abs(share - 0.5))
_LEAST_SPAN_M = 12.0


class _Shapes:
    """The curves of a profile on grids fit for the page."""

    def __init__(self, reach: Reach, columns: int) -> None:
        sight = reach.sightline
        kept = thinned(sight.ground_with_bulge_m, columns)
        self.distance_m = reach.survey.cluttered.distance_m[kept]
        self.ground_m = sight.ground_with_bulge_m[kept]
        self.line_m = sight.line_m[kept]
        self.whole_m = float(self.distance_m[-1])
        # close together near the ends, where the zone is round
        self.zone_distance_m = self.whole_m * (1.0 - np.cos(np.linspace(0.0, np.pi, 241))) / 2.0
        self.zone_distance_m[-1] = self.whole_m
        self.zone_line_m = self.at(self.zone_distance_m, self.line_m)
        self.zone_ground_m = self.at(self.zone_distance_m, self.ground_m)
        self.zone_sea_m = bulge_m(self.zone_distance_m, reach.atmosphere.effective_radius_m)
        self.radius_m = fresnel_radius_m(self.zone_distance_m, reach.frequency_mhz)

    def at(self, distance_m: Floats, values: Floats) -> Floats:
        """Values between the kept points."""
        return np.interp(distance_m, self.distance_m, values)


def draw_profile(sheet: Sheet, reach: Reach, place: Frame) -> Frame:
    """Draw the profile panel.

    Parameters
    ----------
    place : Frame
        Where on the page, with the distance range; the heights are chosen here.

    Returns
    -------
    Frame
        The same with the heights chosen.
    """
    shapes = _Shapes(reach, columns=int(place.width))
    frame, marks = _fitted(sheet, reach, shapes, place)
    axes = sheet.axes(frame, "profile")
    _draw_zone(axes, shapes, sheet.scale)
    _draw_ground(axes, shapes, frame, sheet.scale)
    _draw_sea_level(sheet, axes, shapes, frame)
    _draw_bridges(axes, reach, sheet.scale)
    _draw_line(axes, shapes, sheet.scale)
    _draw_antennas(axes, reach, shapes.whole_m, sheet.scale)
    for mark in marks:
        mark.draw(sheet, axes)
    _write_ends(sheet, reach, frame)
    _write_heights(sheet, shapes, frame)
    note = words.bulge_note(reach)
    if note is not None:
        face = sheet.ruler.faces.regular(Sizes.note)
        sheet.text(frame.left, frame.top + ABOVE - Sizes.note, note, face, gid="profile-title")
    return frame


def _fitted(sheet: Sheet, reach: Reach, shapes: _Shapes, place: Frame) -> tuple[Frame, list[Mark]]:
    """Choose heights that leave just enough sky for the labels; without room for all, name what fits."""
    named = worth_naming(reach)[:_MOST_LABELS]
    found = _with_least_sky(sheet, reach, shapes, place, named)
    if found is not None:
        return found
    usual = _frame(shapes, place, _SKIES[2])
    named = []
    for index in worth_naming(reach)[:_MOST_TRIED]:
        more = [*named, index]
        if len(named) < _MOST_LABELS and _placed(sheet, reach, shapes, usual, more) is not None:
            named = more
    found = _with_least_sky(sheet, reach, shapes, place, named)
    if found is None:
        raise AssertionError("what was placed once can be placed again")
    return found


def _with_least_sky(
    sheet: Sheet, reach: Reach, shapes: _Shapes, place: Frame, named: list[int]
) -> tuple[Frame, list[Mark]] | None:
    for sky in _SKIES:
        frame = _frame(shapes, place, sky)
        marks = _placed(sheet, reach, shapes, frame, named)
        if marks is not None:
            return frame, marks
    return None


def _frame(shapes: _Shapes, place: Frame, sky: float) -> Frame:
    """Frame of the panel with so much room above the highest curve [layout points]."""
    low = float(shapes.ground_m.min())
    high = max(float(shapes.ground_m.max()), float((shapes.zone_line_m + shapes.radius_m).max()))
    span = max(high - low, _LEAST_SPAN_M)
    per_point = span / (place.height - FOOTING - sky)
    return replace(place, y_low=low - FOOTING * per_point, y_high=low + span + sky * per_point)


def _placed(sheet: Sheet, reach: Reach, shapes: _Shapes, frame: Frame, named: list[int]) -> list[Mark] | None:
    """Make marks for some points of the profile, each with its spot, or nothing if they do not all fit."""
    marks = numbered_marks(sheet, reach, named)
    spots = labels.place(
        [mark.wanted(frame) for mark in marks],
        labels.Box(frame.left + 10.0, frame.bottom, frame.right - 10.0, frame.top + 4.0),
        _skyline(shapes, frame),
    )
    if spots is None:
        return None
    for mark, spot in zip(marks, spots, strict=True):
        mark.place(frame, spot)
    return marks


def _skyline(shapes: _Shapes, frame: Frame) -> labels.Skyline:
    distance_m = np.union1d(shapes.distance_m, shapes.zone_distance_m)
    line_m = shapes.at(distance_m, shapes.line_m)
    radius_m = np.interp(distance_m, shapes.zone_distance_m, shapes.radius_m)
    solid = np.maximum(shapes.at(distance_m, shapes.ground_m), line_m + CLEAR_SHARE * radius_m)
    return labels.Skyline(frame.x(distance_m), frame.y(solid), frame.y(np.maximum(solid, line_m + radius_m)))


def _draw_zone(axes: Axes, shapes: _Shapes, scale: float) -> None:
    x, line, radius = shapes.zone_distance_m, shapes.zone_line_m, shapes.radius_m
    axes.fill_between(
        x,
        line - CLEAR_SHARE * radius,
        line + CLEAR_SHARE * radius,
        facecolor=HIGHLIGHT,
        edgecolor="none",
        linewidth=0.0,
        zorder=1,
        gid="zone-share",
    )
    for side, where in ((1.0, "upper"), (-1.0, "lower")):
        for share, width, dashes, name in (
            (CLEAR_SHARE, 1.0, (0, ()), "zone-share"),
            (1.0, 1.7, (0, (1.0, 2.2)), "zone-whole"),
        ):
            axes.plot(
                x,
                line + side * share * radius,
                color=INK,
                linewidth=width * scale,
                linestyle=dashes,
                marker="",
                zorder=2,
                gid=f"{name}-{where}",
            )


def _draw_ground(axes: Axes, shapes: _Shapes, frame: Frame, scale: float) -> None:
    x, ground = shapes.distance_m, shapes.ground_m
    axes.fill_between(
        x,
        frame.y_low,
        np.minimum(ground, shapes.line_m),
        facecolor=INK,
        edgecolor="none",
        linewidth=0.0,
        zorder=3,
        gid="ground",
    )
    across = frame.x_low + np.arange(HATCH_STEP, frame.width, HATCH_STEP) / frame.width * frame.x_high
    hatch(
        axes, across, shapes.at(across, shapes.line_m), shapes.at(across, ground), scale, "ground-above-line"
    )
    axes.plot(
        x, ground, color=INK, linewidth=1.8 * scale, linestyle="-", marker="", zorder=4, gid="ground-line"
    )


def _draw_sea_level(sheet: Sheet, axes: Axes, shapes: _Shapes, frame: Frame) -> None:
    """Draw the curve of the Earth inside the ground as a contour with its name, if there is room for that."""
    x, sea = frame.x(shapes.zone_distance_m), frame.y(shapes.zone_sea_m)
    ground, line = frame.y(shapes.zone_ground_m), frame.y(shapes.zone_line_m)
    if np.ptp(sea) < _SEA_RISE:
        return
    in_solid = (sea + _SEA_DEPTH < np.minimum(ground, line)) & (sea > frame.bottom + FOOTING)
    in_hatch = (sea + _SEA_DEPTH < ground) & (sea > line)
    face = sheet.ruler.faces.regular(Sizes.foot)
    across, up = sheet.ruler.width(_SEA_WORD, face) / 2 + 6.0, Sizes.foot * 0.8
    for share in _SEA_WORD_AT:
        centre = frame.left + share * frame.width
        beside = np.abs(x - centre) <= across
        middle = float(np.interp(centre, x, sea))
        low, high = middle - up, middle + up
        solid = bool((high < np.minimum(ground, line)[beside]).all()) and low > frame.bottom + FOOTING
        hatched = bool(((high < ground) & (low > line))[beside].all())
        if solid or hatched:
            break
    else:
        return
    gap = np.abs(x - centre) < across
    for inside, color, name in ((in_solid, PAPER, "solid"), (in_hatch, INK, "hatch")):
        axes.plot(
            shapes.zone_distance_m,
            np.where(inside & ~gap, shapes.zone_sea_m, np.nan),
            color=color,
            linewidth=1.2 * sheet.scale,
            linestyle=(0, (6.0, 3.0)),
            marker="",
            zorder=4,
            gid=f"sea-level-{name}",
        )
    sheet.text(
        centre,
        middle,
        _SEA_WORD,
        face,
        color=PAPER if solid else INK,
        ha="center",
        va="center_baseline",
        bbox={"facecolor": INK if solid else PAPER, "edgecolor": "none", "pad": 1.5 * sheet.scale},
        gid="sea-level-word",
    )


def _draw_bridges(axes: Axes, reach: Reach, scale: float) -> None:
    """Ground that was filled in where the map has holes."""
    distance_m, ground_m = reach.survey.cluttered.distance_m, reach.sightline.ground_with_bulge_m
    for i, bridge in enumerate(reach.profile.bridges):
        inside = (distance_m >= bridge.start_m) & (distance_m <= bridge.stop_m)
        for color, width, dashes, name in (
            (INK, 5.5, (0, ()), "bed"),
            (PAPER, 2.8, (0, (1.2, 1.0)), "dashes"),
        ):
            axes.plot(
                distance_m[inside],
                ground_m[inside],
                color=color,
                linewidth=width * scale,
                linestyle=dashes,
                marker="",
                zorder=6,
                gid=f"bridge-{i}-{name}",
            )


def hatch(axes: Axes, x: Floats, low: Floats, high: Floats, scale: float, name: str) -> None:
    """Upright strokes wherever ``high`` is above ``low``."""
    rising = high > low
    if not rising.any():
        return
    strokes = axes.vlines(
        x[rising], low[rising], high[rising], colors=INK, linewidth=1.3 * scale, linestyles="solid", zorder=3
    )
    strokes.set_gid(name)


def _draw_line(axes: Axes, shapes: _Shapes, scale: float) -> None:
    axes.plot(
        [0.0, shapes.whole_m],
        shapes.line_m[[0, -1]],
        color=INK,
        linewidth=2.2 * scale,
        linestyle="-",
        marker="",
        zorder=2,
        gid="line",
    )
    hidden = shapes.ground_m > shapes.line_m
    if hidden.any():
        axes.plot(
            shapes.distance_m,
            np.where(hidden, shapes.line_m, np.nan),
            color=HIGHLIGHT,
            linewidth=2.6 * scale,
            linestyle="-",
            marker="",
            zorder=6,
            gid="line-through-ground",
        )


def _draw_antennas(axes: Axes, reach: Reach, whole_m: float, scale: float) -> None:
    for name, x, end in (("from", 0.0, reach.from_end), ("to", whole_m, reach.to_end)):
        top_m = end.ground_m + end.antenna_agl_m
        axes.plot(
            [x, x],
            [end.ground_m, top_m],
            color=INK,
            linewidth=3.4 * scale,
            linestyle="-",
            marker="",
            solid_capstyle="butt",
            clip_on=False,
            zorder=7,
            gid=f"mast-{name}",
        )
        axes.plot(
            [x],
            [top_m],
            linestyle="none",
            marker="o",
            markersize=10.5 * scale,
            markerfacecolor=PAPER,
            markeredgecolor=INK,
            markeredgewidth=2.6 * scale,
            clip_on=False,
            zorder=8,
            gid=f"antenna-{name}",
        )


def _write_ends(sheet: Sheet, reach: Reach, frame: Frame) -> None:
    """Names in the ground below the masts, where nothing else can be."""
    ruler, half = sheet.ruler, frame.width / 2 - 14.0
    name_face, note_face = ruler.faces.bold(Sizes.name), ruler.faces.regular(Sizes.note)

    def write(end: PathEnd, x: float, side: str, name: str) -> None:
        place = words.place_name(end.location, ruler.has_glyph)
        place = words.shortened(place, half, lambda text: ruler.width(text, name_face))
        style = {"ha": side, "color": PAPER}
        sheet.text(x, frame.bottom + 23.0, place, name_face, gid=f"name-{name}", **style)
        sheet.text(x, frame.bottom + 8.0, words.end_note(end), note_face, gid=f"heights-{name}", **style)

    write(reach.from_end, frame.left + 8.0, "left", "from")
    write(reach.to_end, frame.right - 8.0, "right", "to")


def _write_heights(sheet: Sheet, shapes: _Shapes, frame: Frame) -> None:
    """Metres at the left, feet at the right, from the lowest ground up."""
    low, high = float(shapes.ground_m.min()), frame.y_high
    most = max(2, int((frame.height - FOOTING) / 34.0))
    face = sheet.ruler.faces.regular(Sizes.tick)
    for unit, per_metre, edge, outward, side in (
        ("m", 1.0, frame.left, -1.0, "right"),
        ("ft", words.FEET_PER_METRE, frame.right, 1.0, "left"),
    ):
        ticks = round_ticks(low * per_metre, high * per_metre, most)
        ticks = [t for t in ticks if frame.y(t / per_metre) <= frame.top - Sizes.tick / 3]
        for i, tick in enumerate(ticks):
            y = frame.y(tick / per_metre)
            sheet.lines([[(edge, y), (edge + outward * 5.0, y)]], 1.2)
            text = format_tick(tick, ticks)
            sheet.text(
                edge + outward * 8.0, y, text, face, ha=side, va="center_baseline", gid=f"height-{unit}-{i}"
            )
        sheet.text(
            edge + outward * 8.0,
            frame.bottom + 8.0,
            unit,
            sheet.ruler.faces.bold(Sizes.tick),
            ha=side,
            gid=f"height-{unit}",
        )
