"""Names a user may write, each in one table: bands, modes, antennas, cables, noise categories, surroundings.

Help text, error text and choices all come from here. Figures are defaults; each says where it comes from.

References
----------
.. [1] ITU-R P.372, man-made and galactic noise (constants from memory; the galactic line is §4.1 eq. 13
   of P.372-16).
.. [2] E. A. Laport, Radio Antenna Engineering, 1952, Appendix VII (signal-to-noise for telephony).
.. [3] FCC OET Bulletin 65 Supplement B, 97-01, duty factors of amateur modes (from memory).
.. [4] Coaxial cable: a radio manufacturer's repeater training guide, appendix H (nominal values); a county
   emergency-communications cable table; a national association's licence manual, table 6-1.
"""

from __future__ import annotations

import difflib
import re
import reprlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from pathprofile import quantities
from pathprofile.errors import StationError
from pathprofile.quantities import Band

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = [
    "ANTENNAS",
    "BANDS",
    "CABLES",
    "MODES",
    "NOISE_CATEGORIES",
    "SHARED_SITE",
    "SURROUNDINGS",
    "AntennaKind",
    "Band",
    "Cable",
    "Mode",
    "NoiseCategory",
    "Polarization",
    "Surroundings",
    "antenna_name",
    "band_of",
    "band_span_mhz",
    "cable_name",
    "customary_mode",
    "mode_name",
    "modes_customary",
    "noise_category_name",
    "planning_mhz",
]

PRACTICE: Final = "common practice"
MEMORY: Final = "from memory"
LOWEST_MHZ: Final = quantities.LOWEST_FREQUENCY_MHZ
HIGHEST_MHZ: Final = quantities.HIGHEST_FREQUENCY_MHZ

Polarization = Literal["vertical", "horizontal", "slant", "circular"]


BANDS: Final[Mapping[str, Band]] = {
    re.sub(r"(?<=\d)(?=[cm])", " ", name): band for name, band in quantities.BANDS.items()
}
"""Amateur bands by the name that answers use ("2 m")."""


@dataclass(frozen=True, slots=True)
class Mode:
    """A mode: the signal-to-noise it needs in its noise bandwidth, and how its stations are set up."""

    label: str
    noise_bandwidth_hz: float
    readable_snr_db: float
    comfortable_snr_db: float
    polarization: Polarization
    fm_receiver: bool
    duty: float
    note: str = ""
    source: str = PRACTICE
    also: tuple[str, ...] = ()


MODES: Final[Mapping[str, Mode]] = {
    "fm": Mode(
        "FM", 15e3, 10.0, 20.0, "vertical", True, 1.0, "threshold near 10 dB carrier-to-noise", also=("fm25",)
    ),
    "fm-narrow": Mode("narrow FM", 9e3, 12.0, 20.0, "vertical", True, 1.0, also=("nfm", "fm12.5")),
    "ssb": Mode(
        "SSB", 2.4e3, 6.0, 10.0, "horizontal", False, 0.2, source=f"{PRACTICE}; Laport 1952 has 9 dB in 3 kHz"
    ),
    "morse": Mode("Morse", 500.0, -3.0, 3.0, "horizontal", False, 0.4, "by ear", also=("cw",)),
    "packet-1200": Mode(
        "packet 1200", 15e3, 14.0, 18.0, "vertical", True, 1.0, "for a session that holds", also=("packet",)
    ),
    "packet-9600": Mode(
        "packet 9600", 15e3, 19.0, 23.0, "vertical", True, 1.0, "needs the radio's flat data port"
    ),
    "digital-voice": Mode(
        "digital voice", 9e3, 12.0, 16.0, "vertical", True, 1.0, "cuts off without warning", also=("4fsk",)
    ),
    "weak-digital": Mode(
        "15 s digital", 2.5e3, -20.0, -16.0, "horizontal", False, 1.0, "clocks within 1 s", also=("digital",)
    ),
}


@dataclass(frozen=True, slots=True)
class AntennaKind:
    """A kind of antenna: gain in dBi in free space, by band where it depends on the band."""

    gain_dbi: float | Mapping[str, float]
    shape: Literal["all round", "figure of eight", "beam"]
    polarization: Polarization | None = None  # None: it can be turned
    own_feedline: bool = True  # False: it sits on the radio
    source: str = PRACTICE


