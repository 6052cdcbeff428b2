"""Errors that reach the user: each says what was given, what is accepted and what to do next."""

from __future__ import annotations

__all__ = [
    "LocationError",
    "OutOfRangeError",
    "OutputError",
    "PathProfileError",
    "StationError",
    "TerrainError",
    "TerrainGapError",
]


class PathProfileError(Exception):
    """Root of all errors of this package; its text is one line meant for the user."""


class LocationError(PathProfileError, ValueError):
    """A place that cannot be read, or two places between which no path exists."""


class TerrainError(PathProfileError):
    """Elevation files that are absent, unreadable, or do not fit together."""


class TerrainGapError(TerrainError):
    """A path leaves the elevation data: a missing tile or a hole too wide to bridge."""


class StationError(PathProfileError, ValueError):
    """A station description that is impossible or incomplete."""


class OutOfRangeError(PathProfileError, ValueError):
    """A number outside what a method or an input accepts."""


class OutputError(PathProfileError, OSError):
    """A result that could not be written where it was asked for."""
