"""What is only a lower bound in a skyline: strokes under a dashed edge, unlike solid ground in grey too."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from pathprofile.draw.style import INK, SOFT_INK

if TYPE_CHECKING:
    import numpy.typing as npt
    from matplotlib.axes import Axes

    from pathprofile.draw.sheet import Frame

    Floats = npt.NDArray[np.float64]

__all__ = ["draw_at_least"]

_PITCH = 9.0
_STROKE, _EDGE = 1.0, 1.7
_DASHES = (0, (3.2, 1.6))


def draw_at_least(
    axes: Axes, frame: Frame, across: Floats, top: Floats, here: npt.NDArray[np.bool_], scale: float
) -> None:
    """Draw where something is at least so high.

    Parameters
    ----------
    axes : Axes
        Of the panel.
    frame : Frame
        The panel: its data and its size on the page.
    across, top : ndarray, shape (n,)
        Places across, rising, and the lower bound there [data of the panel].
    here : ndarray of bool, shape (n,)
        Where it is one.
    scale : float
        Of the page.
    """
    from matplotlib.collections import LineCollection
    from matplotlib.path import Path as Outline

    bound = np.where(here, top, frame.y_low)
    edge = np.column_stack((across, bound))
    foot = [(across[-1], frame.y_low), (across[0], frame.y_low)]
    strokes = LineCollection(
        _slanting(frame), colors=SOFT_INK, linewidths=_STROKE * scale, zorder=1, gid="at-least"
    )
    axes.add_collection(strokes, autolim=False)
    strokes.set_clip_path(Outline([*edge.tolist(), *foot]), transform=axes.transData)
    axes.plot(
        across,
        np.where(here, top, np.nan),
        color=INK,
        linewidth=_EDGE * scale,
        linestyle=_DASHES,
        dash_capstyle="butt",
        gid="at-least-edge",
    )


def _slanting(frame: Frame) -> list[list[tuple[float, float]]]:
    """Strokes at 45° on the page, from foot to top of the panel, in its data."""
    starts = np.arange(-frame.height, frame.width, _PITCH * 2.0**0.5) / frame.width
    run = frame.height / frame.width
    wide = frame.x_high - frame.x_low
    return [
        [
            (float(frame.x_low + start * wide), frame.y_low),
            (float(frame.x_low + (start + run) * wide), frame.y_high),
        ]
        for start in starts
    ]
