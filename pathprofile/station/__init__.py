"""What a user states about a station: a place with one or more set-ups, checked as it is read.

The models need pydantic, which is imported when a model is first asked for and not before; the catalogue
of names (bands, modes, antennas, cables, noise categories) needs nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathprofile.station.models import Antenna, Feedline, Noise, Receiver, SetUp, Station

__all__ = ["Antenna", "Feedline", "Noise", "Receiver", "SetUp", "Station"]


def __getattr__(name: str) -> object:
    if name in __all__:
        from pathprofile.station import models

        return getattr(models, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
