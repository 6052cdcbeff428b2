"""Writing an export: the name ends as its format does, and the file is there whole or not at all."""

from __future__ import annotations

from pathlib import Path

from pathprofile.atomic import write_atomically
from pathprofile.errors import OutputError

__all__ = ["write_export"]


def write_export(
    path: Path | str, content: bytes, kind: str, suffixes: tuple[str, ...], *, overwrite: bool
) -> None:
    """Write the bytes of one format.

    Parameters
    ----------
    path : Path or str
    content : bytes
    kind : str
        Name of the format, for the refusal.
    suffixes : tuple of str
        Accepted endings, in lower case.
    overwrite : bool
        Whether an existing file may be replaced.

    Raises
    ------
    OutputError
        For another ending, and as `pathprofile.atomic.write_atomically`.
    """
    if Path(path).suffix.lower() not in suffixes:
        raise OutputError(
            f"cannot write {kind} into {str(path)!r}: give a name that ends in {' or '.join(suffixes)}"
        )
    write_atomically(path, content, overwrite=overwrite)
