"""How wide text may be: as the terminal is, between 40 and 79 columns; 79 where there is no terminal."""

from __future__ import annotations

import shutil
import textwrap

__all__ = ["LEAST_WIDTH", "MOST_WIDTH", "text_width", "wrapped"]

MOST_WIDTH = 79
LEAST_WIDTH = 40


def text_width() -> int:
    """Columns for a line of text: COLUMNS where that is set, else the terminal's; 79 into a file or pipe."""
    columns = shutil.get_terminal_size((MOST_WIDTH, 24)).columns
    return max(LEAST_WIDTH, min(MOST_WIDTH, columns))


def wrapped(text: str, indent: int = 0, further: int | None = None) -> list[str]:
    """Break a paragraph into lines of `text_width`; nothing is broken at a hyphen.

    Parameters
    ----------
    text : str
    indent : int
        Blanks before the first line.
    further : int, optional
        Blanks before the other lines; as many as before the first by default.
    """
    return textwrap.wrap(
        text,
        text_width(),
        initial_indent=" " * indent,
        subsequent_indent=" " * (indent if further is None else further),
        break_on_hyphens=False,
    )
