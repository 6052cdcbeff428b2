"""What the marks of the profile mean, in one row."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pathprofile.draw.sheet import POINTS_WIDE
from pathprofile.draw.style import HIGHLIGHT, INK, PAPER, Sizes

if TYPE_CHECKING:
    from pathprofile.draw.sheet import Sheet

__all__ = ["draw_key"]

_SWATCH = 24.0
_AFTER_SWATCH = 5.0
_WORDS = ("line of sight", "0.6 of first Fresnel zone", "whole zone", "ground above line")
_HOLE = "map hole, filled"


def draw_key(sheet: Sheet, y: float, *, holes: bool) -> None:
    """Draw the row over the width of the page, its baseline at ``y``; ``holes`` adds those of the map."""
    names = (*_WORDS, _HOLE) if holes else _WORDS
    face = sheet.ruler.faces.regular(Sizes.note)
    widths = [_SWATCH + _AFTER_SWATCH + sheet.ruler.width(word, face) for word in names]
    gap = (POINTS_WIDE - 44.0 - sum(widths)) / (len(names) - 1)
    x = 22.0
    middle = y + 4.5
    for i, (word, width) in enumerate(zip(names, widths, strict=True)):
        ends = (x, x + _SWATCH)
        if i == 0:
            sheet.lines([[(ends[0], middle), (ends[1], middle)]], 2.2)
        elif i == 1:
            sheet.lines([[(ends[0], middle), (ends[1], middle)]], 9.0, HIGHLIGHT, capstyle="butt")
            sheet.lines([[(ends[0], middle + d), (ends[1], middle + d)] for d in (-4.5, 4.5)], 1.0)
        elif i == 2:
            sheet.lines([[(ends[0], middle), (ends[1], middle)]], 1.7, INK, linestyles=[(0, (1.0, 2.2))])
        elif i == 4:
            sheet.lines([[(ends[0], middle), (ends[1], middle)]], 5.5, INK)
            sheet.lines([[(ends[0], middle), (ends[1], middle)]], 2.8, PAPER, linestyles=[(0, (1.2, 1.0))])
        else:
            strokes = [[(ends[0] + d, middle - 5.0), (ends[0] + d, middle + 5.0)] for d in range(1, 24, 4)]
            sheet.lines(strokes, 1.3)
        sheet.text(ends[1] + _AFTER_SWATCH, y, word, face, gid=f"key-{i}")
        x += width + gap
