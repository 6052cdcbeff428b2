"""What a test run and the tests' own text say: counts, browser checks, properties, what is from memory."""

from __future__ import annotations

import ast
import re
import xml.etree.ElementTree as ET
from collections import Counter
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

__all__ = ["from_memory", "property_tests", "read_junit"]

_BROWSER = "tests.export.sheet.test_browser"
_PUBLISHED = "published cases: "


def read_junit(files: Sequence[Path]) -> dict[str, Any]:
    """Count what one run did, or one in parts, from the XML that ``pytest --junitxml`` writes.

    Raises
    ------
    SystemExit
        When a test failed: no page is built from that.
    """
    cases = [case for file in files for case in ET.parse(file).iter("testcase")]  # noqa: S314 - our own XML
    failed = [case for case in cases if case.find("failure") is not None or case.find("error") is not None]
    if failed:
        raise SystemExit(f"{len(failed)} tests failed; the first: {failed[0].get('name')}")
    rooms: dict[str, Counter[str]] = {}
    browser: dict[str, str] = {}
    reasons: Counter[str] = Counter()
    published: Counter[str] = Counter()
    for case in cases:
        module = case.get("classname", "")
        skip = case.find("skipped")
        rooms.setdefault(_room(module), Counter())["passed" if skip is None else "skipped"] += 1
        if skip is not None:
            reasons[re.sub(r"'?/\S*", "…", skip.get("message", ""))[:100]] += 1
        if module == _BROWSER:
            name = case.get("name", "").partition("[")[0]
            browser[name] = "skipped" if skip is not None else browser.get(name, "passed")
        for item in case.iter("property"):
            name = item.get("name", "")
            if name.startswith(_PUBLISHED):
                published[name.removeprefix(_PUBLISHED)] += int(item.get("value", "0"))
    return {
        "rooms": {room: dict(count) for room, count in sorted(rooms.items())},
        "published": dict(sorted(published.items())),
        "browser": browser,
        "skipped": dict(sorted(reasons.items())),
    }


def _room(module: str) -> str:
    parts = module.removeprefix("tests.").split(".")
    return parts[0] if len(parts) > 1 else parts[0].removeprefix("test_")


def property_tests(tests: Path) -> list[tuple[str, str]]:
    """File and name of every test that draws its inputs at random."""
    return [
        (file.relative_to(tests.parent).as_posix(), node.name)
        for file in sorted(tests.rglob("test_*.py"))
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef) and any(_is_given(mark) for mark in node.decorator_list)
    ]


def _is_given(mark: ast.expr) -> bool:
    return isinstance(mark, ast.Call) and isinstance(mark.func, ast.Name) and mark.func.id == "given"


def from_memory(root: Path) -> list[tuple[str, int]]:
    """Files of code and tests that say "from memory" of a figure, and how often."""
    found = []
    for folder in ("pathprofile", "tests"):
        for file in sorted((root / folder).rglob("*.py")):
            count = len(re.findall(r"\bfrom memory\b", file.read_text(encoding="utf-8"), re.IGNORECASE))
            if count and file.name != "test_docs.py":
                found.append((file.relative_to(root).as_posix(), count))
    return found
