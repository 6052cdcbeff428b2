"""Stations against a skyline: marks by how they stand, upright numbers over their bearings, and the key."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from pathprofile.draw.header import MARGIN
from pathprofile.draw.sheet import Frame
from pathprofile.draw.style import HIGHLIGHT, INK, PAPER, Sizes
from pathprofile.draw.tones import DIM

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt
    from matplotlib.axes import Axes

    from pathprofile.area.landmarks import OnSkyline
    from pathprofile.draw.sheet import Sheet

    Floats = npt.NDArray[np.float64]

__all__ = [
    "LEADER",
    "NUMBER_ROW",
    "draw_dots",
    "draw_key",
    "draw_numbers",
    "key_entries",
    "number_levels",
    "spread_out",
]

NUMBER_ROW = 19.0
LEADER = 26.0
_NUMBERS = 20.0
_DOT = 8.5


def spread_out(wanted: Floats, apart: float, low: float, high: float) -> Floats:
    """Places no nearer than ``apart``, as near as may be to those wanted (least squares).

    Parameters
    ----------
    wanted : ndarray, shape (n,)
        Rising.
    apart : float
        Least distance of neighbours; they are set closer where they would not fit.
    low, high : float
        Bounds.

    Returns
    -------
    ndarray, shape (n,)
    """
    count = wanted.size
    if count < 2:
        return np.clip(wanted, low, high)
    step = min(apart, (high - low) / (count - 1))
    # less their least distances, places need only rise: pool neighbours that do not
    blocks: list[list[float]] = []
    for value in wanted - step * np.arange(count):
        blocks.append([float(value), 1.0])
        while len(blocks) > 1 and blocks[-2][0] > blocks[-1][0]:
            mean, many = blocks.pop()
            before = blocks[-1]
            before[0] = (before[0] * before[1] + mean * many) / (before[1] + many)
            before[1] += many
    level = np.concatenate([np.full(int(many), mean) for mean, many in blocks])
    return np.asarray(np.clip(level, low, high - step * (count - 1)) + step * np.arange(count))


def draw_dots(axes: Axes, frame: Frame, stations: Sequence[OnSkyline], stands: str, scale: float) -> None:
    """Stations where they appear; those too low for the panel at its foot."""
    inset = (frame.y_high - frame.y_low) * _DOT / frame.height
    x = [one.landmark.azimuth_deg for one in stations]
    y = [min(max(one.elevation_deg, frame.y_low + inset), frame.y_high) for one in stations]
    mark = _mark(stands, scale)
    if stands in {"below", "before"}:  # where they stand out of the ground
        halo = mark | {"markeredgecolor": INK, "markeredgewidth": mark["markeredgewidth"] + 3.0 * scale}
        axes.plot(x, y, linestyle="none", zorder=5, clip_on=False, gid=f"halo-{stands}", **halo)
    axes.plot(x, y, linestyle="none", zorder=6, clip_on=False, gid=f"stations-{stands}", **mark)


def _mark(stands: str, scale: float) -> dict[str, Any]:
    """How a station is marked: told apart by shape, on the ground all but those above the horizon."""
    mark: dict[str, Any] = {"markersize": _DOT * scale, "markeredgewidth": 1.8 * scale}
    if stands == "below":
        return mark | {"marker": "x", "markeredgecolor": PAPER, "markeredgewidth": 2.4 * scale}
    fill = {"above": HIGHLIGHT, "before": INK, "unknown": DIM}[stands]
    rim = PAPER if stands == "before" else INK
    return mark | {"marker": "o", "markerfacecolor": fill, "markeredgecolor": rim}


def number_levels(count: int, width: float) -> int:
    """Rows of numbers above the panel."""
    return max(1, math.ceil(count * _NUMBERS / (width + _NUMBERS)))


def draw_numbers(sheet: Sheet, frame: Frame, stations: Sequence[OnSkyline], levels: int) -> None:
    """Upright numbers above the panel, as near over their ticks as there is room, in turn in each row."""
    face = sheet.ruler.faces.bold(Sizes.label)
    order = sorted(range(len(stations)), key=lambda i: stations[i].landmark.azimuth_deg)
    x = np.array([frame.x(stations[i].landmark.azimuth_deg) for i in order])
    spots = spread_out(x, _NUMBERS / levels, frame.left, frame.right)
    for turn, (i, at, spot) in enumerate(zip(order, x.tolist(), spots.tolist(), strict=True)):
        foot, bend = frame.top + 3.0, frame.top + LEADER
        base = bend + (turn % levels) * NUMBER_ROW
        sheet.lines([[(at, frame.top - 5.0), (at, foot)]], 1.4)
        sheet.lines([[(at, foot), (spot, bend - 1.0)], [(spot, bend - 1.0), (spot, base - 1.0)]], 0.9)
        sheet.text(spot, base + 2.0, str(i + 1), face, ha="center", gid=f"number-{i}")


def key_entries(stations: Sequence[OnSkyline], *, gap: bool) -> list[tuple[str, str]]:
    """List the marks that occur and what they mean; ``gap`` adds the tone of what is not known."""
    entries = [
        (stands, text)
        for stands, text in (
            ("above", "above the horizon"),
            ("below", "hidden below it"),
            ("before", "nearer than it"),
            ("unknown", "not known"),
        )
        if any(one.stands == stands for one in stations)
    ]
    return [*entries, ("gap", "no elevation data")] if gap else entries


def draw_key(sheet: Sheet, y: float, entries: Sequence[tuple[str, str]]) -> None:
    """Say in one row what the marks and the dim tone mean."""
    face = sheet.ruler.faces.regular(Sizes.note)
    x, middle = MARGIN, y + 4.5
    for name, text in entries:
        ground = {"gap": DIM, "below": INK, "before": INK}.get(name, PAPER)
        sheet.lines([[(x, middle), (x + 22.0, middle)]], 15.0, ground, capstyle="butt")
        if name != "gap":
            axes = sheet.axes(Frame(x, y - 3.0, 22.0, 15.0, 0.0, 1.0, 0.0, 1.0), f"key-mark-{name}")
            axes.set_zorder(3)
            axes.plot([0.5], [0.5], linestyle="none", **_mark(name, sheet.scale))
        sheet.text(x + 28.0, y, text, face, gid=f"key-{name}")
        x += 28.0 + sheet.ruler.width(text, face) + 22.0
