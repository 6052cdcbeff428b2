"""Mutators: bytes, text and JSON, each driven by the random generator that it is given."""

from __future__ import annotations

import copy
import json
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from random import Random

__all__ = ["ODD_TEXT", "mutate_bytes", "mutate_json", "mutate_text", "random_text"]

# Numbers, signs and letters that readers of text have stumbled over.
ODD_TEXT = (
    *(
        "",
        " ",
        "nan",
        "-nan",
        "inf",
        "-inf",
        "1e309",
        "-0",
        "0",
        "-1",
        "1e-320",
        "9" * 25,
        "9" * 5000,
        "0x1F",
    ),
    *("1_000", "1,5", "1.2.3", "--3", "+-3", "½", "²", "٣", "५", "１２", "Ⅷ", "−5", "\u2212\u0663", "1e5"),
    *("\x00", "\x1b[31m", "\x7f", "\x85", "\u2028", "\u202e", "\u200b", "\ufeff", "\ud800", "\udcff"),
    *(
        "é",
        "e\u0301",
        "ß",
        "İ",
        "ı",
        "ﬁ",
        "漢字",
        "🏔",
        "\U0010ffff",
        "N",
        "s",
        "°",
        "'",
        '"',
        '""',
        "''",
        "`",
    ),
    *("\n", "\r", "\r\n", "\t", "\v", "\f", ",", ";", "|", ":", "=", "[", "]", "{", "}", "#", "\\", "/", "&"),
    *("<", ">", "<![CDATA[", "]]>", "&lt;", "&#0;", "&#xd800;", "<!DOCTYPE a>", "<a>", "</a>", "%s", "{0}"),
    *("../../etc/passwd", "null", "true", "false", "None", "[[", "]]", '"""', "'''", "2026-02-30", "24:00"),
    *("[" * 3000, "{" * 200, "a" * 3000, "(" * 300, '{"a":' * 1500, "<a>" * 200),
)
_ALPHABETS = (
    "0123456789.,-+ NSEWnsew°'\"",
    "0123456789 ABCDEFGHIJKLMNOPQRSTUVWXYZ",
    "0123456789.kmhzMHGftndB-:/+'",
    "".join(map(chr, range(32, 127))),
    "".join(map(chr, range(256))),
)


def random_text(rng: Random, longest: int = 60) -> str:
    """Make a text from one of several alphabets, or from all of Unicode."""
    length = min(int(rng.expovariate(4 / longest)), 4 * longest)
    if rng.random() < 0.2:
        return "".join(
            chr(rng.choice((rng.randrange(0x3000), rng.randrange(0x110000)))) for _ in range(length)
        )
    alphabet = rng.choice(_ALPHABETS)
    return "".join(rng.choice(alphabet) for _ in range(length))


def mutate_text(rng: Random, text: str, most: int = 4) -> str:
    """Change a text in one to a few places: insert, delete, repeat, swap, or take another case."""
    for _ in range(rng.randint(1, most)):
        at = rng.randint(0, len(text))
        to = min(len(text), at + rng.choice((0, 1, 1, 2, 5, 20)))
        how = rng.randrange(8)
        if how <= 1:
            text = text[:at] + rng.choice(ODD_TEXT) + text[to:]
        elif how == 2:
            text = text[:at] + text[to:]
        elif how == 3:
            text = text[:at] + text[at:to] * rng.choice((2, 3, 50)) + text[to:]
        elif how == 4:
            text = text[:at] + random_text(rng, 8) + text[to:]
        elif how == 5 and text:
            one = rng.randrange(len(text))
            low, high = sorted((at, one))
            text = text[:low] + text[high:] + text[low:high]
        elif how == 6:
            text = rng.choice((str.upper, str.lower, str.swapcase, str.title))(text)
        else:
            lines = text.splitlines(keepends=True)
            if len(lines) > 1:
                one, other = rng.randrange(len(lines)), rng.randrange(len(lines))
                lines[one] = rng.choice(("", lines[other], lines[one] + lines[other]))
                text = "".join(lines)
    return text


def mutate_bytes(rng: Random, data: bytes, *, head: int = 512) -> bytes:
    """Change bytes in one to a few places, most often near the start, where headers are."""
    if not data:
        return rng.randbytes(rng.randrange(600))
    changed = bytearray(data)
    how = rng.randrange(7)
    if how == 0:
        return bytes(changed[: rng.randrange(len(changed))])
    if how == 1:
        at = rng.randrange(len(changed))
        changed[at:at] = rng.randbytes(rng.choice((1, 2, 4, 100)))
        return bytes(changed)
    if how == 2:
        at, length = rng.randrange(len(changed)), rng.choice((1, 4, 64, 5000))
        del changed[at : at + length]
        return bytes(changed)
    if how == 3:
        at, length = rng.randrange(len(changed)), rng.choice((2, 4, 8, 64, 4096))
        part = bytes([rng.choice((0, 0xFF, 0x7F, 0x80))]) * length
        changed[at : at + length] = part[: len(changed) - at]
        return bytes(changed)
    for _ in range(rng.choice((1, 1, 2, 8, 64))):
        near = min(head, len(changed)) if rng.random() < 0.7 else len(changed)
        at = rng.randrange(near)
        changed[at] = changed[at] ^ (1 << rng.randrange(8)) if rng.random() < 0.5 else rng.randrange(256)
    return bytes(changed)


_ODD_JSON: tuple[Any, ...] = (
    None,
    True,
    -1,
    0,
    10**400,
    1e308,
    "",
    "x" * 500,
    [],
    {},
    [[]],
    {"": {}},
    "\ud800",
)


def mutate_json(rng: Random, text: str) -> str:
    """Change the values, keys or structure of a JSON text; it stays JSON, apart from NaN and the like."""
    document = json.loads(text)
    for _ in range(rng.randint(1, 3)):
        slots = list(_slots(document))
        if not slots:
            break
        holder, key = rng.choice(slots)
        how = rng.randrange(6)
        if how == 0:
            del holder[key]
        elif how == 1 and isinstance(holder[key], str):
            holder[key] = mutate_text(rng, holder[key])
        elif how == 2 and isinstance(holder[key], (int, float)):
            holder[key] = rng.choice(
                (-holder[key], holder[key] * 10**6, float("nan"), float("inf"), str(holder[key]))
            )
        elif how == 3:
            other, there = rng.choice(slots)
            holder[key] = json.loads(json.dumps(other[there])) if there in _keys(other) else None
        elif how == 4:
            for _ in range(rng.choice((1, 5, 100))):
                holder[key] = [holder[key]]
        else:
            holder[key] = copy.deepcopy(
                rng.choice(_ODD_JSON)
            )  # else the next change would change the list of these
    return json.dumps(document, ensure_ascii=rng.random() < 0.5)


def _keys(holder: Any) -> Any:
    return holder.keys() if isinstance(holder, dict) else range(len(holder))


def _slots(document: Any) -> Any:
    """All (container, key) pairs of a document."""
    waiting = [document]
    while waiting:
        holder = waiting.pop()
        if isinstance(holder, (dict, list)):
            for key in _keys(holder):
                yield holder, key
                waiting.append(holder[key])
