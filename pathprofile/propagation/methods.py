"""All published methods on one profile: the best estimate, the second opinion, and why they part."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, Literal

from pathprofile.errors import OutOfRangeError
from pathprofile.ground.spacing import equally_spaced
from pathprofile.propagation import bullington, delta_bullington, edges, free_space, itm, knife_edge, p1812
from pathprofile.propagation import spherical_earth as smooth_sphere
from pathprofile.sightline import fresnel_radius_m

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    import numpy as np
    import numpy.typing as npt

    from pathprofile.atmosphere import Atmosphere
    from pathprofile.ground.clutter import ClutteredProfile
    from pathprofile.ground.obstacles import Obstacles
    from pathprofile.ground.zones import Zones

    Floats = npt.NDArray[np.float64]

__all__ = ["METHOD_NAMES", "PathLoss", "Surroundings", "all_methods"]

Mechanism = Literal["sight", "diffraction", "troposcatter", "ducting"]

METHOD_NAMES: Mapping[str, str] = {
    "p1812": "ITU-R P.1812-8",
    "itm": "Irregular Terrain Model",
    "free_space": "free space (P.525)",
    "delta_bullington": "delta-Bullington (P.526)",
    "bullington": "Bullington",
    "spherical_earth": "smooth spherical Earth (P.526)",
    "single_edge": "main obstacle as one knife edge",
    "rounded_obstacle": "main obstacle, rounded (P.526)",
    "epstein_peterson": "Epstein-Peterson",
    "deygout": "Deygout",
    "giovanelli": "Giovanelli",
    "exact_edges": "exact, obstacles as knife edges",
}
"""Every method by its key, in the order in which they are listed."""

EDGE_METHODS = ("single_edge", "rounded_obstacle", "epstein_peterson", "deygout", "giovanelli", "exact_edges")
_IN_RANGE = (
    "p1812",
    "itm",
    "delta_bullington",
    "bullington",
    "epstein_peterson",
    "deygout",
    "giovanelli",
    "exact_edges",
)
_ROUND_TO_SHARE = 0.1
_SCATTER_UNDERCUTS_DB = 6.0
_SCATTER_DOUBTED_WITHIN_M = 100_000.0
_PART_DB = 15.0
_YEAR_SHARES = (1.0, 10.0, 50.0)
_ITM_SHARES = (10.0, 50.0, 90.0)


@dataclass(frozen=True)
class Surroundings:
    """Ground constants and climate, where a method asks for them.

    Attributes
    ----------
    relative_permittivity, conductivity_s_per_m : float
        Average ground (NTIA Report 82-100, customary default, from memory).
    climate : int
        Radio climate of the Irregular Terrain Model; 5 is continental temperate (same source).
    """

    relative_permittivity: float = 15.0
    conductivity_s_per_m: float = 0.005
    climate: int = 5


@dataclass(frozen=True)
class PathLoss:
    """Basic transmission loss of one path by every method that answers.

    Attributes
    ----------
    primary : str
        Key in ``methods`` of the best estimate.
    loss_db, free_space_db : float
        Median loss of the best estimate, and of free space over the same distance.
    mechanism : {"sight", "diffraction", "troposcatter", "ducting"}
        What controls the best estimate.
    methods : mapping of str to float
        Median basic transmission loss by method [dB].
    abstained : mapping of str to str
        Methods that gave no figure, with the reason.
    second_opinion : str or None
        Key in ``methods`` of the independent model that the best estimate is held against.
    not_exceeded_db : mapping of float to float
        Share of an average year [%] to the loss not exceeded for it [dB]; above 50 %, where P.1812 ends, its
        median with the spread of the second opinion.
    second_opinion_not_exceeded_db : mapping of float to float
        The same of the second opinion itself.
    without_troposcatter_db : float or None
        Best estimate with the scattered signal left out.
    second_opinion_k : float or None
        The k factor that the second opinion derives for itself.
    second_opinion_cautions : tuple of str
        What the second opinion itself says against its figure.
    remarks : tuple of str
        Sentences for the user: why methods part, what to mistrust.
    """

    primary: str
    loss_db: float
    free_space_db: float
    mechanism: Mechanism
    methods: Mapping[str, float]
    abstained: Mapping[str, str]
    second_opinion: str | None = None
    not_exceeded_db: Mapping[float, float] = field(default_factory=dict)
    second_opinion_not_exceeded_db: Mapping[float, float] = field(default_factory=dict)
    without_troposcatter_db: float | None = None
    second_opinion_k: float | None = None
    second_opinion_cautions: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()

    @property
    def second_opinion_db(self) -> float | None:
        """Loss by the second opinion [dB]."""
        return None if self.second_opinion is None else self.methods[self.second_opinion]

    @property
    def range_db(self) -> tuple[float, float]:
        """Least and greatest loss by the methods that see this terrain as it is [dB]."""
        serious = [self.methods[name] for name in _IN_RANGE if name in self.methods] or [self.loss_db]
        return min(serious), max(serious)

    @property
    def disagreement_db(self) -> float | None:
        """How far the second opinion is from the best estimate [dB]."""
        other = self.second_opinion_db
        return None if other is None else abs(other - self.loss_db)


class _Answers:
    """Figures and abstentions as they come in."""

    def __init__(self) -> None:
        self.methods: dict[str, float] = {}
        self.abstained: dict[str, str] = {}

    def ask(self, name: str, method: Callable[[], float], over_db: float = 0.0) -> None:
        """Ask one method; diffraction losses come over free space."""
        try:
            self.methods[name] = over_db + method()
        except OutOfRangeError as error:
            self.abstained[name] = str(error)


def all_methods(
    profile: ClutteredProfile,
    obstacles: Obstacles,
    zones: Zones,
    *,
    frequency_mhz: float,
    from_antenna_agl_m: float,
    to_antenna_agl_m: float,
    polarization: str,
    atmosphere: Atmosphere,
    latitude_deg: float,
    surroundings: Surroundings,
    deciding_only: bool = False,
) -> PathLoss:
    """Loss by every method, the best estimate named.

    Parameters
    ----------
    profile : ClutteredProfile
        Ground with what stands on it.
    obstacles : Obstacles
        The same profile as obstacles, for the knife-edge methods.
    zones : Zones
        Sea, coast and inland along the profile.
    frequency_mhz : float
        [MHz]
    from_antenna_agl_m, to_antenna_agl_m : float
        [m]
    polarization : {"vertical", "horizontal"}
    atmosphere : Atmosphere
        Feeds P.1812 and the diffraction family. The Irregular Terrain Model takes ``n0`` from it and derives
        its own k, which is stated.
    latitude_deg : float
        Of the middle of the path [°].
    surroundings : Surroundings
    deciding_only : bool
        Leave out what neither the best estimate nor the second opinion needs.

    Returns
    -------
    PathLoss
        P.1812 is the best estimate; where it abstains (paths under 250 m), Bullington.

    Raises
    ------
    OutOfRangeError
        If neither P.1812 nor Bullington answers.

    Notes
    -----
    The edge methods see clutter and single obstacles as height on the profile; the Irregular Terrain Model
    sees the bare ground alone. Knife-edge figures are diffraction over free space.

    References
    ----------
    .. [1] ITU-R P.1812-8; P.526-16; P.525-4; NTIA Report 82-100.
    """
    answers = _Answers()
    radius_m = atmosphere.effective_radius_m
    whole_m = float(profile.distance_m[-1])
    top_m = profile.ground_m + profile.clutter_m
    from_amsl_m = float(top_m[0]) + from_antenna_agl_m
    to_amsl_m = float(top_m[-1]) + to_antenna_agl_m
    free_db = free_space.loss_db(whole_m, frequency_mhz)
    answers.methods["free_space"] = free_db

    estimate: list[p1812.Prediction] = []
    years: dict[float, float] = {}
    other_years: dict[float, float] = {}

    def best() -> float:
        path = p1812.path_geometry(
            profile.distance_m / 1000.0,
            profile.ground_m,
            profile.clutter_m,
            zones.zone,
            tx_antenna_agl_m=from_antenna_agl_m,
            rx_antenna_agl_m=to_antenna_agl_m,
            path_centre_latitude_deg=latitude_deg,
            delta_n=atmosphere.delta_n,
            tx_coast_km=zones.from_coast_km,
            rx_coast_km=zones.to_coast_km,
        )
        for share in _YEAR_SHARES:
            found = p1812.predict_from(
                path,
                frequency_ghz=frequency_mhz / 1000.0,
                time_percent=share,
                polarization=polarization,
                n0=atmosphere.n0,
            )
            years[share] = found.loss_db
        estimate.append(found)  # the last share is the median
        land_and_sea = (
            frequency_mhz / 1000.0,
            polarization == "vertical",
            smooth_sphere.LAND_PERMITTIVITY,
            smooth_sphere.LAND_CONDUCTIVITY_S_PER_M,
            path.sea_fraction,
        )
        terrain = delta_bullington.loss_from(path.median, *land_and_sea)
        sphere_db = smooth_sphere.loss_from(
            path.d_km,
            path.h_ts_m - path.h_std_m,
            path.h_rs_m - path.h_srd_m,
            path.a_e_km,
            *land_and_sea,
        )
        answers.methods["delta_bullington"] = free_db + terrain.loss_db
        answers.methods["spherical_earth"] = free_db + sphere_db
        return found.loss_db

    answers.ask("p1812", best)
    answers.ask(
        "bullington",
        lambda: bullington.loss_db(
            profile.distance_m,
            top_m,
            frequency_mhz=frequency_mhz,
            from_antenna_amsl_m=from_amsl_m,
            to_antenna_amsl_m=to_amsl_m,
            effective_radius_m=radius_m,
        ),
        free_db,
    )
    if not deciding_only:
        _ask_edges(answers, profile, obstacles, frequency_mhz)
    terrain_model = _ask_itm(
        answers,
        profile.distance_m,
        profile.ground_m,
        years,
        other_years,
        frequency_mhz=frequency_mhz,
        from_antenna_agl_m=from_antenna_agl_m,
        to_antenna_agl_m=to_antenna_agl_m,
        polarization=polarization,
        n0=atmosphere.n0,
        surroundings=surroundings,
    )

    primary = "p1812" if "p1812" in answers.methods else "bullington"
    if primary not in answers.methods:
        raise OutOfRangeError(answers.abstained[primary])
    loss_db = answers.methods[primary]
    mechanism: Mechanism
    if estimate:
        mechanism = estimate[0].mechanism
        without_db = estimate[0].loss_without_troposcatter_db
    else:
        mechanism = "sight" if loss_db - free_db < p1812.GRAZING_LOSS_DB else "diffraction"
        without_db = None
    ordered = {name: answers.methods[name] for name in METHOD_NAMES if name in answers.methods}
    return PathLoss(
        primary=primary,
        loss_db=loss_db,
        free_space_db=free_db,
        mechanism=mechanism,
        methods=ordered,
        abstained=answers.abstained,
        second_opinion="itm" if "itm" in ordered else None,
        not_exceeded_db=dict(sorted(years.items())),
        second_opinion_not_exceeded_db=other_years,
        without_troposcatter_db=without_db,
        second_opinion_k=terrain_model.k_factor if terrain_model else None,
        second_opinion_cautions=terrain_model.cautions if terrain_model else (),
        remarks=_remarks(loss_db, without_db, whole_m, terrain_model, obstacles),
    )


def _ask_edges(
    answers: _Answers, profile: ClutteredProfile, obstacles: Obstacles, frequency_mhz: float
) -> None:
    whole_m = float(profile.distance_m[-1])
    free_db = answers.methods["free_space"]
    if obstacles.smooth_reason is not None:
        answers.abstained |= dict.fromkeys(EDGE_METHODS, obstacles.smooth_reason)
        return
    main = obstacles.main
    if main is None:
        answers.methods |= dict.fromkeys(EDGE_METHODS, free_db)
        return
    answers.ask("single_edge", lambda: knife_edge.single_edge_loss_db(main.nu), free_db)
    rough = _roughness(profile, obstacles, frequency_mhz)
    if rough > _ROUND_TO_SHARE:
        answers.abstained["rounded_obstacle"] = (
            f"rounded obstacle: no cylinder, its ground departs {rough:.1f} first Fresnel radii from an arc"
        )
    else:
        answers.ask(
            "rounded_obstacle",
            lambda: knife_edge.rounded_obstacle_loss_db(
                -main.clearance_m, main.distance_m, whole_m - main.distance_m, main.radius_m, frequency_mhz
            ),
            free_db,
        )
    _ask_family(answers, obstacles, frequency_mhz)


def _roughness(profile: ClutteredProfile, obstacles: Obstacles, frequency_mhz: float) -> float:
    """Largest departure of the main obstacle's ground from its arc, in first Fresnel radii there."""
    main = obstacles.main
    if main is None or main.radius_m <= 0.0:
        return 0.0
    inside = (profile.distance_m >= main.start_m) & (profile.distance_m <= main.stop_m)
    distance_m = profile.distance_m[inside]
    if distance_m.size < 3:
        return 0.0
    ends_m = profile.distance_m[-1] - distance_m
    flat_m = profile.ground_m[inside] + profile.clutter_m[inside]
    flat_m = flat_m + distance_m * ends_m / (2.0 * obstacles.effective_radius_m)
    along = distance_m - distance_m[0]
    whole = float(along[-1])
    chord_m = flat_m[0] + (flat_m[-1] - flat_m[0]) * along / whole
    arc_m = chord_m + along * (whole - along) / (2.0 * main.radius_m)
    radius_m = fresnel_radius_m(profile.distance_m, frequency_mhz)[inside]
    return float((abs(flat_m - arc_m) / radius_m.clip(1e-3)).max())


