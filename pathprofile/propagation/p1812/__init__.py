"""ITU-R P.1812-8: path-specific loss from 30 MHz to 6 GHz, by diffraction, ducting and scatter together.

``geometry`` turns a profile into a few dozen numbers, ``loss`` holds every equation, ``prediction`` is what callers use.
"""

from pathprofile.propagation.p1812.loss import PathGeometry
from pathprofile.propagation.p1812.prediction import Prediction, path_geometry, predict, predict_from

__all__ = ["PathGeometry", "Prediction", "path_geometry", "predict", "predict_from"]
