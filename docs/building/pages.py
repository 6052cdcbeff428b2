"""Pages: generated parts between their marks, and the printed output under each piece of code."""

from __future__ import annotations

import contextlib
import io
import os
import re
from typing import TYPE_CHECKING, Any

from building.blocks import BLOCKS

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["fill", "fill_outputs", "snippets"]

_BLOCK = re.compile(r"(<!-- made: (?P<name>[a-z ]+) -->\n).*?(<!-- end -->)", re.DOTALL)
_SNIPPET = re.compile(r"```python\n(?P<code>.*?)```\n(?:\n```text\n(?P<printed>.*?)```\n)?", re.DOTALL)


def fill(text: str, measured: dict[str, Any]) -> str:
    """Page with every generated part written anew."""
    return _BLOCK.sub(lambda found: f"{found[1]}\n{BLOCKS[found['name']](measured)}\n\n{found[3]}", text)


def snippets(text: str) -> list[tuple[str, str | None]]:
    """Pieces of Python in a page, each with the output that stands below it."""
    return [(found["code"], found["printed"]) for found in _SNIPPET.finditer(text)]


def fill_outputs(text: str, folder: Path) -> str:
    """Page with the output under each piece of Python written anew; they run in order, in one namespace.

    Parameters
    ----------
    text : str
        The page.
    folder : Path
        Where the pieces run, and may write.
    """
    names: dict[str, Any] = {"__name__": "page"}

    def run(found: re.Match[str]) -> str:
        printed = io.StringIO()
        with contextlib.redirect_stdout(printed):
            exec(compile(found["code"], "page", "exec"), names)  # noqa: S102 - the page is ours
        shown = f"```python\n{found['code']}```\n"
        lines = "".join(f"{line.rstrip()}\n" for line in printed.getvalue().splitlines())
        return shown + (f"\n```text\n{lines}```\n" if lines else "")

    before = os.getcwd()  # noqa: PTH109 - to come back to
    os.chdir(folder)
    try:
        return _SNIPPET.sub(run, text)
    finally:
        os.chdir(before)
