"""How large page one may be printed: lines are counted, and the largest type that fits is chosen."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["SIZES_PT", "Fit", "fit_page_one"]

SIZES_PT = (8.8, 8.3, 7.8, 7.4, 7.0)
"""Type sizes of the classes ``size0`` to ``size4`` in page.css."""
_MOST_ROWS = 12
# Letter is the shorter paper: 279 mm less margins. A line is 1.26 times the type. Measured in a browser,
# pages come out at 0.86 to 0.96 of the estimate in a wide typeface, so a little more may be estimated.
_HEIGHT_MM = 1.02 * (279.4 - 21.0)
_LINE = 1.26
_MM_PER_PT = 25.4 / 72.0
# Half the width of an average letter of a wide typeface, and the width of the paper less margins.
_LETTER = 0.58
_WIDTH_MM = 190.0
_SMALL = 0.84


class Fit(NamedTuple):
    """Which of `SIZES_PT`, and how many calls page one holds."""

    size: int
    rows: int


def fit_page_one(values: dict[str, Any]) -> Fit:
    """Choose the largest type at which page one fits on A4 and on Letter; at the least, fewer calls.

    Parameters
    ----------
    values : dict
        What the template is given, with all calls in ``rows``.

    Returns
    -------
    Fit
        At least one call; never more than twelve.
    """
    most = min(len(values["rows"]), _MOST_ROWS)
    for size in range(len(SIZES_PT)):
        if _height_mm(values, most, SIZES_PT[size]) <= _HEIGHT_MM:
            return Fit(size, most)
    least = len(SIZES_PT) - 1
    fitting = (n for n in range(most, 1, -1) if _height_mm(values, n, SIZES_PT[least]) <= _HEIGHT_MM)
    return Fit(least, next(fitting, 1))


def _height_mm(values: dict[str, Any], rows: int, size_pt: float) -> float:
    return _lines({**values, "rows": values["rows"][:rows]}, size_pt) * size_pt * _LINE * _MM_PER_PT


def _lines(values: dict[str, Any], size_pt: float) -> float:
    """Lines of page one at a type size, gaps counted as parts of a line."""

    def wrapped(text: str, share: float, scale: float = 1.0) -> int:
        letters = share * _WIDTH_MM / (size_pt * scale * _LETTER * _MM_PER_PT)
        return max(1, math.ceil(len(text) / letters))

    site, facts = values["site"], " ".join(values["facts"])
    lines = 4.8 + wrapped(facts, 1.0) + (wrapped(site["name"], 0.7, 2.2) - 1) * 2.2
    lines += sum(_row_lines(item, wrapped) for item in values["rows"])
    left_out = "".join(f"{name} ({reason}); " for name, reason in values["left_out"])
    why = values["order_reason"] + values["conditional"] + values["area_legend"] + left_out + " " * 80
    lines += 0.92 * wrapped(why, 1.0, 0.92) + 1.0
    lines += 2.4 + _aim_lines(values, wrapped)
    proof = values["proof"]
    rungs = (
        f"{proof['name']} {proof['set']} {proof['expect']}" + " " * 70,
        " " * 112,
        values["powers"] + values["morse"] + " " * 98,
        values["neither"] + " " * 10,
    )
    heights = [wrapped(text, 0.46) for text in rungs]
    lines += 2.4 + max(heights[:2]) + max(heights[2:])
    if values["noise"]:
        noise = "".join(f"no. 00: {step['words']}; " for step in values["noise"])
        lines += 0.3 + wrapped(noise + " " * 83, 1.0)
    lines += 2.6 + 1.1 * wrapped(" ".join(values["keep"]) + values["keep_note"], 1.0)
    lines += (0.3 + 1.1 * wrapped(values["handheld"], 1.0)) if values["handheld"] else 0.0
    lines += 0.3 + wrapped(values["emergency"] + " " * 16, 1.0)
    lines += wrapped(" ▪ ".join(values["cautions"]), 1.0)
    return lines + 1.6 + _SMALL * wrapped(values["foot"], 1.0, _SMALL)


def _row_lines(item: dict[str, Any], wrapped: Callable[..., int]) -> float:
    call = item["call"]
    who = call["prove"] * call["proves"] + call["hours"]
    sets = " · ".join((call["polarization"], *call["send"]))
    cells = (
        wrapped(f"{call['name']} {call['area']}  ", 0.22) + _SMALL * wrapped(who, 0.22, _SMALL),
        wrapped(f"{call['frequency']} {call['mode']}", 0.18) + _SMALL * wrapped(sets, 0.18, _SMALL),
        (2.0 if call["area"] else 1.0)
        + (wrapped(call["parted"], 0.2) if call["parted"] else 0)
        + _SMALL * wrapped(call["word"] + call["better"], 0.2, _SMALL),
    )
    return max(cells) + 0.45 + (1.3 if item["heading"] else 0.0)


def _aim_lines(values: dict[str, Any], wrapped: Callable[..., int]) -> float:
    sun = 1.0 + math.ceil(len(values["sun"]) / 4)
    if not values["beams"]:
        return max(3.0, sun) + wrapped(" " * 165, 1.0)
    beams = sum(wrapped("no. 00, " * len(beam["numbers"]), 0.2) for beam in values["beams"])
    return max(1.2 * (beams + len(values["landmarks"]) + 2), 9.0, sun) + wrapped(" " * 165, 1.0)
