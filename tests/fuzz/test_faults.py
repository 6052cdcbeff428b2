"""Faults injected: disks that fill up, reads that fail, processes that are killed, files replaced under us.

An output is what it was before or what it was to become, whole either way. A process that is ended by force
in the middle of a write may leave one hidden ``.part`` file beside the target; nothing else ever does.
"""

from __future__ import annotations

import errno
import io
import json
import os
import shutil
import subprocess
import sys
import textwrap
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from fuzz.made import hgt_bytes, samples, zipped
from fuzz.samples import BOOKS, LISTS, prediction_text
from pathprofile import atomic
from pathprofile.area.mask import read_mask
from pathprofile.atmosphere import RefractivityMaps
from pathprofile.errors import OutputError, PathProfileError, StationError, TerrainError
from pathprofile.export.files import write_export
from pathprofile.terrain.finding import FileIndex
from pathprofile.terrain.store import TerrainStore
from pathprofile.trip.book import read_book
from pathprofile.trip.importing import import_into
from pathprofile.trip.log import read_log
from pathprofile.trip.prediction import read_prediction
from pathprofile.trip.starter import STARTER, write_starter

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

ROOT = Path(__file__).resolve().parents[2]


# --- a disk that is full at the n-th thing asked of it


class FullDisk:
    """Counts what is asked of the disk on the way to a file, and refuses from the n-th time on."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, refuse_at: int) -> None:
        self.asked = 0
        self.refuse_at = refuse_at
        disk = self

        class Raw(io.FileIO):
            def write(self, data: Any) -> int:
                if disk.refuses():
                    super().write(bytes(data)[: len(data) // 2])  # some of it still went onto the disk
                    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
                return super().write(bytes(data))

        def opened(path: Path, mode: str = "r", *rest: Any, **more: Any) -> Any:
            if mode not in {"xb", "wb"}:
                return real_open(path, mode, *rest, **more)
            disk.ask()
            return io.BufferedWriter(Raw(path, mode[0]), buffer_size=4096)

        def after(real: Callable[..., Any]) -> Callable[..., Any]:
            def call(*given: Any, **more: Any) -> Any:
                disk.ask()
                return real(*given, **more)

            return call

        real_open = Path.open
        monkeypatch.setattr(Path, "open", opened)
        for owner, name in ((os, "fsync"), (os, "link"), (Path, "chmod"), (Path, "replace")):
            monkeypatch.setattr(owner, name, after(getattr(owner, name)))

    def refuses(self) -> bool:
        self.asked += 1
        return self.asked >= self.refuse_at

    def ask(self) -> None:
        if self.refuses():
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def _index(folder: Path) -> None:
    (folder / "a.tif").write_bytes(samples()[0].content)
    TerrainStore.open(folder / "a.tif", index_dir=folder).close()


WRITERS: dict[str, Callable[[Path], object]] = {
    "starter": lambda path: write_starter(path, overwrite=True),
    "new file": lambda path: write_starter(path.with_name("new.toml")),
    "bytes": lambda path: atomic.write_atomically(path, bytes(100_000)),
    "many writes": lambda path: atomic.write_atomically(
        path, lambda file: [file.write(b"x" * 5000) for _ in range(9)]
    ),
    "table": lambda path: write_export(path, b"a,b\n" * 5000, "CSV", (".csv",), overwrite=True),
    "import": lambda path: import_into(path, io.BytesIO(LISTS[0][1].encode()), kind="csv"),
}


@pytest.mark.parametrize("writer", WRITERS)
def test_disk_full_at_every_step(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, writer: str) -> None:
    path = tmp_path / ("out.csv" if writer == "table" else "out.toml")
    before = BOOKS[1].encode() if writer == "import" else b"what was there"
    for refuse_at in range(1, 60):
        path.write_bytes(before)
        with monkeypatch.context() as patched:
            disk = FullDisk(patched, refuse_at)
            try:
                WRITERS[writer](path)
            except OutputError as error:
                assert "the disk is full" in str(error)  # noqa: PT017 - it may as well succeed
                assert disk.asked >= refuse_at
            else:
                assert disk.asked < refuse_at or writer == "new file"
                break
        assert path.read_bytes() == before
        assert [each.name for each in tmp_path.iterdir()] == [path.name]
    assert refuse_at > 4
    new = tmp_path / "new.toml" if writer == "new file" else path
    assert new.read_bytes() != before
    assert not list(tmp_path.glob(".*"))


def test_disk_full_while_the_index_is_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "a.tif").write_bytes(samples()[0].content)
    for refuse_at in range(1, 20):
        with monkeypatch.context() as patched:
            disk = FullDisk(patched, refuse_at)
            with TerrainStore.open(tmp_path / "a.tif", index_dir=tmp_path / "index") as store:
                assert store.elevation_m(46.5, -20.5) == pytest.approx(400.0)
        left = sorted(each.name for each in (tmp_path / "index").iterdir())
        if left:
            break
    assert left == ["terrain-index.json"]
    assert disk.asked < refuse_at


FULL = """
    import sys
    from pathlib import Path
    from pathprofile.cli import main
    name, words = sys.argv[1], sys.argv[2:]
    before = Path(name).read_bytes()
    try:
        main(words)
    except SystemExit as ended:
        same = Path(name).read_bytes() == before
        print(ended.code, same, sorted(p.name for p in Path().iterdir()), file=sys.stderr)
