"""The words above a picture: laid out first, because they decide how tall the page is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from pathprofile.draw.sheet import POINTS_WIDE
from pathprofile.draw.style import SOFT_INK, Sizes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.font_manager import FontProperties

    from pathprofile.draw.sheet import Ruler, Sheet

__all__ = ["MARGIN", "Header"]

MARGIN = 22.0
_LEADING = 1.32
_AFTER_HEADLINE = 4.0


@dataclass(frozen=True)
class _Line:
    text: str
    face: FontProperties
    size: float
    color: str | None = None


class Header:
    """Lines of a header, largest first, broken to the width of the page.

    Parameters
    ----------
    title, aside : str
        What the picture is of, and a figure that belongs to it at the right.
    headline : str
        The answer.
    stated : sequence of str
        Sentences that carry the answer further, in larger type than ``facts``.
    facts : sequence of str
        Supporting figures.
    """

    def __init__(
        self, ruler: Ruler, title: str, aside: str, headline: str, stated: Sequence[str], facts: Sequence[str]
    ) -> None:
        faces, width = ruler.faces, POINTS_WIDE - 2 * MARGIN
        self._title = _Line(title, faces.bold(Sizes.title), Sizes.title, SOFT_INK)
        self._aside = _Line(aside, faces.bold(Sizes.title), Sizes.title, SOFT_INK)
        size = Sizes.headline
        while size > Sizes.headline_least and ruler.width(headline, faces.bold(size)) > width:
            size -= 1.0
        blocks = [
            (headline, faces.bold(size), size),
            *((text, faces.bold(Sizes.stated), Sizes.stated) for text in stated),
            *((text, faces.regular(Sizes.fact), Sizes.fact) for text in facts),
        ]
        self._headline_lines = len(ruler.wrapped(headline, faces.bold(size), width))
        self._lines = [
            _Line(part, face, size)
            for text, face, size in blocks
            for part in ruler.wrapped(text, face, width)
        ]
        self.height = 14.0 + Sizes.title + _AFTER_HEADLINE + sum(_LEADING * line.size for line in self._lines)

    def draw(self, sheet: Sheet) -> None:
        """Set the lines from the top of the sheet down."""
        y = sheet.height - 12.0 - Sizes.title
        sheet.text(MARGIN, y, self._title.text, self._title.face, color=SOFT_INK, gid="title")
        sheet.text(
            POINTS_WIDE - MARGIN,
            y,
            self._aside.text,
            self._aside.face,
            color=SOFT_INK,
            ha="right",
            gid="distance",
        )
        for i, line in enumerate(self._lines):
            y -= _LEADING * line.size + (_AFTER_HEADLINE if i == self._headline_lines else 0.0)
            sheet.text(MARGIN, y, line.text, line.face, gid=f"header-{i}")
