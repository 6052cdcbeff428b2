"""What the profile points at: the obstacles that matter most, and the point that limits the sight."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pathprofile.draw import labels, words
from pathprofile.draw.style import HIGHLIGHT, INK, Sizes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from pathprofile.draw.sheet import Frame, Sheet
    from pathprofile.reach import Reach

__all__ = ["Mark", "numbered_marks", "worth_naming"]

_LINE_HEIGHT = 1.2
_SAME_PLACE = 0.01
"""Share of the path within which two marks speak of one place."""


class Mark:
    """Something worth pointing at: a dot, and beside it a number and two lines of text."""

    def __init__(self, sheet: Sheet, number: str, point: tuple[float, float], lines: tuple[str, ...]) -> None:
        self._faces = (sheet.ruler.faces.bold(Sizes.label), sheet.ruler.faces.regular(Sizes.label))
        self._number = number
        self._indent = sheet.ruler.width(f"{number} ", self._faces[0]) + 2.0 if number else 0.0
        self._lines = lines
        self._width = self._indent + max(sheet.ruler.width(line, self._faces[1]) for line in lines)
        self._point = point
        self._spot = labels.Box(0.0, 0.0, 0.0, 0.0)
        self._wanted = labels.Wanted(0.0, 0.0, 0.0, 0.0)

    def wanted(self, frame: Frame) -> labels.Wanted:
        """Point and size on the page."""
        height = Sizes.label * _LINE_HEIGHT * len(self._lines)
        return labels.Wanted(frame.x(self._point[0]), frame.y(self._point[1]), self._width, height)

    def place(self, frame: Frame, spot: labels.Box) -> None:
        """Accept a spot."""
        self._wanted, self._spot = self.wanted(frame), spot

    def draw(self, sheet: Sheet, axes: Axes) -> None:
        """Draw dot, leader and text, which hides what runs behind it."""
        name = self._number or "limit"
        start = labels.leader(self._wanted, self._spot)
        sheet.plate(self._spot, gid=f"plate-{name}")
        sheet.lines([[start, (self._wanted.x, self._wanted.y)]], 1.1, gid=f"leader-{name}")
        _draw_dot(axes, self._point, sheet.scale, f"obstacle-{name}")
        for i, line in enumerate(self._lines):
            y = self._spot.top - Sizes.label * (0.95 + i * _LINE_HEIGHT)
            if i == 0 and self._number:
                sheet.text(self._spot.left, y, self._number, self._faces[0], gid=f"number-{name}")
            sheet.text(self._spot.left + self._indent, y, line, self._faces[1], gid=f"label-{name}-{i}")


def _draw_dot(axes: Axes, point: tuple[float, float], scale: float, name: str) -> None:
    axes.plot(
        *([value] for value in point),
        linestyle="none",
        marker="o",
        markersize=7.5 * scale,
        markerfacecolor=HIGHLIGHT,
        markeredgecolor=INK,
        markeredgewidth=1.6 * scale,
        clip_on=False,
        zorder=8,
        gid=name,
    )


def _tops(reach: Reach) -> dict[int, float]:
    """Highest ground of every obstacle against the line, as an index of the profile, and the obstacle's ν.

    The edge that stands for a rounded obstacle in a loss method may hover above it; a picture shows ground.
    """
    found: dict[int, float] = {}
    for obstacle in reach.obstacles.kept:
        top = reach.crest_index(obstacle)
        found[top] = max(obstacle.nu, found.get(top, obstacle.nu))
    return found


def _point(reach: Reach, index: int) -> tuple[float, float]:
    return (
        float(reach.survey.cluttered.distance_m[index]),
        float(reach.sightline.ground_with_bulge_m[index]),
    )


def worth_naming(reach: Reach) -> list[int]:
    """Points of the profile by importance: what limits a path in sight, then obstacles by their ν."""
    tops = _tops(reach)
    worst = sorted(tops, key=lambda i: -tops[i])
    sight = reach.sightline
    near_m = _SAME_PLACE * reach.leg.distance_m
    apart = all(abs(_point(reach, i)[0] - sight.limiting_distance_m) > near_m for i in worst)
    if apart and (sight.in_sight or not worst):
        worst.insert(0, sight.limiting_index)
    return worst


def numbered_marks(sheet: Sheet, reach: Reach, indices: Sequence[int]) -> list[Mark]:
    """Make marks for some points of the profile; obstacles are numbered along the path."""
    tops = _tops(reach)
    along = sorted(i for i in indices if i in tops)
    return [
        Mark(
            sheet,
            f"{1 + along.index(i)}" if i in tops else "",
            _point(reach, i),
            words.ground_label(reach, i),
        )
        for i in indices
    ]
