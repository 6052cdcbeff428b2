"""Shared fixtures: the reference folder, and a guard that keeps the suite offline."""

from __future__ import annotations

import gc
import os
import socket
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings

if TYPE_CHECKING:
    from collections.abc import Callable

os.environ["PROJ_NETWORK"] = "OFF"
# the same examples in every run, and no deadline on a shared machine; new ones are for `make fuzz`
settings.register_profile("suite", deadline=None, derandomize=True)
settings.load_profile("suite")
ROOT = Path(__file__).resolve().parents[1]
_LOOPBACK = ("127.", "::1", "localhost")
_real_connect = socket.socket.connect


def _loopback_only(self: socket.socket, address: object) -> None:
    host = str(address[0]) if isinstance(address, tuple) else ""
    if self.family in {socket.AF_INET, socket.AF_INET6} and not host.startswith(_LOOPBACK):
        raise AssertionError(f"the test suite is offline, yet something connects to {address!r}")
    _real_connect(self, address)


@pytest.fixture(autouse=True)
def _offline(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(socket.socket, "connect", _loopback_only)


@pytest.fixture(scope="session")
def reference_dir() -> Path:
    """Folder with the published validation figures and real tiles (never part of the project)."""
    folder = Path(os.environ.get("PATHPROFILE_REFERENCE", ROOT.parent / "shared"))
    if not (folder / "reference").is_dir():
        pytest.skip(f"no published reference figures at {folder} (set PATHPROFILE_REFERENCE)")
    return folder


@pytest.fixture(scope="session")
def real_dem_dir(reference_dir: Path) -> Path:
    """Real elevation tiles."""
    folder = reference_dir / "dem"
    if not folder.is_dir():
        pytest.skip(f"no real elevation tiles at {folder} (set PATHPROFILE_REFERENCE)")
    return folder


@pytest.fixture
def count_published(record_property: Callable[[str, object], None]) -> Callable[[str, int], None]:
    """Call with a method's name and how many published cases were checked; the run's end adds them up."""

    def count(method: str, cases: int) -> None:
        record_property(f"published cases: {method}", cases)

    return count


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    totals: Counter[str] = Counter()
    for report in terminalreporter.stats.get("passed", []):
        for name, value in getattr(report, "user_properties", []):
            if str(name).startswith("published cases: "):
                totals[str(name).removeprefix("published cases: ")] += int(value)
    counted = ", ".join(f"{method} {count}" for method, count in sorted(totals.items()))
    terminalreporter.write_line(f"published cases checked: {counted or 'none in this run'}")


def pytest_collection_finish() -> None:
    """What is loaded by now stays: no need to look through it again and again for rubbish."""
    gc.collect()
    gc.freeze()
