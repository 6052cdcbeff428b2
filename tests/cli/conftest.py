"""The command line run inside the test process, in an empty folder, away from the user's own files."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pytest

from pathprofile.cli import main
from pathprofile.sample import sample_dir

if TYPE_CHECKING:
    from pathlib import Path

GULL_TOR = "47.74833,-21.00083"
MARSH_END = "46.29750,-20.93750"


@dataclass(frozen=True)
class Ran:
    """How one command ended, what it said, and which files it left."""

    code: int
    out: str
    err: str
    made: tuple[str, ...] = ()

    def refusal(self) -> str:
        """The one line of an error: nothing on standard out, no traceback, no file."""
        assert self.code == 2, self.out + self.err
        assert self.out == ""
        assert self.err.startswith("pathprofile: ")
        assert self.err.count("\n") == 1
        assert "report it" not in self.err
        assert not self.made
        return self.err.removeprefix("pathprofile: ").rstrip()

    def answer(self) -> str:
        assert self.code == 0, self.err
        return self.out


Run = Callable[..., Ran]


@pytest.fixture(scope="session")
def dem() -> str:
    return str(sample_dir())


@pytest.fixture(scope="session")
def own_folders(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Home, data and cache folders of an imagined user; the list of fonts is the machine's, to save time."""
    import matplotlib as mpl

    home = tmp_path_factory.mktemp("home")
    return {
        "HOME": str(home),
        "XDG_DATA_HOME": str(home / "data"),
        "XDG_CACHE_HOME": str(home / "cache"),
        "MPLCONFIGDIR": mpl.get_cachedir() or str(home / "matplotlib"),
    }


@pytest.fixture(autouse=True)
def alone(tmp_path: Path, own_folders: dict[str, str], monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty working folder, and the folders of the imagined user."""
    folder = tmp_path / "work"
    folder.mkdir()
    monkeypatch.chdir(folder)
    monkeypatch.delenv("PATHPROFILE_DEM", raising=False)
    for name, value in own_folders.items():
        monkeypatch.setenv(name, value)
    return folder


@pytest.fixture
def run(alone: Path, capsys: pytest.CaptureFixture[str]) -> Run:
    """``run("locate", "47,-21")``: the command line in this process."""

    def call(*arguments: str) -> Ran:
        before = set(alone.rglob("*"))
        capsys.readouterr()
        with pytest.raises(SystemExit) as ended:
            main(list(arguments))
        said = capsys.readouterr()
        made = sorted(str(path.relative_to(alone)) for path in set(alone.rglob("*")) - before)
        assert isinstance(ended.value.code, int)
        return Ran(ended.value.code, said.out, said.err, tuple(made))

    return call


@pytest.fixture
def reach(run: Run, dem: str) -> Run:
    """``reach("--mode", "fm")``: Gull Tor to Marsh End, 161 km over the sample island."""

    def call(*options: str, a: str = GULL_TOR, b: str = MARSH_END) -> Ran:
        return run("reach", a, b, "--dem", dem, "--date", "2026-06-14", *options)

    return call


@pytest.fixture
def shell(alone: Path) -> Callable[..., subprocess.CompletedProcess[str]]:
    """``shell("--version")``: the command line as a process of its own."""

    def call(*arguments: str, **options: Any) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-m", "pathprofile", *arguments]
        options = {"capture_output": True, "text": True, "timeout": 60, **options}
        return subprocess.run(command, check=False, **options)

    return call
