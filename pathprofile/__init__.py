"""Offline VHF/UHF path planning over real terrain.

Importing this package does no work and imports nothing slow.
"""

from __future__ import annotations

__all__ = ["__version__"]

__version__ = "0.1.0"
