#!/usr/bin/env python3
"""Write the generated parts of the pages in docs/ anew.

``python docs/build.py`` takes the figures that docs/measured.json keeps, and all else from the code as it is.
``--measure`` makes new figures first: it runs the whole test suite and the case sets (a few minutes).
``--junit FILE`` does the same from a run already made with ``pytest --junitxml FILE``.
``--pictures`` draws the pictures anew.
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
import os
import subprocess
import sys
import tempfile
from dataclasses import asdict
from pathlib import Path
from typing import Any

from building.measure import case_sets, versions
from building.pages import fill, fill_outputs
from building.runs import from_memory, property_tests, read_junit

DOCS = Path(__file__).resolve().parent
ROOT = DOCS.parent
MEASURED = DOCS / "measured.json"
EXECUTED = "library.md"


def main() -> None:
    """Parse, measure if asked, write."""
    parser = argparse.ArgumentParser(description="Write the generated parts of the pages in docs/ anew.")
    parser.add_argument("--measure", action="store_true", help="run the test suite and the case sets first")
    parser.add_argument(
        "--junit", type=Path, nargs="+", metavar="FILE", help="take a run made with --junitxml FILE"
    )
    parser.add_argument("--pictures", action="store_true", help="draw the pictures anew")
    asked = parser.parse_args()
    if asked.measure or asked.junit:
        with tempfile.TemporaryDirectory() as folder:
            measure(asked.junit or [run_tests(Path(folder) / "junit.xml")])
    if asked.pictures:
        from building.pictures import draw_all

        draw_all(DOCS)
    measured = json.loads(MEASURED.read_text(encoding="utf-8"))
    measured |= {"properties": property_tests(ROOT / "tests"), "from_memory": from_memory(ROOT)}
    keep(measured)
    for page in sorted(DOCS.glob("*.md")):
        before = page.read_text(encoding="utf-8")
        after = fill(before, measured)
        if page.name == EXECUTED:
            with tempfile.TemporaryDirectory() as folder:
                after = fill_outputs(after, Path(folder))
        if after != before:
            page.write_text(after, encoding="utf-8")
            sys.stdout.write(f"written: {page.relative_to(ROOT)}\n")


def run_tests(junit: Path) -> Path:
    """Run the whole suite but the tests of these pages, which wait for the new figures."""
    command = [sys.executable, "-m", "pytest", "-q", "-n", "2", f"--junitxml={junit}"]
    command.append("--ignore=tests/test_docs.py")
    subprocess.run(command, cwd=ROOT, check=False)  # noqa: S603 - our own words, no shell
    return junit


def measure(junit: list[Path]) -> None:
    """Keep what a run and the case sets say."""
    reference = Path(os.environ.get("PATHPROFILE_REFERENCE", ROOT.parent / "shared")) / "reference"
    if not reference.is_dir():
        raise SystemExit(f"no published figures at {str(reference)!r}: set PATHPROFILE_REFERENCE")
    measured = {
        "date": dt.datetime.now(tz=dt.UTC).date().isoformat(),
        "versions": versions(),
        "case_sets": [asdict(each) for each in case_sets(ROOT / "tests" / "data", reference)],
        "tests": read_junit(junit),
    }
    keep(measured)


def keep(measured: dict[str, Any]) -> None:
    """Write the figures that the pages are made from."""
    MEASURED.write_text(json.dumps(measured, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
