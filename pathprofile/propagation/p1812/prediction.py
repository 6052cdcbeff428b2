"""What a caller sees of ITU-R P.1812-8: one call for one path, or a path once and many questions of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np

from pathprofile.atmosphere import Atmosphere
from pathprofile.errors import OutOfRangeError
from pathprofile.propagation import _checks
from pathprofile.propagation.p1812 import geometry as _geometry
from pathprofile.propagation.p1812.loss import PathLosses, losses_from
from pathprofile.propagation.p1812.path import PathGeometry, Terminals

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy.typing as npt

__all__ = ["GRAZING_LOSS_DB", "Mechanism", "Prediction", "path_geometry", "predict", "predict_from"]

Mechanism = Literal["sight", "diffraction", "troposcatter", "ducting"]

GRAZING_LOSS_DB = 6.0
"""Loss over a knife edge that just touches the sight line, J(0) (P.526-16 §4.1)."""

_METHOD = "P.1812"
_PATH_STEPS = (
    "d_km",
    "d_lt_km",
    "d_lr_km",
    "theta_t_mrad",
    "theta_r_mrad",
    "theta_mrad",
    "sea_fraction",
    "d_tm_km",
    "d_lm_km",
    "a_e_km",
    "h_st_m",
    "h_sr_m",
    "h_std_m",
    "h_srd_m",
    "h_te_m",
    "h_re_m",
    "h_m_m",
)


@dataclass(frozen=True)
class Prediction:
    """Basic transmission loss of one path, not exceeded for a share of the year, and where it comes from.

    Attributes
    ----------
    loss_db : float
        Basic transmission loss L_b [dB].
    field_strength_dbuvm : float
        Field strength for 1 kW e.r.p. [dB(µV/m)].
    time_percent : float
        Share of an average year for which the loss is not exceeded [%].
    free_space_db : float
        Free-space loss L_bfs [dB].
    diffraction_db : float
        Loss by line of sight and diffraction alone, L_bd [dB].
    troposcatter_db : float
        Loss by scatter in the troposphere alone, L_bs [dB].
    ducting_db : float
        Loss by ducting and layer reflection alone, L_ba [dB].
    loss_without_troposcatter_db : float
        L_b with the scattered signal left out [dB].
    trans_horizon : bool
        Whether bare ground hides the antennas from each other over the median Earth.
    tx_horizon_m, rx_horizon_m : float
        Distance of each antenna from its radio horizon, or in line of sight from the point nearest to
        blocking it [m].
    mechanism : str
        What the loss is made of: ``"sight"``, ``"diffraction"``, ``"troposcatter"`` or ``"ducting"``.
    steps : mapping of str to float
        Every intermediate value as the published validation figures record it, under its symbol in the
        Recommendation, unit in the name where it is not dB.

    Notes
    -----
    The mechanism is, in this order:

    - *troposcatter* when the scattered signal alone is stronger than all the rest, L_bs < L_bam;
    - *ducting* when the ducted signal is stronger than the diffracted one, L_minbap < L_bd, and has more than
      half the weight in L_bam, (1 − F_j)(1 − F_k) > ½;
    - *sight* when ground and clutter cost less than a knife edge that touches the sight line, L_dp < 6 dB,
      and the median path is not trans-horizon;
    - *diffraction* otherwise.

    Two conventions of the published figures show in ``steps``: ``L_bulla``, ``L_bulls`` and ``L_dsph`` belong
    to the radius a_β, as their names say; and where ducting undercuts diffraction, L_minbap ≤ L_bd, ``L_bd``
    repeats ``L_bda``. ``diffraction_db`` is L_bd by eqs 40 to 43 always.
    """

    loss_db: float
    field_strength_dbuvm: float
    time_percent: float
    free_space_db: float
    diffraction_db: float
    troposcatter_db: float
    ducting_db: float
    loss_without_troposcatter_db: float
    trans_horizon: bool
    tx_horizon_m: float
    rx_horizon_m: float
    mechanism: Mechanism
    steps: Mapping[str, float] = field(repr=False, hash=False)


def predict(
    distance_km: npt.ArrayLike,
    ground_m: npt.ArrayLike,
    clutter_m: npt.ArrayLike,
    zone: npt.ArrayLike,
    *,
    frequency_ghz: float,
    time_percent: float,
    tx_antenna_agl_m: float,
    rx_antenna_agl_m: float,
    polarization: str,
    path_centre_latitude_deg: float,
    delta_n: float,
    n0: float,
    tx_coast_km: float = 500.0,
    rx_coast_km: float = 500.0,
    location_percent: float = 50.0,
    location_sigma_db: float = 0.0,
) -> Prediction:
    """Predict the basic transmission loss of one path by ITU-R P.1812-8.

    Parameters
    ----------
    distance_km : array_like, shape (n,)
        Distances of the profile points, from 0 and increasing, n ≥ 5 [km].
    ground_m : array_like, shape (n,)
        Bare ground above sea level [m].
    clutter_m : array_like, shape (n,)
        Height of what stands on the ground [m]; not used at the two ends.
    zone : array_like of int, shape (n,)
        Radio-climatic zone: 1 sea, 3 coastal land, 4 inland.
    frequency_ghz : float
        Frequency, 0.03 to 6 [GHz].
    time_percent : float
        Share of an average year for which the loss is not exceeded, 1 to 50 [%].
    tx_antenna_agl_m, rx_antenna_agl_m : float
        Antennas above the ground, up to 3000 [m].
    polarization : {"horizontal", "vertical"}
        Polarization.
    path_centre_latitude_deg : float
        Latitude half-way along the path [°].
    delta_n : float
        Refractivity lapse in the lowest 1 km, positive [N/km].
    n0 : float
        Surface refractivity reduced to sea level [N-units].
    tx_coast_km, rx_coast_km : float
        Land between each end and the coast along the path; 500 inland, 0 at sea [km].
    location_percent : float
        Share of the places round the receiver for which the loss is not exceeded, 1 to 99 [%].
    location_sigma_db : float
        Standard deviation of the loss among those places [dB]; not applied where the receiver is at sea.

    Returns
    -------
    Prediction
        Loss, field strength and every step.

    Raises
    ------
    OutOfRangeError
        If the profile is unordered, too short or not finite, or a number is outside its range.

    Notes
    -----
    **Validity**: 30 MHz to 6 GHz, 1 % to 50 % of the time, paths of 0.25 to 3000 km; it refuses others.
    Antennas lower than 1 m above the ground are computed, down to 0.01 m, but are outside its validity.

    Clutter beside an antenna acts as a wall one profile point away: leave a stated clear distance round the
    ends.

    References
    ----------
    .. [1] ITU-R P.1812-8 (09/2025).
    """
    path = path_geometry(
        distance_km,
        ground_m,
        clutter_m,
        zone,
        tx_antenna_agl_m=tx_antenna_agl_m,
        rx_antenna_agl_m=rx_antenna_agl_m,
        path_centre_latitude_deg=path_centre_latitude_deg,
        delta_n=delta_n,
        tx_coast_km=tx_coast_km,
        rx_coast_km=rx_coast_km,
    )
    return predict_from(
        path,
        frequency_ghz=frequency_ghz,
        time_percent=time_percent,
        polarization=polarization,
        n0=n0,
        location_percent=location_percent,
        location_sigma_db=location_sigma_db,
    )


def path_geometry(
    distance_km: npt.ArrayLike,
    ground_m: npt.ArrayLike,
    clutter_m: npt.ArrayLike,
    zone: npt.ArrayLike,
    *,
    tx_antenna_agl_m: float,
    rx_antenna_agl_m: float,
    path_centre_latitude_deg: float,
    delta_n: float,
    tx_coast_km: float = 500.0,
    rx_coast_km: float = 500.0,
) -> PathGeometry:
    """Reduce a profile once, for any number of :func:`predict_from`.

    Parameters, errors and validity are those of :func:`predict`.
    """
    distance, ground, clutter = _checks.profile(_METHOD, distance_km, ground_m=ground_m, clutter_m=clutter_m)
    zones = _zones(zone, distance.size)
    ends = Terminals(
        d_km=_checks.number(_METHOD, "path length", float(distance[-1]), 0.25, 3000.0, "km"),
        tx_ground_m=float(ground[0]),
        rx_ground_m=float(ground[-1]),
        tx_agl_m=_checks.number(_METHOD, "tx_antenna_agl_m", tx_antenna_agl_m, 0.01, 3000.0, "m"),
        rx_agl_m=_checks.number(_METHOD, "rx_antenna_agl_m", rx_antenna_agl_m, 0.01, 3000.0, "m"),
        a_e_km=Atmosphere(
            _checks.number(_METHOD, "delta_n", delta_n, -200.0, 156.0, "N/km")
        ).effective_radius_m
        / 1000.0,
        d_ct_km=_checks.number(_METHOD, "tx_coast_km", tx_coast_km, 0.0, 1e5, "km"),
        d_cr_km=_checks.number(_METHOD, "rx_coast_km", rx_coast_km, 0.0, 1e5, "km"),
        latitude_deg=_checks.number(
            _METHOD, "path_centre_latitude_deg", path_centre_latitude_deg, -90.0, 90.0, "degrees"
        ),
        rx_at_sea=int(zones[-1]) == _geometry.SEA,
    )
    return _geometry.reduce_profile(distance, ground, clutter, zones, ends)


def predict_from(
    path: PathGeometry,
    *,
    frequency_ghz: float,
    time_percent: float,
    polarization: str,
    n0: float,
    location_percent: float = 50.0,
    location_sigma_db: float = 0.0,
) -> Prediction:
    """Predict the basic transmission loss of a path already reduced by :func:`path_geometry`.

    Parameters, errors and validity are those of :func:`predict`.
    """
    losses = losses_from(
        path,
        _checks.number(_METHOD, "frequency_ghz", frequency_ghz, 0.03, 6.0, "GHz"),
        _checks.number(_METHOD, "time_percent", time_percent, 1.0, 50.0, "%"),
        _checks.number(_METHOD, "n0", n0, 200.0, 500.0, "N-units"),
        _checks.is_vertical(_METHOD, polarization),
        _checks.number(_METHOD, "location_percent", location_percent, 1.0, 99.0, "%"),
        _checks.number(_METHOD, "location_sigma_db", location_sigma_db, 0.0, 100.0, "dB"),
    )
    return Prediction(
        loss_db=losses.L_b,
        field_strength_dbuvm=losses.E_1kw_dbuvm,
        time_percent=float(time_percent),
        free_space_db=losses.L_bfs,
        diffraction_db=losses.L_bd,
        troposcatter_db=losses.L_bs,
        ducting_db=losses.L_ba,
        loss_without_troposcatter_db=losses.L_b_without_troposcatter,
        trans_horizon=path.trans_horizon,
        tx_horizon_m=1000.0 * path.d_lt_km,
        rx_horizon_m=1000.0 * path.d_lr_km,
        mechanism=_mechanism(path, losses),
        steps=_steps(path, losses),
    )


def _mechanism(path: PathGeometry, losses: PathLosses) -> Mechanism:
    if losses.L_bs < losses.L_bam:
        return "troposcatter"
    if losses.L_minbap < losses.L_bd and (1.0 - losses.F_j) * (1.0 - losses.F_k) > 0.5:
        return "ducting"
    if losses.L_dp < GRAZING_LOSS_DB and not path.trans_horizon:
        return "sight"
    return "diffraction"


def _steps(path: PathGeometry, losses: PathLosses) -> dict[str, float]:
    steps = losses._asdict()
    del steps["L_b_without_troposcatter"]
    if losses.L_minbap <= losses.L_bd:
        # the published figures hold L_bda under this name too; eqs 40 to 43 give Prediction.diffraction_db
        steps["L_bd"] = losses.L_bda
    for name in _PATH_STEPS:
        steps[name] = getattr(path, name)
    return steps


def _zones(zone: npt.ArrayLike, points: int) -> npt.NDArray[np.integer]:
    codes = np.asarray(zone)
    if codes.shape != (points,):
        raise OutOfRangeError(
            f"{_METHOD}: zone of shape {codes.shape} for {points} points: give one code a point"
        )
    known = (codes == _geometry.INLAND) | (codes == _geometry.SEA) | (codes == _geometry.COAST)
    if not known.all():
        raise OutOfRangeError(
            f"{_METHOD}: zone {codes[~known][0].item()!r}: give 1 (sea), 3 (coastal land) or 4 (inland)"
        )
    return codes
