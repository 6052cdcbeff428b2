"""The same question once more with one thing altered."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pathprofile.reach.assessing import assess

if TYPE_CHECKING:
    from pathprofile.atmosphere import Atmosphere
    from pathprofile.reach.result import Reach
    from pathprofile.reach.surveying import Survey

__all__ = ["again"]


def again(
    answer: Reach,
    *,
    found: Survey | None = None,
    from_antenna_agl_m: float | None = None,
    to_antenna_agl_m: float | None = None,
    atmosphere: Atmosphere | None = None,
) -> Reach:
    """Assess a path as it was, but for what is given; by the deciding methods only.

    Parameters
    ----------
    answer : Reach
        The path as it was assessed.
    found : Survey, optional
        Other ground.
    from_antenna_agl_m, to_antenna_agl_m : float, optional
        Other masts [m].
    atmosphere : Atmosphere, optional
        Other air.

    Returns
    -------
    Reach

    Raises
    ------
    OutOfRangeError
        As for `pathprofile.reach.assess`.
    """
    return assess(
        answer.survey if found is None else found,
        frequency_mhz=answer.frequency_mhz,
        from_antenna_agl_m=answer.from_end.antenna_agl_m
        if from_antenna_agl_m is None
        else from_antenna_agl_m,
        to_antenna_agl_m=answer.to_end.antenna_agl_m if to_antenna_agl_m is None else to_antenna_agl_m,
        polarization=answer.polarization,
        atmosphere=answer.atmosphere if atmosphere is None else atmosphere,
        surroundings=answer.surroundings,
        deciding_only=True,
    )
