"""Names beside dots on a map: each finds a free spot near its dot, or all give way to numbers and a list."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from pathprofile.draw import words
from pathprofile.draw.coverage_words import away
from pathprofile.draw.header import MARGIN
from pathprofile.draw.labels import Box
from pathprofile.draw.sheet import POINTS_WIDE
from pathprofile.draw.style import INK, PAPER, Sizes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from pathprofile.area.landmarks import Landmark
    from pathprofile.draw.sheet import Frame, Ruler, Sheet

__all__ = ["NameList", "Names", "named_or_numbered", "row_text"]

MOST_NAMES = 14
_WIDEST = 170.0
_DOT = 4.5
_GAP = 3.0
_NEAR = (8.0, 14.0, 22.0, 34.0, 50.0, 70.0, 95.0)
_ANGLES = (0, 180, 45, 315, 135, 225, 90, 270, 20, 340, 160, 200, 70, 290, 110, 250)
_ROW = 16.5
_HIGH = 1.15 * Sizes.label
_BETWEEN = 16.0


class _Label(NamedTuple):
    text: str
    box: Box
    leader: tuple[tuple[float, float], tuple[float, float]] | None


@dataclass(frozen=True)
class Names:
    """Dots and their labels, ready to be drawn."""

    dots: tuple[tuple[float, float], ...]
    labels: tuple[_Label, ...]
    numbered: bool

    def draw(self, sheet: Sheet, axes: Axes, frame: Frame) -> None:
        """Draw dots, leaders and labels."""
        axes.plot(
            [(x - frame.left) / frame.width for x, _ in self.dots],
            [(y - frame.bottom) / frame.height for _, y in self.dots],
            transform=axes.transAxes,
            linestyle="none",
            marker="o",
            markersize=2.0 * _DOT * sheet.scale,
            markerfacecolor=INK,
            markeredgecolor=PAPER,
            markeredgewidth=1.6 * sheet.scale,
            clip_on=False,
            zorder=8,
            gid="places",
        )
        faces = sheet.ruler.faces
        face = faces.bold(Sizes.label) if self.numbered else faces.regular(Sizes.label)
        leaders = [label.leader for label in self.labels if label.leader is not None]
        if leaders:
            sheet.lines(leaders, 3.2, PAPER)
            sheet.lines(leaders, 1.1, INK)
        for i, label in enumerate(self.labels):
            y = label.box.bottom + 0.22 * Sizes.label
            sheet.text(label.box.left, y, label.text, face, halo=True, gid=f"place-{i}")


def named_or_numbered(ruler: Ruler, frame: Frame, places: Sequence[Landmark], taken: Sequence[Box]) -> Names:
    """Label the places of a map by name where all fit, else by numbers.

    Parameters
    ----------
    ruler : Ruler
        Measures text.
    frame : Frame
        The map; its data are metres east and north of the site.
    places : sequence of Landmark
        Most important first; all lie on the map.
    taken : sequence of Box
        What labels must not cover [layout points].

    Returns
    -------
    Names
        If ``numbered``, a list has to say what the numbers mean.
    """
    dots = tuple(
        (
            float(frame.x(place.distance_m * math.sin(math.radians(place.azimuth_deg)))),
            float(frame.y(place.distance_m * math.cos(math.radians(place.azimuth_deg)))),
        )
        for place in places
    )
    if len(places) <= MOST_NAMES:
        face = ruler.faces.regular(Sizes.label)
        texts = [
            words.shortened(
                words.printable(place.name, ruler.has_glyph), _WIDEST, lambda part: ruler.width(part, face)
            )
            for place in places
        ]
        found = _spots(texts, [ruler.width(text, face) for text in texts], dots, frame, taken)
        labels = tuple(label for label in found if label is not None)
        if len(labels) == len(places):
            return Names(dots, labels, numbered=False)
    face = ruler.faces.bold(Sizes.label)
    texts = [str(i + 1) for i in range(len(places))]
    widths = [ruler.width(text, face) for text in texts]
    found = _spots(texts, widths, dots, frame, taken)
    # a crowd beyond all room: better a number on top of another thing than none
    beside = [_tries(dot, width, _HIGH)[0][0] for dot, width in zip(dots, widths, strict=True)]
    labels = tuple(
        label or _Label(text, box, None) for label, text, box in zip(found, texts, beside, strict=True)
    )
    return Names(dots, labels, numbered=True)


def row_text(place: Landmark) -> str:
    """Where a place is, for a list."""
    return f"{away(place.distance_m)}, {round(place.azimuth_deg) % 360:03d}° true"


class NameList:
    """What numbers mean, in as many columns as the page holds.

    Parameters
    ----------
    ruler : Ruler
        Measures text.
    rows : sequence of (str, str, str)
        Number, name, and what else there is to say.
    """

    def __init__(self, ruler: Ruler, rows: Sequence[tuple[str, str, str]]) -> None:
        self._rows = rows
        self._ruler = ruler
        width = POINTS_WIDE - 2 * MARGIN
        self._bold = ruler.faces.bold(Sizes.note)
        self._face = ruler.faces.regular(Sizes.note)
        self._number = max((ruler.width(row[0], self._bold) for row in rows), default=0.0) + 6.0
        said = max((ruler.width(row[2], self._face) for row in rows), default=0.0)
        named = max((ruler.width(row[1], self._face) for row in rows), default=0.0)
        self._columns = 2 if self._number + named + said + 8.0 + _BETWEEN <= width / 2.0 else 1
        self._wide = width / self._columns
        self._said = said
        self._deep = math.ceil(len(rows) / self._columns)
        self.height = self._deep * _ROW

    def draw(self, sheet: Sheet, top: float) -> None:
        """Set the list below ``top``, down the columns."""
        for i, (number, name, said) in enumerate(self._rows):
            left = MARGIN + (i // self._deep) * self._wide
            right = left + self._wide - (_BETWEEN if self._columns > 1 else 0.0)
            y = top - _ROW * (i % self._deep + 1) + 4.0
            room = right - left - self._number - self._said - 8.0
            shown = words.shortened(
                words.printable(name, self._ruler.has_glyph),
                room,
                lambda part: self._ruler.width(part, self._face),
            )
            sheet.text(left, y, number, self._bold, gid=f"list-number-{i}")
            sheet.text(left + self._number, y, shown, self._face, gid=f"list-name-{i}")
            sheet.text(right, y, said, self._face, ha="right", gid=f"list-said-{i}")


def _spots(
    texts: Sequence[str],
    widths: Sequence[float],
    dots: Sequence[tuple[float, float]],
    frame: Frame,
    taken: Sequence[Box],
) -> list[_Label | None]:
    """Free spot for each label, the nearest one; None where there is none."""
    occupied = list(taken)
    points = [Box(x - _DOT, y - _DOT, x + _DOT, y + _DOT) for x, y in dots]
    leaders: list[tuple[tuple[float, float], tuple[float, float]]] = []
    found: list[_Label | None] = []
    for i, (text, width) in enumerate(zip(texts, widths, strict=True)):
        others = points[:i] + points[i + 1 :]
        label = None
        for box, leader in _tries(dots[i], width, _HIGH):
            inside = (
                box.left >= frame.left
                and box.right <= frame.right
                and box.bottom >= frame.bottom
                and box.top <= frame.top
            )
            if not inside or any(_overlap(box, other) for other in (*occupied, *others)):
                continue
            if any(_passes(line, box) for line in leaders):
                continue
            if leader is not None and any(_passes(leader, other) for other in (*occupied, *others)):
                continue
            label = _Label(text, box, leader)
            break
        found.append(label)
        if label is not None:
            occupied.append(label.box)
            if label.leader is not None:
                leaders.append(label.leader)
    return found


def _tries(
    dot: tuple[float, float], width: float, height: float
) -> list[tuple[Box, tuple[tuple[float, float], tuple[float, float]] | None]]:
    """Boxes round a dot, nearest first, and the leader of those that stand off."""
    found = []
    for gap in _NEAR:
        for angle in _ANGLES:
            across, up = math.cos(math.radians(angle)), math.sin(math.radians(angle))
            x, y = dot[0] + gap * across, dot[1] + gap * up
            left = x - width * (0.5 - 0.5 * across)
            bottom = y - height * (0.5 - 0.5 * up)
            box = Box(left, bottom, left + width, bottom + height)
            leader = None if gap <= _NEAR[1] else (dot, (x, y))
            found.append((box, leader))
    return found


def _overlap(one: Box, other: Box) -> bool:
    return (
        one.left < other.right + _GAP
        and other.left < one.right + _GAP
        and one.bottom < other.top + _GAP / 2
        and other.bottom < one.top + _GAP / 2
    )


def _passes(line: tuple[tuple[float, float], tuple[float, float]], box: Box) -> bool:
    (x0, y0), (x1, y1) = line
    for step in range(1, 16):
        x, y = x0 + (x1 - x0) * step / 16, y0 + (y1 - y0) * step / 16
        if box.left < x < box.right and box.bottom < y < box.top:
            return True
    return False
