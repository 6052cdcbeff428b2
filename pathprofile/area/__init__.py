"""Whole areas at once: coverage, skyline, what is in sight. The compiler is loaded when first needed."""

from pathprofile.area.coverage import Coverage, coverage
from pathprofile.area.grid import Grid
from pathprofile.area.in_sight import InSight, in_sight
from pathprofile.area.skyline import Skyline, skyline

__all__ = ["Coverage", "Grid", "InSight", "Skyline", "coverage", "in_sight", "skyline"]
