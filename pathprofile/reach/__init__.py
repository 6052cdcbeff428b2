"""The main job for one path: two places in, everything an operator asks about the path out.

``survey`` reads the ground once, ``assess`` answers for a frequency and two masts, ``reach`` does both and
looks whether the places were typed well enough.
"""

from __future__ import annotations

from pathprofile.reach.again import again
from pathprofile.reach.assessing import assess
from pathprofile.reach.doubts import doubtful_places
from pathprofile.reach.result import Aim, PathEnd, Place, Reach
from pathprofile.reach.surveying import GroundOptions, Survey, survey
from pathprofile.reach.sweep import KStep, sweep_k
from pathprofile.reach.whole import reach

__all__ = [
    "Aim",
    "GroundOptions",
    "KStep",
    "PathEnd",
    "Place",
    "Reach",
    "Survey",
    "again",
    "assess",
    "doubtful_places",
    "reach",
    "survey",
    "sweep_k",
]
