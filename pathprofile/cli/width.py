"""What a terminal is given: nothing that steers it, and text as wide as it is.

Between 40 and 79 columns; 79 where there is no terminal.
"""

from __future__ import annotations

import shutil
import textwrap
import unicodedata

__all__ = ["LEAST_WIDTH", "MOST_WIDTH", "shown", "text_width", "wrapped"]

MOST_WIDTH = 79
LEAST_WIDTH = 40


def text_width() -> int:
    """Columns for a line of text: COLUMNS where that is set, else the terminal's; 79 into a file or pipe."""
    columns = shutil.get_terminal_size((MOST_WIDTH, 24)).columns
    return max(LEAST_WIDTH, min(MOST_WIDTH, columns))


def shown(text: object) -> str:
    """Return text for one line of a terminal: a ``?`` for every character that is not printed but obeyed.

    A file name or a key of a book may hold any character, such as those that move the cursor, colour what
    follows or turn its direction round. Blanks of every width stay.
    """
    return "".join(
        each if each.isprintable() or unicodedata.category(each) == "Zs" else "?" for each in str(text)
    )


def wrapped(text: str, indent: int = 0, further: int | None = None) -> list[str]:
    """Break a paragraph into lines of `text_width`, `shown`; nothing is broken at a hyphen.

    Parameters
    ----------
    text : str
    indent : int
        Blanks before the first line.
    further : int, optional
        Blanks before the other lines; as many as before the first by default.
    """
    lines = textwrap.wrap(
        text,
        text_width(),
        initial_indent=" " * indent,
        subsequent_indent=" " * (indent if further is None else further),
        break_on_hyphens=False,
    )
    return [shown(line) for line in lines]  # after wrapping, which makes blanks of line ends
