"""The last lines of a picture of an area: where it comes from, and the caution."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pathprofile.draw import words
from pathprofile.draw.header import MARGIN
from pathprofile.draw.sheet import POINTS_WIDE
from pathprofile.draw.style import SOFT_INK, Sizes

if TYPE_CHECKING:
    from pathprofile.draw.sheet import Ruler, Sheet

__all__ = ["Foot"]

_CAUTION, _NOTES = 11.0, 28.0
_ROW = 15.0
_ABOVE = 2.0


class Foot:
    """Notes broken to the width of the page above a caution on one line.

    Parameters
    ----------
    ruler : Ruler
        Measures text.
    notes, caution : str
        What to say.
    """

    def __init__(self, ruler: Ruler, notes: str, caution: str) -> None:
        width = POINTS_WIDE - 2 * MARGIN
        self._face, self._bold = ruler.faces.regular(Sizes.foot), ruler.faces.bold(Sizes.note)
        self._notes = ruler.wrapped(words.printable(notes, ruler.has_glyph), self._face, width)
        self._caution = words.shortened(caution, width, lambda part: ruler.width(part, self._bold))
        self.height = _NOTES + _ROW * len(self._notes) + _ABOVE

    def draw(self, sheet: Sheet) -> None:
        """Set the lines at the bottom of the sheet."""
        for i, line in enumerate(reversed(self._notes)):
            sheet.text(MARGIN, _NOTES + _ROW * i, line, self._face, color=SOFT_INK, gid=f"foot-{i}")
        sheet.text(MARGIN, _CAUTION, self._caution, self._bold, gid="caution")
