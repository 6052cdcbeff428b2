"""The one table of what is taken where nothing is stated, and the list of what was taken.

Everything else that an answer assumes follows from these rows, from the mode, or from the catalogue.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from pathprofile.station.catalogue import MEMORY, PRACTICE

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["DEFAULTS", "Assumption", "Default", "Notebook", "default_number", "default_text"]


@dataclass(frozen=True, slots=True)
class Default:
    """What is taken where nothing is stated, and why."""

    value: float | str
    unit: str
    source: str


DEFAULTS: Final[Mapping[str, Default]] = {
    "power": Default(25.0, "W", PRACTICE),
    "handheld power": Default(5.0, "W", PRACTICE),
    "antenna gain": Default(5.0, "dBi", PRACTICE),
    "antenna height": Default(8.0, "m", PRACTICE),
    "handheld height": Default(1.5, "m", PRACTICE),
    "cable": Default("RG-213", "", PRACTICE),
    "cable beyond the mast": Default(5.0, "m", PRACTICE),
    "longest cable taken up a mast": Default(30.0, "m", f"{PRACTICE}: above it the radio goes up too"),
    "connectors": Default(2.0, "", PRACTICE),
    "noise figure": Default(5.0, "dB", PRACTICE),
    "handheld or FM mobile noise figure": Default(7.0, "dB", PRACTICE),
    "surroundings": Default("suburb", "", PRACTICE),
    "shared site desensitization": Default(0.0, "dB", "no figure exists; probably wrong"),
    "path error": Default(8.0, "dB", f"{PRACTICE}: 6 to 10 dB between models and measurement"),
    "noise error": Default(6.0, "dB", f"{PRACTICE}: houses differ by 5 to 10 dB"),
    "measured noise error": Default(3.0, "dB", f"{PRACTICE}: hour to hour"),
    "duty": Default("that of the mode", "", f"FCC OET Bulletin 65 Supplement B, {MEMORY}"),
    "polarization": Default("that of the mode", "", PRACTICE),
    "highest mast offered": Default(10.0, "m", f"{PRACTICE}: a push-up mast"),
    "most power offered": Default(50.0, "W", f"{PRACTICE}: a portable radio"),
    "map error": Default(5.0, "m", f"{PRACTICE}: open elevation models of 30 m and 90 m"),
}


@dataclass(frozen=True, slots=True)
class Assumption:
    """One thing that was not stated: where, what, the value taken and its source."""

    station: str
    what: str
    value: str
    source: str


def default_number(name: str) -> float:
    """Value of a numeric row of `DEFAULTS`."""
    return float(DEFAULTS[name].value)


def default_text(name: str) -> str:
    """Value of a textual row of `DEFAULTS`."""
    return str(DEFAULTS[name].value)


class Notebook:
    """Collects where each figure of one end comes from, and what was assumed."""

    def __init__(self, station: str) -> None:
        self.station = station
        self.assumed: list[Assumption] = []
        self.sources: dict[str, str] = {}
        self.notes: list[str] = []

    def assume(self, what: str, value: str, source: str) -> None:
        """Note a figure that was not stated."""
        self.assumed.append(Assumption(self.station, what, value, source))
        self.sources[what] = f"assumed: {source}"

    def number(self, what: str, stated: float | None, default: str) -> float:
        """Give the stated figure, or that of a row of `DEFAULTS`, noted as assumed."""
        if stated is not None:
            self.sources[what] = "stated"
            return stated
        row = DEFAULTS[default]
        value = float(row.value)
        self.assume(what, f"{value:g} {row.unit}".strip(), row.source)
        return value
