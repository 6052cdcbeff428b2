"""A page in points from its lower left corner: text that is measured before it is set, frames, axes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from pathprofile.draw.style import INK, PAPER, Faces, Page

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt
    from matplotlib.axes import Axes
    from matplotlib.font_manager import FontProperties
    from matplotlib.text import Text

    Floats = npt.NDArray[np.float64]

__all__ = ["POINTS_WIDE", "Frame", "Ruler", "Sheet"]

POINTS_WIDE = 720.0
"""Layout units across a page: points, were it 10 inches wide; other widths scale everything."""


@dataclass(frozen=True)
class Frame:
    """Where a panel lies on the page [layout points], and the data its edges stand for."""

    left: float
    bottom: float
    width: float
    height: float
    x_low: float
    x_high: float
    y_low: float
    y_high: float

    @property
    def right(self) -> float:
        """Right edge."""
        return self.left + self.width

    @property
    def top(self) -> float:
        """Upper edge."""
        return self.bottom + self.height

    def x(self, value: Any) -> Any:
        """Place on the page of a value across, float or array."""
        return self.left + (value - self.x_low) / (self.x_high - self.x_low) * self.width

    def y(self, value: Any) -> Any:
        """Place on the page of a value upwards, float or array."""
        return self.bottom + (value - self.y_low) / (self.y_high - self.y_low) * self.height


class Ruler:
    """Widths of text before it is set, and which letters the typeface has."""

    def __init__(self, page: Page) -> None:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure
        from matplotlib.font_manager import get_font

        self.faces = Faces(page.width_in * 72.0 / POINTS_WIDE)
        canvas: Any = FigureCanvasAgg(Figure((0.1, 0.1), dpi=page.dpi))  # matplotlib's has no types
        self._renderer = canvas.get_renderer()
        self._points_per_dot = POINTS_WIDE / (page.width_in * page.dpi)
        self._known: dict[tuple[str, str, float], float] = {}
        self._fonts = [get_font(str(file)) for file in (self.faces.regular_file, self.faces.bold_file)]

    def width(self, text: str, face: FontProperties) -> float:
        """Width of one line [layout points]."""
        key = (text, str(face.get_file()), face.get_size_in_points())
        if key not in self._known:
            dots = float(self._renderer.get_text_width_height_descent(text, face, False)[0])
            self._known[key] = dots * self._points_per_dot
        return self._known[key]

    def has_glyph(self, character: str) -> bool:
        """Whether both weights can show a character."""
        return all(font.get_char_index(ord(character)) for font in self._fonts)

    def wrapped(self, text: str, face: FontProperties, width: float) -> list[str]:
        """Lines no wider than ``width``, broken at spaces."""
        if self.width(text, face) <= width:
            return [text]
        lines: list[str] = []
        for word in text.split(" "):
            longer = f"{lines[-1]} {word}" if lines else word
            if lines and self.width(longer, face) <= width:
                lines[-1] = longer
            else:
                lines.append(word)
        return lines


class Sheet:
    """A figure addressed in layout points.

    Parameters
    ----------
    page : Page
        Size and resolution.
    height : float
        Height [layout points].
    """

    def __init__(self, page: Page, height: float, ruler: Ruler) -> None:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        self.height = height
        self.ruler = ruler
        self.scale = page.width_in * 72.0 / POINTS_WIDE
        self.figure = Figure(
            figsize=(page.width_in, height * self.scale / 72.0),
            dpi=page.dpi,
            facecolor=PAPER,
            edgecolor="none",
        )
        self.figure.set_layout_engine("none")
        FigureCanvasAgg(self.figure)

    def text(self, x: float, y: float, text: str, face: FontProperties, **style: Any) -> Text:
        """Set one line of text; what a user typed is never read as mathematics."""
        style = {"color": INK, "ha": "left", "va": "baseline"} | style
        if style.pop("halo", False):
            from matplotlib.patheffects import withStroke

            style["path_effects"] = [withStroke(linewidth=3.5 * self.scale, foreground=PAPER)]
        return self.figure.text(
            x / POINTS_WIDE,
            y / self.height,
            text,
            fontproperties=face,
            parse_math=False,
            usetex=False,
            **style,
        )

    def plate(self, box: Any, **style: Any) -> None:
        """Lay a piece of paper (left, bottom, right, top) over what is drawn, under text."""
        from matplotlib.patches import Rectangle

        left, bottom, right, top = box
        self.figure.add_artist(
            Rectangle(
                (left / POINTS_WIDE, bottom / self.height),
                (right - left) / POINTS_WIDE,
                (top - bottom) / self.height,
                facecolor=PAPER,
                edgecolor="none",
                linewidth=0.0,
                transform=self.figure.transFigure,
                **style,
            )
        )

    def axes(self, frame: Frame, name: str) -> Axes:
        """Bare axes in a frame; panels draw their own scales."""
        axes = self.figure.add_axes(
            (
                frame.left / POINTS_WIDE,
                frame.bottom / self.height,
                frame.width / POINTS_WIDE,
                frame.height / self.height,
            ),
            xlim=(frame.x_low, frame.x_high),
            ylim=(frame.y_low, frame.y_high),
            facecolor="none",
            label=name,
        )
        axes.set_gid(name)
        axes.set_axis_off()
        return axes

    def lines(self, segments: Sequence[Any] | Floats, width: float, color: str = INK, **style: Any) -> None:
        """Draw many straight lines given in layout points, shape (m, 2, 2)."""
        from matplotlib.collections import LineCollection

        scaled = np.asarray(segments, dtype=np.float64).reshape(-1, 2, 2) / (POINTS_WIDE, self.height)
        self.figure.add_artist(
            LineCollection(
                list(scaled),
                colors=color,
                linewidths=width * self.scale,
                transform=self.figure.transFigure,
                **style,
            )
        )
