"""Irregular Terrain Model (Longley-Rice), point-to-point mode, as published by NTIA.

`path_geometry` reduces a profile to floats, `attenuation` finds the median loss, `variability` spreads it
over times, places and situations, `point_to_point` checks the inputs and reports.
"""

from __future__ import annotations

from pathprofile.propagation.itm.path_geometry import PathGeometry
from pathprofile.propagation.itm.point_to_point import (
    Prediction,
    PreparedPath,
    predict,
    predict_from,
    prepare,
)
from pathprofile.propagation.itm.variability import CLIMATE_NAMES, VARIABILITY_MODES

__all__ = [
    "CLIMATE_NAMES",
    "VARIABILITY_MODES",
    "PathGeometry",
    "Prediction",
    "PreparedPath",
    "predict",
    "predict_from",
    "prepare",
]
