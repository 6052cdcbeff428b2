"""Writing a file so that it is there whole or not at all."""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import stat
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from pathprofile.errors import OutputError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

__all__ = ["held", "write_atomically"]

_REMEDIES = {
    errno.ENOSPC: "the disk is full; make room or choose another disk",
    errno.EDQUOT: "the disk quota is used up; make room or choose another disk",
    errno.EACCES: "writing there is not permitted; choose another folder",
    errno.EPERM: "writing there is not permitted; choose another folder",
    errno.EROFS: "that disk is read-only; choose another",
    errno.ENOTDIR: "part of that path is a file, not a folder; choose another",
    errno.ENAMETOOLONG: "the name is too long; choose a shorter one",
}


def write_atomically(
    path: Path | str, content: bytes | Callable[[BinaryIO], object], *, overwrite: bool = True
) -> None:
    """Write a file beside its target, then move it there in one step.

    Whatever goes wrong, the target keeps what it held and no part-written file stays behind.

    Parameters
    ----------
    path : Path or str
        Where to write. A link is followed; a device (``/dev/stdout``) is written straight.
    content : bytes or callable
        The bytes, or a function that writes them to the open binary file it is given.
    overwrite : bool
        Whether an existing file may be replaced; otherwise a link is not followed either.

    Raises
    ------
    OutputError
        If the folder is missing, the path is a folder, the file exists and may not be replaced, or the
        system refuses to write (full disk, no permission …).
    """
    try:
        target = Path(os.path.realpath(path))
        kind = target.stat().st_mode
    except FileNotFoundError:
        kind = None
    except (OSError, ValueError) as error:
        raise _explained(path, error) from error
    if kind is not None and stat.S_ISDIR(kind):
        raise OutputError(f"cannot write {str(path)!r}: that is a folder; give the name of a file")
    if not overwrite and (kind is not None or os.path.lexists(path)):  # a link to nothing is there too
        raise OutputError(
            f"cannot write {str(path)!r}: it exists already; choose another name or allow replacing"
        )
    if not target.parent.is_dir():
        raise OutputError(
            f"cannot write {str(path)!r}: there is no folder {str(target.parent)!r}; "
            "create it or choose another"
        )
    try:
        if kind is not None and not stat.S_ISREG(kind):
            with target.open("wb") as file:
                _fill(file, content)
        else:
            mode = None if kind is None else stat.S_IMODE(kind)
            _write_beside(target, content, mode, overwrite=overwrite)
    except FileExistsError:
        raise OutputError(
            f"cannot write {str(path)!r}: it exists by now; choose another name or allow replacing"
        ) from None
    except OSError as error:
        if isinstance(error, OutputError):
            raise
        raise _explained(path, error) from error


def _write_beside(
    target: Path, content: bytes | Callable[[BinaryIO], object], mode: int | None, *, overwrite: bool
) -> None:
    part = target.with_name(f".{secrets.token_hex(6)}.part")
    try:
        try:
            part.touch(0o666 if mode is None else 0o600, exist_ok=False)  # private until it has its mode
            opened = part.open("wb")
        except FileNotFoundError as error:  # a folder of the system, say, that takes no new files
            raise OutputError(
                f"cannot write {str(target)!r}: nothing can be written into {str(target.parent)!r}; "
                "choose another folder"
            ) from error
        with opened as file:
            _fill(file, content)
            os.fsync(file.fileno())  # some file systems report a full disk only here
        if mode is not None:
            part.chmod(mode)
        if overwrite:
            part.replace(target)
        else:
            _move_unless_there(part, target)
    finally:
        part.unlink(missing_ok=True)


def _move_unless_there(part: Path, target: Path) -> None:
    """Move a file to a name that nobody else has taken meanwhile; two who try at once cannot both succeed."""
    try:
        os.link(part, target)
    except FileExistsError:
        raise
    except OSError:  # a file system without second names
        if os.path.lexists(target):
            raise FileExistsError from None
        part.replace(target)


@contextlib.contextmanager
def held(path: Path | str) -> Iterator[None]:
    """Hold a file that is to be read and then replaced, so that no other process does the same meanwhile.

    Waits until others let go. Only those who hold it too are kept away. Where the system or the file system
    has no such locks, or the file cannot be opened, nothing is held.
    """
    with contextlib.ExitStack() as files:
        try:
            import fcntl

            while True:
                file = files.enter_context(Path(path).open("rb"))
                fcntl.flock(file, fcntl.LOCK_EX)
                if os.path.samestat(os.fstat(file.fileno()), Path(path).stat()):
                    break  # not replaced while we waited
                file.close()
        except (ImportError, OSError):
            pass
        yield


def _fill(file: BinaryIO, content: bytes | Callable[[BinaryIO], object]) -> None:
    if callable(content):
        content(file)
    else:
        file.write(content)


def _explained(path: Path | str, error: OSError | ValueError) -> OutputError:
    number = error.errno if isinstance(error, OSError) and error.errno is not None else -1
    reason = _REMEDIES.get(number) or getattr(error, "strerror", None) or str(error)
    return OutputError(f"cannot write {str(path)!r}: {reason}")
