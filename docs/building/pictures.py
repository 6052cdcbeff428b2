"""The two pictures of the pages, drawn from the code that they explain, in the house look."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np

from pathprofile.draw.saving import save_picture
from pathprofile.draw.style import HIGHLIGHT, INK, PAPER, SOFT_INK, Faces

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["draw_all"]

_SIZE_IN = (7.2, 3.9)
_DPI = 120.0
_FACES = Faces()


def draw_all(folder: Path) -> None:
    """Draw both pictures into a folder."""
    save_picture(folder / "odds.png", _odds, "Chance against margin")
    save_picture(folder / "string.png", _string, "The stretched string")


def _page(x_label: str, y_label: str) -> tuple[Figure, Axes]:
    from matplotlib.figure import Figure

    figure = Figure(figsize=_SIZE_IN, dpi=_DPI, facecolor=PAPER)
    axes = figure.add_axes((0.105, 0.155, 0.865, 0.80), facecolor=PAPER)
    axes.set_xlabel(x_label, fontproperties=_FACES.regular(11), color=SOFT_INK)
    axes.set_ylabel(y_label, fontproperties=_FACES.regular(11), color=SOFT_INK)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(SOFT_INK)
    axes.tick_params(colors=SOFT_INK)
    return figure, axes


def _ticks(axes: Axes) -> None:
    for label in (*axes.get_xticklabels(), *axes.get_yticklabels()):
        label.set_fontproperties(_FACES.regular(10.5))


def _odds() -> Figure:
    from pathprofile.link.chance import Spread, pair_chances
    from pathprofile.link.words import MARGINAL_FROM, WORKABLE_FROM

    figure, axes = _page("margin of the weaker direction over just readable, dB", "chance, in 10")
    margin_db = np.linspace(-20.0, 25.0, 181)
    alone = pair_chances([(margin, 100.0) for margin in margin_db], Spread()).both
    alike = pair_chances([(margin, margin) for margin in margin_db], Spread()).both
    axes.fill_between(margin_db, 10 * alike, 10 * alone, color=HIGHLIGHT, linewidth=0)
    axes.plot(margin_db, 10 * alone, color=INK, linewidth=2.2)
    axes.plot(margin_db, 10 * alike, color=INK, linewidth=2.2, linestyle=(0, (5, 2)))
    for limit, above in ((WORKABLE_FROM, "workable"), (MARGINAL_FROM, "marginal")):
        axes.axhline(10 * limit, color=SOFT_INK, linewidth=0.8)
        axes.text(-19.6, 10 * limit + 0.15, f"{above} above", fontproperties=_FACES.regular(10.5), color=INK)
    axes.text(-19.6, 2.6, "unlikely below", fontproperties=_FACES.regular(10.5), color=INK)
    axes.text(
        -2.5, 6.0, "only one direction\ncounts", ha="right", fontproperties=_FACES.regular(10.5), color=INK
    )
    axes.text(4.2, 3.9, "both have this margin", fontproperties=_FACES.regular(10.5), color=INK)
    axes.set_xlim(-20.0, 25.0)
    axes.set_ylim(0.0, 10.0)
    axes.set_xticks(range(-20, 26, 5))
    axes.set_yticks(range(0, 11, 2))
    _ticks(axes)
    return figure


def _string() -> Figure:
    from pathprofile.ground.hull import stretched_string
    from pathprofile.places import parse_location
    from pathprofile.reach import reach
    from pathprofile.sample import sample_dir, sample_places
    from pathprofile.terrain.store import TerrainStore

    places = sample_places()
    start, stop = (
        parse_location(f"{places[name].latitude_deg:.5f} {places[name].longitude_deg:.5f}", label=name)
        for name in ("Gull Tor", "Marsh End")
    )
    with TerrainStore.open(sample_dir()) as terrain:
        path = reach(
            start,
            stop,
            terrain,
            date=dt.date(2026, 6, 14),
            frequency_mhz=144.3,
            from_antenna_agl_m=6.0,
            to_antenna_agl_m=10.0,
            polarization="horizontal",
        )
    seen, along_km = path.sightline, path.profile.distance_m / 1000.0
    # the straight line between the antennas is laid flat
    height_m = -np.asarray(seen.clearance_m)
    figure, axes = _page("km from Gull Tor", "m above the line between the antennas")
    floor_m = float(height_m.min()) - 20.0
    axes.fill_between(along_km, floor_m, height_m, color=SOFT_INK, linewidth=0)
    axes.axhline(0.0, color=INK, linewidth=1.0, linestyle=(0, (2, 2)))
    string = stretched_string(path.profile.distance_m, np.where(_tips(height_m.size), 0.0, height_m), 0.1)
    at = [0.0 if i in {0, height_m.size - 1} else float(height_m[i]) for i in string]
    axes.plot(along_km[string], at, color=INK, linewidth=4.2)
    axes.plot(along_km[string], at, color=HIGHLIGHT, linewidth=2.4)
    axes.plot(along_km[string[1:-1]], at[1:-1], "o", color=INK, markersize=5)
    for obstacle in path.obstacles.kept:
        x, y = obstacle.distance_m / 1000.0, -obstacle.clearance_m
        touched = any(abs(along_km[i] - x) < 1.0 for i in string[1:-1])
        colour = INK if touched else PAPER  # one under the string is named in the ground below it
        axes.annotate(
            f"edge at {x:.0f} km\nν = {obstacle.nu:.1f}",
            (x, y),
            (x, y + 60.0) if touched else (x - 12.0, y - 200.0),
            ha="center",
            fontproperties=_FACES.regular(10.5),
            color=colour,
            arrowprops={"arrowstyle": "-", "color": colour, "linewidth": 1.0, "shrinkB": 3},
        )
    axes.set_xlim(0.0, float(along_km[-1]))
    axes.set_ylim(floor_m, max(at) + 170.0)
    _ticks(axes)
    return figure


def _tips(count: int) -> np.ndarray:
    ends = np.zeros(count, bool)
    ends[[0, -1]] = True
    return ends
