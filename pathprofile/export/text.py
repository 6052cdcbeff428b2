"""Names and sentences from strangers made fit for any file: one line, nothing unseen, nothing that acts."""

from __future__ import annotations

import unicodedata

__all__ = ["one_line", "safe_cell"]

# Marks that turn the direction of what follows: they can make a name read as another (Unicode UAX #9).
_TURNING = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
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
        Line ends and tabs are a space; control characters, lone surrogates, non-characters and marks of
        direction are gone. Letters of every script and emoji stay, joined ones too.

    References
    ----------
    .. [1] W3C, Extensible Markup Language (XML) 1.0, 5th edition, §2.2 (production 2, Char).
    """
    return " ".join("".join(character for character in text if _shown(character)).split())


def _shown(character: str) -> bool:
    if character.isspace():
        return True
    unseen = unicodedata.category(character) in {"Cc", "Cs"} or ord(character) & 0xFFFE == 0xFFFE
    return not unseen and character not in _TURNING


def safe_cell(text: str) -> str:
    """Text for a cell of a table that a spreadsheet will not run as a formula.

    Returns
    -------
    str
        `one_line`, with an apostrophe before a leading ``=``, ``+``, ``-`` or ``@``.
    """
    line = one_line(text)
    return f"'{line}" if line.lstrip().startswith(_FORMULA_STARTS) else line
