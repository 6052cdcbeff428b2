"""Shared fixtures: the reference folder, and a guard that keeps the suite offline."""

from __future__ import annotations

import os
import socket
from pathlib import Path

import pytest

os.environ["PROJ_NETWORK"] = "OFF"
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
