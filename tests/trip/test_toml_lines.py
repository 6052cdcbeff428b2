"""Lines of keys in TOML, held against documents put together line by line."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pathprofile.trip.toml_lines import TomlLines

TRICKY = '''\
# head
title = "a # no comment" # but this is
"quoted key".'other' = 1
text = """
[[stations]]
not = "a key"
five quotes: """""
raw = \'\'\'
[no]
\'\'\'
list = [ # inside
  1, # and [ here
  { a = "]" },
]
[a . "b.c"]
x = 1
[[stations]]
name = "one"
[stations.sub]
y = { z = 1 }
[[stations.set_ups]]
p = 1
[[stations.set_ups]]
p = 2
[[sites]]
s = 1
[[stations]]
name = "two"
when = 2026-06-14
'''
EXPECTED = {
    ("title",): 2,
    ("quoted key", "other"): 3,
    ("text",): 4,
    ("raw",): 8,
    ("list",): 11,
    ("a", "b.c", "x"): 16,
    ("stations", 0): 17,
    ("stations", 0, "name"): 18,
    ("stations", 0, "sub", "y", "z"): 20,
    ("stations", 0, "set_ups", 0, "p"): 22,
    ("stations", 0, "set_ups", 1, "p"): 24,
    ("sites", 0, "s"): 26,
    ("stations", 1): 27,
    ("stations", 1, "name"): 28,
    ("stations", 1, "missing"): 27,
    ("stations",): 17,
    ("a",): 15,
}


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_lines_of_every_kind_of_key(newline: str) -> None:
    text = TRICKY.replace("\n", newline)
    tomllib.loads(text)  # it is TOML
    lines = TomlLines(text)
    assert {loc: lines.line_of(loc) for loc in EXPECTED} == EXPECTED
    assert lines.line_of(("nowhere",)) is None
    assert [comment.line for comment in lines.comments] == [1, 2, 11, 12]
    assert next(mark for mark in lines.marks if mark.loc == ("list",)).last == 14


_VALUES = st.sampled_from(
    ["1", '"#"', "'['", "[1, 2]", "{ a = 1 }", '"""x\ny = 1\n"""', "'''\n[t]'''", "[\n1,\n]", "true", '"\\""']
)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(["", "# c", "[[t]]", "key"]), _VALUES), max_size=15))
def test_lines_agree_with_a_document_built_line_by_line(parts: list[tuple[str, str]]) -> None:
    lines: list[str] = []
    expected: dict[tuple[str | int, ...], int] = {}
    table: tuple[str | int, ...] = ()
    count = 0
    for position, (kind, value) in enumerate(parts):
        if kind == "[[t]]":
            table = ("t", count)
            count += 1
            expected[table] = len(lines) + 1
            lines.append(kind)
        elif kind == "key":
            expected[*table, f"k{position}"] = len(lines) + 1
            lines += f"k{position} = {value} # c".split("\n")
        else:
            lines.append(kind)
    text = "\n".join(lines)
    tomllib.loads(text)
    found = TomlLines(text)
    assert {loc: found.line_of(loc) for loc in expected} == expected
