"""The picture of a coverage: the answer in words, the map by verdict over the relief, its key."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from pathprofile.area.coverage import NO_GROUND, PREDICTED, TOO_NEAR
from pathprofile.area.in_sight import IN_SIGHT
from pathprofile.area.in_sight import UNKNOWN as UNSEEN
from pathprofile.area.verdicts import MARGINAL, SOLID, UNKNOWN, UNLIKELY, WORKABLE
from pathprofile.draw import coverage_words, words
from pathprofile.draw.foot import Foot
from pathprofile.draw.header import MARGIN, Header
from pathprofile.draw.labels import Box
from pathprofile.draw.map_names import NameList, Names, named_or_numbered, row_text
from pathprofile.draw.relief import dots_of, ranks_at_dots, shading, shoreline
from pathprofile.draw.rings import Rings, draw_north, draw_site
from pathprofile.draw.saving import save_picture
from pathprofile.draw.sheet import POINTS_WIDE, Frame, Ruler, Sheet
from pathprofile.draw.style import INK, PAGE, PAPER, Page, Sizes
from pathprofile.draw.tones import GAP, NEAR, painted
from pathprofile.errors import OutOfRangeError

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence
    from pathlib import Path

    import numpy.typing as npt
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from pathprofile.area.coverage import Coverage
    from pathprofile.area.in_sight import InSight
    from pathprofile.area.landmarks import Landmark
    from pathprofile.area.verdicts import Needs
    from pathprofile.link.ends import End

    Ranks = npt.NDArray[np.uint8]

__all__ = ["draw_coverage", "save_coverage_map"]

_BELOW_HEADER = 14.0
_KEY_ROW = 20.0
_SITE = 9.0
_KEY_COLUMNS = 2
_SWATCH = (34.0, 14.0)
_DOTS_A_SQUARE = 2.5
"""Cells are shown together in squares of about so many dots, so that hatching stays readable."""
_SHORE_INK = 0.62
_OUTLINE_ACROSS = 320
_WORTH_A_KEY = 0.03
"""Share of the radius from which the disc too near to be predicted shows beside the mark of the site."""


def draw_coverage(
    coverage: Coverage,
    verdict: Ranks,
    *,
    needs: Needs | None = None,
    relief_m: npt.NDArray[Any] | None = None,
    seen: InSight | None = None,
    places: Sequence[Landmark] = (),
    mode: str = "",
    ends: tuple[End, End] | None = None,
    terrain: str = "",
    date: dt.date | None = None,
    headline: str | None = None,
    header_lines: Sequence[str] = (),
    caution: str = words.CAUTION,
    page: Page = PAGE,
) -> Figure:
    """Draw the map of a coverage.

    Parameters
    ----------
    coverage : Coverage
        The prediction.
    verdict : ndarray of uint8, shape coverage.grid.shape
        Verdict in each cell, `pathprofile.area.verdicts.VerdictTable.verdict`.
    needs : Needs, optional
        What the verdicts stand on; names the weaker direction.
    relief_m : ndarray, shape (m, m), optional
        Heights over the extent of the map, `pathprofile.area.landmarks.relief_of` [m].
    seen : InSight, optional
        Adds the edge of what is in sight; its map must be that of the coverage.
    places : sequence of Landmark
        Stations, most important first; those beyond the radius are left out.
    mode : str
        Mode, as the header shall name it.
    ends : (End, End), optional
        You, and the station that could be anywhere, as the verdicts stand on them.
    terrain : str
        Where the ground comes from, for the last lines.
    date : datetime.date, optional
        Of the prediction.
    headline : str, optional
        The answer in a few words, instead of the one drawn from the verdicts.
    header_lines : sequence of str
        Sentences that carry the answer further.
    caution : str
        The last line of the picture.
    page : Page
        Width and resolution; the height follows.

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    OutOfRangeError
        If maps do not fit together.

    Notes
    -----
    A map of more cells than dots is thinned: a square shows the middling verdict of its cells. Hatching and
    relief are one raster, in SVG and PDF too, at the resolution of the page.
    """
    _check_fit(coverage, verdict, seen)
    ruler = Ruler(page)
    radius_m = float(coverage.distance_m[-1])
    header = Header(
        ruler,
        *_title(ruler, coverage),
        words.printable(headline or coverage_words.headline(coverage, verdict), ruler.has_glyph),
        [words.printable(line, ruler.has_glyph) for line in header_lines],
        [
            words.printable(line, ruler.has_glyph)
            for line in (
                *coverage_words.sentences(coverage, verdict, needs),
                coverage_words.set_up(coverage, mode),
                *(() if ends is None else (coverage_words.ends(*ends),)),
            )
        ],
    )
    near = [place for place in places if place.distance_m <= radius_m]
    span_m = coverage.grid.shape[0] * coverage.grid.cell_m
    side = POINTS_WIDE - 2 * MARGIN
    key = _key_entries(coverage, seen)
    key_height = -(-len(key) // _KEY_COLUMNS) * _KEY_ROW + 8.0

    def laid_out(bottom: float) -> tuple[Frame, Rings, Names]:
        half = span_m / 2.0
        frame = Frame(MARGIN, bottom, side, side, -half, half, -half, half)
        rings = Rings(ruler, frame, radius_m, [_dot(frame, place) for place in near])
        x, y = frame.x(0.0), frame.y(0.0)
        site = Box(x - _SITE, y - _SITE, x + _SITE, y + _SITE)
        return frame, rings, named_or_numbered(ruler, frame, near, [site, *rings.boxes])

    # laid out before the page is: a list of names makes it longer
    _, _, named = laid_out(0.0)
    rows = [(str(i + 1), place.name, row_text(place)) for i, place in enumerate(near)]
    names = NameList(ruler, rows if named.numbered else ())

    foot = Foot(ruler, coverage_words.footnote(coverage, terrain, date), caution)
    bottom = foot.height + (names.height + 10.0 if named.numbered else 0.0) + key_height
    sheet = Sheet(page, header.height + _BELOW_HEADER + side + bottom, ruler)
    header.draw(sheet)
    frame, rings, named = laid_out(bottom)

    axes = sheet.axes(frame, "map")
    _draw_areas(axes, frame, coverage, verdict, relief_m, _dots_a_point(page))
    if seen is not None:
        _draw_outline(axes, frame, seen, sheet.scale)
    rings.draw(sheet, axes)
    if near:
        named.draw(sheet, axes, frame)
    draw_site(sheet, axes)
    draw_north(sheet, frame)
    _draw_key(sheet, key, bottom - 16.0, _dots_a_point(page))
    if named.numbered:
        names.draw(sheet, foot.height + names.height)
    foot.draw(sheet)
    return sheet.figure


def save_coverage_map(
    coverage: Coverage, verdict: Ranks, path: Path | str, *, overwrite: bool = True, **how: Any
) -> None:
    """Draw the map of a coverage into a file; the suffix says which kind.

    Parameters
    ----------
    coverage, verdict
        As in :func:`draw_coverage`.
    path : Path or str
        A name ending in ``.png``, ``.svg`` or ``.pdf``.
    overwrite : bool
        Whether an existing file may be replaced.
    **how
        The other parameters of :func:`draw_coverage`.

    Raises
    ------
    OutputError
        For another suffix, and if the file cannot be written; nothing half-written stays behind.
    OutOfRangeError
        If maps do not fit together.
    """
    title = f"Coverage from {words.place_name(coverage.site, lambda _: True)}"
    save_picture(path, lambda: draw_coverage(coverage, verdict, **how), title, overwrite=overwrite)


def _check_fit(coverage: Coverage, verdict: Ranks, seen: InSight | None) -> None:
    if verdict.shape != coverage.grid.shape:
        raise OutOfRangeError(
            f"verdicts of shape {verdict.shape!r} for a map of {coverage.grid.shape!r}: give one a cell"
        )
    if seen is not None and seen.grid != coverage.grid:
        raise OutOfRangeError(
            f"what is in sight on {seen.grid!r}, coverage on {coverage.grid!r}: ask both for the same site, "
            "radius and cell"
        )


def _title(ruler: Ruler, coverage: Coverage) -> tuple[str, str]:
    face = ruler.faces.bold(Sizes.title)
    aside = f"out to {coverage_words.reach(coverage.radius_m)}"
    room = POINTS_WIDE - 2 * MARGIN - ruler.width(aside, face) - 20.0
    name = f"From {words.place_name(coverage.site, ruler.has_glyph)}"
    return words.shortened(name, room, lambda part: ruler.width(part, face)), aside


def _dot(frame: Frame, place: Landmark) -> tuple[float, float]:
    turn = np.radians(place.azimuth_deg)
    return float(frame.x(place.distance_m * np.sin(turn))), float(frame.y(place.distance_m * np.cos(turn)))


def _dots_a_point(page: Page) -> float:
    return page.width_in * page.dpi / POINTS_WIDE


def _draw_areas(
    axes: Axes,
    frame: Frame,
    coverage: Coverage,
    verdict: Ranks,
    relief_m: npt.NDArray[Any] | None,
    dots_a_point: float,
) -> None:
    """Relief, verdicts and gaps as one raster, paper outside the rim."""
    across = round(frame.width * dots_a_point)
    status = dots_of(coverage.map_status, across)
    rank = ranks_at_dots(verdict, across, int(across / _DOTS_A_SQUARE))
    rank[status != PREDICTED] = UNKNOWN
    rank[status == NO_GROUND] = GAP
    rank[status == TOO_NEAR] = NEAR
    ink: npt.NDArray[np.float32] = np.zeros((across, across), np.float32)
    if relief_m is not None:
        ink, sea = shading(relief_m, frame.x_high - frame.x_low, across)
        ink[shoreline(sea, max(1, round(dots_a_point)))] = _SHORE_INK
    colours = painted(rank, ink, dots_a_point)
    place = (np.arange(across) + 0.5) / across * (frame.x_high - frame.x_low) + frame.x_low
    outside = place[:, np.newaxis] ** 2 + place**2 > float(coverage.distance_m[-1]) ** 2
    colours[outside, :3] = [int(PAPER[i : i + 2], 16) for i in (1, 3, 5)]
    axes.imshow(
        colours,
        extent=(frame.x_low, frame.x_high, frame.y_low, frame.y_high),
        interpolation="none",
        aspect="auto",
        gid="areas",
    )


def _draw_outline(axes: Axes, frame: Frame, seen: InSight, scale: float) -> None:
    """Edge of what is in sight, of patches large enough to be seen on the page."""
    found = dots_of(seen.map_seen, 3 * _OUTLINE_ACROSS)
    known = _smoothed(found != UNSEEN)
    share = np.divide(
        _smoothed(found == IN_SIGHT), known, out=np.full_like(known, np.nan), where=known >= 0.5
    )
    if not np.nanmin(share, initial=1.0) < 0.5 < np.nanmax(share, initial=0.0):
        return
    middles = frame.x_low + (np.arange(_OUTLINE_ACROSS) + 0.5) * (2.0 * frame.x_high / _OUTLINE_ACROSS)
    for width, colour in ((3.4, PAPER), (1.8, INK)):
        lines = axes.contour(
            middles, -middles, share, levels=[0.5], colors=[colour], linewidths=[width * scale], zorder=3
        )
        lines.set_gid("seen" if colour == INK else "seen-halo")


def _smoothed(flags: npt.NDArray[np.bool_]) -> npt.NDArray[np.float64]:
    """Share of what is true among nine squares of nine dots each."""
    padded = np.pad(flags.reshape(_OUTLINE_ACROSS, 3, _OUTLINE_ACROSS, 3).mean(axis=(1, 3)), 1, mode="edge")
    ways = [(i, j) for i in range(3) for j in range(3)]
    parts = [padded[i : i + _OUTLINE_ACROSS, j : j + _OUTLINE_ACROSS] for i, j in ways]
    return np.asarray(np.mean(parts, axis=0))


def _key_entries(coverage: Coverage, seen: InSight | None) -> list[tuple[str, int]]:
    entries = [("solid", SOLID), ("workable", WORKABLE), ("marginal", MARGINAL), ("unlikely", UNLIKELY)]
    if coverage_words.gap_share(coverage) > 0.0:
        entries.append(("gap", GAP))
    if _nearest_m(coverage) > _WORTH_A_KEY * float(coverage.distance_m[-1]):
        entries.append(("near", NEAR))
    if seen is not None:
        entries.append(("seen", -1))
    return entries


def _nearest_m(coverage: Coverage) -> float:
    """Within what distance nothing is predicted [m]."""
    return math.sqrt(np.count_nonzero(coverage.map_status == TOO_NEAR) / math.pi) * coverage.grid.cell_m


def _draw_key(sheet: Sheet, entries: Sequence[tuple[str, int]], top: float, dots_a_point: float) -> None:
    """Draw what the tones mean, in two columns, best first down the left one."""
    face = sheet.ruler.faces.regular(Sizes.note)
    column = (POINTS_WIDE - 2 * MARGIN) / _KEY_COLUMNS
    deep = -(-len(entries) // _KEY_COLUMNS)
    wide, high = _SWATCH
    for i, (name, code) in enumerate(entries):
        left, y = MARGIN + (i // deep) * column, top - (i % deep) * _KEY_ROW - 4.0
        box = Frame(left, y - 3.0, wide, high, 0.0, 1.0, 0.0, 1.0)
        if code >= 0:
            rank = np.full((round(high * dots_a_point), round(wide * dots_a_point)), code, np.uint8)
            swatch = sheet.axes(box, f"swatch-{name}")
            tone = painted(rank, 0.0, dots_a_point)
            swatch.imshow(tone, extent=(0.0, 1.0, 0.0, 1.0), aspect="auto", interpolation="none")
            corners = [(left, box.bottom), (box.right, box.bottom), (box.right, box.top), (left, box.top)]
            sheet.lines(list(zip(corners, corners[1:] + corners[:1], strict=True)), 1.0)
        else:
            sheet.lines([[(left, y + high / 2 - 3.0), (box.right, y + high / 2 - 3.0)]], 1.8)
        sheet.text(box.right + 8.0, y, coverage_words.KEY_WORDS[name], face, gid=f"key-{name}")
