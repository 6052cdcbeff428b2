"""On which line of a TOML file each key stands, for messages and for edits that leave the rest as it was."""

from __future__ import annotations

import re
import tomllib
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["Comment", "Mark", "TomlLines"]

_STRINGS = (
    # Nothing is tried twice: a long string takes no memory, and one that never closes no time.
    r'"""(?:[^"\\]++|\\.|"(?!""))*+"{3,5}'  # up to two of the closing quotes are content
    r"|'''(?:[^']++|'(?!''))*+'{3,5}"
    r'|"(?:[^"\\\n]++|\\.)*+"'
    r"|'[^'\n]*'"
)
_VALUE_PART = re.compile(
    rf"(?P<text>{_STRINGS})|(?P<comment>#[^\n]*)|(?P<mark>[\[\]{{}}\n])|[^\[\]{{}}\n#\"']+", re.DOTALL
)
_KEY_PART = re.compile(rf"\s*(?:[A-Za-z0-9_-]+|{_STRINGS})\s*")
_BLANK = re.compile(r"\s+")

Loc = tuple[str | int, ...]


class Mark(NamedTuple):
    """A table header or a key: its place in the data, and its first and last line, counted from 1."""

    loc: Loc
    first: int
    last: int


class Comment(NamedTuple):
    """A comment, from its ``#`` to the end of the line."""

    line: int
    text: str


class TomlLines:
    """Lines of the headers, keys and comments of a text that `tomllib` has accepted."""

    def __init__(self, text: str) -> None:
        self.marks: list[Mark] = []
        self.comments: list[Comment] = []
        self._counts: dict[Loc, int] = {}
        self._scan(text)
        self._first_lines: dict[Loc, int] = {}
        for mark in self.marks:
            for depth in range(len(mark.loc), 0, -1):  # [a.b] makes a as well
                self._first_lines.setdefault(mark.loc[:depth], mark.first)

    def line_of(self, loc: Sequence[str | int]) -> int | None:
        """Line of a key; of the nearest table or key around it where it has no line of its own."""
        place = tuple(loc)
        while place:
            if place in self._first_lines:
                return self._first_lines[place]
            place = place[:-1]
        return None

    def _scan(self, text: str) -> None:
        table: Loc = ()
        at, line = 0, 1
        while at < len(text):
            if blank := _BLANK.match(text, at):
                line += blank[0].count("\n")
                at = blank.end()
            elif text[at] == "#":
                at = self._comment(text, at, line)
            elif text[at] == "[":
                is_list = text.startswith("[[", at)
                keys, at = _keys(text, at + 1 + is_list)
                table = self._table(keys, is_list=is_list)
                self.marks.append(Mark(table, line, line))
                at += 1 + is_list
            else:
                keys, at = _keys(text, at)
                first = line
                at, line = self._value(text, at, line)
                self.marks.append(Mark(table + tuple(keys), first, line))

    def _comment(self, text: str, at: int, line: int) -> int:
        end = text.find("\n", at)
        end = len(text) if end < 0 else end
        self.comments.append(Comment(line, text[at:end].rstrip("\r")))
        return end

    def _value(self, text: str, at: int, line: int) -> tuple[int, int]:
        """End of a value and the line it ends on, brackets and multi-line strings included."""
        depth = 0
        while at < len(text):
            part = _VALUE_PART.match(text, at)
            if part is None:  # a quote that never closes: not TOML
                return len(text), line
            if part["comment"] is not None:
                at = self._comment(text, at, line)
                continue
            if part["mark"] == "\n":
                if depth == 0:
                    return at, line
                line += 1
            elif part["mark"]:
                depth += 1 if part["mark"] in "[{" else -1
            elif part["text"]:
                line += part["text"].count("\n")
            at = part.end()
        return at, line

    def _table(self, keys: list[str], *, is_list: bool) -> Loc:
        """Place of a header's table; where a list of tables is meant, its latest member."""
        place: Loc = ()
        for position, key in enumerate(keys):
            place += (key,)
            if is_list and position == len(keys) - 1:
                self._counts[place] = self._counts.get(place, 0) + 1
            if place in self._counts:
                place += (self._counts[place] - 1,)
        return place


def _keys(text: str, at: int) -> tuple[list[str], int]:
    """Parts of a dotted key and where it ends."""
    keys = []
    while part := _KEY_PART.match(text, at):
        written = part[0].strip()
        keys.append(_unquoted(written) if written[0] in "\"'" else written)
        at = part.end()
        if not text.startswith(".", at):
            break
        at += 1
    return keys, at


def _unquoted(written: str) -> str:
    if "\\" not in written:
        return written[1:-1]
    table: dict[str, Any] = tomllib.loads(f"{written} = 0")
    return next(iter(table))
