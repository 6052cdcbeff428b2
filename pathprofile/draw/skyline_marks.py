"""Stations against a skyline: marks by how they stand, upright numbers over their bearings, and the key."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from pathprofile.draw.header import MARGIN
from pathprofile.draw.sheet import POINTS_WIDE, Frame
from pathprofile.draw.skyline_open import draw_at_least
from pathprofile.draw.style import HIGHLIGHT, INK, PAPER, Sizes
from pathprofile.draw.tones import DIM

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt
    from matplotlib.axes import Axes

    from pathprofile.area.landmarks import OnSkyline
    from pathprofile.draw.sheet import Ruler, Sheet

    Floats = npt.NDArray[np.float64]

__all__ = [
    "KEY_ROW",
    "LEADER",
    "NUMBER_ROW",
    "draw_dots",
    "draw_key",
    "draw_numbers",
    "key_entries",
    "key_rows",
    "number_levels",
    "spread_out",
]

NUMBER_ROW = 19.0
LEADER = 26.0
_NUMBERS = 20.0
_DOT = 8.5
KEY_ROW = 21.0
_SWATCH, _APART = 28.0, 18.0


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


def key_entries(stations: Sequence[OnSkyline], *, open_end: bool, gap: bool) -> list[tuple[str, str]]:
    """List the marks that occur and what they mean.

    Parameters
    ----------
    stations : sequence of OnSkyline
        Stations that are marked.
    open_end, gap : bool
        Whether there are lower bounds, and ground that is not known.
    """
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
    if open_end:
        entries.append(("at-least", "at least this high or far"))
    return [*entries, ("gap", "no elevation data")] if gap else entries


def key_rows(ruler: Ruler, entries: Sequence[tuple[str, str]]) -> list[list[tuple[str, str]]]:
    """Rows of entries that fit the page, broken where the next would not."""
    face, rows, x = ruler.faces.regular(Sizes.note), [list(entries[:1])], MARGIN
    for before, entry in pairwise(entries):
        x += _SWATCH + ruler.width(before[1], face) + _APART
        if x + _SWATCH + ruler.width(entry[1], face) > POINTS_WIDE - MARGIN:
            rows.append([])
            x = MARGIN
        rows[-1].append(entry)
    return rows if entries else []


def draw_key(sheet: Sheet, y: float, rows: Sequence[Sequence[tuple[str, str]]]) -> None:
    """Say what the marks and tones mean, the last row at ``y``."""
    for i, row in enumerate(reversed(rows)):
        _draw_key_row(sheet, y + KEY_ROW * i, row)


def _draw_key_row(sheet: Sheet, y: float, entries: Sequence[tuple[str, str]]) -> None:
    face = sheet.ruler.faces.regular(Sizes.note)
    x, middle = MARGIN, y + 4.5
    for name, text in entries:
        ground = {"gap": DIM, "below": INK, "before": INK}.get(name, PAPER)
        sheet.lines([[(x, middle), (x + 22.0, middle)]], 15.0, ground, capstyle="butt")
        box = Frame(x, y - 3.0, 22.0, 15.0, 0.0, 1.0, 0.0, 1.0)
        if name != "gap":
            axes = sheet.axes(box, f"key-mark-{name}")
            axes.set_zorder(3)
        if name == "at-least":
            draw_at_least(axes, box, np.array([0.0, 1.0]), np.full(2, 0.9), np.full(2, True), sheet.scale)
        elif name != "gap":
            axes.plot([0.5], [0.5], linestyle="none", **_mark(name, sheet.scale))
        sheet.text(x + _SWATCH, y, text, face, gid=f"key-{name}")
        x += _SWATCH + sheet.ruler.width(text, face) + _APART
