"""All fuzz targets by a short name."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fuzz.commands import Commands
from fuzz.ground import Masks, Pieces
from fuzz.lists import Books, Imports, Logs, Maps, Predictions
from fuzz.rasters import Bombs, Indexes, Rasters
from fuzz.words import Places, Quantities, Reports

if TYPE_CHECKING:
    from fuzz.case import Target

__all__ = ["TARGETS"]

TARGETS: dict[str, type[Target]] = {
    "places": Places,
    "quantities": Quantities,
    "reports": Reports,
    "book": Books,
    "import": Imports,
    "log": Logs,
    "prediction": Predictions,
    "maps": Maps,
    "mask": Masks,
    "pieces": Pieces,
    "rasters": Rasters,
    "bombs": Bombs,
    "index": Indexes,
    "command": Commands,
}
