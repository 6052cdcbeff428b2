from __future__ import annotations

import errno
import os
import stat
import sys
from pathlib import Path
from typing import BinaryIO

import pytest

from pathprofile.atomic import write_atomically
from pathprofile.errors import OutputError


def _names(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.iterdir())


def _full_disk(file: BinaryIO) -> None:
    file.write(b"half of it")
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def test_writes_bytes_and_leaves_nothing_else(tmp_path: Path) -> None:
    write_atomically(tmp_path / "a.bin", b"whole")
    assert (tmp_path / "a.bin").read_bytes() == b"whole"
    assert _names(tmp_path) == ["a.bin"]


def test_writes_through_a_function_and_accepts_text_paths(tmp_path: Path) -> None:
    write_atomically(str(tmp_path / "a.bin"), lambda file: file.write(b"called"))
    assert (tmp_path / "a.bin").read_bytes() == b"called"


def test_replaces_an_existing_file_and_keeps_its_permissions(tmp_path: Path) -> None:
    target = tmp_path / "a.bin"
    target.write_bytes(b"old")
    target.chmod(0o640)
    write_atomically(target, b"new")
    assert target.read_bytes() == b"new"
    if os.name == "posix":
        assert stat.S_IMODE(target.stat().st_mode) == 0o640


@pytest.mark.skipif(os.name != "posix", reason="permission bits are POSIX")
@pytest.mark.parametrize("kept", [0o600, 0o644, 0o440])
def test_what_is_written_is_never_open_to_more_than_what_it_replaces(tmp_path: Path, kept: int) -> None:
    target = tmp_path / "a.bin"
    target.write_bytes(b"old")
    target.chmod(kept)
    meanwhile = []

    def look(file: BinaryIO) -> None:
        file.write(b"new")
        meanwhile.append(stat.S_IMODE(os.fstat(file.fileno()).st_mode))

    old = os.umask(0o022)
    try:
        write_atomically(target, look)
    finally:
        os.umask(old)
    assert meanwhile == [0o600]
    assert (target.read_bytes(), stat.S_IMODE(target.stat().st_mode)) == (b"new", kept)


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights on Windows")
@pytest.mark.parametrize("points_at", ["missing.bin", "real.bin"])
def test_a_link_is_not_followed_where_nothing_may_be_replaced(tmp_path: Path, points_at: str) -> None:
    (tmp_path / "real.bin").write_bytes(b"old")
    (tmp_path / "link.bin").symlink_to(points_at)
    before = _names(tmp_path)
    with pytest.raises(OutputError, match=r"link\.bin.*exists already; choose another name"):
        write_atomically(tmp_path / "link.bin", b"new", overwrite=False)
    assert _names(tmp_path) == before
    assert (tmp_path / "real.bin").read_bytes() == b"old"


@pytest.mark.skipif(os.name != "posix", reason="permission bits are POSIX")
def test_a_new_file_obeys_the_umask(tmp_path: Path) -> None:
    old = os.umask(0o027)
    try:
        write_atomically(tmp_path / "a.bin", b"new")
    finally:
        os.umask(old)
    assert stat.S_IMODE((tmp_path / "a.bin").stat().st_mode) == 0o640


def test_refuses_to_replace_when_told_so(tmp_path: Path) -> None:
    (tmp_path / "a.bin").write_bytes(b"old")
    with pytest.raises(OutputError, match=r"a\.bin.*exists already; choose another name"):
        write_atomically(tmp_path / "a.bin", b"new", overwrite=False)
    assert (tmp_path / "a.bin").read_bytes() == b"old"


def test_missing_folder(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"there is no folder .*nowhere.*; create it"):
        write_atomically(tmp_path / "nowhere" / "a.bin", b"x")
    assert _names(tmp_path) == []


@pytest.mark.skipif(not Path("/proc/self").is_dir(), reason="no /proc on this system")
def test_a_folder_that_takes_no_files_is_named() -> None:
    with pytest.raises(OutputError, match=r"nothing can be written into '/proc'; choose another folder"):
        write_atomically("/proc/x.png", b"new")


def test_target_is_a_folder(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="that is a folder; give the name of a file"):
        write_atomically(tmp_path, b"x")


def test_part_of_the_path_is_a_file(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(OutputError, match=r"is a file, not a folder|there is no folder"):
        write_atomically(tmp_path / "file" / "a.bin", b"x")


def test_a_name_with_a_null_byte(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="null"):
        write_atomically(f"{tmp_path}/a\0b", b"x")


def test_a_name_too_long(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="the name is too long; choose a shorter one"):
        write_atomically(tmp_path / ("n" * 300), b"x")
    assert _names(tmp_path) == []


@pytest.mark.parametrize("before", [None, b"old"])
def test_full_disk_while_the_function_writes(tmp_path: Path, before: bytes | None) -> None:
    target = tmp_path / "a.bin"
    if before is not None:
        target.write_bytes(before)
    with pytest.raises(OutputError, match="the disk is full; make room") as caught:
        write_atomically(target, _full_disk)
    assert "\n" not in str(caught.value)
    assert (target.read_bytes() if target.exists() else None) == before
    assert _names(tmp_path) == ([] if before is None else ["a.bin"])


def test_full_disk_noticed_only_when_flushed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(descriptor: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", refuse)
    with pytest.raises(OutputError, match="the disk is full"):
        write_atomically(tmp_path / "a.bin", b"x" * 10_000)
    assert _names(tmp_path) == []


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full on this system")
def test_a_full_device_is_reported_and_stays_a_device() -> None:
    with pytest.raises(OutputError, match="the disk is full"):
        write_atomically("/dev/full", b"x" * 100_000)
    assert stat.S_ISCHR(Path("/dev/full").stat().st_mode)


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights on Windows")
def test_a_link_is_followed(tmp_path: Path) -> None:
    (tmp_path / "real.bin").write_bytes(b"old")
    (tmp_path / "link.bin").symlink_to(tmp_path / "real.bin")
    write_atomically(tmp_path / "link.bin", b"new")
    assert (tmp_path / "link.bin").is_symlink()
    assert (tmp_path / "real.bin").read_bytes() == b"new"


def test_an_error_of_the_function_itself_passes_and_nothing_stays(tmp_path: Path) -> None:
    def broken(file: BinaryIO) -> None:
        file.write(b"half")
        raise KeyError("not about files")

    with pytest.raises(KeyError, match="not about files"):
        write_atomically(tmp_path / "a.bin", broken)
    assert _names(tmp_path) == []
