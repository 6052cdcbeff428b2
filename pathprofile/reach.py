"""The main job for one path: two places in, everything an operator asks about the path out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import datetime as dt

    from pathprofile.atmosphere import Atmosphere
    from pathprofile.geodesy import Leg
    from pathprofile.ground.obstacles import Obstacles
    from pathprofile.places import Location
    from pathprofile.propagation.methods import PathLoss
    from pathprofile.sightline import Sightline
    from pathprofile.terrain.profile import TerrainProfile

__all__ = ["End", "Reach"]


@dataclass(frozen=True)
class End:
    """One end of a path: where it is, how high its ground and its antenna are, which way north is there.

    Attributes
    ----------
    location : Location
    ground_m : float
        Ground above sea level, as used [m].
    antenna_agl_m : float
        Antenna above that ground [m].
    declination_deg : float
        Magnetic declination, east positive.
    azimuth_deg, magnetic_azimuth_deg : float
        Direction of the other end, true and magnetic.
    """

    location: Location
    ground_m: float
    antenna_agl_m: float
    declination_deg: float
    azimuth_deg: float
    magnetic_azimuth_deg: float


@dataclass(frozen=True)
class Reach:
    """Everything found out about one path; see the fields' own classes for shapes and units."""

    from_end: End
    to_end: End
    frequency_mhz: float
    polarization: str
    date: dt.date
    atmosphere: Atmosphere
    leg: Leg
    profile: TerrainProfile
    sightline: Sightline
    obstacles: Obstacles
    loss: PathLoss
    warnings: tuple[str, ...]
