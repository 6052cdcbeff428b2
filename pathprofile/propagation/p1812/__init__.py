"""ITU-R P.1812-8: path-specific loss from 30 MHz to 6 GHz, by diffraction, ducting and scatter together.

``geometry`` scans a profile, ``path`` turns its extremes into a few dozen numbers, ``loss`` holds the
equations of loss, ``prediction`` is what callers use.
"""

from pathprofile.propagation.p1812.path import PathGeometry
from pathprofile.propagation.p1812.prediction import (
    GRAZING_LOSS_DB,
    Mechanism,
    Prediction,
    path_geometry,
    predict,
    predict_from,
)

__all__ = [
    "GRAZING_LOSS_DB",
    "Mechanism",
    "PathGeometry",
    "Prediction",
    "path_geometry",
    "predict",
    "predict_from",
]