"""


@pytest.mark.parametrize(
    ("name", "words"),
    [("a.svg", ["demo", "--chart", "a.svg"]), ("trip.toml", ["new", "trip.toml", "--replace"])],
    ids=["chart", "starter"],
)
def test_a_disk_that_is_really_full(tmp_path: Path, name: str, words: list[str]) -> None:
    mount = f"mount -t tmpfs -o size=16k tmpfs {tmp_path} && cd {tmp_path} && "
    fill = f"printf before > {name} && head -c 12288 /dev/zero > filler && "
    command = ["unshare", "-rm", "sh", "-c", mount + fill + 'exec "$@"', "sh"]
    if shutil.which("unshare") is None or subprocess.run([*command, "true"], check=False).returncode:
        pytest.skip("no mount of our own here")
    ran = _child(FULL, name, *words, before=command)
    assert "disk is full" in ran.stderr
    assert ran.stderr.splitlines()[-1] == f"2 True {sorted(['filler', name])}"


def test_a_full_temporary_folder_while_a_sheet_is_printed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from pathprofile.export.sheet import writing

    def full(**_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(writing, "sheet_html", lambda _sheet: "<p>")
    monkeypatch.setattr(writing, "find_browser", lambda: Path(sys.executable))
    monkeypatch.setattr(writing.tempfile, "TemporaryDirectory", full)
    (tmp_path / "a.pdf").write_bytes(b"before")
    with pytest.raises(OutputError, match="No space left on device in the temporary folder"):
        writing.write_sheet(None, tmp_path / "a.pdf")  # type: ignore[arg-type]
    assert (tmp_path / "a.pdf").read_bytes() == b"before"


# --- reads that fail


@pytest.mark.skipif(not Path("/proc/self/mem").exists(), reason="no file here whose reads fail")
@pytest.mark.parametrize(
    ("read", "words"),
    [
        (read_book, "cannot read the book '/proc/self/mem': Input/output error"),
        (read_log, "cannot read the log '/proc/self/mem': Input/output error"),
        (read_prediction, "cannot read the prediction '/proc/self/mem': Input/output error"),
        (read_mask, "mask '/proc/self/mem' cannot be read"),
        (TerrainStore.open, "cannot read elevation file '/proc/self/mem': Input/output error"),
    ],
    ids=["book", "log", "prediction", "mask", "tile"],
)
def test_a_read_error_is_one_line(read: Callable[[str], object], words: str) -> None:
    with pytest.raises(PathProfileError, match=words) as caught:
        read("/proc/self/mem")
    assert "\n" not in str(caught.value)


@pytest.mark.skipif(not Path("/proc/self/mem").exists(), reason="no file here whose reads fail")
def test_a_list_and_maps_that_cannot_be_read(tmp_path: Path) -> None:
    write_starter(tmp_path / "trip.toml")
    with pytest.raises(StationError, match="cannot read the list '/proc/self/mem': Input/output error"):
        import_into(tmp_path / "trip.toml", "/proc/self/mem")
    assert (tmp_path / "trip.toml").read_text(encoding="utf-8") == STARTER
    (tmp_path / "DN50.TXT").symlink_to("/proc/self/mem")
    with pytest.raises(PathProfileError, match=r"refractivity map '.*DN50\.TXT' cannot be read"):
        RefractivityMaps.read(tmp_path)


def test_a_tile_cut_short_while_it_is_being_read(tmp_path: Path) -> None:
    path = tmp_path / "N46W021.hgt"
    path.write_bytes(hgt_bytes())
    with TerrainStore.open(path, cache_bytes=2**20) as store:
        north = store.elevation_m(46.98, -20.5)
        assert np.isfinite(north)
        os.truncate(path, 1_000_000)
        with pytest.raises(TerrainError, match="its rows 1024 to 1201 cannot be read"):
            store.elevation_m(46.02, -20.5)
        assert store.elevation_m(46.98, -20.5) == north


def test_a_read_error_in_the_middle_of_an_archive(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "N46W021.hgt.zip"
    path.write_bytes(zipped({"N46W021.hgt": hgt_bytes()}))

    def fails(*_: object) -> bytes:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    with TerrainStore.open(path) as store:
        monkeypatch.setattr(zipfile.ZipExtFile, "_read1", fails)
        with pytest.raises(TerrainError, match="cannot be unpacked"):
            store.elevation_m(46.5, -20.5)
        monkeypatch.undo()
        assert np.isfinite(store.elevation_m(46.5, -20.5))


FAILING = """
    import ctypes, sys
    from pathlib import Path
    from fuzz.made import samples
    from pathprofile.errors import TerrainError
    from pathprofile.terrain.store import TerrainStore
    on, folder = Path(sys.argv[1]), Path(sys.argv[2])
    tried = 0
    for sample in samples():
        for opened in (False, True):  # fails as the file is opened again, or only after
            here = folder / f"FAILS{opened}" / sample.name.replace(".", "-")
            here.mkdir(parents=True)
            for name, content in {sample.name: sample.content, **sample.beside}.items():
                (here / name).write_bytes(content)
            from_byte = str(len(sample.content) // 2)
            ctypes.CDLL(None).setenv(b"EIO_FROM", from_byte.encode(), 1)
            on.unlink(missing_ok=True)
            with TerrainStore.open(here / sample.name) as store:
                if opened and not store.tiles[0].in_archive:
                    store._blocks._dataset(0)
                on.touch()
                try:
                    heights = store.elevation_m([46.98, 46.5, 46.02], [-20.5] * 3)
                except TerrainError as error:
                    assert "damaged" in str(error) or "any more" in str(error), error
                    tried += 1
                else:
                    print(sample.name, heights.tolist())
    print("refused:", tried)
"""


def test_a_disk_that_fails_in_the_middle_of_a_tile(tmp_path: Path) -> None:
    compiler = shutil.which("cc") or shutil.which("gcc")
    if compiler is None or sys.platform != "linux":
        pytest.skip("no compiler to make a failing disk with")
    disk = tmp_path / "disk.so"
    source = Path(__file__).with_name("failing_disk.c")
    subprocess.run([compiler, "-shared", "-fPIC", "-o", disk, source, "-ldl"], check=True)
    on = tmp_path / "on"
    failing = {"LD_PRELOAD": str(disk), "EIO_PATH": "FAILS", "EIO_FROM": "0", "EIO_ON": str(on)}
    ran = _child(FAILING, str(on), str(tmp_path), **failing)
    assert ran.returncode == 0, ran.stderr
    *read, last = ran.stdout.splitlines()
    assert read == [], "read in spite of it, perhaps as sea"
    assert int(last.removeprefix("refused: ")) >= 30


# --- processes killed at any moment

KILLED = """
    import json, os, random, signal, sys, time
    from pathlib import Path
    from pathprofile.atomic import write_atomically
    folder = Path(sys.argv[1])
    target = folder / "out.bin"
    contents = [bytes([n]) * 300_000 for n in range(4)]
    write_atomically(target, contents[0])
    chance = random.Random(1)
    seen, left = set(), 0
    for _ in range(40):
        child = os.fork()
        if child == 0:
            n = 0
            while True:
                n += 1
                write_atomically(target, contents[n % 4])
        time.sleep(chance.uniform(0.001, 0.02))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        held = target.read_bytes()
        assert held in contents, f"half-written: {len(held)} bytes"
        seen.add(held[0])
        hidden = [each for each in folder.iterdir() if each != target]
        assert len(hidden) <= 1, hidden
        for each in hidden:
            assert each.name.startswith(".") and each.name.endswith(".part"), each
            left += 1
            each.unlink()
    print(json.dumps({"contents seen": len(seen), "hidden files left": left}))
"""


def _child(
    script: str, *words: str, before: Sequence[str] = (), **environment: str
) -> subprocess.CompletedProcess[str]:
    """Run a script as a process of its own."""
    return subprocess.run(
        [*before, sys.executable, "-c", textwrap.dedent(script), *words],
        capture_output=True, text=True, check=False, timeout=60,
        env={**os.environ, "PYTHONPATH": str(ROOT), **environment},
    )  # fmt: skip


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes that can be forked and killed")
def test_killed_at_any_moment(tmp_path: Path) -> None:
    ran = _child(KILLED, str(tmp_path))
    assert ran.returncode == 0, ran.stderr
    found = json.loads(ran.stdout)
    assert found["contents seen"] > 1
    assert found["hidden files left"] > 0  # else no kill fell into a write, and nothing was tried


# --- tiles replaced while the index or the store remembers them


def _shifted(content: bytes, west_from: float, west_to: float) -> bytes:
    """The same GeoTIFF elsewhere: the tie point's longitude changed in place."""
    import struct

    old, new = struct.pack("<d", west_from), struct.pack("<d", west_to)
    assert content.count(old) == 1
    return content.replace(old, new)


def test_a_tile_replaced_by_one_of_the_same_size_and_time(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    whole = samples()[0].content
    path.write_bytes(whole)
    when = path.stat()
    with TerrainStore.open(path, index_dir=tmp_path / "index") as store:
        west = store.tiles[0].west_deg
        assert store.elevation_m(46.5, -20.5) == pytest.approx(400.0)
    other = tmp_path / "other"
    other.write_bytes(_shifted(whole, west, west + 10.0))
    os.utime(other, ns=(when.st_atime_ns, when.st_mtime_ns))
    other.replace(path)
    assert (path.stat().st_size, path.stat().st_mtime_ns) == (when.st_size, when.st_mtime_ns)
    with TerrainStore.open(path, index_dir=tmp_path / "index") as store:
        assert np.isnan(store.elevation_m(46.5, -20.5))
        assert store.elevation_m(46.5, -10.5) == pytest.approx(400.0)


@pytest.mark.parametrize("packed", [False, True])
def test_a_tile_replaced_while_the_store_is_open(tmp_path: Path, *, packed: bool) -> None:
    whole = samples()[0].content
    path = tmp_path / ("a.zip" if packed else "a.tif")
    path.write_bytes(zipped({"a.tif": whole}) if packed else whole)
    with TerrainStore.open(path) as store:
        moved = _shifted(whole, store.tiles[0].west_deg, store.tiles[0].west_deg + 10.0)
        (tmp_path / "new").write_bytes(zipped({"a.tif": moved}) if packed else moved)
        (tmp_path / "new").replace(path)
        with pytest.raises(TerrainError, match="was replaced while it was in use; run it again"):
            store.elevation_m(46.5, -20.5)


def test_a_tile_removed_while_the_index_remembers_it(tmp_path: Path) -> None:
    path = tmp_path / "tiles" / "a.tif"
    path.parent.mkdir()
    path.write_bytes(samples()[0].content)
    store = TerrainStore.open(path.parent, index_dir=tmp_path / "index")
    path.unlink()
    with store, pytest.raises(TerrainError, match=r"cannot read elevation file '.*a\.tif' any more"):
        store.elevation_m(46.5, -20.5)
    with pytest.raises(TerrainError, match="no elevation rasters"):
        TerrainStore.open(path.parent, index_dir=tmp_path / "index")


def test_an_index_written_by_two_at_once(tmp_path: Path) -> None:
    for name in ("a.tif", "b.tif"):
        (tmp_path / name).write_bytes(samples()[0].content)
    with TerrainStore.open(tmp_path / "a.tif", index_dir=tmp_path / "index"):
        TerrainStore.open(tmp_path / "b.tif", index_dir=tmp_path / "index").close()
    index = FileIndex(tmp_path / "index")
    assert [index.tiles(tmp_path / name) is not None for name in ("a.tif", "b.tif")].count(True) >= 1


# --- two processes at the same file

TWO = """
    import os, sys, time
    from pathlib import Path
    from pathprofile.atomic import write_atomically
    from pathprofile.errors import OutputError
    target = Path(sys.argv[1])
    contents = [bytes([n]) * 200_000 for n in (1, 2)]
    write_atomically(target, contents[0])
    children = []
    for content in contents:
        child = os.fork()
        if child == 0:
            for _ in range(50):
                write_atomically(target, content)
            os._exit(0)
        children.append(child)
    seen = set()
    while children:
        held = target.read_bytes()
        assert held in contents, f"mixed: {len(held)} bytes"
        seen.add(held[0])
        children = [child for child in children if os.waitpid(child, os.WNOHANG) == (0, 0)]
    assert seen == {1, 2}
    assert [each.name for each in target.parent.iterdir()] == [target.name]
    for round in range(10):
        new = target.with_name(f"new{round}")
        start = time.monotonic() + 0.003
        children = []
        for content in contents * 2:
            child = os.fork()
            if child == 0:
                while time.monotonic() < start:
                    pass
                try:
                    write_atomically(new, content, overwrite=False)
                except OutputError:
                    os._exit(3)
                os._exit(0)
            children.append(child)
        codes = sorted(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children)
        assert codes == [0, 3, 3, 3], codes
        assert new.read_bytes() in contents
"""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes that can be forked")
def test_two_processes_write_the_same_file(tmp_path: Path) -> None:
    ran = _child(TWO, str(tmp_path / "out.bin"))
    assert ran.returncode == 0, ran.stderr


IMPORTS = """
    import io, os, sys
    from pathprofile.trip.importing import import_into
    children = []
    for number in range(4):
        child = os.fork()
        if child == 0:
            for part in range(3):
                line = f"name,latitude,longitude\\nStation {number} {part},46.5{number}{part}1,-21.1\\n"
                import_into(sys.argv[1], io.BytesIO(line.encode()), kind="csv")
            os._exit(0)
        children.append(child)
    codes = [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children]
    assert codes == [0] * 4, codes
"""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes that can be forked")
def test_lists_imported_by_several_processes_are_all_there(tmp_path: Path) -> None:
    write_starter(tmp_path / "trip.toml")
    ran = _child(IMPORTS, str(tmp_path / "trip.toml"))
    assert ran.returncode == 0, ran.stderr
    names = {station.name for station in read_book(tmp_path / "trip.toml").stations}
    assert {f"Station {number} {part}" for number in range(4) for part in range(3)} < names


def test_a_book_saved_by_an_editor_while_a_list_is_taken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from pathprofile.trip.importing import merging

    path = tmp_path / "trip.toml"
    write_starter(path)
    real = merging.rewritten

    def edited_meanwhile(*given: Any) -> str:
        path.write_text(STARTER + "\n# a thought\n", encoding="utf-8")
        return real(*given)

    monkeypatch.setattr(merging, "rewritten", edited_meanwhile)
    with pytest.raises(StationError, match="was changed meanwhile, perhaps by an editor; import again"):
        import_into(path, io.BytesIO(LISTS[0][1].encode()), kind="csv")
    assert path.read_text(encoding="utf-8").endswith("# a thought\n")


def test_a_saved_prediction_survives_what_reads_it(tmp_path: Path) -> None:
    path = tmp_path / "a.prediction.json"
    path.write_text(prediction_text(), encoding="utf-8")
    assert len(read_prediction(path).rows) >= 2
    assert path.read_text(encoding="utf-8") == prediction_text()
