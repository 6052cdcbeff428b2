"""Homes that cannot be written, users without one, plain terminals, odd names: an answer all the same."""

from __future__ import annotations

import json
import pwd
import shutil
from typing import TYPE_CHECKING

import pytest

from pathprofile.cli import asked, main
from pathprofile.errors import TerrainError
from pathprofile.sample import sample_dir

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

GULL_TOR = "47.74833,-21.00083"
MARSH_END = "46.29750,-20.93750"
PATH = ("reach", GULL_TOR, MARSH_END, "--date", "2026-06-14")
VERDICT = "on 2 m SSB, about"


@pytest.fixture
def closed(tmp_path: Path) -> Path:
    """A folder that its owner may neither read nor write."""
    folder = tmp_path / "closed"
    folder.mkdir()
    folder.chmod(0)
    return folder


@pytest.fixture
def dem() -> str:
    return str(sample_dir())


def test_a_home_that_cannot_be_written(run: Callable, home: Path, work: Path) -> None:
    home.chmod(0o555)
    ran = run("demo")
    assert (ran.returncode, ran.stderr) == (0, "")  # nor a word on fonts, which are listed anew each time
    assert VERDICT in ran.stdout
    assert (work / "pathprofile-demo.png").stat().st_size > 10_000
    assert not list(home.iterdir())


def test_folders_that_cannot_even_be_read(run: Callable, closed: Path, dem: str) -> None:
    folders = {name: str(closed / "x") for name in ("XDG_CACHE_HOME", "XDG_DATA_HOME", "XDG_CONFIG_HOME")}
    elsewhere = folders | {"HOME": str(closed), "MPLCONFIGDIR": str(closed / "fonts"), "TMPDIR": str(closed)}
    ran = run(*PATH, "--dem", dem, "--chart", "path.png", **elsewhere)
    assert ran.returncode == 0
    assert "Permission" not in ran.stderr
    assert VERDICT in ran.stdout
    refused = run(*PATH, **elsewhere)
    assert refused.returncode == 2
    assert "no elevation tiles: give --dem DIR" in refused.stderr
    assert refused.stderr.count("\n") == 1


def test_elevations_that_may_not_be_read(run: Callable, closed: Path) -> None:
    ran = run(*PATH, "--dem", str(closed))
    assert ran.returncode == 2
    assert ran.stdout == ""
    assert ran.stderr.startswith("pathprofile: ")
    assert "Permission denied" in ran.stderr
    assert ran.stderr.count("\n") == 1


def test_a_shut_folder_beside_the_tiles_is_told(run: Callable, closed: Path, dem: str) -> None:
    shutil.copytree(dem, closed.parent / "tiles")
    closed.rename(closed.parent / "tiles" / "shut")
    ran = run(*PATH, "--dem", str(closed.parent / "tiles"))
    assert ran.returncode == 0
    assert VERDICT in ran.stdout
    assert "shut': Permission denied; check its permissions" in " ".join(ran.stderr.split())


def test_no_home_in_the_environment(run: Callable, dem: str) -> None:
    ran = run(*PATH, "--dem", dem, HOME=None)
    assert ran.returncode == 0
    assert VERDICT in ran.stdout


def test_a_user_without_a_home(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], dem: str
) -> None:
    """As in containers that run under a bare number: no HOME, and no entry in the list of users."""
    for name in ("HOME", "XDG_CACHE_HOME", "XDG_DATA_HOME", "PATHPROFILE_DEM"):
        monkeypatch.delenv(name, raising=False)

    def nobody(number: int) -> None:
        raise KeyError(f"getpwuid(): uid not found: {number}")

    monkeypatch.setattr(pwd, "getpwuid", nobody)
    with pytest.raises(SystemExit) as ended:
        main([*PATH, "--dem", dem])
    assert ended.value.code == 0
    assert VERDICT in capsys.readouterr().out
    assert asked.compile_cache() is None
    with pytest.raises(TerrainError, match=r"give --dem DIR, or set PATHPROFILE_DEM \(README"):
        asked.open_terrain(None)
    with pytest.raises(TerrainError, match=r"no file or folder '~nobody-of-this-name/dem'"):
        asked.open_terrain(["~nobody-of-this-name/dem"])


def test_a_plain_terminal(run: Callable, dem: str) -> None:
    """The C locale with nothing that softens it, 40 columns, no colours, output into a pipe."""
    plain = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "NO_COLOR": "1", "COLUMNS": "40"}
    ran = run(*PATH, "--dem", dem, **plain, TERM="dumb")
    assert (ran.returncode, ran.stderr) == (0, "")
    assert VERDICT in ran.stdout
    assert "\x1b" not in ran.stdout
    assert ran.stdout.encode("utf-8")  # whole letters only: stand-ins for stray bytes would not encode


@pytest.mark.parametrize("locale", ["C", "C.UTF-8"])
def test_names_with_spaces_and_letters_of_all_scripts(
    run: Callable, tmp_path: Path, dem: str, locale: str
) -> None:
    odd = tmp_path / "Höhe 山 и ещё"
    shutil.copytree(dem, odd / "elevation tiles")
    work = odd / "out"
    work.mkdir()
    around = {"cwd": work, "LC_ALL": locale, "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
    tiles = str(odd / "elevation tiles")
    ran = run(*PATH, "--dem", tiles, "--chart", "Карта 1.png", "--json", **around)
    assert ran.returncode == 0, ran.stderr
    assert json.loads(ran.stdout)["schema"].startswith("pathprofile.")
    made = [path.name for path in work.iterdir()]
    assert made == ["Карта 1.png"]


def test_plugins_of_other_packages_are_not_run(run: Callable, tmp_path: Path, dem: str) -> None:
    """Any installed package may offer itself to the library behind our models; none is asked."""
    other = tmp_path / "other"
    info = other / "other-1.0.dist-info"
    info.mkdir(parents=True)
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: other\nVersion: 1.0\n", encoding="utf-8")
    (info / "entry_points.txt").write_text("[pydantic]\nother = other_plugin:plugin\n", encoding="utf-8")
    (other / "other_plugin.py").write_text("raise SystemExit('the plugin ran')\n", encoding="utf-8")
    ran = run(*PATH, "--dem", dem, PYTHONPATH=str(other))
    assert (ran.returncode, ran.stderr) == (0, "")
    assert VERDICT in ran.stdout
