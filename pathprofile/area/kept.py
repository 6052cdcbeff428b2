"""Reading back the arrays of a finished piece, whatever has become of its file meanwhile."""

from __future__ import annotations

import io
import math
import struct
import zipfile
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

__all__ = ["UNREADABLE", "unpacked"]

UNREADABLE = (ValueError, LookupError, EOFError, OSError, RuntimeError, zipfile.BadZipFile, struct.error)


def unpacked(content: bytes) -> dict[str, npt.NDArray[Any]]:
    """Arrays as `pathprofile.area.work.PieceStore.save` packs them: never larger than the file.

    Raises one of `UNREADABLE` for anything else, before room for more than the file's own size is taken.
    """
    found: dict[str, npt.NDArray[Any]] = {}
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        members = archive.infolist()
        if sum(member.file_size for member in members) > len(content):
            raise ValueError("declared larger than the file")
        for member in members:
            packed = io.BytesIO(archive.read(member))
            if np.lib.format.read_magic(packed) != (1, 0):
                raise ValueError("not as it was saved")
            shape, _, kind = np.lib.format.read_array_header_1_0(packed)
            if math.prod(shape) * kind.itemsize != member.file_size - packed.tell():
                raise ValueError("declared larger or smaller than it is")
            packed.seek(0)
            found[member.filename.removesuffix(".npy")] = np.lib.format.read_array(packed, allow_pickle=False)
    return found
