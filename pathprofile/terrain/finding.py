"""Finding elevation rasters in files and folders, and remembering their headers in an index."""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pathprofile import __version__
from pathprofile.atomic import write_atomically
from pathprofile.errors import OutputError, TerrainError
from pathprofile.terrain.archives import sources_in
from pathprofile.terrain.names import is_companion_layer
from pathprofile.terrain.tiles import Tile, complaint_about, read_tile

if TYPE_CHECKING:
    from collections.abc import Iterable

    from pathprofile.terrain.frames import Projections

__all__ = ["FileIndex", "Refused", "find_tiles"]

# Looked at inside folders; a file named by the user is opened whatever its suffix.
_SUFFIXES = {".hgt", ".tif", ".tiff", ".dt0", ".dt1", ".dt2", ".asc", ".grd", ".img"}
_SUFFIXES |= {".bil", ".bip", ".bsq", ".flt", ".dem", ".bt", ".ter", ".jp2", ".sdat"}
_PACKED = (".zip", ".gz")
# Files beside a raster that change what it says.
_SIDECARS = (".prj", ".hdr", ".tfw", ".aux.xml", ".ovr", ".msk")


@dataclass(frozen=True)
class Refused:
    """A file that looked like elevations and could not be used."""

    path: str
    reason: str


class FileIndex:
    """Headers of the files seen before, kept in one file: a line that vouches for the next, and the headers.

    An entry counts only while the file's size and times of change are what they were, and the index only
    while it is as it was written. A folder that cannot be written, or an index that cannot be read, costs
    time and nothing else.

    Parameters
    ----------
    folder : Path or None
        Where the index lives; None keeps it in memory.
    """

    def __init__(self, folder: Path | None) -> None:
        self._file = None if folder is None else folder / "terrain-index.json"
        self._entries: dict[str, dict[str, Any]] = {}
        self._changed = False
        if self._file is not None:
            try:
                voucher, _, files = self._file.read_bytes().partition(b"\n")
                if voucher == _voucher(files):
                    self._entries = json.loads(files)
            except OSError:
                self._entries = {}

    def tiles(self, path: Path) -> list[Tile] | None:
        """Tiles of an unchanged file, or None if the file must be read."""
        try:
            entry = self._entries[str(path)]
            if entry["stamp"] != _stamp(path):
                return None
            return [Tile.from_json(facts) for facts in entry["tiles"]]
        except (OSError, KeyError):
            return None

    def store(self, path: Path, tiles: list[Tile]) -> None:
        """Remember the tiles of a file."""
        self._entries[str(path)] = {"stamp": _stamp(path), "tiles": [tile.to_json() for tile in tiles]}
        self._changed = True

    def checksum(self, path: Path) -> str:
        """SHA-256 of the file on disk, in hexadecimal; worked out once for each state of the file."""
        import hashlib

        key = str(path)
        try:
            stamp = _stamp(path)
            entry = self._entries.get(key)
            if not isinstance(entry, dict) or entry.get("stamp") != stamp:
                entry = None
            elif isinstance(entry.get("sha256"), str):
                return str(entry["sha256"])
            with path.open("rb") as stream:
                digest = hashlib.file_digest(stream, "sha256").hexdigest()
        except OSError as error:
            raise TerrainError(
                f"cannot read elevation file {key!r}: {error.strerror}; check that it is still there"
            ) from error
        if entry is not None:
            entry["sha256"] = digest
            self._changed = True
        return digest

    def save(self) -> None:
        """Write the index if anything is new; where that is not possible, go without."""
        if self._file is None or not self._changed:
            return
        kept = {key: entry for key, entry in self._entries.items() if Path(key).exists()}
        try:
            self._file.parent.mkdir(parents=True, exist_ok=True)
            files = json.dumps(kept).encode()
            write_atomically(self._file, _voucher(files) + b"\n" + files)
        except (OSError, OutputError):
            return
        self._changed = False


def _voucher(files: bytes) -> bytes:
    """Line that holds only for these headers and this version."""
    import hashlib

    digest = hashlib.sha256(files).hexdigest()
    return json.dumps({"made_by": __version__, "sha256": digest}).encode()


