"""Names as people compare them, and as names of files."""

from __future__ import annotations

import unicodedata
from pathlib import PurePosixPath, PureWindowsPath

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pathprofile.trip.names import did_you_mean, is_plain_text, name_key, safe_file_name, safe_file_names


@pytest.mark.parametrize(
    ("name", "file"),
    [
        ("Marsh End", "Marsh-End"),
        ("../../etc/passwd", "etc-passwd"),
        ("..", "unnamed"),
        ("", "unnamed"),
        ("C:\\temp\\x", "C-temp-x"),
        ("<b>bold</b>", "b-bold-b"),
        ("nul", "nul-station"),
        ("COM1", "COM1-station"),
        ("-rf *", "rf"),
        ("Höhenweg 7", "Höhenweg-7"),
        ("a\0b\nc", "a-b-c"),
        ("=1+1", "1-1"),
    ],
)
def test_hostile_names_become_harmless(name: str, file: str) -> None:
    assert safe_file_name(name) == file


def test_names_taken_are_made_distinct() -> None:
    assert safe_file_name("Marsh End", taken=["marsh-end", "Marsh-End-2"]) == "Marsh-End-3"
    names = ["Marsh End", "marsh/end", "Marsh End 2", "MARSH END"]
    assert safe_file_names(names) == ["Marsh-End", "marsh-end-2", "Marsh-End-2-2", "MARSH-END-3"]


@given(st.lists(st.text(max_size=90), max_size=8))
def test_any_names_give_distinct_plain_file_names(names: list[str]) -> None:
    files = safe_file_names(names)
    assert len({file.casefold() for file in files}) == len(files) == len(names)
    for file in files:
        assert PurePosixPath(file).parts == PureWindowsPath(file).parts == (file,)
        assert file[0] not in ".-_ "
        assert len(file.encode()) <= 130
        assert all(unicodedata.category(c)[0] in "LNM" or c in "-_‿⁀⁔︳︴﹍﹎﹏＿" for c in file)


def test_ten_thousand_equal_names_are_told_apart() -> None:
    assert len(set(safe_file_names(["Marsh End"] * 10_000))) == 10_000


def test_names_are_compared_as_people_do() -> None:
    assert name_key("  Marsh\u00a0END ") == name_key("marsh end")
    assert name_key("Marsh End") != name_key("Marshend")
    assert not is_plain_text("a\u202eb")
    assert is_plain_text("Čřö – 7")
    assert did_you_mean("end", ["Marsh End"]) == "did you mean Marsh End?"
    assert did_you_mean("q", [f"s{n}" for n in range(9)]) == "known: s0, s1, s2, s3, s4 and 4 more"
    assert did_you_mean("Talaya", ["EA3AAA", "Talaia"]) == "did you mean Talaia?"
    assert did_you_mean("Gul Tor", ["Marsh End", "Gull Tor"]) == "did you mean Gull Tor?"
