"""What the name of an elevation file tells: its one-degree square, its kind of ground, its vertical datum.

Public programmes name their files by fixed patterns; the patterns below are customary, from memory.
"""

from __future__ import annotations

import math
import re
from typing import Literal

__all__ = ["ModelKind", "datum_from_name", "is_companion_layer", "kind_from_name", "square_name"]

ModelKind = Literal["surface", "bare", "unknown"]
"""``surface`` has trees and roofs in it, ``bare`` has them taken off."""


def square_name(latitude_deg: float, longitude_deg: float) -> str:
    """Customary name of the one-degree square that holds a point: its south-west corner, ``N46W021``.

    Parameters
    ----------
    latitude_deg, longitude_deg : float
        The point [degrees]; a point on an edge belongs to the square north or east of it.

    Returns
    -------
    str
    """
    south = min(math.floor(latitude_deg), 89)
    west = math.floor((longitude_deg + 180.0) % 360.0) - 180
    return f"{'N' if south >= 0 else 'S'}{abs(south):02d}{'E' if west >= 0 else 'W'}{abs(west):03d}"


# Order matters: the first pattern that is found anywhere in the file's name wins.
_KINDS: tuple[tuple[str, ModelKind], ...] = (
    (r"fabdem|eudtm|hybrid.?dtm", "bare"),
    (r"(^|[^a-z])(dtm|dgm|mdt|mnt)([^a-z]|$)", "bare"),  # terrain models: English, German, Spanish, French
    (r"^(usgs_(1|13|1m|one)_|imgn\d|floatn\d)|rge_?alti|bd_?alti|altid|alti3d", "bare"),
    (r"(^|[^a-z])(dsm|dom|mds|mns)([^a-z]|$)", "surface"),  # surface models, the same languages
    (r"copernicus|glo.?(30|90)|srtm|nasadem|astgtm|aw3d|alpsmlc|tandem|tdm1|eu_dem", "surface"),
    (r"\.hgt", "surface"),  # the format of the Shuttle Radar Topography Mission
)
_DATUMS: tuple[tuple[str, str], ...] = (
    (r"copernicus|glo.?(30|90)|fabdem", "EGM2008"),
    (r"eu_dem", "EVRS2000"),
    (r"^(usgs_(1|13|1m|one)_|imgn\d|floatn\d)", "NAVD88"),
    (r"rge_?alti|bd_?alti", "IGN69"),
    (r"srtm|nasadem|astgtm|aw3d|alpsmlc|\.hgt", "EGM96"),
)
# Masks, error maps and counts that some programmes put beside their heights, and that are rasters too.
_COMPANION = re.compile(r"[_.-](wbm|edm|hem|flm|msk|stk|qai|num|lsm|dam|cov)\.[a-z0-9]+$", re.IGNORECASE)


def kind_from_name(file_name: str) -> ModelKind:
    """Kind of ground a file holds, as far as its name tells; ``unknown`` otherwise."""
    return next((kind for pattern, kind in _KINDS if re.search(pattern, file_name.lower())), "unknown")


def datum_from_name(file_name: str) -> str | None:
    """Vertical datum of a programme that always uses the same one; None where the name says nothing.

    A terrain model in the ``.hgt`` format need not keep the format's own datum, so a name that says
    bare ground leaves the datum open.
    """
    name = file_name.lower()
    if name.endswith(".hgt") and kind_from_name(name) == "bare":
        return None
    return next((datum for pattern, datum in _DATUMS if re.search(pattern, name)), None)


def is_companion_layer(file_name: str) -> bool:
    """Whether a file is a mask or quality layer of a programme rather than heights."""
    return _COMPANION.search(file_name) is not None
