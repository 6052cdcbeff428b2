"""The package as strangers get it: built, installed into an environment of its own, run on odd machines."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import sysconfig
import tarfile
import venv
from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

ROOT = Path(__file__).resolve().parents[2]
ODD_NAME = "Höhe 山 и ещё"


@dataclass(frozen=True)
class Built:
    """A source distribution, the folder it unpacks to, and the wheel made from that folder."""

    sdist: Path
    unpacked: Path
    wheel: Path


@pytest.fixture(scope="session")
def built(tmp_path_factory: pytest.TempPathFactory) -> Built:
    if find_spec("hatchling") is None:
        pytest.skip("hatchling, which builds the package, is not installed")
    folder = tmp_path_factory.mktemp("built")
    _hatchling(ROOT, "sdist", folder)
    (sdist,) = folder.glob("*.tar.gz")
    with tarfile.open(sdist) as archive:
        safely = {"filter": "data"} if hasattr(tarfile, "data_filter") else {}  # not before Python 3.11.4
        archive.extractall(folder, **safely)  # noqa: S202 - made above
    unpacked = folder / sdist.name.removesuffix(".tar.gz")
    _hatchling(unpacked, "wheel", folder)
    (wheel,) = folder.glob("*.whl")
    return Built(sdist, unpacked, wheel)


def _hatchling(source: Path, kind: str, into: Path) -> None:
    command = [sys.executable, "-m", "hatchling", "build", "-t", kind, "-d", str(into)]
    subprocess.run(command, cwd=source, check=True, capture_output=True, timeout=60)


@pytest.fixture(scope="session")
def installed(built: Built, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder of commands of an environment that holds the wheel, and sees the libraries of this one."""
    if find_spec("pip") is None:
        pytest.skip("pip is not installed")
    home = tmp_path_factory.mktemp("installed") / ODD_NAME
    venv.create(home, symlinks=True)
    commands = home / "bin"
    install = ["install", "--quiet", "--no-deps", "--no-index", str(built.wheel)]
    subprocess.run(
        [sys.executable, "-m", "pip", "--python", str(commands / "python"), *install],
        check=True,
        capture_output=True,
        timeout=60,
    )
    (packages,) = home.glob("lib/python*/site-packages")
    # A folder named so is not searched for .pth files, among them the one of an editable pathprofile.
    (packages / "libraries.pth").write_text(sysconfig.get_path("purelib") + "\n", encoding="utf-8")
    return commands


@cache
def without_powers() -> tuple[str, ...]:
    """Words before a command that let root meet the permissions of files, as everybody else does."""
    if os.geteuid() != 0:
        return ()
    prefix = ("setpriv", "--bounding-set=-all", "--inh-caps=-all")
    if not shutil.which("setpriv") or subprocess.run([*prefix, "true"], check=False).returncode:
        pytest.skip("setpriv cannot lower the powers of root here")
    return prefix


@pytest.fixture
def work(tmp_path: Path) -> Path:
    """The folder that the command line is called from."""
    folder = tmp_path / "work"
    folder.mkdir()
    return folder


@pytest.fixture
def home(tmp_path: Path) -> Path:
    folder = tmp_path / "home"
    folder.mkdir()
    return folder


@pytest.fixture
def run(work: Path, home: Path) -> Callable[..., subprocess.CompletedProcess[str]]:
    """``run("demo", NO_COLOR="1", HOME=None)``: a process with these settings, and few others, around it."""

    def call(
        *words: str,
        command: tuple[str, ...] = (sys.executable, "-m", "pathprofile"),
        cwd: Path = work,
        **settings: str | None,
    ) -> subprocess.CompletedProcess[str]:
        around = {"PATH": os.defpath, "HOME": str(home), "PYTHONDONTWRITEBYTECODE": "1"} | settings
        return subprocess.run(
            [*without_powers(), *command, *words],
            cwd=cwd,
            env={name: value for name, value in around.items() if value is not None},
            check=False,
            capture_output=True,
            encoding="utf-8",
            errors="surrogateescape",
            timeout=60,
        )

    return call
