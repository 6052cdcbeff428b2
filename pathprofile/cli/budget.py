"""The budget of a contact: both directions side by side, or one under the other on a narrow terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from pathprofile.cli.width import text_width

if TYPE_CHECKING:
    from pathprofile.contact import Contact
    from pathprofile.link.evaluate import Direction

__all__ = ["budget_lines"]

_LABEL = 29
_COLUMN = 24
_TWO_COLUMNS = 1 + _LABEL + 2 * _COLUMN


class _Row(NamedTuple):
    """A figure by its name, and what to expect of it where that needs words."""

    label: str
    value: str
    words: str = ""


def budget_lines(contact: Contact) -> list[str]:
    """Return the budget as lines no wider than the terminal."""
    link = contact.link
    ways = {
        title: _rows(contact, way) if way else []
        for title, way in (("you → them", link.out), ("them → you", link.back))
    }
    if text_width() >= _TWO_COLUMNS:
        return _side_by_side(ways)
    return [line for title, rows in ways.items() if rows for line in (title, *map(_narrow, rows))]


def _rows(contact: Contact, way: Direction) -> list[_Row]:
    loss, budget = contact.reach.loss, way.budget
    parted = loss.disagreement_db
    path = "path, best estimate" if parted is None else f"path, methods disagree by {parted:.0f}"
    # pattern, polarization, antenna and feedline of the receiver
    collected_db = budget.level_dbm - budget.eirp_dbm + budget.path_loss_db
    return [
        _Row("radiated, with antenna", f"{budget.eirp_dbm:+.1f} dBm"),
        _Row(path, f"-{loss.loss_db:.1f} dB"),
        _Row("collected, with antenna", f"{collected_db:+.1f} dB"),
        _Row("signal | noise, dBm", f"{budget.level_dbm:.1f}|{budget.noise_dbm:.1f}"),
        _margin(way),
        _Row("above comfortable", f"{budget.comfortable_margin_db:+.1f} dB"),
    ]


def _margin(way: Direction) -> _Row:
    """Margin, and what the operator will see on the S-meter or hear in the noise."""
    budget = way.budget
    if budget.s_reading:
        return _Row("above readable; S-meter", f"{budget.margin_db:+.1f} dB", budget.s_reading)
    if budget.copy_word:
        words = f"{budget.copy_word}, {_microvolts(budget.level_uv)}"
        return _Row("above readable; heard as", f"{budget.margin_db:+.1f} dB", words)
    return _Row("above readable", f"{budget.margin_db:+.1f} dB")


def _microvolts(level_uv: float) -> str:
    """Voltage at the receiver, to two figures."""
    if level_uv < 0.01:
        return "below 0.01 µV"
    return f"{level_uv:.2g} µV" if level_uv < 99.5 else f"{level_uv:.0f} µV"


def _side_by_side(ways: dict[str, list[_Row]]) -> list[str]:
    filled = [rows for rows in ways.values() if rows]
    lines = [_line("", [title if rows else "" for title, rows in ways.items()])]
    for i, row in enumerate(filled[0]):
        lines.append(_line(row.label, [_cell(rows[i]) if rows else "" for rows in ways.values()]))
    return lines


def _line(label: str, cells: list[str]) -> str:
    return (f" {label:<{_LABEL}}" + "".join(f"{cell:>{_COLUMN}}" for cell in cells)).rstrip()


def _cell(row: _Row) -> str:
    """Figure and words, as much of them as a column holds."""
    if not row.words:
        return row.value
    whole = row.value.replace(" dB", "")
    texts = (f"{row.value}; {row.words}", f"{float(whole):+.0f} dB; {row.words}")
    shorter = f"{row.value}; {row.words.partition(',')[0]}"
    return next((text for text in texts if len(text) < _COLUMN), shorter)


def _narrow(row: _Row) -> str:
    """One figure a line; its words on a line of their own."""
    first, _, second = row.label.partition("; ")
    lines = [(first, row.value), *([(second, row.words)] if row.words else [])]
    width = text_width() - 1
    return "\n".join(f" {label}{text:>{max(width - len(label), len(text) + 1)}}" for label, text in lines)
