"""Survey, assessment and doubts in one call."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from pathprofile.reach.assessing import assess, check_inputs
from pathprofile.reach.doubts import doubtful_places
from pathprofile.reach.surveying import GroundOptions, survey

if TYPE_CHECKING:
    import datetime as dt

    from pathprofile.atmosphere import Atmosphere
    from pathprofile.places import Location
    from pathprofile.propagation.methods import Surroundings
    from pathprofile.reach.result import Reach
    from pathprofile.terrain.store import TerrainStore

__all__ = ["reach"]


def reach(
    a: Location,
    b: Location,
    terrain: TerrainStore,
    *,
    date: dt.date,
    frequency_mhz: float,
    from_antenna_agl_m: float,
    to_antenna_agl_m: float,
    polarization: str = "vertical",
    atmosphere: Atmosphere | None = None,
    surroundings: Surroundings | None = None,
    options: GroundOptions | None = None,
    mast_limit_m: float = 100.0,
) -> Reach:
    """Everything about the path from one place to another.

    Parameters
    ----------
    a, b : Location
        FROM and TO.
    terrain : TerrainStore
        Elevation tiles that cover both ends and what lies between.
    date : datetime.date
        Day of the contact, for magnetic north.
    frequency_mhz : float
        30 to 3000 [MHz].
    from_antenna_agl_m, to_antenna_agl_m : float
        Antenna heights above ground [m].
    polarization : {"vertical", "horizontal"}
    atmosphere : Atmosphere, optional
        Default: k = 4/3.
    surroundings : Surroundings, optional
        Ground constants and climate for the loss methods.
    options : GroundOptions, optional
        How the ground is read.
    mast_limit_m : float
        Highest mast for which least heights are given [m].

    Returns
    -------
    Reach

    Raises
    ------
    LocationError, OutOfRangeError, TerrainError, TerrainGapError
        One line each: what was given, what is accepted, what to do.
    """
    check_inputs(frequency_mhz, from_antenna_agl_m, to_antenna_agl_m, polarization)
    answer = assess(
        survey(a, b, terrain, date=date, options=options),
        frequency_mhz=frequency_mhz,
        from_antenna_agl_m=from_antenna_agl_m,
        to_antenna_agl_m=to_antenna_agl_m,
        polarization=polarization,
        atmosphere=atmosphere,
        surroundings=surroundings,
        mast_limit_m=mast_limit_m,
    )
    return replace(answer, warnings=(*answer.warnings, *doubtful_places(answer, terrain)))