def _ask_family(answers: _Answers, obstacles: Obstacles, frequency_mhz: float) -> None:
    free_db = answers.methods["free_space"]
    distance_m, height_m = obstacles.edges()
    family: dict[str, Callable[[npt.ArrayLike, npt.ArrayLike, float], float]] = {
        "epstein_peterson": edges.epstein_peterson_loss_db,
        "deygout": edges.deygout_loss_db,
        "giovanelli": edges.giovanelli_loss_db,
        "exact_edges": knife_edge.exact_loss_db,
    }
    for name, method in family.items():
        answers.ask(name, partial(method, distance_m, height_m, frequency_mhz), free_db)


def _ask_itm(
    answers: _Answers,
    distance_m: Floats,
    ground_m: Floats,
    years: dict[float, float],
    other_years: dict[float, float],
    *,
    frequency_mhz: float,
    from_antenna_agl_m: float,
    to_antenna_agl_m: float,
    polarization: str,
    n0: float,
    surroundings: Surroundings,
) -> itm.Prediction | None:
    """Second opinion; its spread above the median continues P.1812's, which ends at 50 % of the time."""
    try:
        spacing_m, even_ground_m = equally_spaced(distance_m, ground_m)
        prepared = itm.prepare(
            spacing_m,
            even_ground_m,
            frequency_mhz=frequency_mhz,
            tx_antenna_agl_m=from_antenna_agl_m,
            rx_antenna_agl_m=to_antenna_agl_m,
            n0=n0,
            polarization="vertical" if polarization == "vertical" else "horizontal",
            climate=surroundings.climate,
            relative_permittivity=surroundings.relative_permittivity,
            conductivity_s_per_m=surroundings.conductivity_s_per_m,
        )
    except OutOfRangeError as error:
        answers.abstained["itm"] = str(error)
        return None
    spread = {
        share: itm.predict_from(
            prepared, time_percent=share, location_percent=50.0, situation_percent=50.0, variability_mode=3
        )
        for share in _ITM_SHARES
    }
    median = spread[50.0]
    answers.methods["itm"] = median.loss_db
    other_years |= {share: found.loss_db for share, found in spread.items()}
    if 50.0 in years:
        years[90.0] = years[50.0] + spread[90.0].loss_db - median.loss_db
    return median


