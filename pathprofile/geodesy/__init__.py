"""Distances and directions on the WGS 84 ellipsoid, magnetic and grid north, and the Sun.

Bare floats and arrays, latitude before longitude, azimuths clockwise from true north. Nothing here
knows what the points are for.
"""

from __future__ import annotations

from pathprofile.geodesy.geodesic import (
    EQUAL_ENDS_M,
    LONGEST_PATH_M,
    Leg,
    PathPoints,
    direct,
    inverse,
    points_along,
)
from pathprofile.geodesy.north import (
    Declination,
    declination,
    grid_azimuth_deg,
    grid_convergence_deg,
    magnetic_azimuth_deg,
    utm_zone,
)
from pathprofile.geodesy.sun import SunPosition, sun_azimuth_deg, sunrise_utc, sunset_utc

__all__ = [
    "EQUAL_ENDS_M",
    "LONGEST_PATH_M",
    "Declination",
    "Leg",
    "PathPoints",
    "SunPosition",
    "declination",
    "direct",
    "grid_azimuth_deg",
    "grid_convergence_deg",
    "inverse",
    "magnetic_azimuth_deg",
    "points_along",
    "sun_azimuth_deg",
    "sunrise_utc",
    "sunset_utc",
    "utm_zone",
]
