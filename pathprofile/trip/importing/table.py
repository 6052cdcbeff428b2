"""Tables: comma, semicolon or tab between cells, decimal comma or point, columns known by their headers."""

from __future__ import annotations

import csv
import re
from typing import TYPE_CHECKING, NamedTuple

from pathprofile.trip.importing.columns import OTHER_NAME, POSITIONS, entry_of, field_and_unit, is_place
from pathprofile.trip.importing.entry import (
    LONGEST_LINE,
    Entry,
    Remark,
    UnclearError,
    as_number,
    plain_notes,
    tidy_name,
)
from pathprofile.trip.importing.mail import read_line
from pathprofile.trip.importing.text import check_free_text, split_lines

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pathprofile.trip.importing.entry import Reading

__all__ = ["has_header", "read_table"]

_DELIMITERS = (";", "\t", ",", "|")
_MOST_CELLS = 200
_LINES_OF_A_CELL = 20
_LONGEST_FREE_TEXT = 2_000
_HEADER_WITHIN = 15
_ENOUGH_COLUMNS = 2
_ROWS_LOOKED_AT = 20


class _Header(NamedTuple):
    line: int
    delimiter: str
    fields: dict[str, int]  # field: column
    units: dict[str, str]
    unknown: tuple[str, ...]
    heads: list[str]


class _Row(NamedTuple):
    line: int
    cells: list[str]


def has_header(text: str) -> bool:
    """Whether one of the first lines heads columns that are known."""
    return _find_header(split_lines(text[: _HEADER_WITHIN * LONGEST_LINE])) is not None


def read_table(text: str) -> Iterator[Reading]:
    """Stations of a table.

    Columns are told by their headers (`columns.COLUMNS`), units by the header or the cell. Without a header
    each row is read as a line of free text. Distances and azimuths become claims to be checked. Columns of
    ground heights are passed over: those come from the elevation data.

    Yields
    ------
    Entry or Remark
    """
    lines = split_lines(text)
    header = _find_header(lines)
    if header is not None:
        header, completed = _completed(header, lines)
        yield from completed
    if header is None:
        check_free_text(text)
        yield Remark(1, "", "no column headers known; each row read as free text")
        delimiter = _likely_delimiter(lines)
        for row in _rows(lines, 0, delimiter):
            yield from _as_free_text(row)
        return
    if header.line > 1 and any(line.strip() for line in lines[: header.line - 1]):
        yield Remark(header.line, "", "column headers found here; what stands above was passed over")
    if header.unknown:
        yield Remark(header.line, "", f"columns not used: {', '.join(header.unknown)}")
    for row in _rows(lines, header.line, header.delimiter):
        if isinstance(row, Remark):
            yield row
            continue
        try:
            yield _entry(row, header)
        except UnclearError as reason:
            yield Remark(row.line, _name_for_remark(row, header), f"{reason}; left out")


def _find_header(lines: list[str]) -> _Header | None:
    best: _Header | None = None
    for number, line in enumerate(lines[:_HEADER_WITHIN], start=1):
        if len(line) > LONGEST_LINE:
            continue
        for delimiter in _DELIMITERS:
            header = _as_header(number, delimiter, _cells(line, delimiter))
            if header and (best is None or len(header.fields) > len(best.fields)):
                best = header
    return best


def _as_header(number: int, delimiter: str, cells: list[str]) -> _Header | None:
    fields: dict[str, int] = {}
    units: dict[str, str] = {}
    unknown = []
    for column, cell in enumerate(cells[:_MOST_CELLS]):
        field, unit = field_and_unit(cell)
        if field == "name" and field in fields and OTHER_NAME not in fields:
            field = OTHER_NAME  # a call and a name: the first column is the name, the other stands in for it
        if field is None or field in fields or field == "ground":
            if cell.strip():
                unknown.append(plain_notes(cell)[:30])
            continue
        fields[field] = column
        if unit:
            units[field] = unit
    if len(fields.keys() - {OTHER_NAME}) < _ENOUGH_COLUMNS:
        return None
    return _Header(number, delimiter, fields, units, tuple(unknown), cells)


