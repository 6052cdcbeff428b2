"""What lies over a map: rings of distance, the way north, and the site."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from pathprofile.draw.labels import Box
from pathprofile.draw.scales import format_tick, round_ticks
from pathprofile.draw.style import INK, PAPER, Sizes
from pathprofile.draw.words import METRES_PER_MILE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from pathprofile.draw.sheet import Frame, Ruler, Sheet

__all__ = ["Rings", "draw_north", "draw_site"]

_MOST_RINGS = 4
_BEARINGS = (315, 45, 225, 135, 335, 25, 245, 115, 290, 70, 205, 155, 0, 180)
_INSIDE = 0.97
"""Share of the radius beyond which a ring is the rim."""
_TURN = np.radians(np.linspace(0.0, 360.0, 361))


class Rings:
    """Rings at round distances, labelled along the bearing that has fewest places on it.

    Parameters
    ----------
    ruler : Ruler
        Measures text.
    frame : Frame
        The map; its data are metres east and north of the site.
    radius_m : float
        The rim [m].
    dots : sequence of (float, float)
        Places on the page that labels had better not cover [layout points].
    """

    def __init__(
        self, ruler: Ruler, frame: Frame, radius_m: float, dots: Sequence[tuple[float, float]]
    ) -> None:
        ticks = round_ticks(0.0, radius_m / 1000.0, _MOST_RINGS + 1)
        self._radius_m = radius_m
        self._face = ruler.faces.regular(Sizes.note)
        kept = [tick for tick in ticks[1:] if tick * 1000.0 < _INSIDE * radius_m]
        self._rings = [(tick * 1000.0, _both(tick, ticks)) for tick in kept]
        tried = [self._boxes(ruler, frame, bearing) for bearing in _BEARINGS]
        crossed = [sum(_holds(box, dot) for box in boxes for dot in dots) for boxes in tried]
        self.boxes = tried[crossed.index(min(crossed))]

    def _boxes(self, ruler: Ruler, frame: Frame, bearing: int) -> list[Box]:
        east, north = math.sin(math.radians(bearing)), math.cos(math.radians(bearing))
        boxes = []
        for away_m, text in self._rings:
            x, y = float(frame.x(away_m * east)), float(frame.y(away_m * north))
            half = ruler.width(text, self._face) / 2.0
            boxes.append(Box(x - half, y - Sizes.note / 2.0, x + half, y + Sizes.note / 2.0))
        return boxes

    def draw(self, sheet: Sheet, axes: Axes) -> None:
        """Draw rings and rim, and set their labels."""
        for i, (away_m, text) in enumerate(self._rings):
            for width, colour in ((3.0, PAPER), (1.0, INK)):
                axes.plot(
                    away_m * np.sin(_TURN),
                    away_m * np.cos(_TURN),
                    color=colour,
                    alpha=0.6 if colour == PAPER else 0.85,
                    linewidth=width * sheet.scale,
                    zorder=4,
                    gid=f"ring-{i}" if colour == INK else f"ring-halo-{i}",
                )
            box = self.boxes[i]
            sheet.text(
                (box.left + box.right) / 2.0,
                box.bottom + 1.5,
                text,
                self._face,
                ha="center",
                bbox={"facecolor": PAPER, "edgecolor": "none", "alpha": 0.85, "pad": 1.5 * sheet.scale},
                gid=f"ring-text-{i}",
            )
        axes.plot(
            self._radius_m * np.sin(_TURN),
            self._radius_m * np.cos(_TURN),
            color=INK,
            linewidth=1.6 * sheet.scale,
            zorder=4,
            clip_on=False,
            gid="rim",
        )


def draw_north(sheet: Sheet, frame: Frame) -> None:
    """Draw the way north in the upper left corner, which the round map leaves free."""
    x, y = frame.left + 14.0, frame.top - 16.0
    sheet.text(x, y, "N", sheet.ruler.faces.bold(Sizes.name), ha="center", gid="north")
    tip = (x, y - 5.0)
    sheet.lines([[(x, y - 44.0), tip], [(x - 6.0, y - 15.0), tip], [tip, (x + 6.0, y - 15.0)]], 2.2)
    sheet.text(x + 13.0, y - 42.0, "true", sheet.ruler.faces.regular(Sizes.note), gid="north-true")


def draw_site(sheet: Sheet, axes: Axes) -> None:
    """Draw the site as every path's ends are drawn."""
    axes.plot(
        [0.0],
        [0.0],
        linestyle="none",
        marker="o",
        markersize=13.0 * sheet.scale,
        markerfacecolor=PAPER,
        markeredgecolor=INK,
        markeredgewidth=3.4 * sheet.scale,
        zorder=9,
        gid="site",
    )


def _both(tick_km: float, ticks_km: list[float]) -> str:
    miles = tick_km * 1000.0 / METRES_PER_MILE
    return f"{format_tick(tick_km, ticks_km)} km / {miles:.{0 if miles >= 10.0 else 1}f} mi"


def _holds(box: Box, dot: tuple[float, float]) -> bool:
    return box.left - 6.0 < dot[0] < box.right + 6.0 and box.bottom - 6.0 < dot[1] < box.top + 6.0
