"""Names and sentences from strangers made fit for any file: one line, nothing unseen, nothing that acts."""

from __future__ import annotations

import re

__all__ = ["one_line", "safe_cell"]

# Control characters that are no space, lone surrogates, what XML forbids, and marks of direction, which can
# make a name read as another (Unicode UAX #9).
_UNFIT = re.compile(
    "[\x00-\x08\x0e-\x1b\x7f-\x84\x86-\x9f\ud800-\udfff\ufffe\uffff"
    "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]"
)
# What spreadsheets take for the start of a formula, wide forms included (common practice).
_FORMULA_STARTS = tuple("=+-@＝＋－＠")


def one_line(text: str) -> str:
    """Text on one line, without characters that XML forbids or that change how the rest is shown.

    Parameters
    ----------
    text : str
        Anything.

    Returns
    -------
    str
        Line ends and tabs are a space; control characters, lone surrogates and marks of direction are gone.
        Letters of every script and emoji stay, joined ones too.

    References
    ----------
    .. [1] W3C, Extensible Markup Language (XML) 1.0, 5th edition, §2.2 (production 2, Char).
    """
    return " ".join(_UNFIT.sub("", text).split())


def safe_cell(text: str) -> str:
    """Text for a cell of a table that a spreadsheet will not run as a formula.

    Returns
    -------
    str
        `one_line`, with an apostrophe before a leading ``=``, ``+``, ``-`` or ``@``.
    """
    line = one_line(text)
    return f"'{line}" if line.lstrip().startswith(_FORMULA_STARTS) else line