def _completed(header: _Header, lines: list[str]) -> tuple[_Header | None, list[Remark]]:
    """Header with a column for position and for name, told by what stands in them where the heads do not."""
    fields = dict(header.fields)
    remarks = []
    rows = list(_rows(lines[: header.line + _ROWS_LOOKED_AT], header.line, header.delimiter))
    columns = {
        column: [row.cells[column] for row in rows if isinstance(row, _Row) and column < len(row.cells)]
        for column in range(len(header.heads))
        if column not in fields.values()
    }
    if not POSITIONS & fields.keys():
        counts = {column: sum(map(is_place, cells)) for column, cells in columns.items()}
        best = max(counts, key=lambda column: counts[column], default=None)
        if best is None or 2 * counts[best] < len(rows) or not counts[best]:
            return None, []
        fields["place"] = best
        remarks.append(
            Remark(header.line, "", f"places taken from column {header.heads[best].strip()[:30]!r}")
        )
    if "name" not in fields:
        texts = (c for c, cells in columns.items() if c not in fields.values() and any(map(_is_word, cells)))
        first = next(texts, None)
        if first is not None:
            fields["name"] = first
            remarks.append(
                Remark(header.line, "", f"names taken from column {header.heads[first].strip()[:30]!r}")
            )
    used = {header.heads[column] for column in fields.values()}
    unknown = tuple(head for head in header.unknown if head not in used)
    return header._replace(fields=fields, unknown=unknown), remarks


def _is_word(cell: str) -> bool:
    return any(character.isalpha() for character in cell)


def _likely_delimiter(lines: list[str]) -> str:
    sample = [line for line in lines if line.strip()][:20]
    counts = {
        delimiter: min((line[:LONGEST_LINE].count(delimiter) for line in sample), default=0)
        for delimiter in _DELIMITERS
    }
    return max(_DELIMITERS, key=lambda delimiter: counts[delimiter])


def _rows(lines: list[str], start: int, delimiter: str) -> Iterator[_Row | Remark]:
    """Rows after a line; a quoted cell may run over a few lines, a quote that never closes costs one line."""
    at = start
    while at < len(lines):
        first = at + 1
        line = lines[at]
        at += 1
        if not line.strip(" \t,;|") or re.fullmatch(r"sep=.", line.strip(), re.IGNORECASE):
            continue
        if len(line) > LONGEST_LINE:
            yield Remark(first, "", f"a line of {len(line)} characters; left out")
            continue
        joined, end = line, at
        while joined.count('"') % 2 and end < min(len(lines), first + _LINES_OF_A_CELL):
            joined += "\n" + lines[end][:LONGEST_LINE]
            end += 1
        if joined.count('"') % 2:
            yield Remark(first, "", "a quotation mark never closes; left out")
            continue
        at = end
        cells = _cells(joined, delimiter)
        while cells and not cells[-1].strip():
            cells.pop()
        if cells:
            yield _Row(first, cells)


def _cells(line: str, delimiter: str) -> list[str]:
    try:
        return next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
    except csv.Error:
        return [line]


def _as_free_text(row: _Row | Remark) -> Iterator[Reading]:
    if isinstance(row, Remark):
        yield row
        return
    try:
        tidy_name(row.cells[0] or "-")  # a formula in the first cell must not pass as text
        entry = read_line(
            "  ".join(_joined_coordinates(row.cells[:_MOST_CELLS]))[:_LONGEST_FREE_TEXT], row.line
        )
    except UnclearError as reason:
        yield Remark(row.line, "", f"{reason}; left out")
        return
    yield entry or Remark(row.line, "", "no place found; left out")


def _joined_coordinates(cells: list[str]) -> list[str]:
    """Cells with two neighbouring bare numbers put together, as they are latitude and longitude."""
    joined: list[str] = []
    for cell in cells:
        one_line = " ".join(cell.split())
        if joined and as_number(one_line) is not None and as_number(joined[-1]) is not None:
            joined[-1] = f"{joined[-1]}; {one_line}".replace(",", ".")
        else:
            joined.append(one_line)
    return joined


def _entry(row: _Row, header: _Header) -> Entry:
    if len(row.cells) > len(header.heads):
        hint = "; a decimal comma in a table parted by commas?" if header.delimiter == "," else ""
        raise UnclearError(f"{len(row.cells)} cells under {len(header.heads)} headers{hint}")
    cells = {
        field: row.cells[column].strip() for field, column in header.fields.items() if column < len(row.cells)
    }
    return entry_of(row.line, cells, header.units)


def _name_for_remark(row: _Row, header: _Header) -> str:
    columns = (header.fields.get("name"), header.fields.get(OTHER_NAME))
    cells = [row.cells[column] for column in columns if column is not None and column < len(row.cells)]
    try:
        return tidy_name(next(filter(str.strip, cells), ""))[0]
    except UnclearError:
        return ""
