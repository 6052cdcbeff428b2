"""One end of a link with nothing left open: what is stated, completed from the defaults."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, cast

from pathprofile.errors import OutOfRangeError
from pathprofile.link.antennas import Pattern, pattern_of
from pathprofile.link.assume import Assumption, Notebook, default_number, default_text
from pathprofile.link.feedline import line_loss
from pathprofile.link.fitting import NoFit, fitting_set_up, own_band, stated_gain
from pathprofile.link.noise import (
    SSB_BANDWIDTH_HZ,
    ExternalNoise,
    external_noise,
    noise_figure_from_sensitivity_db,
    s_reading_dbm,
)
from pathprofile.station.catalogue import (
    ANTENNAS,
    HIGHEST_MHZ,
    LOWEST_MHZ,
    MEMORY,
    MODES,
    PRACTICE,
    SHARED_SITE,
    SURROUNDINGS,
    Polarization,
    band_of,
    mode_name,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from pathprofile.station import Antenna, SetUp, Station

__all__ = ["End", "NoFit", "NoiseSource", "equip", "equip_pair", "equip_set_up", "fitting_set_up"]

SurroundingsName = Literal["open", "suburb", "wooded"]


@dataclass(frozen=True, slots=True)
class NoiseSource:
    """Noise at one end: external to the antenna, or measured at the receiver input.

    ``sigma_db`` is the standard deviation of its error. Of ``external``, ``density_dbm_hz`` and ``rise_db``
    exactly one is given.
    """

    category: str
    sigma_db: float
    external: ExternalNoise | None = None
    density_dbm_hz: float | None = None
    rise_db: float | None = None
    desensitization_db: float = 0.0


@dataclass(frozen=True, slots=True)
class End:
    """One end of a link on one frequency in one mode, nothing left open.

    ``pointing_deg`` is None where the antenna follows the other end. ``sources`` tells by the name of a
    budget term where its figure comes from.
    """

    station: str
    band: str
    frequency_mhz: float
    mode: str
    height_m: float
    power_w: float
    duty: float
    gain_dbi: float
    antenna: str
    pattern: Pattern
    pointing_deg: float | None
    polarization: Polarization
    line_loss_db: float
    noise_figure_db: float
    noise: NoiseSource
    surroundings: SurroundingsName
    sources: Mapping[str, str]
    receive_only: bool = False
    handheld: bool = False
    max_power_w: float | None = None
    max_height_m: float | None = None
    notes: tuple[str, ...] = ()
    assumed: tuple[Assumption, ...] = ()


def equip(
    station: Station,
    frequency_mhz: float,
    mode: str,
    *,
    unstated_surroundings: SurroundingsName | None = None,
) -> End | NoFit:
    """One end of a link from a station, or the reason why there is none.

    Parameters
    ----------
    station : Station
        The station.
    frequency_mhz : float
        Frequency [MHz].
    mode : str
        Mode of the catalogue.
    unstated_surroundings : {"open", "suburb", "wooded"}, optional
        What to assume round the station, else that of the table of defaults.

    Returns
    -------
    End or NoFit
        What is used on this frequency, with what had to be assumed.

    Raises
    ------
    StationError
        When a sensitivity gives no possible noise figure.
    OutOfRangeError
        Outside 30 MHz to 3 GHz.
    """
    found = fitting_set_up(station, frequency_mhz, mode)
    if isinstance(found, NoFit):
        return found
    return equip_set_up(
        found,
        station.name,
        frequency_mhz,
        mode,
        receive_only=station.receive_only,
        unstated_surroundings=unstated_surroundings,
    )


def equip_pair(
    you: Station,
    them: Station,
    frequency_mhz: float,
    mode: str,
    *,
    unstated_surroundings: tuple[SurroundingsName | None, SurroundingsName | None] = (None, None),
) -> tuple[End | NoFit, End | NoFit]:
    """Both ends of a link: where one can turn its antenna, it turns it to the other's polarization.

    Parameters
    ----------
    you, them : Station
        Both stations; you choose your antenna for the contact where nothing is said of it.
    frequency_mhz, mode
        As for `equip`.
    unstated_surroundings : pair of {"open", "suburb", "wooded"}
        What to assume round each station.

    Returns
    -------
    tuple of End or NoFit
        As from `equip`. A polarization that is not stated is the other end's, where that is stated or fixed
        by its antenna and this one can be turned; else the one customary for the mode.

    Raises
    ------
    StationError, OutOfRangeError
        As for `equip`.
    """
    stations = (you, them)
    found = [fitting_set_up(station, frequency_mhz, mode) for station in stations]
    own = [None if isinstance(each, NoFit) else _own_polarization(each) for each in found]
    ends: list[End | NoFit] = []
    for index, (station, set_up) in enumerate(zip(stations, found, strict=True)):
        if isinstance(set_up, NoFit):
            ends.append(set_up)
            continue
        other = own[1 - index]
        turns = other in {"vertical", "horizontal"} and _turns(set_up, frequency_mhz, unknown=index == 0)
        ends.append(
            equip_set_up(
                set_up,
                station.name,
                frequency_mhz,
                mode,
                receive_only=station.receive_only,
                unstated_surroundings=unstated_surroundings[index],
                turned_to=(other, stations[1 - index].name) if other is not None and turns else None,
            )
        )
    return ends[0], ends[1]


def _turns(set_up: SetUp | None, frequency_mhz: float, *, unknown: bool) -> bool:
    """Whether an antenna can be turned; ``unknown`` where nothing is said of it."""
    antenna = None if set_up is None else set_up.antenna
    if set_up is None or antenna is None or antenna == type(antenna)():
        return unknown
    if antenna.kind is not None:
        return ANTENNAS[antenna.kind].polarization is None
    gain = stated_gain(antenna, own_band(set_up, frequency_mhz))
    # all round and of no known kind: as likely as not a vertical that stays one
    return (
        _pattern(antenna, gain if isinstance(gain, float) else 0.0, "vertical").azimuth_width_deg is not None
    )


def equip_set_up(
    set_up: SetUp | None,
    station: str,
    frequency_mhz: float,
    mode: str,
    *,
    receive_only: bool = False,
    unstated_surroundings: SurroundingsName | None = None,
    turned_to: tuple[Polarization, str] | None = None,
) -> End:
    """One end of a link from a set-up; from ``None`` everything is assumed (and pydantic is not needed).

    Parameters
    ----------
    set_up : SetUp or None
        What is stated. Whether it fits frequency and mode is for `fitting_set_up` to say.
    station : str
        Name to call the station by.
    frequency_mhz : float
        Frequency [MHz].
    mode : str
        Mode of the catalogue.
    receive_only : bool
        The station does not answer (a beacon).
    unstated_surroundings : {"open", "suburb", "wooded"}, optional
        What to assume round the station, else that of the table of defaults.
    turned_to : (str, str), optional
        Polarization to take where none is stated, and whose it is.

    Returns
    -------
    End
        With ``assumed`` naming every figure that was not stated.

    Raises
    ------
    StationError
        When a sensitivity gives no possible noise figure.
    OutOfRangeError
        Outside 30 MHz to 3 GHz.
    """
    if not LOWEST_MHZ <= frequency_mhz <= HIGHEST_MHZ:
        raise OutOfRangeError(
            f"frequency {frequency_mhz:g} MHz: accepted {LOWEST_MHZ:g} to {HIGHEST_MHZ:g} MHz"
        )
    mode = mode_name(mode)
    if set_up is None:
        from_band = band_of(frequency_mhz)
        kind = None
    else:
        from_band = own_band(set_up, frequency_mhz)
        kind = set_up.antenna.kind
    handheld = kind is not None and not ANTENNAS[kind].own_feedline
    book = Notebook(station)

    polarization = _own_polarization(set_up) or _taken_polarization(mode, turned_to, book)
    gain, label, pattern = _antenna(set_up.antenna if set_up else None, from_band, polarization, book)
    pointing = set_up.antenna.pointing if set_up else "other end"
    height_row, power_row = ("handheld height", "handheld power") if handheld else ("antenna height", "power")
    height_m = book.number("antenna height", set_up.height_m if set_up else None, height_row)
    power_w = book.number("power", set_up.power_w if set_up else None, power_row)
    line_loss_db = _line_loss(set_up, height_m, frequency_mhz, handheld, book)
    surroundings = _surroundings(set_up, unstated_surroundings, book)
    noise = _noise(set_up, surroundings, from_band, frequency_mhz, book)
    return End(
        station=station,
        band=band_of(frequency_mhz),
        frequency_mhz=frequency_mhz,
        mode=mode,
        height_m=height_m,
        power_w=power_w,
        duty=_duty(set_up, mode, book),
        gain_dbi=gain,
        antenna=label,
        pattern=pattern,
        pointing_deg=pointing if isinstance(pointing, float) else None,
        polarization=polarization,
        line_loss_db=line_loss_db,
        noise_figure_db=_noise_figure(set_up, noise, handheld, book),
        noise=noise,
        surroundings=surroundings,
        sources=book.sources,
        receive_only=receive_only,
        handheld=handheld,
        max_power_w=set_up.max_power_w if set_up else None,
        max_height_m=set_up.max_height_m if set_up else None,
        notes=tuple(book.notes),
        assumed=tuple(book.assumed),
    )


def _own_polarization(set_up: SetUp | None) -> Polarization | None:
    """Polarization that is stated or that the antenna has by its nature; None where it is open."""
    if set_up is None:
        return None
    own = ANTENNAS[set_up.antenna.kind].polarization if set_up.antenna.kind else None
    return set_up.polarization or set_up.antenna.mounting or own


def _taken_polarization(
    mode: str, turned_to: tuple[Polarization, str] | None, book: Notebook
) -> Polarization:
    if turned_to is None:
        taken, why = MODES[mode].polarization, f"customary for {MODES[mode].label} ({PRACTICE})"
    else:
        taken, why = turned_to[0], f"turned to that of {turned_to[1]}"
    book.assume("polarization", taken, why)
    return taken


def _antenna(
    antenna: Antenna | None, band: str, polarization: Polarization, book: Notebook
) -> tuple[float, str, Pattern]:
    mounting: Literal["vertical", "horizontal"] = "horizontal" if polarization == "horizontal" else "vertical"
    stated = stated_gain(antenna, band) if antenna else None
    gain = stated if isinstance(stated, float) else book.number("antenna gain", None, "antenna gain")
    label = f"{gain:g} dBi"
    if antenna is None:
        return gain, label, pattern_of(gain, mounting=mounting)
    if antenna.kind is not None:
        label = f"stacked pair of {antenna.kind}s" if antenna.stacked_pair else antenna.kind
    if isinstance(stated, float):
        of_kind = antenna.kind is not None and antenna.gain_dbi is None and antenna.gain_dbd is None
        book.sources["antenna gain"] = f"{label} ({PRACTICE})" if of_kind else "stated"
    pattern = _pattern(antenna, gain, antenna.mounting or mounting)
    if isinstance(stated, float) and antenna.kind is None and antenna.pointing == "other end":
        taken = "all round" if pattern.azimuth_width_deg is None else "a beam"
        book.assume("antenna pattern", taken, f"from its gain ({PRACTICE})")
    return gain, label, pattern


def _pattern(antenna: Antenna, gain: float, mounting: Literal["vertical", "horizontal"]) -> Pattern:
    return pattern_of(
        gain,
        kind=antenna.kind,
        mounting=mounting,
        all_round=antenna.pointing == "all round",
        directional=isinstance(antenna.pointing, float),
        stacked_pair=antenna.stacked_pair,
        along_deg=antenna.beamwidth_along_deg,
        across_deg=antenna.beamwidth_across_deg,
        front_to_back_db=antenna.front_to_back_db,
    )


def _line_loss(
    set_up: SetUp | None, height_m: float, frequency_mhz: float, handheld: bool, book: Notebook
) -> float:
    line = set_up.feedline if set_up else None
    if line is not None and line.loss_db is not None:
        book.sources["feedline"] = "stated"
        return line.loss_db
    if handheld and (line is None or (line.cable is None and line.length_m is None)):
        book.sources["feedline"] = "antenna on the radio"
        return 0.0
    cable = line.cable if line else None
    length_m = line.length_m if line else None
    connectors = line.connectors if line else None
    taken = []
    if cable is None:
        cable = default_text("cable")
        taken.append(cable)
    if length_m is None:
        length_m = min(height_m, default_number("longest cable taken up a mast"))
        length_m += default_number("cable beyond the mast")
        taken.append(f"{length_m:g} m")
    if connectors is None:
        connectors = round(default_number("connectors"))
        taken.append(f"{connectors} connectors")
    loss = line_loss(cable, length_m, connectors + (line.adapters if line else 0), frequency_mhz)
    if taken:
        book.assume("feedline", ", ".join(taken), f"{PRACTICE}; {cable}: {loss.source}")
    else:
        book.sources["feedline"] = f"{cable}: {loss.source}"
    if loss.extrapolated:
        book.notes.append(f"{book.station}: loss of {cable} is {loss.source.rpartition(', ')[2]}")
    return loss.loss_db


def _surroundings(
    set_up: SetUp | None, unstated: SurroundingsName | None, book: Notebook
) -> SurroundingsName:
    if set_up is not None and set_up.surroundings is not None:
        return set_up.surroundings
    taken = unstated or cast("SurroundingsName", default_text("surroundings"))
    book.assume("surroundings", taken, PRACTICE)
    return taken


def _noise(
    set_up: SetUp | None, surroundings: str, band: str, frequency_mhz: float, book: Notebook
) -> NoiseSource:
    stated = set_up.noise if set_up else None
    if stated is not None and stated.measured and stated.measured_on in {None, band}:
        sigma_db = default_number("measured noise error")
        if stated.floor_dbm is not None and stated.floor_bandwidth_khz is not None:
            how = f"floor of {stated.floor_dbm:g} dBm in {stated.floor_bandwidth_khz:g} kHz"
            density = stated.floor_dbm - 10.0 * math.log10(stated.floor_bandwidth_khz * 1e3)
        elif stated.s_reading is not None:
            how = f"{stated.s_reading} on SSB with no signal, IARU Region 1 R.1"
            density = s_reading_dbm(stated.s_reading) - 10.0 * math.log10(SSB_BANDWIDTH_HZ)
        else:
            book.sources["noise"] = f"measured: rise of {stated.rise_db:g} dB over a 50 Ω load"
            return NoiseSource("measured", sigma_db, rise_db=stated.rise_db)
        book.sources["noise"] = f"measured: {how}"
        return NoiseSource("measured", sigma_db, density_dbm_hz=density)

    category = stated.category if stated else None
    extra_db = stated.extra_db if stated else 0.0
    if category is None:
        category = SURROUNDINGS[surroundings].noise_category
        external = external_noise(category, frequency_mhz, extra_db)
        book.assume("noise", category, f"surroundings {surroundings}; ITU-R P.372 ({MEMORY})")
    else:
        external = external_noise(category, frequency_mhz, extra_db)
        book.sources["noise"] = f"{category}: {external.source}"
    desensitization_db = 0.0
    if category == SHARED_SITE and stated is not None:
        desensitization_db = book.number(
            "desensitization", stated.desensitization_db, "shared site desensitization"
        )
        if stated.desensitization_db is None:
            book.notes.append(
                f"{book.station}: on a shared radio site strong transmitters desensitize the receiver; "
                "the 0 dB taken for it is probably wrong"
            )
    book.notes.extend(f"{book.station}: {note}" for note in external.notes)
    return NoiseSource(
        category, default_number("noise error"), external=external, desensitization_db=desensitization_db
    )


def _noise_figure(set_up: SetUp | None, noise: NoiseSource, handheld: bool, book: Notebook) -> float:
    receiver = set_up.receiver if set_up else None
    if receiver is not None and receiver.sensitivity_uv is not None and receiver.channel_khz is not None:
        book.sources["noise figure"] = f"from {receiver.sensitivity_uv:g} µV for 12 dB SINAD ({PRACTICE})"
        return noise_figure_from_sensitivity_db(receiver.sensitivity_uv, receiver.channel_khz)
    stated = receiver.noise_figure_db if receiver else None
    mobile = handheld or (set_up is not None and set_up.antenna.kind == "quarter-wave whip")
    row = "handheld or FM mobile noise figure" if mobile else "noise figure"
    if stated is None and noise.density_dbm_hz is not None:
        return default_number(row)  # not used: a measured floor already holds the receiver's own noise
    return book.number("noise figure", stated, row)


def _duty(set_up: SetUp | None, mode: str, book: Notebook) -> float:
    if set_up is not None and set_up.duty is not None:
        return set_up.duty
    duty = MODES[mode].duty
    book.assume("duty", f"{duty:g}", f"{MODES[mode].label}; FCC OET Bulletin 65 Supplement B ({MEMORY})")
    return duty
