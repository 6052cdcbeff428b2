"""Loss between isotropic antennas with nothing in the way."""

from __future__ import annotations

import math

from pathprofile.propagation import _checks
from pathprofile.sightline import SPEED_OF_LIGHT_M_PER_S

__all__ = ["loss_db"]

_METHOD = "free space"


def loss_db(distance_m: float, frequency_mhz: float) -> float:
    """Free-space basic transmission loss.

    Parameters
    ----------
    distance_m : float
        Distance between the antennas [m].
    frequency_mhz : float
        Frequency [MHz].

    Returns
    -------
    float
        ``20 log10(4 π d / λ)`` [dB].

    Raises
    ------
    OutOfRangeError
        If either is not positive and finite.

    Notes
    -----
    **Validity**: the far field of both antennas. Nearer than λ/4π it turns negative and means nothing.

    P.1812-8 (eqs 8 to 11) writes the same with the constant rounded to 92.4 (0.05 dB less).

    References
    ----------
    .. [1] ITU-R P.525-4, §2.2.
    """
    distance = _checks.number(_METHOD, "distance_m", distance_m, 1e-3, 1e12, "m")
    frequency = _checks.number(_METHOD, "frequency_mhz", frequency_mhz, 1e-3, 1e6, "MHz")
    return 20.0 * math.log10(4.0 * math.pi * distance * frequency * 1e6 / SPEED_OF_LIGHT_M_PER_S)
