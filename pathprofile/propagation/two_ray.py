"""Two rays over water or a plain: the reflection point, how deep the lobes are, and how far apart."""

from __future__ import annotations

import cmath
import math
from typing import NamedTuple

from pathprofile.errors import OutOfRangeError
from pathprofile.propagation import _checks
from pathprofile.sightline import CLEAR_SHARE, SPEED_OF_LIGHT_M_PER_S

__all__ = ["TwoRay", "reflection_coefficient", "two_ray"]

_METHOD = "two rays"


class TwoRay(NamedTuple):
    """A direct and a reflected ray, against the direct one alone in free space."""

    reflection_m: float
    """Reflection point, from the first antenna [m]."""
    grazing_deg: float
    """Angle between ray and surface at that point [°]."""
    path_difference_m: float
    """Reflected ray minus direct ray [m]."""
    strength: float
    """Amplitude of the reflected ray over the direct one, 0 to 1."""
    loss_db: float
    """Loss over free space at these very heights; negative on a lobe [dB]."""
    crest_db: float
    """The same on the crest of a lobe: the least loss [dB]."""
    trough_db: float
    """The same between two lobes: the greatest loss [dB]; infinite for a perfect reflection."""
    from_lobe_m: float
    to_lobe_m: float
    """How far to raise the first, or the second, antenna from one crest to the next [m]."""


def reflection_coefficient(
    grazing_deg: float,
    frequency_mhz: float,
    *,
    relative_permittivity: float,
    conductivity_s_per_m: float,
    polarization: str,
) -> complex:
    """Plane-wave reflection coefficient of a flat surface.

    Parameters
    ----------
    grazing_deg : float
        Angle between ray and surface, 0 to 90 [°].
    frequency_mhz : float
        Frequency [MHz].
    relative_permittivity, conductivity_s_per_m : float
        Of the ground: about 80 and 5 for sea, 80 and 0.01 for fresh water, 22 and 0.003 for average land
        (ITU-R P.527).
    polarization : {"horizontal", "vertical"}
        Of the wave.

    Returns
    -------
    complex
        −1 at grazing incidence in either polarization.

    Raises
    ------
    OutOfRangeError
        For a number or a polarization outside what is stated.

    References
    ----------
    .. [1] Fresnel's formulas, as in ITU-R P.1406 or any textbook; time factor exp(jωt).
    """
    angle = math.radians(_checks.number(_METHOD, "grazing angle", grazing_deg, 0.0, 90.0, "°"))
    frequency = _checks.number(_METHOD, "frequency", frequency_mhz, 1.0, 1e6, "MHz")
    permittivity = _checks.number(_METHOD, "relative permittivity", relative_permittivity, 1.0, 1e3)
    conductivity = _checks.number(_METHOD, "conductivity", conductivity_s_per_m, 0.0, 1e9, "S/m")
    vertical = _checks.is_vertical(_METHOD, polarization)
    wavelength_m = SPEED_OF_LIGHT_M_PER_S / (frequency * 1e6)
    # 60 λ σ is σ/(ω ε0), with ε0 = 1/(μ0 c²) and μ0 c = 120 π ohms.
    eta = complex(permittivity, -60.0 * wavelength_m * conductivity)
    root = cmath.sqrt(eta - math.cos(angle) ** 2)
    across = (eta if vertical else 1.0) * math.sin(angle)
    return (across - root) / (across + root)


