"""Where answers go: pictures, full disks, closed pipes, an interrupted run, plain terminals."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

PATH = ("reach", "47.74833,-21.00083", "46.29750,-20.93750")
SHORT = ("reach", "46.29750,-20.93750", "46.31667,-20.90750")
MARKS = {"path.png": b"\x89PNG\r\n", "path.svg": b"<?xml", "path.pdf": b"%PDF-", "PATH.PNG": b"\x89PNG\r\n"}
FULL = Path("/dev/full")  # a device that takes nothing


@pytest.mark.parametrize("name", MARKS)
def test_picture_by_suffix(reach: Callable, alone: Path, name: str) -> None:
    ran = reach("--chart", name)
    assert f"Picture: {name}" in ran.answer()
    assert ran.made == (name,)
    written = (alone / name).read_bytes()
    assert written.startswith(MARKS[name])
    assert len(written) > 10_000


def test_a_wrong_suffix_is_refused_before_any_work(reach: Callable, monkeypatch: pytest.MonkeyPatch) -> None:
    def work(*_: object) -> None:
        raise AssertionError("work was done")

    monkeypatch.setattr("pathprofile.cli.asked.open_terrain", work)
    reach("--chart", "path.gif").refusal()
    reach("--chart", "no/path.png").refusal()


@pytest.mark.skipif(not FULL.exists(), reason="this system has no /dev/full")
@pytest.mark.parametrize("suffix", [".png", ".svg", ".pdf"])
def test_picture_on_a_full_disk(reach: Callable, tmp_path: Path, suffix: str) -> None:
    full = tmp_path / f"full{suffix}"
    full.symlink_to(FULL)
    line = reach("--chart", str(full)).refusal()
    assert "the disk is full" in line
    assert repr(str(full)) in line


def test_a_disk_that_fills_up_leaves_nothing_behind(
    reach: Callable, alone: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_room(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    (alone / "path.svg").write_text("the picture of yesterday", encoding="utf-8")
    monkeypatch.setattr(os, "fsync", no_room)
    assert "the disk is full" in reach("--chart", "path.svg").refusal()
    assert [path.name for path in alone.iterdir()] == ["path.svg"]
    assert (alone / "path.svg").read_text(encoding="utf-8") == "the picture of yesterday"


@pytest.mark.skipif(not FULL.exists(), reason="this system has no /dev/full")
@pytest.mark.parametrize("words", [("defaults",), ("--help",), ("locate", "47,-21", "--json")])
def test_answer_on_a_full_disk(shell: Callable, words: tuple[str, ...]) -> None:
    with FULL.open("w") as full:
        done = shell(*words, capture_output=False, stdout=full, stderr=subprocess.PIPE)
    assert done.returncode == 2
    assert done.stderr == "pathprofile: cannot read or write the answer: No space left on device\n"


@pytest.mark.parametrize("words", [("defaults",), ("--help",), (*SHORT, "--json")])
def test_reader_that_goes_away(dem: str, words: tuple[str, ...]) -> None:
    """As ``| head -1`` does once it has its line."""
    end, start = os.pipe()
    os.close(end)
    command = [sys.executable, "-m", "pathprofile", *words]
    if words[0] == "reach":
        command += ["--dem", dem]
    done = subprocess.run(command, stdout=start, stderr=subprocess.PIPE, text=True, check=False, timeout=60)
    os.close(start)
    assert done.returncode == 1
    assert done.stderr == ""


def test_head_takes_its_line(shell: Callable, dem: str) -> None:
    with subprocess.Popen(
        [sys.executable, "-m", "pathprofile", *PATH, "--dem", dem, "--quiet"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as running:
        assert running.stdout is not None
        assert running.stderr is not None
        first = running.stdout.readline()
        running.stdout.close()
        assert running.stderr.read() == ""
    assert " on 2 m SSB, " in first


def _once_read(pipe: Path, reader: subprocess.Popen[str]) -> int:
    """Open a named pipe for writing as soon as a process reads from it."""
    while True:
        assert reader.poll() is None, "it ended before it read the file"
        try:
            return os.open(pipe, os.O_WRONLY | os.O_NONBLOCK)
        except OSError as error:
            if error.errno != errno.ENXIO:  # which says that nobody reads yet
                raise
            time.sleep(0.01)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_interrupted(tmp_path: Path, dem: str) -> None:
    """Ctrl-C while it waits for a file: one word, exit code 130."""
    pipe = tmp_path / "DN50.TXT"
    os.mkfifo(pipe)
    with subprocess.Popen(
        [sys.executable, "-m", "pathprofile", *PATH, "--dem", dem, "--refractivity-maps", str(tmp_path)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as running:
        writer = _once_read(pipe, running)
        running.send_signal(signal.SIGINT)
        out, err = running.communicate(timeout=60)
        os.close(writer)
    assert running.returncode == 130
    assert out == ""
    assert err == "pathprofile: stopped\n"


def test_interrupted_while_it_works(reach: Callable, monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("pathprofile.contact.contact", stop)
    ran = reach("--chart", "path.png")
    assert (ran.code, ran.out, ran.err, ran.made) == (130, "", "pathprofile: stopped\n", ())


def test_a_defect_of_ours_is_one_line_too(reach: Callable, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object, **__: object) -> None:
        raise ZeroDivisionError("a mistake\nof two lines")

    monkeypatch.setattr("pathprofile.contact.contact", fail)
    ran = reach()
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.count("\n") == 1
    assert "unexpected ZeroDivisionError: a mistake of two lines" in ran.err
    assert "--debug" in ran.err


@pytest.mark.parametrize(
    "plain",
    [
        {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONIOENCODING": "ascii"},
        {"LC_ALL": "C", "NO_COLOR": "1", "TERM": "dumb", "COLUMNS": "40", "LINES": "10"},
        {"FORCE_COLOR": "1"},
    ],
    ids=lambda plain: " ".join(f"{key}={value}" for key, value in plain.items()),
)
def test_plain_terminals(run: Callable, shell: Callable, dem: str, plain: dict[str, str]) -> None:
    words = (*SHORT, "--dem", dem, "--date", "2026-06-14", "--quiet")
    with pytest.MonkeyPatch.context() as patch:
        for name in ("COLUMNS", "LINES"):
            patch.delenv(name, raising=False)
            if name in plain:
                patch.setenv(name, plain[name])
        usual = run(*words).answer()
    done = shell(*words, env={**os.environ, **plain}, encoding="utf-8")
    assert done.returncode == 0
    assert done.stderr == ""
    assert "\x1b" not in done.stdout
    assert done.stdout in {usual, usual.encode("ascii", "replace").decode()}


def test_help_in_40_columns(shell: Callable) -> None:
    done = shell("reach", "--help", env={**os.environ, "COLUMNS": "40"})
    assert done.returncode == 0
    assert "--from-height" in done.stdout


def test_no_standard_out_at_all(dem: str) -> None:
    """Started with standard out closed, as some schedulers do."""
    done = subprocess.run(
        ["sh", "-c", 'exec "$@" >&-', "sh", sys.executable, "-m", "pathprofile", *SHORT, "--dem", dem],
        stderr=subprocess.PIPE,
        text=True,
        check=False,
        timeout=60,
    )
    assert "Traceback" not in done.stderr
    assert done.stderr.count("\n") <= 1
