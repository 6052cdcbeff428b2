"""Pictures as files: equal pictures give equal bytes."""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pathprofile.atomic import write_atomically
from pathprofile.draw.style import PAPER
from pathprofile.errors import OutputError

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.figure import Figure

__all__ = ["SUFFIXES", "save_picture"]

SUFFIXES = (".png", ".svg", ".pdf")


def save_picture(path: Path | str, draw: Callable[[], Figure], title: str, *, overwrite: bool = True) -> None:
    """Draw a picture into a file; the suffix says which kind.

    Parameters
    ----------
    path : Path or str
        A name ending in ``.png``, ``.svg`` or ``.pdf``.
    draw : callable
        Makes the picture, once the name is known to be good.
    title : str
        Title in the file.
    overwrite : bool
        Whether an existing file may be replaced.

    Raises
    ------
    OutputError
        For another suffix, and if the file cannot be written; nothing half-written stays behind.
    """
    suffix = Path(path).suffix.lower()
    if suffix not in SUFFIXES:
        raise OutputError(
            f"cannot draw into {str(path)!r}: give a name that ends in "
            f"{', '.join(SUFFIXES[:-1])} or {SUFFIXES[-1]}"
        )
    write_atomically(path, _encoded(draw(), suffix, title), overwrite=overwrite)


def _encoded(figure: Figure, suffix: str, title: str) -> bytes:
    """Bytes of a file without the date or the random names that matplotlib would put in."""
    written = io.BytesIO()
    how: dict[str, dict[str, Any]] = {
        ".png": {"metadata": {"Title": title}, "pil_kwargs": {"compress_level": 3}},
        ".svg": {"metadata": {"Title": title, "Date": None}},
        ".pdf": {"metadata": {"Title": title, "CreationDate": None}},
    }
    figure.savefig(written, format=suffix[1:], facecolor=PAPER, **how[suffix])
    return _with_plain_ids(written.getvalue()) if suffix == ".svg" else written.getvalue()


def _with_plain_ids(svg: bytes) -> bytes:
    """Replace the random names of shared SVG parts by running numbers."""
    names = dict.fromkeys(re.findall(rb'id="((?:[hmp]|image|C[0-9a-f]+_[0-9a-f]+_)?[0-9a-f]{10})"', svg))
    numbers = {name: b"part%d" % i for i, name in enumerate(names)}
    return re.sub(rb'(id="|#)([\w]+)(?=[")])', lambda found: found[1] + numbers.get(found[2], found[2]), svg)
