"""Edits to the text of a book that leave every other byte as it was, comments and order included.

A TOML document model was tried for this (tomlkit 0.15): with tables of several kinds it takes the comment
above the next table for the end of the list, reorders lists that are written in turns, and mixes line ends.
"""

from __future__ import annotations

import json
import re
import tomllib
from typing import TYPE_CHECKING, Any, NamedTuple

from pathprofile.errors import StationError
from pathprofile.trip.toml_lines import TomlLines

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = ["Block", "rewritten"]

_OUR_COMMENT = "# the list says"


class Block(NamedTuple):
    """A station to be written: its keys and values, and what to say beside its place."""

    values: Mapping[str, Any]
    place_comment: str = ""


def rewritten(
    text: str, data: Mapping[str, Any], changed: Mapping[int, Block], added: Sequence[Block]
) -> str:
    """Text of a book with some stations replaced and some added at the end.

    Parameters
    ----------
    text, data
        The book, as text and as `tomllib` reads it.
    changed : mapping of int to Block
        By index among the stations. Comments within a replaced station are kept, below its keys.
    added : sequence of Block

    Raises
    ------
    StationError
        Where stations are not written each under a header of its own, so that nothing can be added.
    """
    index = TomlLines(text)
    if any(mark.loc == ("stations",) for mark in index.marks):
        line = index.line_of(("stations",))
        raise StationError(
            f"line {line}: stations stand in one list; write each under [[stations]] to add more"
        )
    newline = "\r\n" if "\r\n" in text else "\n"
    lines = text.split("\n")
    result_lines: list[str] = []
    done = 0
    for number, first, last, comments in _spans(index, set(changed)):
        block = [*_rendered(changed[number]), *comments]
        result_lines += lines[done : first - 1]
        result_lines += [line + newline.removesuffix("\n") for line in block]
        done = last
    result = "\n".join(result_lines + lines[done:])
    if added:
        body = f"{newline}{newline}".join(newline.join(_rendered(block)) for block in added)
        result = result.rstrip("\r\n") + newline * 2 + body + newline
    _check(result, data, changed, added)
    return result


def _spans(index: TomlLines, wanted: set[int]) -> list[tuple[int, int, int, list[str]]]:
    """List number, first and last line, and comments of the wanted stations, in the file's order."""
    spans: dict[int, tuple[int, int]] = {}
    before: int | None = None
    for mark in index.marks:
        number = mark.loc[1] if mark.loc[0] == "stations" and len(mark.loc) > 1 else None
        if isinstance(number, int) and number in wanted:
            if number in spans and before != number:
                raise StationError(
                    f"line {mark.first}: a station is written in several pieces; put them together first"
                )
            spans[number] = spans.get(number, (mark.first, 0))[0], mark.last
        before = number if isinstance(number, int) else None
    comments: dict[int, list[str]] = {number: [] for number in spans}
    owner = {line: number for number, (first, last) in spans.items() for line in range(first, last + 1)}
    for comment in index.comments:
        if comment.line in owner and not comment.text.startswith(_OUR_COMMENT):
            comments[owner[comment.line]].append(comment.text)
    return [(number, *spans[number], comments[number]) for number in sorted(spans, key=spans.__getitem__)]


def _rendered(block: Block) -> list[str]:
    comment = f"  {_OUR_COMMENT} {block.place_comment}" if block.place_comment else ""
    lines = ["[[stations]]"]
    for key, value in block.values.items():
        if key != "set_ups":
            lines.append(f"{key} = {_value(value)}" + (comment if key == "place" else ""))
    for set_up in block.values.get("set_ups", ()):
        lines += ["", "[[stations.set_ups]]", *(f"{key} = {_value(value)}" for key, value in set_up.items())]
    return lines


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_value(item) for item in value) + "]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_key(key)} = {_value(item)}" for key, item in value.items()) + " }"
    return repr(value)


def _key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else json.dumps(key, ensure_ascii=False)


def _check(text: str, data: Mapping[str, Any], changed: Mapping[int, Block], added: Sequence[Block]) -> None:
    """Refuse to hand out a text that does not read back as exactly what was meant."""
    stations = list(data.get("stations", []))
    for number, block in changed.items():
        stations[number] = dict(block.values)
    meant = {**data, "stations": stations + [dict(block.values) for block in added]}
    if tomllib.loads(text) != meant:
        raise StationError("the book could not be edited safely; nothing was written")
