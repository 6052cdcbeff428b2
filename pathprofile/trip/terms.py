"""What all pairs of a day have in common: the date, what to work with, how the ground is read."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from pathprofile.errors import OutOfRangeError
from pathprofile.reach import GroundOptions
from pathprofile.station.catalogue import MODES, band_of, customary_mode, planning_mhz

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterable, Mapping

    from pathprofile.atmosphere import Atmosphere
    from pathprofile.link.chance import Spread
    from pathprofile.propagation.methods import Surroundings

__all__ = ["CELL_POINTS", "Terms", "Wanted", "wanted_modes"]

CELL_POINTS = 49
"""Fewest points at which a link is worked out over a locator of six characters."""


class Wanted(NamedTuple):
    """A mode to work in, and where."""

    frequency_mhz: float
    mode: str

    @property
    def text(self) -> str:
        """Mode and band in words: "SSB on 2 m"."""
        return f"{MODES[self.mode].label} on {band_of(self.frequency_mhz)}"


@dataclass(frozen=True)
class Terms:
    """What all pairs of a day have in common.

    Attributes
    ----------
    date : datetime.date
        For magnetic north.
    wanted : tuple of Wanted
        Modes in order of preference. The first that is workable serves; where none is, the likeliest.
    atmosphere, surroundings, options, spread
        As for `pathprofile.contact.contact`.
    weights : mapping of str to float
        How much a station is wanted, by name; 1 where nothing is said. 0 leaves it out of a choice.
    ground_m : mapping of str to float
        Stated ground of a site, by name; replaces that of the tiles [m].
    cell_points : int
        Fewest points over a locator of six characters.
    """

    date: dt.date
    wanted: tuple[Wanted, ...]
    atmosphere: Atmosphere | None = None
    surroundings: Surroundings | None = None
    options: GroundOptions = field(default_factory=GroundOptions)
    spread: Spread | None = None
    weights: Mapping[str, float] = field(default_factory=dict)
    ground_m: Mapping[str, float] = field(default_factory=dict)
    cell_points: int = CELL_POINTS

    def __post_init__(self) -> None:
        if not self.wanted:
            raise OutOfRangeError("no mode is wanted: name at least one band and mode")
        if not 1 <= self.cell_points <= 2500:
            raise OutOfRangeError(f"cell_points {self.cell_points!r}: accepted 1 to 2500")

    def weight(self, name: str) -> float:
        """How much a station is wanted."""
        return self.weights.get(name, 1.0)


def wanted_modes(bands: Iterable[str | float], modes: Iterable[str] = ()) -> tuple[Wanted, ...]:
    """Every mode on every band, in order of preference: all bands in the first mode, then the next.

    Parameters
    ----------
    bands : iterable of str or float
        Names of bands, or frequencies [MHz].
    modes : iterable of str
        Modes of the catalogue; by default the one customary on each frequency.

    Returns
    -------
    tuple of Wanted
    """
    places = [float(band) if isinstance(band, int | float) else planning_mhz(band_of(band)) for band in bands]
    if named := tuple(modes):
        found = [Wanted(frequency_mhz, mode) for mode in named for frequency_mhz in places]
    else:
        found = [Wanted(frequency_mhz, customary_mode(frequency_mhz)) for frequency_mhz in places]
    return tuple(dict.fromkeys(found))
