"""The question behind the path: will they hear me, will I hear them, in which mode, how sure, and why."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from pathprofile.errors import StationError
from pathprofile.link.assume import default_number
from pathprofile.link.chance import location_sigma_db
from pathprofile.link.ends import End, SurroundingsName, equip_pair
from pathprofile.link.evaluate import (
    Link,
    ModeRow,
    PathQuestion,
    default_spread,
    evaluate,
    evaluate_modes,
)
from pathprofile.link.fitting import NoFit, common_bands, common_mode
from pathprofile.link.path import PathFacts
from pathprofile.propagation.methods import METHOD_NAMES
from pathprofile.reach import Aim, GroundOptions, Reach, Survey, again, assess, doubtful_places, survey
from pathprofile.station.catalogue import MODES, SURROUNDINGS, band_of, customary_mode, planning_mhz

if TYPE_CHECKING:
    import datetime as dt

    import numpy.typing as npt

    from pathprofile.atmosphere import Atmosphere
    from pathprofile.geodesy import Declination
    from pathprofile.link.chance import Spread
    from pathprofile.places import Location
    from pathprofile.propagation.methods import Surroundings
    from pathprofile.station import Station
    from pathprofile.terrain.store import TerrainStore

__all__ = [
    "MAST_LIMIT_M",
    "Contact",
    "Party",
    "bands_between",
    "contact",
    "customary_mode",
    "mode_for",
    "path_facts",
    "path_over",
    "spread_over",
    "stated_clutter",
    "survey_between",
]

MAST_LIMIT_M = 100.0
"""Highest mast worth naming where nothing is said [m]."""
_ALIKE_WITHIN_M = 1000.0
"""Errors of a map are alike over about this distance (common practice)."""
_TREES_M = 10.0
_WORTH_SAYING_DB = 1.0


@dataclass(frozen=True)
class Party:
    """One side of a contact: who, and where.

    Attributes
    ----------
    station : Station
        Set-ups as stated; none at all means that everything is assumed.
    location : Location
    unstated : {"open", "suburb", "wooded"}
        Surroundings where the set-up states none.
    """

    station: Station
    location: Location
    unstated: SurroundingsName = "suburb"


@dataclass(frozen=True)
class Contact:
    """The whole answer for one pair on one frequency in one mode.

    Attributes
    ----------
    reach : Reach
        The path.
    link : Link
        Both directions.
    modes : tuple of ModeRow
        Every mode on every band that both have.
    doubts : tuple of str
        What the answer hangs on.
    mast_limit_m : float
        Highest mast worth naming.
    to_middle : Aim or None
        Where an end is known by an area, whose typical point has the path.
    """

    you: Party
    them: Party
    reach: Reach
    link: Link
    modes: tuple[ModeRow, ...]
    doubts: tuple[str, ...]
    mast_limit_m: float = MAST_LIMIT_M
    to_middle: Aim | None = None

    @property
    def aim(self) -> Aim:
        """Where to point: at the middle of an area, which a map shows, else along the path."""
        return self.to_middle or self.reach.aim


def path_facts(reach: Reach) -> PathFacts:
    """Reduce a path to what a link needs to know of it."""
    loss = reach.loss
    return PathFacts(
        frequency_mhz=reach.frequency_mhz,
        loss_db=loss.loss_db,
        azimuth_out_deg=reach.from_end.azimuth_deg,
        azimuth_back_deg=reach.to_end.azimuth_deg,
        takeoff_out_deg=reach.sightline.from_takeoff_deg,
        takeoff_back_deg=reach.sightline.to_takeoff_deg,
        in_sight=reach.sightline.in_sight,
        second_opinion_db=loss.second_opinion_db,
        time_losses_db=loss.not_exceeded_db,
        mechanism=loss.mechanism,
        method=METHOD_NAMES[loss.primary],
        second_method=METHOD_NAMES[loss.second_opinion or "itm"],
    )


def contact(
    you: Party,
    them: Party,
    terrain: TerrainStore,
    *,
    date: dt.date,
    frequency_mhz: float,
    mode: str | None = None,
    atmosphere: Atmosphere | None = None,
    surroundings: Surroundings | None = None,
    options: GroundOptions | None = None,
    mast_limit_m: float = MAST_LIMIT_M,
    spread: Spread | None = None,
    path_sigma_db: float | None = None,
    noise_sigma_db: float | None = None,
    with_modes: bool = True,
) -> Contact:
    """Answer for one pair: the path, the link both ways, other modes and bands, and what it hangs on.

    Parameters
    ----------
    you, them : Party
        FROM and TO.
    terrain : TerrainStore
    date : datetime.date
    frequency_mhz : float
        30 to 3000 [MHz].
    mode : str, optional
        A mode of the catalogue; by default the customary one, or the first that both have.
    atmosphere, surroundings, options, mast_limit_m
        As for `pathprofile.reach.reach`.
    spread : Spread, optional
        Standard deviations; by default those of the table of defaults, and location variability where a
        place is uncertain.
    path_sigma_db, noise_sigma_db : float, optional
        One of them in place of its default, 0 to 40 [dB]; not beside ``spread``.
    with_modes : bool
        Whether to fill the table of modes and bands.

    Returns
    -------
    Contact

    Raises
    ------
    StationError
        When a station has nothing for this band and mode, with the reason.
    LocationError, OutOfRangeError, TerrainError, TerrainGapError
        As for `pathprofile.reach.reach`.
    """
    your_end, their_end = _equipped(you, them, frequency_mhz, mode or mode_for(you, them, frequency_mhz))
    found = survey_between(you, them, (your_end, their_end), terrain, date=date, options=options)
    reach = assess(
        found,
        frequency_mhz=frequency_mhz,
        from_antenna_agl_m=your_end.height_m,
        to_antenna_agl_m=their_end.height_m,
        polarization=_linear(your_end.polarization),
        atmosphere=atmosphere,
        surroundings=surroundings,
        mast_limit_m=mast_limit_m,
    )
    reach = replace(reach, warnings=(*reach.warnings, *doubtful_places(reach, terrain)))

    def spread_of(one: End, other: End) -> Spread:
        return spread or spread_over(one, other, reach, path_sigma_db, noise_sigma_db)

    link = evaluate(your_end, their_end, path_facts(reach), spread=spread_of(your_end, their_end))

    def ask_path(question: PathQuestion) -> PathFacts:
        return path_facts(
            assess(
                found,
                frequency_mhz=question.frequency_mhz,
                from_antenna_agl_m=question.from_height_m,
                to_antenna_agl_m=question.to_height_m,
                polarization=_linear(question.polarization),
                atmosphere=atmosphere,
                surroundings=surroundings,
                odds_only=True,
            )
        )

    rows: tuple[ModeRow, ...] = ()
    if with_modes:
        rows = evaluate_modes(
            you.station,
            them.station,
            ask_path,
            bands=bands_between(you, them, frequency_mhz),
            spread=spread_of,
            unstated_surroundings=(you.unstated, them.unstated),
        )
    return Contact(you, them, reach, link, rows, tuple(_doubts(found, reach)), mast_limit_m)


def survey_between(
    you: Party,
    them: Party,
    ends: tuple[End, End],
    terrain: TerrainStore,
    *,
    date: dt.date,
    options: GroundOptions | None = None,
    norths: tuple[Declination, Declination] | None = None,
) -> Survey:
    """Read the ground between two parties; roofs or trees stated round them stand on it.

    Parameters
    ----------
    you, them : Party
        FROM and TO.
    ends : tuple of End
        Both, equipped.
    terrain, date, options, norths
        As for `pathprofile.reach.survey`.

    Returns
    -------
    Survey

    Raises
    ------
    LocationError, OutOfRangeError, TerrainError, TerrainGapError
        As for `pathprofile.reach.survey`.
    """
    options = replace(
        options or GroundOptions(),
        from_clutter_m=stated_clutter(ends[0]),
        to_clutter_m=stated_clutter(ends[1]),
    )
    return survey(you.location, them.location, terrain, date=date, options=options, norths=norths)


def path_over(
    found: Survey,
    your_end: End,
    their_end: End,
    *,
    atmosphere: Atmosphere | None = None,
    surroundings: Surroundings | None = None,
    odds_only: bool = False,
) -> Reach:
    """Path over ground surveyed before, by the deciding methods only.

    Parameters
    ----------
    found : Survey
        From `survey_between`.
    your_end, their_end : End
        On the same frequency and in the same mode.
    atmosphere, surroundings
        As for `contact`.
    odds_only : bool
        Without the obstacles, where nobody asks what stands in the way.

    Returns
    -------
    Reach
        That of `contact` for the same ends, without the methods beside the best estimate and the second
        opinion, and without the look for higher ground near places typed coarsely.

    Raises
    ------
    OutOfRangeError
        As for `pathprofile.reach.assess`.
    """
    return assess(
        found,
        frequency_mhz=your_end.frequency_mhz,
        from_antenna_agl_m=your_end.height_m,
        to_antenna_agl_m=their_end.height_m,
        polarization=_linear(your_end.polarization),
        atmosphere=atmosphere,
        surroundings=surroundings,
        deciding_only=True,
        odds_only=odds_only,
    )


def mode_for(you: Party, them: Party, frequency_mhz: float) -> str:
    """Mode to ask about where none is named; see `pathprofile.link.fitting.common_mode`.

    Raises
    ------
    StationError
        When both have none in common on that band, with what each has.
    """
    found = common_mode(you.station, them.station, frequency_mhz)
    if isinstance(found, NoFit):
        raise StationError(found.reason)
    return found


def _equipped(you: Party, them: Party, frequency_mhz: float, mode: str) -> tuple[End, End]:
    one, other = equip_pair(
        you.station,
        them.station,
        frequency_mhz,
        mode,
        unstated_surroundings=(you.unstated, them.unstated),
    )
    if isinstance(one, End) and isinstance(other, End):
        return one, other
    reason = "; ".join(end.reason for end in (one, other) if isinstance(end, NoFit))
    instead = common_mode(you.station, them.station, frequency_mhz)
    if isinstance(instead, str):
        reason += f"; both have {MODES[instead].label} there: give --mode {instead}"
    raise StationError(reason)


def bands_between(you: Party, them: Party, frequency_mhz: float) -> list[str | float]:
    """Bands of both, from the lowest; the frequency asked about [MHz] stands for its own band."""
    band = band_of(frequency_mhz)
    others: list[str | float] = [each for each in common_bands(you.station, them.station) if each != band]
    return sorted([frequency_mhz, *others], key=lambda each: planning_mhz(band_of(each)))


def _linear(polarization: str) -> str:
    """Loss methods know two polarizations; slant and circular waves are half of each."""
    return "horizontal" if polarization == "horizontal" else "vertical"


def stated_clutter(end: End) -> float:
    """Roofs or trees round an end count only where they were stated, not where they are assumed."""
    assumed = any(item.what == "surroundings" for item in end.assumed)
    return 0.0 if assumed else SURROUNDINGS[end.surroundings].clutter_m


def spread_over(
    your_end: End,
    their_end: End,
    reach: Reach,
    path_sigma_db: float | None = None,
    noise_sigma_db: float | None = None,
) -> Spread:
    """Spread of a link; location variability only where a place is known no better than a terrain cell."""
    sigma_db = max(
        (
            location_sigma_db(your_end.frequency_mhz, 2.0 * end.location.uncertainty_m)
            for end in (reach.from_end, reach.to_end)
            if end.location.uncertainty_m > reach.profile.cell_m
        ),
        default=0.0,
    )
    spread = default_spread(your_end, their_end, sigma_db)
    if path_sigma_db is not None:
        spread = replace(spread, path_db=path_sigma_db)
    if noise_sigma_db is not None:
        spread = replace(spread, noise_out_db=noise_sigma_db, noise_back_db=noise_sigma_db)
    return spread


def _how_far(distance_m: float) -> str:
    return f"{distance_m:.0f} m" if distance_m < 1000.0 else f"{distance_m / 1000:.0f} km"


def _doubts(found: Survey, reach: Reach) -> list[str]:
    """Where the answer could be fooled: trees on the deciding obstacle, and the error of the map."""
    texts = []
    main = reach.obstacles.main
    smooth = reach.obstacles.smooth_reason is not None  # sea or plain: no ridge, and no trees on one
    if main is not None and not smooth and reach.sightline.minimum_fresnel_ratio < 1.0:
        taller = _raised(found, reach, np.where(_on(found, main.start_m, main.stop_m), _TREES_M, 0.0))
        cost_db = taller.loss.loss_db - reach.loss.loss_db
        if cost_db >= _WORTH_SAYING_DB:
            count = reach.obstacles.found
            texts.append(
                f"This hangs on {'one ridge' if count == 1 else f'the highest of {count} ridges'} at "
                f"{_how_far(main.distance_m)}; {_TREES_M:.0f} m of trees there cost {cost_db:.0f} dB."
            )
    if reach.two_ray is not None and reach.mirror is not None:
        best_db, worst_db = -reach.two_ray.crest_db, reach.two_ray.trough_db
        worst = f"{worst_db:.0f} dB less" if worst_db < 40.0 else "more than 40 dB less"
        texts.append(
            f"{'Water' if reach.mirror.water else 'Level ground'} at {_how_far(reach.mirror.distance_m)} "
            f"may mirror the wave: up to {best_db:.0f} dB more or {worst}; the mast a metre or two up or "
            "down finds out. This is not in the figures above."
        )
    error_m = _map_error_m(found.cluttered.distance_m)
    higher, lower = (_raised(found, reach, sign * error_m) for sign in (1.0, -1.0))
    cost_db = higher.loss.loss_db - reach.loss.loss_db
    gain_db = reach.loss.loss_db - lower.loss.loss_db
    if max(abs(cost_db), abs(gain_db)) >= _WORTH_SAYING_DB:
        texts.append(
            f"If the map is {default_number('map error'):.0f} m too low between the ends the path is "
            f"{cost_db:.0f} dB worse, if too high {gain_db:.0f} dB better."
        )
    return [*_at_the_feet(reach), *texts]


def _at_the_feet(reach: Reach) -> list[str]:
    """Say when an answer hangs on ground that no map of this grain can show."""
    ground = reach.survey.cluttered.ground_m
    last = ground.size - 1
    texts = []
    for end, horizon_m, foot, do in (
        (reach.from_end, reach.sightline.from_horizon_m, 0, "step onto it, or raise the mast"),
        (reach.to_end, reach.sightline.to_horizon_m, last, "ask them to step onto it, or to raise the mast"),
    ):
        if reach.sightline.in_sight or horizon_m > reach.profile.cell_m:
            continue
        at_m = horizon_m if foot == 0 else reach.leg.distance_m - horizon_m
        top_m = float(np.interp(at_m, reach.survey.cluttered.distance_m, ground))
        what = "A rise of ground" if top_m > ground[foot] else "The edge of the ground"
        texts.append(
            f"{what} {horizon_m:.0f} m from {end.location.label or end.location.text} cuts off what lies "
            f"beyond: {do}; a few steps may change everything. The map's cells are "
            f"{reach.profile.cell_m:.0f} m, so go and look first."
        )
    return texts


def _map_error_m(distance_m: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Height error of the map against that at the ends, which share it with the ground beside them."""
    to_m = distance_m[-1] - distance_m
    apart: npt.NDArray[np.float64] = (1.0 - np.exp(-distance_m / _ALIKE_WITHIN_M)) * (
        1.0 - np.exp(-to_m / _ALIKE_WITHIN_M)
    )
    return default_number("map error") * apart


def _on(found: Survey, start_m: float, stop_m: float) -> npt.NDArray[np.bool_]:
    """Points of an obstacle: its run, and at least the nearest point."""
    distance_m = found.cluttered.distance_m
    inside = (distance_m >= start_m) & (distance_m <= stop_m)
    inside[int(np.argmin(np.abs(distance_m - 0.5 * (start_m + stop_m))))] = True
    return inside


def _raised(found: Survey, reach: Reach, more_m: npt.NDArray[np.float64]) -> Reach:
    """Ask the same question over ground raised between the ends."""
    more_m = more_m.copy()
    more_m[0] = more_m[-1] = 0.0
    raised = found.cluttered._replace(ground_m=found.cluttered.ground_m + more_m)
    return again(reach, found=replace(found, cluttered=raised))
