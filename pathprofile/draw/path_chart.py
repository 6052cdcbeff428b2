"""The picture of one path: the answer in words, the profile, the clearance along it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pathprofile.draw import words
from pathprofile.draw.clearance_panel import RATIO_HIGH, RATIO_LOW, draw_clearance
from pathprofile.draw.header import MARGIN, Header
from pathprofile.draw.key import draw_key
from pathprofile.draw.profile_panel import ABOVE, draw_profile
from pathprofile.draw.saving import SUFFIXES, save_picture
from pathprofile.draw.scales import format_tick, round_ticks
from pathprofile.draw.sheet import POINTS_WIDE, Frame, Ruler, Sheet
from pathprofile.draw.style import PAGE, SOFT_INK, Page, Sizes

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from matplotlib.figure import Figure

    from pathprofile.reach import Aim, Reach

__all__ = ["SUFFIXES", "draw_path", "save_path_chart"]

_SIDE = 66.0
_STRIP_HEIGHT = 66.0
_STRIP_BOTTOM = 84.0
_BETWEEN = 44.0
_BELOW_HEADER = 14.0 + ABOVE
_PROFILE_LEAST = 235.0


def draw_path(
    reach: Reach,
    *,
    page: Page = PAGE,
    headline: str | None = None,
    header_lines: Sequence[str] = (),
    caution: str = words.CAUTION,
    aim: Aim | None = None,
) -> Figure:
    """Draw the picture of one path.

    Parameters
    ----------
    reach : Reach
        What was found out about the path.
    page : Page
        Size; the page gets taller when the header is long.
    headline : str, optional
        The answer in a few words, instead of the one about the line of sight.
    header_lines : sequence of str
        Sentences that carry the answer further.
    caution : str
        The last line of the picture.
    aim : Aim, optional
        Where to point, if not along the path: at the middle of an area.

    Returns
    -------
    matplotlib.figure.Figure
    """
    ruler = Ruler(page)
    header = _header(ruler, reach, headline, header_lines, aim)
    profile_bottom = _STRIP_BOTTOM + _STRIP_HEIGHT + _BETWEEN
    height = max(
        POINTS_WIDE * page.height_in / page.width_in,
        header.height + _BELOW_HEADER + _PROFILE_LEAST + profile_bottom,
    )
    sheet = Sheet(page, height, ruler)
    header.draw(sheet)
    whole_m = float(reach.leg.distance_m)
    width = POINTS_WIDE - 2 * _SIDE
    draw_profile(
        sheet,
        reach,
        Frame(
            _SIDE,
            profile_bottom,
            width,
            height - header.height - _BELOW_HEADER - profile_bottom,
            0,
            whole_m,
            0,
            1,
        ),
    )
    strip = Frame(_SIDE, _STRIP_BOTTOM, width, _STRIP_HEIGHT, 0.0, whole_m, RATIO_LOW, RATIO_HIGH)
    draw_clearance(sheet, reach, strip)
    _write_distances(sheet, strip, profile_bottom, "km", 1000.0)
    _write_distances(sheet, strip, strip.bottom, "mi", words.METRES_PER_MILE)
    draw_key(sheet, 47.0, holes=bool(reach.profile.bridges))
    _write_foot(sheet, reach, caution)
    return sheet.figure


def save_path_chart(
    reach: Reach,
    path: Path | str,
    *,
    page: Page = PAGE,
    headline: str | None = None,
    header_lines: Sequence[str] = (),
    caution: str = words.CAUTION,
    aim: Aim | None = None,
    overwrite: bool = True,
) -> None:
    """Draw the picture of one path into a file; the suffix says which kind.

    Equal results give equal files, byte for byte, with the same matplotlib.

    Parameters
    ----------
    reach, page, headline, header_lines, caution, aim
        As in :func:`draw_path`.
    path : Path or str
        A name ending in ``.png``, ``.svg`` or ``.pdf``.
    overwrite : bool
        Whether an existing file may be replaced.

    Raises
    ------
    OutputError
        For another suffix, and if the file cannot be written; nothing half-written stays behind.
    """
    save_picture(
        path,
        lambda: draw_path(
            reach, page=page, headline=headline, header_lines=header_lines, caution=caution, aim=aim
        ),
        _title(reach),
        overwrite=overwrite,
    )


def _title(reach: Reach) -> str:
    """Title in the file; its readers have their own typefaces."""
    ends = (words.place_name(end.location, lambda _: True) for end in (reach.from_end, reach.to_end))
    return " to ".join(ends)


def _header(ruler: Ruler, reach: Reach, answer: str | None, stated: Sequence[str], aim: Aim | None) -> Header:
    face = ruler.faces.bold(Sizes.title)
    aside = words.distance(reach.leg.distance_m)
    room = POINTS_WIDE - 2 * MARGIN - ruler.width(f" to {aside}", face) - 20.0
    names = [words.place_name(end.location, ruler.has_glyph) for end in (reach.from_end, reach.to_end)]
    title = " to ".join(_sharing(names, room, lambda text: ruler.width(text, face)))
    facts = [
        words.sight_sentence(reach),
        words.direction_sentence(reach, aim),
        words.loss_sentence(reach),
        words.set_up_sentence(reach),
    ]
    said = [answer or words.headline(reach), *stated]
    comfort = words.consolation(reach)
    if answer is not None:
        facts[0] = f"{words.headline(reach)}. {facts[0]}"
    elif comfort is not None:
        said.append(comfort)
    shown = [words.printable(text, ruler.has_glyph) for text in said]
    return Header(ruler, title, aside, shown[0], shown[1:], facts)


def _sharing(names: list[str], room: float, width_of: Callable[[str], float]) -> list[str]:
    """Two names shortened to one width together; a short one leaves its room to the other."""
    first, second = (width_of(name) for name in names)
    widths = (max(room / 2, room - second), max(room / 2, room - first))
    return [words.shortened(name, width, width_of) for name, width in zip(names, widths, strict=True)]


def _write_distances(sheet: Sheet, frame: Frame, y: float, unit: str, metres: float) -> None:
    """Distances along the path under a panel."""
    ticks = round_ticks(0.0, frame.x_high / metres, 8)
    face = sheet.ruler.faces.regular(Sizes.tick)
    sheet.lines([[(frame.x(tick * metres), y - 5.0), (frame.x(tick * metres), y)] for tick in ticks], 1.2)
    for i, tick in enumerate(ticks):
        text = format_tick(tick, ticks) + (f" {unit}" if i == len(ticks) - 1 else "")
        sheet.text(
            frame.x(tick * metres), y - 8.0, text, face, ha="center", va="top", gid=f"distance-{unit}-{i}"
        )


def _write_foot(sheet: Sheet, reach: Reach, caution: str) -> None:
    faces, width = sheet.ruler.faces, POINTS_WIDE - 2 * MARGIN
    face = faces.regular(Sizes.foot)
    text = words.printable(words.footnote(reach), sheet.ruler.has_glyph)
    text = words.shortened(text, width, lambda part: sheet.ruler.width(part, face))
    sheet.text(MARGIN, 27.0, text, face, color=SOFT_INK, gid="foot")
    bold = faces.bold(Sizes.note)
    text = words.shortened(caution, width, lambda part: sheet.ruler.width(part, bold))
    sheet.text(MARGIN, 11.0, text, bold, gid="caution")
