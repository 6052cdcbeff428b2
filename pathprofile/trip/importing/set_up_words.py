"""Words of a list about how a station is set up, each read into a key of the book."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Literal

from pathprofile.errors import OutOfRangeError, StationError
from pathprofile.link.assume import default_number
from pathprofile.quantities import parse_frequency_mhz, parse_height_m
from pathprofile.station.catalogue import ANTENNAS, antenna_name, band_of, mode_name
from pathprofile.trip.importing.entry import as_number, plain_notes, split_unit
from pathprofile.trip.importing.hours import read_hours, zone_name

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["ELEMENTS", "HANDHELD", "Role", "SetUpWords", "role_in_name", "role_of"]

Role = Literal["", "beacon", "repeater"]

_POWER_W = {"": 1.0, "w": 1.0, "watt": 1.0, "watts": 1.0, "mw": 1e-3, "kw": 1e3}
_HEIGHT_UNITS = {"m", "ft", "feet"}
_SHIFT_MHZ = {"": 1.0, "mhz": 1.0, "khz": 1e-3}
_BEACON = r"(?:beacon|bake|balise|baliza|radiofaro|baken)"
_REPEATER = r"(?:repeater|rptr|relais|répéteur|repetidor|ripetitore)"
_ROLE = re.compile(rf"\b(?:(?P<beacon>{_BEACON})|(?P<repeater>{_REPEATER}))\b", re.IGNORECASE)
_ROLE_LAST = re.compile(rf"{_ROLE.pattern}\W*$", re.IGNORECASE)
_ALSO_MODES = {"usb": "ssb", "lsb": "ssb", "packet9k6": "packet-9600", "9k6packet": "packet-9600"}
_POLARIZATIONS = {
    "vertical": ("v", "vert", "vertical", "vertically", "vertikal"),
    "horizontal": ("h", "horiz", "horizontal", "horizontally", "horizontale"),
    "slant": ("slant", "diagonal"),
    "circular": ("circular", "rhcp", "lhcp"),
}
_POLARIZATION_OF = {word: name for name, words in _POLARIZATIONS.items() for word in words}
_POLARIZED = re.compile(r"[\s-]*\bpol(?:ari[sz](?:ed|ation))?\b\.?", re.IGNORECASE)
_GAIN = re.compile(r"(?<![\w.,])([+-]?\d{1,2}(?:[.,]\d{1,2})?)\s?dB([id])\b", re.IGNORECASE)
_GAIN_UNIT = re.compile(r"dB([id])", re.IGNORECASE)
ELEMENTS = r"(?<![\w.,])(\d{1,2})[\s-]?[eé]l(?:[eé]m(?:en(?:t[eio]?s?)?)?|[et]s?)?(?!\w)\.?"
"""Number of elements of a beam, as neighbours write it: ``9 el``, ``9el.``, ``9-element``, ``9 éléments``."""
_ELEMENTS = re.compile(rf"{ELEMENTS}(?:[\s-]*(?:yagi|beam)\b)?", re.IGNORECASE)
HANDHELD = (
    r"(?:hand[\s-]?held|handie(?:[\s-]?talkie)?|walkie(?:[\s-]?talkie)?|handfunk(?:e|ger[aä]t)|handsprechfunkger[aä]t"
    r"|rubber[\s-]?duck(?:y|ie)?|portable[\s-]whip)s?"
)
"""A radio in the hand, or the antenna on it; ``HT`` and ``handy`` mean other things too, outside a column."""
_HANDHELD = re.compile(rf"(?<!\w)(?:{HANDHELD}|HT|handy)(?!\w)", re.IGNORECASE)
_FILLERS = re.compile(r"\b(?:antenna|aerial|ant|with|gain)\b|[(),;:+]", re.IGNORECASE)


def role_of(text: str) -> Role:
    """Beacon or repeater where a word of the text says so."""
    found = _ROLE.search(text)
    return "" if found is None else "beacon" if found["beacon"] else "repeater"


def role_in_name(name: str) -> Role:
    """Role that a name ends with: a hill may be called after a beacon, but then the word comes first."""
    found = _ROLE_LAST.search(name)
    return role_of(found[0]) if found is not None and found.start() > 0 else ""


class SetUpWords:
    """Collects what a list says of a set-up.

    Attributes
    ----------
    set_up : dict
        Keys of a set-up as the book has them.
    listening_hours, time_zone
        Of the station; the zone is empty where none is said.
    assumed : list of str
        What was not said but is meant.
    doubts : list of str
        What was not understood, with the reason.
    leftover : list of str
        The same as written, for the notes.
    """

    def __init__(self) -> None:
        self.set_up: dict[str, object] = {}
        self.listening_hours: tuple[str, ...] = ()
        self.time_zone = ""
        self.assumed: list[str] = []
        self.doubts: list[str] = []
        self.leftover: list[str] = []
        self._shift_mhz: float | None = None
        self._is_handheld = False

    def bands(self, text: str) -> None:
        """Names of bands or frequencies in MHz, parted by commas, slashes or ``+``."""
        self._several("bands", text, band_of, r"[,;/&+|]")

    def modes(self, text: str) -> None:
        """Names of modes, parted likewise or by spaces."""
        for part in re.split(r"[,;/&+|]", text):
            try:
                _mode(part)
            except StationError:
                self._several("modes", part, _mode, r"\s+")
            else:
                self._several("modes", part, _mode, r"[,;/&+|]")

    def frequency(self, text: str, unit: str = "") -> None:
        """Frequency it is known by: where it listens, unless `finish` learns that it sends there."""
        self._one("receive_mhz", "frequency", text, unit, parse_frequency_mhz)

    def height(self, text: str, unit: str = "") -> None:
        """Height of the antenna above the ground."""
        self._one("height_m", "height", text, unit, parse_height_m)

    def power(self, text: str, unit: str = "") -> None:
        """Transmitter power."""
        self._one("power_w", "power", text, unit, _power_w)

    def tone(self, text: str, unit: str = "") -> None:
        """Access tone."""
        self._one("tone_hz", "tone", text, unit, _tone_hz)

    def shift(self, text: str, unit: str = "") -> None:
        """From where a repeater sends to where it listens: ``-0.6`` or ``-600 kHz``."""
        self._one("shift", "shift", text, unit, _shift_mhz)
        shift = self.set_up.pop("shift", None)
        if isinstance(shift, int | float):
            self._shift_mhz = float(shift)

    def antenna(self, text: str, unit: str = "") -> None:
        """Name of a kind, a gain in dBi or dBd, or both; the way it stands where no more is said."""
        if not text.strip():
            return
        if _polarization(text):
            self.polarization(text)
            return
        parts = split_unit(text, unit)
        if parts is not None and parts[1] in _HEIGHT_UNITS:
            self.height(text, unit)
            return
        antenna: dict[str, object] = {}
        bare = as_number(text)
        if bare is not None and (known := _GAIN_UNIT.fullmatch(unit)):
            antenna[f"gain_db{known[1].lower()}"] = _tidy(bare)
        elif gain := _GAIN.search(text):
            antenna[f"gain_db{gain[2].lower()}"] = _tidy(float(gain[1].replace(",", ".")))
        kind = " ".join(_FILLERS.sub(" ", _GAIN.sub(" ", text)).split())
        if kind and bare is None:
            if name := self._kind(kind, text):
                antenna["kind"] = name
        elif not antenna:
            self.leave("antenna", text, f"antenna {text[:40]!r}: name a kind, or a gain in dBi or dBd")
        if antenna:
            before = self.set_up.get("antenna")
            self.set_up["antenna"] = {**(before if isinstance(before, dict) else {}), **antenna}

    def _kind(self, kind: str, text: str) -> str:
        """Kind of antenna in a phrase; a doubt for what is taken instead, a note for what is left."""
        try:
            return antenna_name(kind)
        except StationError as error:
            reason = str(error)
        rest = " ".join(word for word in kind.split() if not _polarization(word))
        if (found := _ELEMENTS.search(rest)) and (name := self._beam(int(found[1]), text)):
            self._rest_of_antenna(f"{rest[: found.start()]} {rest[found.end() :]}", text)
        elif found := _HANDHELD.search(rest):
            name = self._on_the_radio(f"{rest[: found.start()]} {rest[found.end() :]}", text)
        else:
            try:
                name = antenna_name(rest)
            except StationError:
                self.leave("antenna", text, reason, "" if _GAIN.search(text) else self.antenna_meanwhile())
                return ""
        for word in kind.split():
            if _polarization(word):
                self.set_up.setdefault("polarization", _polarization(word))
        return name

    def _beam(self, elements: int, text: str) -> str:
        """Kind with that many elements, else the next smaller one: rather too little gain than too much."""
        known = sorted(int(name.partition("-")[0]) for name in ANTENNAS if name.endswith("-element beam"))
        fitting = [count for count in known if count <= elements]
        if not fitting:
            return ""
        name = f"{fitting[-1]}-element beam"
        if fitting[-1] != elements:
            self.doubts.append(f"{plain_notes(text)[:40]!r} taken as {name}, the nearest smaller one known")
        return name

    def _rest_of_antenna(self, rest: str, text: str) -> None:
        """Keep the whole phrase where more was said than the kind."""
        if re.sub(r"\b(?:yagi|beam)\b|\W", "", rest, flags=re.IGNORECASE):
            self.leftover.append(f"antenna: {plain_notes(text)}")

    def _on_the_radio(self, rest: str, text: str) -> str:
        """Antenna of a radio in the hand: another where that is named, else the short one on it."""
        try:
            name = antenna_name(" ".join(rest.split()))
        except StationError:
            self._rest_of_antenna(_HANDHELD.sub(" ", rest), text)
        else:
            self._is_handheld = True
            return name
        name = next(name for name, facts in ANTENNAS.items() if not facts.own_feedline)
        self.doubts.append(
            f"{plain_notes(text)[:40]!r} taken as a radio in the hand with a {name}, "
            f"{default_number('handheld height'):g} m above the ground where no height is stated"
        )
        return name

    def polarization(self, text: str) -> None:
        """How it stands: vertical, horizontal, slant, circular, or their first letters."""
        if not text.strip():
            return
        if name := _polarization(text):
            self.set_up["polarization"] = name
        else:
            known = ", ".join(_POLARIZATIONS)
            self.leave("polarization", text, f"polarization {text[:40]!r} is not understood; known: {known}")

    def hours(self, text: str, zone: str = "") -> None:
        """When somebody listens there, with the zone beside the hours or in a column of its own."""
        if not text.strip():
            self.time_zone = zone_name(zone) if zone.strip() else ""
            return
        found = read_hours(f"{text} {zone}".strip(), said_to_be_hours=True)
        if found is None:
            self.leave(
                "listens", f"{text} {zone}", f"hours {text[:40]!r} are not understood; as 18:00-20:00 UTC"
            )
            return
        self.listening_hours = found.hours
        self.time_zone = zone_name(found.zone)
        if found.zone and not self.time_zone:
            self.listening_hours = ()
            self.leave(
                "listens", f"{text} {zone}", f"time zone {found.zone[:30]!r} is not known; give UTC or UTC+2"
            )

    def finish(self, role: Role) -> None:
        """Settle what depends on the rest: who sends where, band, a repeater's mode, a handheld's power."""
        if self._is_handheld and "power_w" not in self.set_up:
            self.set_up["power_w"] = _tidy(default_number("handheld power"))
            self.assumed.append(f"{self.set_up['power_w']} W, as it is a radio in the hand")
        shift_mhz = self._shift_mhz
        known_mhz = self.set_up.get("receive_mhz")
        if isinstance(known_mhz, int | float):
            if role or shift_mhz is not None:  # it is known by where it can be heard
                self.set_up["transmit_mhz"] = self.set_up.pop("receive_mhz")
            if shift_mhz is not None:
                self.set_up["receive_mhz"] = _tidy(known_mhz + shift_mhz)
            bands = self.set_up.get("bands")
            if isinstance(bands, list) and (band := band_of(known_mhz)) not in bands:
                bands.append(band)
        elif shift_mhz is not None:
            self.leave("shift", f"{shift_mhz:g} MHz", "a shift without a frequency")
            shift_mhz = None
        if (role == "repeater" or shift_mhz is not None) and "modes" not in self.set_up:
            self.set_up["modes"] = ["fm"]
            self.assumed.append("FM, as it is a repeater")

    def _one(self, key: str, what: str, text: str, unit: str, read: Callable[[str], float]) -> None:
        if not text.strip():
            return
        try:
            written = text if as_number(text) is None else f"{text.strip()} {unit}".strip()
            self.set_up[key] = _tidy(read(written))
        except OutOfRangeError as error:
            self.leave(what, text, str(error))

    def _several(self, key: str, text: str, read: Callable[[str], str], separators: str) -> None:
        names = []
        for word in re.split(separators, text):
            if not word.strip():
                continue
            try:
                names.append(read(word.strip().replace(",", ".")))
            except StationError as error:
                self.leave(key.removesuffix("s"), word, str(error))
        if names:
            before = self.set_up.get(key)
            self.set_up[key] = list(dict.fromkeys([*(before if isinstance(before, list) else []), *names]))

    @staticmethod
    def antenna_meanwhile() -> str:
        """Say what is taken while the antenna is not known."""
        return f", {default_number('antenna gain'):g} dBi assumed"

    def leave(self, what: str, text: str, reason: str, meanwhile: str = "") -> None:
        """Keep as a note what is not understood, and why; ``meanwhile`` says what is assumed."""
        self.doubts.append(f"kept as a note only{meanwhile}: {reason}")
        self.leftover.append(f"{what}: {plain_notes(text)}")


def _tidy(number: float) -> float:
    """Six decimals at most, and no decimals where there is nothing behind the point."""
    value = round(number, 6)
    return int(value) if value.is_integer() else value


def _mode(text: str) -> str:
    plain = re.sub(r"[\s_.\-]+", "", text.casefold())
    return _ALSO_MODES.get(plain) or mode_name(text.strip())


def _polarization(text: str) -> str:
    word = _POLARIZED.sub("", text).strip(" .").casefold()
    return _POLARIZATION_OF.get(word, "")


def _power_w(text: str) -> float:
    parts = split_unit(text)
    if parts is not None and parts[1] == "dbm":
        return float(10.0 ** (min(parts[0], 100.0) / 10.0 - 3.0))
    if parts is None or parts[1] not in _POWER_W:
        raise OutOfRangeError(f"power {text[:40]!r} is not understood: give watts, such as 50 or 50 W")
    return parts[0] * _POWER_W[parts[1]]


def _tone_hz(text: str) -> float:
    parts = split_unit(text)
    if parts is None or parts[1] not in {"", "hz"}:
        raise OutOfRangeError(f"tone {text[:40]!r} is not understood: give hertz, such as 88.5")
    return parts[0]


def _shift_mhz(text: str) -> float:
    parts = split_unit(re.sub(r"^\s*([+-])\s+", r"\1", text.replace("\u2212", "-")))
    if parts is None or parts[1] not in _SHIFT_MHZ:
        raise OutOfRangeError(f"shift {text[:40]!r} is not understood: give MHz, such as -0.6")
    is_khz = not parts[1] and abs(parts[0]) >= 100.0  # no band is wide enough for so many MHz
    return parts[0] * (1e-3 if is_khz else _SHIFT_MHZ[parts[1]])