def two_ray(
    distance_m: float,
    from_height_m: float,
    to_height_m: float,
    *,
    frequency_mhz: float,
    effective_radius_m: float,
    polarization: str,
    relative_permittivity: float,
    conductivity_s_per_m: float,
    roughness_m: float = 0.0,
) -> TwoRay:
    """Direct and reflected ray over a smooth curved surface.

    Parameters
    ----------
    distance_m : float
        Path length [m].
    from_height_m, to_height_m : float
        Antennas above the reflecting surface, above 0 [m].
    frequency_mhz : float
        Frequency, 30 to 3000 [MHz].
    effective_radius_m : float
        Effective Earth radius [m].
    polarization : {"horizontal", "vertical"}
        Of the wave.
    relative_permittivity, conductivity_s_per_m : float
        Of the surface, see `reflection_coefficient`.
    roughness_m : float
        Standard deviation of the surface about its mean: waves, crops [m].

    Returns
    -------
    TwoRay

    Raises
    ------
    OutOfRangeError
        For a number outside its range, or a surface that leaves less than 0.6 of the first Fresnel radius
        free: the field is then no sum of two rays but a matter of diffraction.

    Notes
    -----
    The reflection point is the root of a cubic in closed form, the divergence of the reflected ray on a
    convex surface follows from it [1]_. Roughness σ takes exp(−½ (4π σ sin φ/λ)²) off its coherent part
    [2]_.

    **Validity**: antennas equally strong towards both rays, and a surface of one kind, flat over the first
    Fresnel zone about the reflection point. Where something shadows that point the reflected ray is weaker:
    the figures are then bounds.

    References
    ----------
    .. [1] ITU-R P.530-18, §6.1.2 (specular reflection; from memory, checked by least path length).
    .. [2] W. S. Ament, "Toward a theory of reflection by a rough surface", Proc. IRE 41(1), 142-146, 1953.
    """
    d = _checks.number(_METHOD, "distance", distance_m, 1.0, 1e6, "m")
    h_1 = _checks.number(_METHOD, "first antenna", from_height_m, 1e-3, 1e4, "m above the surface")
    h_2 = _checks.number(_METHOD, "second antenna", to_height_m, 1e-3, 1e4, "m above the surface")
    frequency = _checks.number(_METHOD, "frequency", frequency_mhz, 30.0, 3000.0, "MHz")
    radius_m = _checks.number(_METHOD, "effective radius", effective_radius_m, 1e5, 1e15, "m")
    roughness = _checks.number(_METHOD, "roughness", roughness_m, 0.0, 1e3, "m")
    wavelength_m = SPEED_OF_LIGHT_M_PER_S / (frequency * 1e6)

    m = d * d / (4.0 * radius_m * (h_1 + h_2))
    c = (h_1 - h_2) / (h_1 + h_2)
    b = c
    if m > 1e-9:  # below, the surface is flat and the root of the cubic is c
        third = math.acos(1.5 * c * math.sqrt(3.0 * m / (m + 1.0) ** 3)) / 3.0
        b = 2.0 * math.sqrt((m + 1.0) / (3.0 * m)) * math.cos(math.pi / 3.0 + third)
    d_1, d_2 = 0.5 * d * (1.0 + b), 0.5 * d * (1.0 - b)
    grazing = (h_1 + h_2) / d * (1.0 - m * (1.0 + b * b))
    difference_m = 2.0 * d_1 * d_2 * grazing * grazing / d
    # Where the reflection is, the direct ray clears the surface by √(2 Δ/λ) of the first Fresnel radius.
    share = math.copysign(math.sqrt(2.0 * difference_m / wavelength_m), grazing)
    if share < CLEAR_SHARE:
        raise OutOfRangeError(
            f"{_METHOD}: {h_1:g} m and {h_2:g} m over {d / 1000.0:g} km clear {share:.2f} of the first "
            f"Fresnel radius: give heights that clear {CLEAR_SHARE:g}, or use a diffraction method"
        )
    divergence = math.sqrt((1.0 - m * (1.0 + b * b)) / (1.0 + m * (1.0 - 3.0 * b * b)))
    phase = 4.0 * math.pi * roughness * math.sin(grazing) / wavelength_m
    coefficient = reflection_coefficient(
        math.degrees(grazing),
        frequency,
        relative_permittivity=relative_permittivity,
        conductivity_s_per_m=conductivity_s_per_m,
        polarization=polarization,
    )
    reflected = coefficient * divergence * math.exp(-0.5 * phase * phase)
    strength = min(abs(reflected), 1.0)
    field = abs(1.0 + reflected * cmath.exp(-2j * math.pi * difference_m / wavelength_m))
    return TwoRay(
        reflection_m=d_1,
        grazing_deg=math.degrees(grazing),
        path_difference_m=difference_m,
        strength=strength,
        loss_db=_loss_db(field),
        crest_db=_loss_db(1.0 + strength),
        trough_db=_loss_db(1.0 - strength),
        # The rays part at one antenna by the angle 2 φ d1/d that the other's height subtends.
        from_lobe_m=wavelength_m * d / (2.0 * grazing * d_2),
        to_lobe_m=wavelength_m * d / (2.0 * grazing * d_1),
    )


def _loss_db(field: float) -> float:
    return -20.0 * math.log10(field) if field > 0.0 else math.inf