def _remarks(
    loss_db: float,
    without_db: float | None,
    whole_m: float,
    terrain_model: itm.Prediction | None,
    obstacles: Obstacles,
) -> tuple[str, ...]:
    found = []
    if (
        without_db is not None
        and without_db - loss_db > _SCATTER_UNDERCUTS_DB
        and whole_m < _SCATTER_DOUBTED_WITHIN_M
    ):
        found.append(
            f"Troposcatter rules although the path is only {whole_m / 1000:.0f} km long; the standard is "
            f"optimistic there. Without it the loss is {without_db:.0f} dB instead of {loss_db:.0f} dB."
        )
    if terrain_model is not None and abs(terrain_model.loss_db - loss_db) > _PART_DB:
        other = "less" if terrain_model.loss_db < loss_db else "more"
        blocked = any(obstacle.clearance_m < 0.0 for obstacle in obstacles.kept)
        reason = ""
        if terrain_model.mode == "line of sight" and blocked:
            reason = (
                " It takes the path as in sight by its smoothed heights, though ground stands in the line."
            )
        elif terrain_model.mode == "troposcatter" or (without_db is not None and without_db - loss_db > 3.0):
            reason = " One of them takes the path as scatter in the air, the other does not."
        elif blocked and len(obstacles.kept) <= 2:
            reason = " A lone ridge is where the two part most: one sees an edge, the other a rounded Earth."
        found.append(
            f"The methods part: the second opinion is {abs(terrain_model.loss_db - loss_db):.0f} dB {other}."
            f"{reason} Take the figure as a guess until somebody has tried the path."
        )
    return tuple(found)
