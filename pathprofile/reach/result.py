"""Everything found out about one path."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from pathprofile.propagation.methods import Surroundings
from pathprofile.reach.surveying import Survey, interpolated_longitude

if TYPE_CHECKING:
    import datetime as dt

    from pathprofile.atmosphere import Atmosphere
    from pathprofile.geodesy import Leg
    from pathprofile.ground.mirror import Mirror
    from pathprofile.ground.obstacles import Obstacle, Obstacles
    from pathprofile.ground.zones import Zones
    from pathprofile.places import Location
    from pathprofile.propagation.methods import PathLoss
    from pathprofile.propagation.two_ray import TwoRay
    from pathprofile.sightline import Sightline
    from pathprofile.terrain.profile import TerrainProfile

__all__ = ["Aim", "PathEnd", "Place", "Reach"]


@dataclass(frozen=True)
class PathEnd:
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


class Place(NamedTuple):
    """A point of the profile."""

    latitude_deg: float
    longitude_deg: float
    ground_m: float


class Aim(NamedTuple):
    """Where to point and how far: between points, or between the middles of areas."""

    distance_m: float
    azimuth_deg: float
    magnetic_azimuth_deg: float
    back_azimuth_deg: float
    back_magnetic_azimuth_deg: float


@dataclass(frozen=True)
class Reach:
    """Everything found out about one path; see the fields' own classes for shapes and units."""

    from_end: PathEnd
    to_end: PathEnd
    frequency_mhz: float
    polarization: str
    date: dt.date
    atmosphere: Atmosphere
    leg: Leg
    profile: TerrainProfile
    sightline: Sightline
    obstacles: Obstacles
    loss: PathLoss
    zones: Zones
    warnings: tuple[str, ...]
    survey: Survey = field(repr=False)
    surroundings: Surroundings = field(default_factory=Surroundings)
    mirror: Mirror | None = None
    two_ray: TwoRay | None = None

    @property
    def aim(self) -> Aim:
        """Along this path."""
        here, there = self.from_end, self.to_end
        return Aim(
            self.leg.distance_m,
            here.azimuth_deg,
            here.magnetic_azimuth_deg,
            there.azimuth_deg,
            there.magnetic_azimuth_deg,
        )

    def place_at(self, distance_m: float) -> Place:
        """Place and bare ground at a distance from FROM, between the profile's points if need be."""
        profile = self.profile
        at = np.array([distance_m])
        return Place(
            float(np.interp(distance_m, profile.distance_m, profile.latitude_deg)),
            float(interpolated_longitude(at, profile)[0]),
            float(np.interp(distance_m, profile.distance_m, profile.ground_m)),
        )

    def crest_index(self, obstacle: Obstacle) -> int:
        """Point of the surveyed ground that stands highest against the line within an obstacle.

        The edge that stands for a rounded obstacle in a loss method may hover above the ground.
        """
        distance_m = self.survey.cluttered.distance_m
        first = min(max(int(np.searchsorted(distance_m, obstacle.start_m)), 1), distance_m.size - 2)
        past = max(int(np.searchsorted(distance_m, obstacle.stop_m, side="right")), first + 1)
        return first + int(np.argmin(self.sightline.clearance_m[first:past]))

    def limiting_place(self) -> Place:
        """Where the smallest clearance ratio is."""
        return self.place_at(self.sightline.limiting_distance_m)
