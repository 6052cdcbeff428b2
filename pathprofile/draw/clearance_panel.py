"""The strip under the profile: how much of the first Fresnel zone is free, point by point."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from pathprofile.draw.profile_panel import HATCH_STEP, hatch
from pathprofile.draw.scales import thinned
from pathprofile.draw.style import HIGHLIGHT, INK, Sizes
from pathprofile.sightline import CLEAR_SHARE

if TYPE_CHECKING:
    from pathprofile.draw.sheet import Frame, Sheet
    from pathprofile.reach import Reach

__all__ = ["RATIO_HIGH", "RATIO_LOW", "draw_clearance"]

RATIO_LOW, RATIO_HIGH = -1.0, 2.0
"""What the strip shows; farther out nothing changes for the operator."""


def draw_clearance(sheet: Sheet, reach: Reach, frame: Frame) -> None:
    """Draw the strip of clearance over first Fresnel radius, cut at ``RATIO_LOW`` and ``RATIO_HIGH``."""
    interior = slice(1, -1)  # at the ends the zone has no width
    ratio = reach.sightline.fresnel_ratio[interior]
    kept = thinned(ratio, int(frame.width))
    x, ratio = reach.survey.cluttered.distance_m[interior][kept], ratio[kept]
    shown = np.clip(ratio, RATIO_LOW, RATIO_HIGH)
    axes = sheet.axes(frame, "clearance")
    scale = sheet.scale
    fill = np.maximum(shown, 0.0)
    axes.fill_between(
        x,
        fill,
        CLEAR_SHARE,
        where=ratio < CLEAR_SHARE,
        interpolate=True,
        facecolor=HIGHLIGHT,
        edgecolor="none",
        linewidth=0.0,
        zorder=1,
        gid="too-tight",
    )
    across = frame.x_low + np.arange(HATCH_STEP, frame.width, HATCH_STEP) / frame.width * frame.x_high
    hatch(axes, across, np.interp(across, x, shown), np.zeros(across.size), scale, "blocked")
    for level, width in ((CLEAR_SHARE, 1.1), (0.0, 1.8)):
        axes.plot(
            [frame.x_low, frame.x_high],
            [level, level],
            color=INK,
            linewidth=width * scale,
            linestyle="-",
            marker="",
            zorder=4,
            gid=f"level-{level:g}",
        )
    cut = ratio != shown
    for hidden, dashes, name in ((cut, (0, ()), "ratio"), (~cut, (0, (1.0, 1.6)), "ratio-cut")):
        axes.plot(
            x,
            np.where(hidden, np.nan, shown),
            color=INK,
            linewidth=2.0 * scale,
            linestyle=dashes,
            marker="",
            clip_on=False,
            zorder=5,
            gid=name,
        )
    _write(sheet, frame)


def _write(sheet: Sheet, frame: Frame) -> None:
    faces = sheet.ruler.faces
    for level in (0.0, CLEAR_SHARE):
        sheet.text(
            frame.left - 8.0,
            frame.y(level),
            f"{level:g}",
            faces.regular(Sizes.tick),
            ha="right",
            va="center_baseline",
            gid=f"ratio-{level:g}",
        )
    for word, low, high in (
        ("blocked", RATIO_LOW, 0.0),
        ("tight", 0.0, CLEAR_SHARE),
        ("free", CLEAR_SHARE, RATIO_HIGH),
    ):
        sheet.text(
            frame.right + 8.0,
            frame.y((low + high) / 2),
            word,
            faces.regular(Sizes.note),
            va="center_baseline",
            gid=f"word-{word}",
        )
    sheet.text(
        frame.left,
        frame.top + 6.0,
        f"Clearance in first Fresnel radii, cut off at {RATIO_LOW:g} and {RATIO_HIGH:g}".replace(
            "-", "\N{MINUS SIGN}"
        ),
        faces.regular(Sizes.note),
        gid="clearance-title",
    )
