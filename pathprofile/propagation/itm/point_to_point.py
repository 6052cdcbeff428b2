"""Point-to-point prediction by the Irregular Terrain Model: checks, results and cautions."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from pathprofile.errors import OutOfRangeError
from pathprofile.propagation.itm.attenuation import (
    DIFFRACTION,
    LINE_OF_SIGHT,
    TROPOSCATTER,
    Radio,
    conducts_too_well,
    free_space_loss,
    reference_attenuation,
)
from pathprofile.propagation.itm.path_geometry import EARTH_CURVATURE_PER_M, PathGeometry, path_geometry
from pathprofile.propagation.itm.variability import (
    CLIMATE_NAMES,
    CLIMATES,
    VARIABILITY_MODES,
    Climate,
    Deviates,
    attenuation_not_exceeded,
    normal_deviate,
    used_deviates,
)

if TYPE_CHECKING:
    import numpy.typing as npt

__all__ = ["Prediction", "PreparedPath", "predict", "predict_from", "prepare", "radio_constants"]

Polarization = Literal["horizontal", "vertical"]

MODE_NAMES: Final = {
    LINE_OF_SIGHT: "line of sight",
    DIFFRACTION: "diffraction",
    TROPOSCATTER: "troposcatter",
}


@dataclass(frozen=True, slots=True)
class PreparedPath:
    """One path at one frequency: all but the percentages, so that many of them cost little.

    Attributes
    ----------
    geometry : PathGeometry
        What the profile was reduced to.
    radio : Radio
        Frequency and ground constants.
    climate : Climate
        Variability in time.
    reference_attenuation_db : float
        Median attenuation over free space before any variability [dB].
    mode : str
        The formula used: ``"line of sight"``, ``"diffraction"`` or ``"troposcatter"``.
    cautions : tuple of str
        Plain sentences about inputs outside the range where the model is trusted.
    """

    geometry: PathGeometry
    radio: Radio
    climate: Climate
    reference_attenuation_db: float
    mode: str
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Prediction:
    """Basic transmission loss of one path, and the steps that led to it.

    Attributes
    ----------
    loss_db : float
        Basic transmission loss not exceeded for the given percentages [dB].
    mode : str
        The formula used: ``"line of sight"``, ``"diffraction"`` or ``"troposcatter"``. An obstructed path
        that is shorter than its smooth-earth horizons is computed as line of sight.
    free_space_loss_db, reference_attenuation_db : float
        Free-space loss, and the median attenuation over it before any variability [dB].
    path_length_km : float
        Along the ground [km].
    tx_horizon_angle_mrad, rx_horizon_angle_mrad : float
        Horizon above the horizontal [mrad]; statistical when the path is in sight.
    tx_horizon_distance_m, rx_horizon_distance_m : float
        Distance of the horizon [m]; statistical, so usually beyond the path's end, when it is in sight.
    tx_effective_height_m, rx_effective_height_m : float
        Antenna height above the trend of the terrain before it [m].
    surface_refractivity : float
        At the mean elevation of the terrain [N-units].
    terrain_irregularity_m : float
        Range between the lowest and highest tenth of the terrain about its trend [m].
    k_factor, effective_radius_m : float
        Effective Earth radius that the model derives from the refractivity [m], and as a multiple of its own
        Earth radius.
    cautions : tuple of str
        Plain sentences about inputs outside the range where the model is trusted.
    """

    loss_db: float
    mode: str
    free_space_loss_db: float
    reference_attenuation_db: float
    path_length_km: float
    tx_horizon_angle_mrad: float
    rx_horizon_angle_mrad: float
    tx_horizon_distance_m: float
    rx_horizon_distance_m: float
    tx_effective_height_m: float
    rx_effective_height_m: float
    surface_refractivity: float
    terrain_irregularity_m: float
    k_factor: float
    effective_radius_m: float
    cautions: tuple[str, ...]


def predict(
    spacing_m: float,
    elevations_m: npt.ArrayLike,
    *,
    frequency_mhz: float,
    tx_antenna_agl_m: float,
    rx_antenna_agl_m: float,
    n0: float,
    polarization: Polarization,
    climate: int | str,
    relative_permittivity: float,
    conductivity_s_per_m: float,
    time_percent: float,
    location_percent: float,
    situation_percent: float,
    variability_mode: int,
) -> Prediction:
    """Predict basic transmission loss by the Irregular Terrain Model (Longley-Rice), point to point.

    Parameters
    ----------
    spacing_m : float
        Distance between neighbouring points of the profile [m], above 0.
    elevations_m : array_like, shape (n + 1,), n >= 1
        Ground above sea level from transmitter to receiver [m].
    frequency_mhz : float
        [MHz], 20 to 20000; trusted from 40 to 10000.
    tx_antenna_agl_m, rx_antenna_agl_m : float
        Antenna heights above ground [m], 0.5 to 3000; trusted from 1 to 1000.
    n0 : float
        Surface refractivity reduced to sea level [N-units], 250 to 400.
    polarization : {"horizontal", "vertical"}
    climate : int or str
        Radio climate by number, 1 to 7, or by name (`CLIMATE_NAMES`).
    relative_permittivity : float
        Of the ground, 1 or more.
    conductivity_s_per_m : float
        Of the ground [S/m], above 0.
    time_percent, location_percent, situation_percent : float
        The loss is not exceeded for these percentages of times, places and situations [%], strictly between 0
        and 100. Not every mode of variability uses all three.
    variability_mode : int
        0 single message, 1 accidental, 2 mobile, 3 broadcast; plus 10 to leave out the variability of
        location, plus 20 to leave out the direct one of situation, plus 30 for both.

    Returns
    -------
    Prediction

    Raises
    ------
    OutOfRangeError
        When an input is outside the limits above, the surface refractivity is outside 150 to 400 N-units, or
        the model has no value (see Notes).

    Notes
    -----
    **Validity**: 20 MHz to 20 GHz, 1 to 2000 km; `Prediction.cautions` says where the model is less trusted.

    With vertical polarization over a good conductor (the sea) at low frequency and with a near horizon,
    diffraction over a rounded earth has no value. That is an error here, where a plain evaluation ends in
    free-space loss on an obstructed path. Normal deviates come from the model's own approximation. Loss below
    free space occurs, about 10 dB at most. The model's bounds on the effective radius (4000 to 13333 km) need
    no check: the limits on refractivity keep it between 7100 and 11300 km.

    References
    ----------
    .. [1] A. G. Longley and P. L. Rice, ESSA Technical Report ERL 79-ITS 67, 1968.
    .. [2] G. A. Hufford, A. G. Longley and W. A. Kissick, NTIA Report 82-100, 1982.
    .. [3] G. A. Hufford, "The ITS Irregular Terrain Model, version 1.2.2: The Algorithm", NTIA/ITS.
    """
    prepared = prepare(
        spacing_m,
        elevations_m,
        frequency_mhz=frequency_mhz,
        tx_antenna_agl_m=tx_antenna_agl_m,
        rx_antenna_agl_m=rx_antenna_agl_m,
        n0=n0,
        polarization=polarization,
        climate=climate,
        relative_permittivity=relative_permittivity,
        conductivity_s_per_m=conductivity_s_per_m,
    )
    return predict_from(
        prepared,
        time_percent=time_percent,
        location_percent=location_percent,
        situation_percent=situation_percent,
        variability_mode=variability_mode,
    )


def prepare(
    spacing_m: float,
    elevations_m: npt.ArrayLike,
    *,
    frequency_mhz: float,
    tx_antenna_agl_m: float,
    rx_antenna_agl_m: float,
    n0: float,
    polarization: Polarization,
    climate: int | str,
    relative_permittivity: float,
    conductivity_s_per_m: float,
) -> PreparedPath:
    """Do all of `predict` that the percentages do not change; see there for parameters and errors.

    Returns
    -------
    PreparedPath
        For `predict_from`.
    """
    _within("frequency_mhz", frequency_mhz, 20.0, 20000.0, "MHz")
    _within("tx_antenna_agl_m", tx_antenna_agl_m, 0.5, 3000.0, "m above ground")
    _within("rx_antenna_agl_m", rx_antenna_agl_m, 0.5, 3000.0, "m above ground")
    _within("n0", n0, 250.0, 400.0, "N-units")
    elevations = _checked_profile(spacing_m, elevations_m)
    climate_code = _climate_code(climate)
    radio = radio_constants(frequency_mhz, polarization, relative_permittivity, conductivity_s_per_m)

    geometry = path_geometry(
        float(spacing_m),
        elevations,
        tx_antenna_agl_m=float(tx_antenna_agl_m),
        rx_antenna_agl_m=float(rx_antenna_agl_m),
        n0=float(n0),
    )
    _within("n0 at the terrain's mean elevation", geometry.surface_refractivity, 150.0, 400.0, "N-units")

    attenuation, mode = reference_attenuation(geometry, radio)
    if not math.isfinite(attenuation):
        raise OutOfRangeError(
            f"ITM: rounded-earth diffraction has no value for polarization {polarization!r}, frequency_mhz "
            f"{frequency_mhz!r}, conductivity_s_per_m {conductivity_s_per_m!r} and horizons at "
            f"{geometry.tx_horizon_distance_m:.0f} and {geometry.rx_horizon_distance_m:.0f} m; horizontal "
            "polarization, a higher frequency or a poorer conductor is in range: use one, or another method"
        )
    return PreparedPath(
        geometry=geometry,
        radio=radio,
        climate=CLIMATES[climate_code],
        reference_attenuation_db=attenuation,
        mode=MODE_NAMES[mode],
        cautions=_path_cautions(geometry, radio),
    )


def predict_from(
    prepared: PreparedPath,
    *,
    time_percent: float,
    location_percent: float,
    situation_percent: float,
    variability_mode: int,
) -> Prediction:
    """Loss of a prepared path for one set of percentages; see `predict` for parameters and errors.

    Returns
    -------
    Prediction
    """
    for name, percent in (
        ("time_percent", time_percent),
        ("location_percent", location_percent),
        ("situation_percent", situation_percent),
    ):
        if not 0.0 < percent < 100.0:
            raise OutOfRangeError(
                f"ITM: {name} {percent!r} is outside the range: give more than 0 and less than 100"
            )
    if variability_mode not in VARIABILITY_MODES:
        raise OutOfRangeError(
            f"ITM: variability_mode {variability_mode!r} is unknown: give 0 single message, 1 accidental, "
            "2 mobile or 3 broadcast; plus 10 without location variability, plus 20 without that of "
            "situation, plus 30 without both"
        )
    g, radio = prepared.geometry, prepared.radio
    z = used_deviates(
        variability_mode,
        Deviates(
            normal_deviate(time_percent), normal_deviate(location_percent), normal_deviate(situation_percent)
        ),
    )
    attenuation = attenuation_not_exceeded(
        prepared.reference_attenuation_db, g, radio.wavenumber_per_m, prepared.climate, variability_mode, z
    )
    free_space = free_space_loss(radio.frequency_mhz, g.path_length_m)
    cautions = prepared.cautions
    if max(abs(deviate) for deviate in z) > 3.10:
        cautions += (
            "ITM: a percentage is within 0.1 of 0 or 100; so far from the median the statistics are a guess.",
        )
    return Prediction(
        loss_db=free_space + attenuation,
        mode=prepared.mode,
        free_space_loss_db=free_space,
        reference_attenuation_db=prepared.reference_attenuation_db,
        path_length_km=g.path_length_m / 1000.0,
        tx_horizon_angle_mrad=1000.0 * g.tx_horizon_angle_rad,
        rx_horizon_angle_mrad=1000.0 * g.rx_horizon_angle_rad,
        tx_horizon_distance_m=g.tx_horizon_distance_m,
        rx_horizon_distance_m=g.rx_horizon_distance_m,
        tx_effective_height_m=g.tx_effective_height_m,
        rx_effective_height_m=g.rx_effective_height_m,
        surface_refractivity=g.surface_refractivity,
        terrain_irregularity_m=g.terrain_irregularity_m,
        k_factor=g.effective_radius_m * EARTH_CURVATURE_PER_M,
        effective_radius_m=g.effective_radius_m,
        cautions=cautions,
    )


def radio_constants(
    frequency_mhz: float,
    polarization: Polarization,
    relative_permittivity: float,
    conductivity_s_per_m: float,
) -> Radio:
    """Wavenumber and surface impedance of the ground; see `predict` for parameters and errors.

    Returns
    -------
    Radio
    """
    if polarization not in {"horizontal", "vertical"}:
        raise OutOfRangeError(
            f"ITM: polarization {polarization!r} is unknown: give 'horizontal' or 'vertical'"
        )
    if not 1.0 <= relative_permittivity < math.inf:
        raise OutOfRangeError(
            f"ITM: relative_permittivity {relative_permittivity!r} is outside the range: give 1 or more "
            "(average ground is about 15)"
        )
    if not 0.0 < conductivity_s_per_m < math.inf:
        raise OutOfRangeError(
            f"ITM: conductivity_s_per_m {conductivity_s_per_m!r} is outside the range: give more than 0 S/m "
            "(average ground is about 0.005)"
        )
    frequency = float(frequency_mhz)
    permittivity = complex(relative_permittivity, 18000.0 * conductivity_s_per_m / frequency)
    impedance = cmath.sqrt(permittivity - 1.0)
    if polarization == "vertical":
        impedance /= permittivity
    if impedance.real <= abs(impedance.imag):
        raise OutOfRangeError(
            f"ITM: relative_permittivity {relative_permittivity!r} with conductivity_s_per_m "
            f"{conductivity_s_per_m!r} gives a surface impedance of {impedance:.4g}, whose real part must "
            "exceed its imaginary part in size: give a higher permittivity or a lower conductivity"
        )
    return Radio(frequency, frequency / 47.7, impedance.real, impedance.imag)


def _within(name: str, value: float, low: float, high: float, unit: str) -> None:
    if not low <= value <= high:
        raise OutOfRangeError(f"ITM: {name} {value!r} is outside the range: give {low:g} to {high:g} {unit}")


def _checked_profile(spacing_m: float, elevations_m: npt.ArrayLike) -> npt.NDArray[np.float64]:
    if not 0.0 < spacing_m < math.inf:
        raise OutOfRangeError(f"ITM: spacing_m {spacing_m!r} is outside the range: give more than 0 m")
    elevations = np.asarray(elevations_m, dtype=np.float64)
    if elevations.ndim != 1 or elevations.size < 2:
        raise OutOfRangeError(
            f"ITM: elevations_m of shape {elevations.shape!r} is no profile: give 2 or more in one row"
        )
    finite = np.isfinite(elevations)
    if not finite.all():
        index = int(np.argmin(finite))
        raise OutOfRangeError(
            f"ITM: elevations_m[{index}] is {float(elevations[index])!r}: give a finite elevation at every "
            "point; fill holes in the terrain first"
        )
    return elevations


def _climate_code(climate: int | str) -> int:
    for code, name in CLIMATE_NAMES.items():
        if climate in (code, name):
            return code
    choices = "; ".join(f"{code} {name}" for code, name in CLIMATE_NAMES.items())
    raise OutOfRangeError(f"ITM: climate {climate!r} is unknown: give a number or a name of {choices}")


def _path_cautions(g: PathGeometry, radio: Radio) -> tuple[str, ...]:
    """Sentences for inputs that the model accepts but was not shaped on."""
    found = []
    if not 40.0 <= radio.frequency_mhz <= 10000.0:
        found.append(
            f"ITM: {radio.frequency_mhz:g} MHz is outside 40 to 10000 MHz, where the model was compared with "
            "measurements."
        )
    for end, height in (("transmitting", g.tx_antenna_agl_m), ("receiving", g.rx_antenna_agl_m)):
        if not 1.0 <= height <= 1000.0:
            found.append(
                f"ITM: the {end} antenna, {height:g} m above ground, is outside the usual 1 to 1000 m."
            )
    if g.surface_refractivity < 250.0:
        found.append(
            f"ITM: the surface refractivity of {g.surface_refractivity:.0f} N-units is below 250: thin air, "
            "as over high ground, where the model is less trusted."
        )
    length_km = g.path_length_m / 1000.0
    if length_km < 1.0:
        found.append(
            f"ITM: the path of {length_km:.3g} km is shorter than 1 km, where the model is less trusted."
        )
    elif length_km > 2000.0:
        found.append(f"ITM: the path of {length_km:.0f} km is longer than 2000 km: do not rely on this loss.")
    elif length_km > 1000.0:
        found.append(
            f"ITM: the path of {length_km:.0f} km is longer than 1000 km, where the model is less trusted."
        )
    if g.path_length_m < 5.0 * abs(g.tx_effective_height_m - g.rx_effective_height_m):
        found.append(
            "ITM: the path is steep, shorter than five times the difference of the effective heights; "
            "the model is made for rays near the horizontal."
        )
    for end, angle, distance, smooth in (
        ("transmitter", g.tx_horizon_angle_rad, g.tx_horizon_distance_m, g.tx_smooth_horizon_m),
        ("receiver", g.rx_horizon_angle_rad, g.rx_horizon_distance_m, g.rx_smooth_horizon_m),
    ):
        if abs(angle) > 0.2:
            found.append(
                f"ITM: the horizon of the {end} lies {1000.0 * angle:.0f} mrad from level, beyond 200."
            )
        if distance < 0.1 * smooth:
            found.append(
                f"ITM: the horizon of the {end}, {distance:.0f} m away, is nearer than a tenth of that over "
                "a smooth Earth, where the model is less trusted."
            )
        elif distance > 3.0 * smooth:
            found.append(
                f"ITM: the horizon of the {end}, {distance:.0f} m away, is farther than three times that "
                "over a smooth Earth, where the model is less trusted."
            )
    if conducts_too_well(g, radio):
        found.append(
            "ITM: the ground conducts too well for this frequency, polarization and near horizon; "
            "the loss of an obstructed path may come out far too low."
        )
    return tuple(found)