ANTENNAS: Final[Mapping[str, AntennaKind]] = {
    "handheld stub": AntennaKind(
        {"70 cm": -3.0, "2 m": -6.0, "6 m": -15.0}, "all round", "vertical", own_feedline=False
    ),
    "quarter-wave whip": AntennaKind(0.0, "all round", "vertical"),
    "dipole": AntennaKind(2.1, "figure of eight"),
    "half-wave": AntennaKind(2.1, "all round", "vertical"),
    "j-pole": AntennaKind(2.1, "all round", "vertical"),
    "5/8-wave": AntennaKind(3.0, "all round", "vertical"),
    "collinear": AntennaKind({"2 m": 4.5, "70 cm": 7.0}, "all round", "vertical"),
    "horizontal loop": AntennaKind(0.0, "all round", "horizontal"),
    "log-periodic": AntennaKind(6.5, "beam"),
    "2-element beam": AntennaKind(6.0, "beam"),
    "3-element beam": AntennaKind(7.5, "beam"),
    "5-element beam": AntennaKind(10.0, "beam"),
    "7-element beam": AntennaKind(11.5, "beam"),
    "11-element beam": AntennaKind(13.5, "beam"),
}


@dataclass(frozen=True, slots=True)
class Cable:
    """Coaxial cable: matched loss in dB per 100 m at the tabulated frequencies in MHz.

    With a single point the loss has the shape of the cable named in ``shaped_like``.
    """

    loss_db_per_100m: Mapping[float, float]
    source: str
    shaped_like: str | None = None


_GUIDE: Final = "radio manufacturer's repeater training guide, appendix H"
_COUNTY: Final = "county emergency-communications cable table"
_MANUAL: Final = "national association's licence manual, table 6-1 (corrected)"
_FT_PER_100M: Final = 100.0 / 30.48

CABLES: Final[Mapping[str, Cable]] = {
    "RG-58": Cable({50.0: 10.8, 150.0: 20.0, 450.0: 38.5}, _GUIDE),
    "RG-213": Cable({50.0: 4.9, 150.0: 8.9, 450.0: 16.3}, _GUIDE),
    "RG-8 foam": Cable({50.0: 3.9, 150.0: 7.2, 450.0: 13.0}, _GUIDE),
    "RG-8X": Cable({50.0: 7.5, 150.0: 15.4, 450.0: 28.2}, _COUNTY),
    "240-size low-loss foam": Cable({50.0: 5.6, 150.0: 9.8, 450.0: 17.4}, _COUNTY),
    "400-size low-loss foam": Cable({50.0: 3.0, 150.0: 4.9, 450.0: 8.9}, _COUNTY),
    "RG-174": Cable({30.0: 4.56 * _FT_PER_100M, 150.0: 10.3 * _FT_PER_100M}, _MANUAL),
    "7 mm low-loss": Cable({150.0: 8.5}, MEMORY, shaped_like="240-size low-loss foam"),
    "10 mm low-loss": Cable({150.0: 5.0}, MEMORY, shaped_like="400-size low-loss foam"),
}


@dataclass(frozen=True, slots=True)
class NoiseCategory:
    """External noise figure Fam = c - d log10(f/MHz), dB above kT0B, for a short vertical antenna."""

    c_db: float
    d_db: float
    home: bool = False  # a house stands here: its own appliances add to the line at UHF
    source: str = "ITU-R P.372 (constants from memory)"


SHARED_SITE: Final = "shared radio site"

NOISE_CATEGORIES: Final[Mapping[str, NoiseCategory]] = {
    "city": NoiseCategory(76.8, 27.7, home=True),
    "residential": NoiseCategory(72.5, 27.7, home=True),
    "rural": NoiseCategory(67.2, 27.7),
    "quiet rural": NoiseCategory(53.6, 28.6),
    # Other transmitters on the hill desensitize the receiver; the noise that arrives is that of the country.
    SHARED_SITE: NoiseCategory(67.2, 27.7, source=f"the rural line of ITU-R P.372; {PRACTICE}"),
}


