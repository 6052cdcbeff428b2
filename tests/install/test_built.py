"""What the wheel and the source distribution hold, and that the wheel works where it lands."""

from __future__ import annotations

import subprocess
import tarfile
import zipfile
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable

ROOT = Path(__file__).resolve().parents[2]


def tracked(*folders: str) -> set[str]:
    """Files of the source tree that belong to the project, not to a run of it."""
    found = (path for folder in folders for path in (ROOT / folder).rglob("*") if path.is_file())
    names = {path.relative_to(ROOT).as_posix() for path in found if "__pycache__" not in path.parts}
    return {name for name in names if not name.endswith((".pyc", ".part"))}


def test_the_wheel_holds_the_package_and_nothing_else(built: Any) -> None:
    with zipfile.ZipFile(built.wheel) as archive:
        assert archive.testzip() is None
        names = {name for name in archive.namelist() if not name.endswith("/")}
    described = {name for name in names if PurePosixPath(name).parts[0].endswith(".dist-info")}
    sample = {f"pathprofile/{name}" for name in tracked("sample_dem")}
    assert names - described == tracked("pathprofile") | sample
    assert {PurePosixPath(name).name for name in described} == {
        "METADATA",
        "WHEEL",
        "RECORD",
        "entry_points.txt",
        "LICENSE",
    }
    assert {"pathprofile/py.typed", "pathprofile/trip/book.schema.json"} <= names
    assert {f"pathprofile/export/sheet/page.{kind}" for kind in ("html.j2", "css", "js")} <= names


def test_the_source_distribution_is_enough_to_test_and_build(built: Any) -> None:
    with tarfile.open(built.sdist) as archive:
        names = {name.partition("/")[2] for name in archive.getnames()}
    folders = ("pathprofile", "sample_dem", "tests", "bench", "docs", "notebooks")
    assert tracked(*folders) <= names
    assert {"README.md", "LICENSE", "Makefile", "pyproject.toml"} <= names
    assert not [name for name in names if "__pycache__" in name or name.startswith((".venv", ".git/"))]


def test_the_wheel_runs_from_an_empty_folder(installed: Path, work: Path, run: Callable) -> None:
    python = str(installed / "python")
    where = run("-c", "import pathprofile; print(pathprofile.__file__)", command=(python,))
    assert where.stdout.startswith(str(installed.parent)), where.stderr
    ran = run("demo", command=(str(installed / "pathprofile"),))
    assert (ran.returncode, ran.stderr) == (0, "")
    assert "on 2 m SSB, about" in ran.stdout.partition("\n")[0]
    assert [path.name for path in work.iterdir()] == ["pathprofile-demo.png"]


def test_the_wheel_says_its_version(installed: Path, built: Any) -> None:
    said = subprocess.run(
        [str(installed / "pathprofile"), "--version"], capture_output=True, text=True, check=True, timeout=60
    )
    assert built.wheel.name.startswith(f"pathprofile-{said.stdout.split()[-1]}-")
