"""The two small things every file here needs: a check and a wrap."""

from __future__ import annotations

import math

from pathprofile.errors import LocationError


def full_circle(azimuth_deg: float) -> float:
    """Bring an angle to 0 (included) to 360 (excluded) degrees."""
    turned = float(azimuth_deg) % 360.0
    return 0.0 if turned == 360.0 else turned  # a tiny negative number rounds up to 360


def check_point(latitude_deg: float, longitude_deg: float) -> None:
    """Raise `LocationError` unless latitude is within 90 and longitude within 180 degrees."""
    if not (math.isfinite(latitude_deg) and abs(latitude_deg) <= 90.0):
        raise LocationError(f"latitude {latitude_deg!r} is impossible: give -90 to 90 degrees")
    if not (math.isfinite(longitude_deg) and abs(longitude_deg) <= 180.0):
        raise LocationError(f"longitude {longitude_deg!r} is impossible: give -180 to 180 degrees")
