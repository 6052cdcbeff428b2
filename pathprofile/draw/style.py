"""How our pictures look: dark ink on warm paper and one highlighter, large type, our own face files.

The highlighter is marigold because dark blue against yellow is the pair that every kind of colour vision
tells apart, and because the three tones stay far apart when printed in grey.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.font_manager import FontProperties

__all__ = ["HIGHLIGHT", "INK", "PAGE", "PAPER", "SOFT_INK", "Faces", "Page", "Sizes"]

PAPER = "#fdfaf1"
INK = "#182038"
SOFT_INK = "#454d66"
HIGHLIGHT = "#f7bd3e"


@dataclass(frozen=True)
class Page:
    """Size of a picture.

    Attributes
    ----------
    width_in, height_in : float
        Width, and least height: a longer header makes the page taller rather than the profile flatter.
    dpi : float
        Dots per inch of a PNG.
    """

    width_in: float = 10.0
    height_in: float = 8.0
    dpi: float = 150.0


PAGE = Page()


class Sizes:
    """Type sizes on a page 10 inches wide [points]; other widths scale them.

    Shown 360 pixels wide on a phone, one point is half a pixel.
    """

    headline = 31.0
    headline_least = 23.0
    title = 17.5
    stated = 16.0
    fact = 14.5
    name = 16.0
    label = 13.5
    tick = 13.5
    note = 12.0
    foot = 11.0


class Faces:
    """The typefaces that come with matplotlib, by file, so that every machine draws the same picture."""

    def __init__(self, scale: float = 1.0) -> None:
        import matplotlib as mpl

        folder = Path(mpl.get_data_path()) / "fonts" / "ttf"
        self.regular_file = folder / "DejaVuSans.ttf"
        self.bold_file = folder / "DejaVuSans-Bold.ttf"
        self._scale = scale

    def regular(self, size: float) -> FontProperties:
        """Plain type."""
        return self._face(self.regular_file, size)

    def bold(self, size: float) -> FontProperties:
        """Heavy type."""
        return self._face(self.bold_file, size)

    def _face(self, file: Path, size: float) -> FontProperties:
        from matplotlib.font_manager import FontProperties

        return FontProperties(fname=file, size=size * self._scale)
