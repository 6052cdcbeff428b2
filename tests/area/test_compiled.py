"""The compile cache, its absence, and that nothing slow is imported before it is wanted."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
import threading
from typing import TYPE_CHECKING

import numpy as np
import pytest

from pathprofile.area import compiled as module
from pathprofile.area import end_losses, horizon
from pathprofile.area.compiled import Kernels, announcing, compiled

if TYPE_CHECKING:
    from pathlib import Path


def test_import_brings_no_compiler() -> None:
    slow = "{'numba', 'llvmlite', 'rasterio', 'scipy'}"
    code = f"import sys, pathprofile.area; print(sorted({slow} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_cache_is_written(cache_dir: Path, kernels: Kernels) -> None:
    assert kernels.note is None
    height, at = np.empty(1), np.empty(1, np.int64)
    kernels.horizons(np.arange(3.0), np.zeros((1, 3)), np.array([3]), 10.0, 0.05, height, at)
    assert list(cache_dir.rglob("*.nbi"))


def test_compiled_once_for_all_threads(cache_dir: Path) -> None:
    found: list[Kernels] = []
    threads = [threading.Thread(target=lambda: found.append(compiled(cache_dir))) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(found) == 4
    assert len({id(kernels) for kernels in found}) == 1


def test_folder_that_cannot_be_written(tmp_path: Path) -> None:
    file = tmp_path / "file"
    file.touch()
    kernels = compiled(file / "cache")
    assert kernels.note is not None
    assert "cannot be written" in kernels.note
    assert str(file / "cache") in kernels.note
    assert "seconds more" in kernels.note
    slope, at = np.empty(1), np.empty(1, np.int64)
    kernels.horizons(np.arange(3.0), np.zeros((1, 3)), np.array([3]), 10.0, 0.05, slope, at)
    assert at[0] == 2
    assert slope[0] == pytest.approx(-5.1)


posix = pytest.mark.skipif(os.name != "posix", reason="permission bits are POSIX")


@posix
def test_the_folder_is_for_its_user_alone(tmp_path: Path) -> None:
    """What is read back from the cache is run, so nobody else may put it there."""
    old = os.umask(0)
    try:
        assert compiled(tmp_path / "cache").note is None
    finally:
        os.umask(old)
    folders = [tmp_path / "cache", *(tmp_path / "cache").iterdir()]
    assert [stat.S_IMODE(folder.stat().st_mode) for folder in folders] == [0o700, 0o700]


@posix
@pytest.mark.parametrize("open_to", [0o020, 0o002])
@pytest.mark.parametrize("inner", [False, True])
def test_a_folder_that_others_write_is_not_used(tmp_path: Path, *, open_to: int, inner: bool) -> None:
    cache = tmp_path / "cache"
    folder, note = module._cache_folder(cache, "1.0")
    assert note is None
    assert folder is not None
    (folder if inner else cache).chmod(0o700 | open_to)
    found, note = module._cache_folder(cache, "1.0")
    assert found is None
    assert note is not None
    assert "others may write" in note


@posix
def test_a_folder_of_somebody_else_is_not_used(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    module._cache_folder(tmp_path / "cache", "1.0")
    monkeypatch.setattr(os, "geteuid", lambda: tmp_path.stat().st_uid + 1)
    found, note = module._cache_folder(tmp_path / "cache", "1.0")
    assert found is None
    assert note is not None
    assert "somebody else's" in note


def test_every_twin_is_made_in_one_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The compiler's folder is one a process: two locks would let one set of twins land in another's."""
    made = []
    monkeypatch.setattr(module, "_make", lambda kind, _, folder: made.append((kind, folder)))
    compiled(tmp_path / "cache")
    end_losses.twins(tmp_path / "cache")
    assert made == [(Kernels, tmp_path / "cache"), (end_losses.Twins, tmp_path / "cache")]


def test_compiling_is_told_once_and_only_when_it_is_done(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fresh_in(folder: Path | None) -> Kernels:
        return module._make(Kernels, module._plain(), folder)

    def use(kernels: Kernels) -> None:
        slope, at = np.empty(1), np.empty(1, np.int64)
        kernels.horizons(np.arange(3.0), np.zeros((1, 3)), np.array([3]), 10.0, 0.05, slope, at)

    compiled(tmp_path)  # registers the plain functions
    told: list[str] = []
    with announcing(lambda: told.append("other")):
        use(fresh_in(tmp_path / "other"))
    assert told == []  # quick to compile, not worth a word
    monkeypatch.setattr(module, "_SLOW", "horizons")
    with announcing(lambda: told.append("first")):
        fresh = fresh_in(tmp_path)
        use(fresh)
        use(fresh)
    with announcing(lambda: told.append("from the cache")):
        use(fresh_in(tmp_path))
    use(fresh_in(None))  # nobody listens any more
    assert told == ["first"]


def test_no_folder_says_so() -> None:
    note = compiled(None).note
    assert note is not None
    assert "no cache folder" in note


def test_another_state_of_sources_is_another_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An edited function must not be met by code compiled from the old one."""
    package = tmp_path / "pathprofile"
    for room in ("propagation", "area"):
        (package / room).mkdir(parents=True)
        (package / room / "leaf.py").write_text("one")
    monkeypatch.setattr(module, "__file__", str(package / "area" / "compiled.py"))
    first = module._state_of_sources("1.0")
    assert module._state_of_sources("1.0") == first
    assert module._state_of_sources("1.1") != first
    (package / "propagation" / "leaf.py").write_text("two")
    assert module._state_of_sources("1.0") != first


def test_twins_equal_plain_functions(kernels: Kernels) -> None:
    rng = np.random.default_rng(4)
    along = np.arange(80) * 0.09
    ground = rng.uniform(0.0, 200.0, (5, 80))
    known = np.array([80, 80, 40, 2, 1])
    plain, twin = (np.empty(5), np.empty(5, np.int64)), (np.empty(5), np.empty(5, np.int64))
    horizon.horizons(along, ground, known, 150.0, 0.05, *plain)
    kernels.horizons(along, ground, known, 150.0, 0.05, *twin)
    assert np.array_equal(plain[0], twin[0], equal_nan=True)
    assert np.array_equal(plain[1], twin[1])
    steep_plain, steep_twin = np.empty((5, 80), np.float32), np.empty((5, 80), np.float32)
    horizon.steepest_before(along, ground, known, 150.0, 0.05, steep_plain)
    kernels.steepest_before(along, ground, known, 150.0, 0.05, steep_twin)
    assert np.array_equal(steep_plain, steep_twin, equal_nan=True)