def find_tiles(
    paths: Iterable[str | os.PathLike[str]], index: FileIndex, projections: Projections
) -> tuple[list[Tile], list[Refused]]:
    """Tiles in files and folders (with all their sub-folders), and the files in folders that were refused.

    Parameters
    ----------
    paths : iterable of path
    index : FileIndex
    projections : Projections

    Returns
    -------
    tiles : list of Tile
        In the order of `paths`, then by name.
    refused : list of Refused

    Raises
    ------
    TerrainError
        If a path does not exist, a file named by the user cannot be used, or nothing usable is found.
    """
    tiles: dict[str, Tile] = {}
    refused: list[Refused] = []
    given = [Path(os.path.expanduser(path)) for path in paths]  # noqa: PTH111 - leaves an unknown ~user as it is
    if not given:
        raise TerrainError("no elevation files given; name files or folders that hold elevation tiles")
    for path in given:
        if path.is_dir():
            for file in _rasters_below(path, refused):
                try:
                    tiles |= {tile.source: tile for tile in _tiles_of_file(file, index, projections)}
                except TerrainError as error:
                    refused.append(Refused(str(file), str(error)))
        elif path.exists():
            found = _tiles_of_file(path.absolute(), index, projections)
            if not found:
                raise TerrainError(
                    f"archive {str(path)!r} holds no elevation raster; give one with an .hgt or .tif inside"
                )
            tiles |= {tile.source: tile for tile in found}
        else:
            raise TerrainError(
                f"no file or folder {str(path)!r}; check the name, or fetch elevation tiles into it"
            )
    if not tiles and refused:
        more = "" if len(refused) == 1 else f" (and {len(refused) - 1} more files that cannot be used)"
        raise TerrainError(refused[0].reason + more)
    if not tiles:
        names = ", ".join(repr(str(path)) for path in given)
        raise TerrainError(
            f"no elevation rasters in {names}; put tiles there"
            " (.hgt, .hgt.zip, GeoTIFF or another raster of heights)"
        )
    index.save()
    return list(tiles.values()), refused


def _rasters_below(folder: Path, refused: list[Refused]) -> list[Path]:
    top = folder.absolute()

    def shut(error: OSError) -> None:
        complaint = f"cannot list folder {error.filename!r}: {error.strerror}; check its permissions"
        if error.filename == str(top):
            raise TerrainError(complaint) from error
        refused.append(Refused(error.filename, complaint))

    found = (Path(parent, name) for parent, _, names in os.walk(top, onerror=shut) for name in names)
    try:
        return sorted(file for file in found if _may_hold_heights(file) and file.is_file())
    except OSError as error:
        raise TerrainError(
            f"cannot list folder {str(folder)!r}: {error.strerror}; check its permissions"
        ) from error


def _may_hold_heights(file: Path) -> bool:
    name = file.name.lower()
    if name.startswith(".") or is_companion_layer(name):
        return False
    return file.suffix.lower() in _SUFFIXES or name.endswith((".zip", ".hgt.gz"))


def _sources(path: Path) -> list[str]:
    try:
        return sources_in(path, lambda m: _may_hold_heights(Path(m)) and not m.lower().endswith(_PACKED))
    except OSError as error:
        raise TerrainError(complaint_about(path)) from error


def _tiles_of_file(path: Path, index: FileIndex, projections: Projections) -> list[Tile]:
    known = index.tiles(path)
    if known is not None:
        return known
    tiles = [read_tile(path, source, projections) for source in _sources(path)]
    index.store(path, tiles)
    return tiles


def _stamp(path: Path) -> list[int]:
    """Size and time of change of a file and of what lies beside it."""
    state = path.stat()
    # A copy may keep size and time of change of what it replaces; the time of its own coming is the system's.
    stamp = [state.st_size, state.st_mtime_ns, state.st_ctime_ns]
    if path.suffix.lower() in {".hgt", *_PACKED}:
        return stamp
    for suffix in _SIDECARS:
        for beside in (path.with_suffix(suffix), path.with_name(path.name + suffix)):
            try:
                state = beside.stat()
                stamp += [state.st_size, state.st_mtime_ns, state.st_ctime_ns]
            except OSError:
                stamp.append(0)
    return stamp
