"""The picture of a skyline: its height all round, how far off it is, and the stations against it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from pathprofile.draw import coverage_words, skyline_words, words
from pathprofile.draw.foot import Foot
from pathprofile.draw.header import MARGIN, Header
from pathprofile.draw.map_names import NameList
from pathprofile.draw.saving import save_picture
from pathprofile.draw.scales import format_tick, round_ticks
from pathprofile.draw.sheet import POINTS_WIDE, Frame, Ruler, Sheet
from pathprofile.draw.skyline_marks import (
    KEY_ROW,
    LEADER,
    NUMBER_ROW,
    draw_dots,
    draw_key,
    draw_numbers,
    key_entries,
    key_rows,
    number_levels,
)
from pathprofile.draw.skyline_open import draw_at_least
from pathprofile.draw.style import HIGHLIGHT, INK, PAGE, PAPER, Page, Sizes
from pathprofile.draw.tones import DIM

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence
    from pathlib import Path

    import numpy.typing as npt
    from matplotlib.figure import Figure

    from pathprofile.area.landmarks import OnSkyline
    from pathprofile.area.skyline import Skyline

    Floats = npt.NDArray[np.float64]

__all__ = ["draw_skyline", "save_skyline_chart"]

_LEFT, _RIGHT = 62.0, 50.0
_PANEL, _STRIP = 240.0, 84.0
_BETWEEN, _BELOW_STRIP = 56.0, 42.0
_BELOW_HEADER = 18.0
_KEY = 26.0
_LEAST_SPAN_DEG = 2.0
_COLUMNS = 1200
_COMPASS = (
    (0, "N"),
    (45, "45°"),
    (90, "E"),
    (135, "135°"),
    (180, "S"),
    (225, "225°"),
    (270, "W"),
    (315, "315°"),
)


def draw_skyline(
    skyline: Skyline,
    *,
    stations: Sequence[OnSkyline] = (),
    declination_deg: float | None = None,
    terrain: str = "",
    date: dt.date | None = None,
    headline: str | None = None,
    header_lines: Sequence[str] = (),
    caution: str = words.CAUTION,
    page: Page = PAGE,
) -> Figure:
    """Draw a skyline.

    Parameters
    ----------
    skyline : Skyline
        The horizon.
    stations : sequence of OnSkyline
        Stations against it, `pathprofile.area.landmarks.against_skyline`.
    declination_deg : float, optional
        Magnetic declination at the site, east positive; adds a magnetic scale [degrees].
    terrain : str
        Where the ground comes from, for the last lines.
    date : datetime.date, optional
        Of the declination.
    headline : str, optional
        The answer in a few words, instead of the range of the horizon.
    header_lines : sequence of str
        Sentences that carry the answer further.
    caution : str
        The last line of the picture.
    page : Page
        Width and resolution; the height follows.

    Returns
    -------
    matplotlib.figure.Figure
    """
    ruler = Ruler(page)
    header = _header(ruler, skyline, stations, declination_deg, headline, header_lines)
    rows = [
        (str(i + 1), one.landmark.name, skyline_words.row_text(one, declination_deg))
        for i, one in enumerate(stations)
    ]
    names = NameList(ruler, rows)
    foot = Foot(ruler, skyline_words.footnote(skyline, terrain, date), caution)
    list_height = names.height + 10.0 if stations else 0.0
    width = POINTS_WIDE - _LEFT - _RIGHT
    levels = number_levels(len(stations), width)
    above = levels * NUMBER_ROW + LEADER if stations else 0.0

    gap = bool(skyline_words.unreached(skyline).any())
    key = key_rows(ruler, key_entries(stations, open_end=bool(skyline.open_end.any()), gap=gap))
    strip_bottom = (
        foot.height + list_height + (_KEY + KEY_ROW * (len(key) - 1) if key else 0.0) + _BELOW_STRIP
    )
    panel_bottom = strip_bottom + _STRIP + _BETWEEN
    sheet = Sheet(page, panel_bottom + _PANEL + above + _BELOW_HEADER + header.height, ruler)
    header.draw(sheet)
    low, high = _range_deg(skyline, stations)
    panel = Frame(_LEFT, panel_bottom, width, _PANEL, 0.0, 360.0, low, high)
    _draw_horizon(sheet, panel, skyline, stations)
    if stations:
        draw_numbers(sheet, panel, stations, levels)
    _write_bearings(sheet, panel, None)
    shown_m = np.where(skyline.open_end, skyline.reach_m, skyline.distance_m)
    farthest_m = float(np.nanmax(shown_m, initial=1000.0))
    strip = Frame(_LEFT, strip_bottom, width, _STRIP, 0.0, 360.0, 0.0, 1.08 * farthest_m)
    _draw_distances(sheet, strip, skyline)
    if declination_deg is not None:
        _write_bearings(sheet, strip, declination_deg)
    draw_key(sheet, foot.height + list_height, key)
    if stations:
        names.draw(sheet, foot.height + names.height)
    foot.draw(sheet)
    return sheet.figure


def save_skyline_chart(skyline: Skyline, path: Path | str, *, overwrite: bool = True, **how: Any) -> None:
    """Draw a skyline into a file; the suffix says which kind.

    Parameters
    ----------
    skyline : Skyline
        The horizon.
    path : Path or str
        A name ending in ``.png``, ``.svg`` or ``.pdf``.
    overwrite : bool
        Whether an existing file may be replaced.
    **how
        The other parameters of :func:`draw_skyline`.

    Raises
    ------
    OutputError
        For another suffix, and if the file cannot be written; nothing half-written stays behind.
    """
    title = f"Skyline from {words.place_name(skyline.site, lambda _: True)}"
    save_picture(path, lambda: draw_skyline(skyline, **how), title, overwrite=overwrite)


def _header(
    ruler: Ruler,
    skyline: Skyline,
    stations: Sequence[OnSkyline],
    declination_deg: float | None,
    headline: str | None,
    stated: Sequence[str],
) -> Header:
    face = ruler.faces.bold(Sizes.title)
    aside = f"out to {coverage_words.reach(float(skyline.reach_m.max()))}"
    room = POINTS_WIDE - 2 * MARGIN - ruler.width(aside, face) - 20.0
    name = f"Skyline from {words.place_name(skyline.site, ruler.has_glyph)}"
    title = words.shortened(name, room, lambda part: ruler.width(part, face))
    shown = [
        words.printable(text, ruler.has_glyph)
        for text in (headline or skyline_words.headline(skyline), *stated)
    ]
    return Header(
        ruler, title, aside, shown[0], shown[1:], skyline_words.facts(skyline, stations, declination_deg)
    )


def _range_deg(skyline: Skyline, stations: Sequence[OnSkyline]) -> tuple[float, float]:
    """Elevation angles the panel shows: the whole horizon, and stations little below it."""
    known = skyline.least_deg[np.isfinite(skyline.least_deg)]
    low, high = (float(known.min()), float(known.max())) if known.size else (0.0, 0.0)
    span = max(high - low, _LEAST_SPAN_DEG)
    high = max([high, *(one.elevation_deg for one in stations if one.elevation_deg < high + span)])
    low = min([low, *(one.elevation_deg for one in stations if one.elevation_deg > low - span / 3.0)])
    short = max(_LEAST_SPAN_DEG - (high - low), 0.0)
    return low - 0.12 * span - 0.3 * short, high + 0.08 * span + 0.7 * short


def _closed(values: Floats) -> Floats:
    """Add the first value once more, at 360°."""
    return np.append(values, values[:1])


def _highest(values: Floats) -> tuple[Floats, Floats]:
    """Bearings and values thinned to what a page can show, the highest of each stretch kept."""
    count = values.size
    width = math.ceil(count / _COLUMNS)
    azimuth: Floats = np.arange(count + 1, dtype=np.float64) * (360.0 / count)
    if width == 1:
        return azimuth, _closed(values)
    starts = np.arange(0, count, width)
    top = np.fmax.reduceat(values, starts)
    middle: Floats = azimuth[starts] + 180.0 / count * (width - 1)
    return np.concatenate((np.zeros(1), middle[1:], np.full(1, 360.0))), _closed(top)


def _draw_horizon(sheet: Sheet, frame: Frame, skyline: Skyline, stations: Sequence[OnSkyline]) -> None:
    """Silhouette in ink, the level, the stations at the angles they appear at."""
    axes = sheet.axes(frame, "skyline")
    azimuth, top = _highest(skyline.least_deg)
    unknown, open_end = np.isnan(top), _all_open(skyline)
    if unknown.any():
        axes.fill_between(
            azimuth, frame.y_low, frame.y_high, where=unknown, color=DIM, linewidth=0.0, gid="unknown"
        )
    if open_end.any():
        draw_at_least(axes, frame, azimuth, top, open_end, sheet.scale)
    ground = np.where(unknown | open_end, frame.y_low, top)
    axes.fill_between(azimuth, frame.y_low, ground, color=INK, linewidth=0.6 * sheet.scale, gid="ground")
    if frame.y_low < 0.0 < frame.y_high:
        for colour, dashes, name in (
            (INK, (0, (1.0, 2.4)), "level"),
            (PAPER, (0, (1.0, 2.4)), "level-on-ground"),
        ):
            line = axes.plot(
                [0.0, 360.0],
                [0.0, 0.0],
                color=colour,
                linewidth=1.6 * sheet.scale,
                linestyle=dashes,
                gid=name,
            )[0]
            if colour == PAPER:
                line.set_clip_path(_ground_path(azimuth, ground, frame), transform=axes.transData)
    for stands in ("below", "before", "unknown", "above"):
        some = [one for one in stations if one.stands == stands]
        if some:
            draw_dots(axes, frame, some, stands, sheet.scale)
    face = sheet.ruler.faces.regular(Sizes.tick)
    ticks = round_ticks(frame.y_low, frame.y_high, 6)
    for i, tick in enumerate(ticks):
        y = frame.y(tick)
        sheet.lines([[(frame.left - 6.0, y), (frame.left - 1.0, y)]], 1.2)
        sign = "+" if tick > 1e-9 else ""
        sheet.text(
            frame.left - 9.0,
            y - 4.8,
            f"{sign}{format_tick(tick, ticks)}°",
            face,
            ha="right",
            gid=f"angle-{i}",
        )


def _all_open(skyline: Skyline) -> npt.NDArray[np.bool_]:
    """Stretches that are thinned to one place, without one bearing whose horizon is known."""
    return np.asarray(_highest((~skyline.open_end).astype(np.float64))[1] == 0.0)


def _ground_path(azimuth: Floats, ground: Floats, frame: Frame) -> Any:
    from matplotlib.path import Path as Outline

    corners = [(360.0, frame.y_low), (0.0, frame.y_low)]
    return Outline([*zip(azimuth.tolist(), ground.tolist(), strict=True), *corners])


def _write_bearings(sheet: Sheet, frame: Frame, declination_deg: float | None) -> None:
    """Scale of true bearings under a panel, or of magnetic ones, which lie the declination further on."""
    faces = sheet.ruler.faces
    unit = "true" if declination_deg is None else "mag."
    for i, (bearing, name) in enumerate((*_COMPASS, (360, "N"))):
        at, text, face = float(bearing), name, faces.regular(Sizes.tick)
        if declination_deg is not None:
            if bearing == 360:
                continue
            at, text = (bearing + declination_deg) % 360.0, f"{bearing}°"
        elif len(name) == 1:
            face = faces.bold(Sizes.name)
        x = frame.x(at)
        sheet.lines([[(x, frame.bottom - 6.0), (x, frame.bottom - 1.0)]], 1.2)
        sheet.text(x, frame.bottom - 9.0, text, face, ha="center", va="top", gid=f"bearing-{unit}-{i}")
    sheet.text(MARGIN, frame.bottom - 9.0, unit, faces.regular(Sizes.note), va="top", gid=f"bearing-{unit}")


def _draw_distances(sheet: Sheet, frame: Frame, skyline: Skyline) -> None:
    """How far off the horizon is, and where the ground is known no further."""
    axes = sheet.axes(frame, "distance")
    open_end = _all_open(skyline)
    azimuth, far = _highest(np.where(skyline.open_end, np.nan, skyline.distance_m))
    _, short = _highest(skyline_words.unreached(skyline).astype(np.float64))
    _, reach = _highest(skyline.reach_m)
    if short.any():
        axes.fill_between(
            azimuth,
            np.minimum(reach, frame.y_high),
            frame.y_high,
            where=short > 0.0,
            color=DIM,
            linewidth=0.0,
            gid="unreached",
        )
    if open_end.any():
        draw_at_least(axes, frame, azimuth, reach, open_end, sheet.scale)
    axes.fill_between(azimuth, 0.0, np.nan_to_num(far), color=HIGHLIGHT, linewidth=0.0, gid="horizon-fill")
    axes.plot(azimuth, far, color=INK, linewidth=1.5 * sheet.scale, gid="horizon-distance")
    axes.plot([0.0, 360.0], [0.0, 0.0], color=INK, linewidth=2.0 * sheet.scale, clip_on=False)
    face = sheet.ruler.faces.regular(Sizes.tick)
    for unit, metres, x, side, align in (
        ("km", 1000.0, frame.left, -1.0, "right"),
        ("mi", words.METRES_PER_MILE, frame.right, 1.0, "left"),
    ):
        ticks = round_ticks(0.0, frame.y_high / metres, 4)
        for i, tick in enumerate(ticks):
            y = frame.y(tick * metres)
            sheet.lines([[(x + side, y), (x + 6.0 * side, y)]], 1.2)
            sheet.text(
                x + 9.0 * side, y - 4.8, format_tick(tick, ticks), face, ha=align, gid=f"distance-{unit}-{i}"
            )
    note = sheet.ruler.faces.regular(Sizes.note)
    sheet.text(
        frame.left,
        frame.top + 7.0,
        "How far off the horizon is: km at the left, miles at the right",
        note,
        gid="distance-caption",
    )
