"""Text is as wide as the terminal, within limits."""

from __future__ import annotations

import os

import pytest

from pathprofile.cli.width import shown, text_width, wrapped


@pytest.mark.parametrize(
    ("columns", "width"), [("40", 40), ("60", 60), ("79", 79), ("200", 79), ("20", 40), ("", 79), ("x", 79)]
)
def test_width_follows_the_columns_stated_within_40_and_79(
    monkeypatch: pytest.MonkeyPatch, columns: str, width: int
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    monkeypatch.setattr(os, "get_terminal_size", _no_terminal)
    assert text_width() == width


def test_width_follows_the_terminal_where_nothing_is_stated(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("COLUMNS", raising=False)
    monkeypatch.setattr(os, "get_terminal_size", lambda _: os.terminal_size((52, 20)))
    assert text_width() == 52


def test_lines_keep_to_the_width_and_their_indents(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    lines = wrapped("word " * 30 + "hand-held", 2, 5)
    assert all(len(line) <= 40 for line in lines)
    assert lines[0].startswith("  word")
    assert all(line.startswith(("     w", "     h")) for line in lines[1:])
    assert " ".join(lines).split() == ["word"] * 30 + ["hand-held"]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a\x1b[31mb\x07", "a?[31mb?"),
        ("a\x9b31mb\x7f\x00", "a?31mb??"),  # the one-byte form of the same sequence
        ("two\nlines\r\u2028more", "two?lines??more"),
        ("left\u202eright \udcff", "left?right ?"),
        ("Süd 東 5\u202fm\u00a0°′ …", "Süd 東 5\u202fm\u00a0°′ …"),
    ],
)
def test_nothing_that_is_shown_steers_a_terminal(text: str, expected: str) -> None:
    assert shown(text) == expected


def test_a_wrapped_paragraph_steers_no_terminal() -> None:
    assert wrapped("one\ntwo\x1b[2J") == ["one two?[2J"]


def _no_terminal(_: int) -> os.terminal_size:
    raise OSError