_ALSO_NOISE: Final = {
    "urban": "city",
    "industrial": "city",
    "business": "city",
    "suburb": "residential",
    "suburban": "residential",
    "house": "residential",
    "country": "rural",
    "wilderness": "quiet rural",
}


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What stands round an antenna: its height, and the noise assumed there where none is stated."""

    clutter_m: float
    noise_category: str
    source: str = PRACTICE


SURROUNDINGS: Final[Mapping[str, Surroundings]] = {
    "open": Surroundings(0.0, "rural"),
    "suburb": Surroundings(8.0, "residential"),
    "wooded": Surroundings(15.0, "rural"),
}


def _plain(text: str) -> str:
    text = text.casefold().replace("yagi", "beam").replace("elements", "element")
    return re.sub(r"[\s_.\-]+", "", text)


def _lookup(text: object, table: Mapping[str, object], what: str, also: Mapping[str, str]) -> str:
    if not isinstance(text, str):
        raise StationError(f"{what} {reprlib.repr(text)} is not a name; known: {', '.join(table)}")
    if text in table:
        return text
    known = {_plain(name): name for name in table} | {_plain(k): v for k, v in also.items()}
    plain = _plain(text[:80])
    if plain in known:
        return known[plain]
    close = difflib.get_close_matches(plain, known, n=3, cutoff=0.5)
    names = list(dict.fromkeys(known[c] for c in close))
    hint = f"did you mean {' or '.join(names)}?" if names else f"known: {', '.join(table)}"
    raise StationError(f"unknown {what} {reprlib.repr(text)}; {hint}")


def antenna_name(text: object) -> str:
    """Key of `ANTENNAS` for what the user wrote.

    Raises
    ------
    StationError
        For an unknown name; the nearest known ones are suggested.
    """
    return _lookup(text, ANTENNAS, "antenna", {"lpda": "log-periodic"})


def cable_name(text: object) -> str:
    """Key of `CABLES` for what the user wrote; `StationError` with suggestions otherwise."""
    return _lookup(text, CABLES, "cable", {})


def mode_name(text: object) -> str:
    """Key of `MODES` for what the user wrote; `StationError` with suggestions otherwise."""
    if isinstance(text, str) and text in MODES:
        return text
    also = {other: name for name, mode in MODES.items() for other in (mode.label, *mode.also)}
    return _lookup(text, MODES, "mode", also)


def noise_category_name(text: object) -> str:
    """Key of `NOISE_CATEGORIES` for what the user wrote; `StationError` with suggestions otherwise."""
    return _lookup(text, NOISE_CATEGORIES, "noise category", _ALSO_NOISE)


def band_of(text: object) -> str:
    """Band for a name ("70cm") or a frequency in MHz; a frequency outside all bands is its own band.

    Returns
    -------
    str
        Key of `BANDS`, or the frequency itself as "446.1 MHz".

    Raises
    ------
    StationError
        For an unknown name, or a frequency outside 30 MHz to 3 GHz.
    """
    if isinstance(text, str):
        number = re.fullmatch(r"\s*([\d.]{1,12})\s*(?:MHz)?\s*", text, re.IGNORECASE)
        if number is None:
            return _lookup(text, BANDS, "band", {})
        try:
            frequency_mhz = float(number[1])
        except ValueError:
            return _lookup(text, BANDS, "band", {})
    elif isinstance(text, bool) or not isinstance(text, int | float):
        raise StationError(
            f"band {reprlib.repr(text)} is no name and no frequency; known: {', '.join(BANDS)}"
        )
    else:
        frequency_mhz = float(text)
    if not LOWEST_MHZ <= frequency_mhz <= HIGHEST_MHZ:
        raise StationError(f"frequency {frequency_mhz:g} MHz: accepted {LOWEST_MHZ:g} to {HIGHEST_MHZ:g} MHz")
    for name, band in BANDS.items():
        if band.lowest_mhz <= frequency_mhz <= band.highest_mhz:
            return name
    return f"{frequency_mhz:g} MHz"


def planning_mhz(band: str) -> float:
    """Frequency to plan with on ``band`` (a result of `band_of`) where none is given [MHz]."""
    if band in BANDS:
        return BANDS[band].typical_mhz
    return float(band.removesuffix(" MHz"))


_NARROW_PARTS_MHZ: Final = {
    "6 m": (50.0, 50.5),
    "2 m": (144.0, 144.5),
    "1.25 m": (222.0, 222.15),
    "70 cm": (432.0, 432.5),
    "33 cm": (902.0, 903.0),
    "23 cm": (1296.0, 1297.0),
}
"""Narrow-band parts of the bands (common practice); regions differ."""


def customary_mode(frequency_mhz: float) -> str:
    """Mode to ask about when none is named: SSB in the narrow-band parts of the bands, else FM.

    Limits of those parts are common practice; regions differ.
    """
    return "ssb" if any(low <= frequency_mhz < high for low, high in _NARROW_PARTS_MHZ.values()) else "fm"


def modes_customary(frequency_mhz: float) -> tuple[str, ...]:
    """Modes customary at a frequency: those of SSB receivers low in a band, else those of FM receivers.

    Returns
    -------
    tuple of str
        All modes on bands whose narrow-band part is not in the table.
    """
    if band_of(frequency_mhz) not in _NARROW_PARTS_MHZ:
        return tuple(MODES)
    fm_receiver = MODES[customary_mode(frequency_mhz)].fm_receiver
    return tuple(name for name, mode in MODES.items() if mode.fm_receiver == fm_receiver)


def band_span_mhz(band: str) -> tuple[float, float]:
    """Lowest and highest frequency of ``band``; 2 % either side of a lone frequency [MHz]."""
    if band in BANDS:
        return BANDS[band].lowest_mhz, BANDS[band].highest_mhz
    lone = planning_mhz(band)
    return lone * 0.98, lone * 1.02
