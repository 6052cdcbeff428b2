"""From words on the command line to what the library takes."""

from __future__ import annotations

import datetime as dt
import math
import os
import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from pathprofile.errors import OutOfRangeError, StationError, TerrainError
from pathprofile.quantities import parse_distance_m, parse_height_m

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pathprofile.atmosphere import Atmosphere
    from pathprofile.places import Location
    from pathprofile.station import SetUp, Station
    from pathprofile.terrain.store import TerrainStore
    from pathprofile.trip.book import Book

__all__ = [
    "atmosphere_of",
    "check_output",
    "compile_cache",
    "contact_day",
    "day",
    "distance_or_none",
    "elevation_paths",
    "height_or_none",
    "in_place_of",
    "middle_of",
    "mistyped",
    "obstacles_of",
    "open_terrain",
    "sea_of",
    "station_of",
]

_GAIN = re.compile(r"([-+]?\d+(?:[.,]\d+)?)\s*dB([id])", re.IGNORECASE)
_LOSS = re.compile(r"([-\u2212]?\d+(?:[.,]\d+)?)\s*dB", re.IGNORECASE)
_COAX = re.compile(
    r"(.+?)[\s:]+([-\u2212]?\d+(?:[.,]\d+)?)\s*(m|ft)(?:[\s,+]+(\d{1,2})\s*adapters?)?", re.IGNORECASE
)
_EXTRA = re.compile(r"(.+?)\s*\+\s*(\d+(?:[.,]\d+)?)\s*dB", re.IGNORECASE)
_POWER = re.compile(r"(\S+?)\s*(mW|W|kW)?", re.IGNORECASE)
_LONE_FLOOR = re.compile(r"[-\u2212]\d+(?:[.,]\d+)?\s*dBm", re.IGNORECASE)
_S_READING = re.compile(r"S\s*\d+(?:\s*\+\s*\d+)?", re.IGNORECASE)
_FLOOR = re.compile(r"([-\u2212]\d+(?:[.,]\d+)?)\s*dBm\s*/\s*(\d+(?:[.,]\d+)?)\s*(k?)Hz", re.IGNORECASE)
_RISE = re.compile(r"\+?(\d+(?:[.,]\d+)?)\s*dB\s*rise", re.IGNORECASE)


def day(text: str | None) -> dt.date:
    """Day of the contact; today where nothing is said."""
    if text is None:
        return dt.datetime.now().astimezone().date()
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise OutOfRangeError(f"date {text!r}: give a day as 2026-06-14") from None


def contact_day(text: str | None, book: Book | None) -> dt.date:
    """Day of the contact: as given, else the trip's own, else today; one rule, so that all pages agree."""
    if text is None and book is not None and book.trip.date is not None:
        return book.trip.date
    return day(text)


def height_or_none(text: str | None, *, lowest_m: float = 0.0) -> float | None:
    """Height in metres, if one is given."""
    return None if text is None else parse_height_m(text, lowest_m=lowest_m)


def distance_or_none(text: str | None) -> float | None:
    """Distance in metres, if one is given."""
    return None if text is None else parse_distance_m(text)


def _own_folder(kind: Literal["cache", "data"]) -> Path | None:
    """Folder of the system for this user's files; None for a user without a home, as in some containers."""
    import platformdirs

    of_kind = platformdirs.user_cache_dir if kind == "cache" else platformdirs.user_data_dir
    try:
        folder = Path(of_kind("pathprofile", appauthor=False))
    except RuntimeError:
        return None
    return folder if folder.is_absolute() else None  # an older platformdirs leaves "~" as it is


def data_dir() -> Path | None:
    """Folder for a user's own elevation tiles."""
    folder = _own_folder("data")
    return None if folder is None else folder / "dem"


def elevation_paths(given: Sequence[str] | None) -> list[str]:
    """Folders and files from ``--dem``, else PATHPROFILE_DEM, else the user's data folder if there is one."""
    if given:
        return list(given)
    named = [part for part in os.environ.get("PATHPROFILE_DEM", "").split(os.pathsep) if part]
    if named:
        return named
    home = data_dir()
    return [str(home)] if home is not None and os.path.isdir(home) else []  # noqa: PTH112 - never raises


def open_terrain(given: Sequence[str] | None) -> TerrainStore:
    """Elevation tiles from `elevation_paths`.

    Raises
    ------
    TerrainError
        When there is nothing to read, with what to do about it.
    """
    import logging

    from pathprofile.terrain.store import TerrainStore

    paths = elevation_paths(given)
    if not paths:
        home = data_dir()
        or_home = "" if home is None else f", or put them into {str(home)!r}"
        raise TerrainError(
            f"no elevation tiles: give --dem DIR, or set PATHPROFILE_DEM{or_home} "
            "(README: getting terrain; 'pathprofile tiles FROM TO' names those you need)"
        )
    # What is drawn on this terrain: a list of fonts that cannot be kept costs a second, nothing else.
    logging.getLogger("matplotlib").setLevel(logging.ERROR)
    return TerrainStore.open(paths, index_dir=_own_folder("cache"))


def mistyped(terrain: TerrainStore, places: Sequence[Location]) -> str:
    """Question about a place off the tiles that would lie on them with a sign or the order changed.

    It goes before a refusal, being the likelier remedy; empty where there is nothing to ask. ``places`` are
    the two ends of a path.
    """
    from pathprofile.geodesy import inverse

    for i, place in enumerate(places):
        latitude, longitude = place.latitude_deg, place.longitude_deg
        if not math.isnan(float(terrain.elevation_m(latitude, longitude))):
            continue
        for what, other in (
            ("latitude and longitude exchanged", (longitude, latitude)),
            ("west instead of east, or the reverse", (latitude, -longitude)),
            ("south instead of north, or the reverse", (-latitude, longitude)),
        ):
            if abs(other[0]) <= 90.0 and not math.isnan(float(terrain.elevation_m(*other))):
                far = places[1 - i]
                apart_m = inverse(*other, far.latitude_deg, far.longitude_deg).distance_m
                return (
                    f"{('FROM', 'TO')[i]}: is it {what}? {other[0]:g} {other[1]:g} lies on the tiles, "
                    f"{apart_m / 1000.0:.0f} km from the other end; as typed, "
                )
    return ""


def compile_cache() -> Path | None:
    """Folder where compiled kernels are kept between runs."""
    folder = _own_folder("cache")
    return None if folder is None else folder / "compiled"


def middle_of(a: Location, b: Location) -> Location:
    """Middle of the path, where the standard takes refractivity from."""
    from pathprofile.geodesy import points_along

    points = points_along(a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg, 3)
    return replace(
        a, latitude_deg=float(points.latitude_deg[1]), longitude_deg=float(points.longitude_deg[1])
    )


def atmosphere_of(
    k: float | None, delta_n: float | None, n0: float | None, maps: str | None, middle: Location
) -> Atmosphere:
    """Read the air, stated one way only.

    Raises
    ------
    OutOfRangeError
        When it is stated twice, or cannot be.
    """
    from pathprofile.atmosphere import N0_DEFAULT, Atmosphere, RefractivityMaps

    stated = [
        name
        for name, value in (("--k", k), ("--delta-n", delta_n), ("--refractivity-maps", maps))
        if value is not None
    ]
    if len(stated) > 1 or (maps is not None and n0 is not None):
        both = " and ".join([*stated, "--n0"] if len(stated) == 1 else stated)
        raise OutOfRangeError(f"{both} state the air twice: give one of them")
    if maps is not None:
        return RefractivityMaps.read(Path(maps)).at(middle.latitude_deg, middle.longitude_deg)
    surface = N0_DEFAULT if n0 is None else n0
    if k is not None:
        return Atmosphere.from_k(k, surface)
    return Atmosphere(n0=surface) if delta_n is None else Atmosphere(delta_n, surface)


def obstacles_of(texts: Sequence[str] | None) -> tuple[Any, ...]:
    """Objects along the path, ``12.4km:18m``."""
    from pathprofile.ground.clutter import UserObstacle

    found = []
    for text in texts or ():
        where, mark, height = text.partition(":")
        if not mark:
            raise OutOfRangeError(f"obstacle {text!r}: give distance from FROM and height, as 12.4km:18m")
        found.append(UserObstacle(parse_distance_m(where), parse_height_m(height)))
    return tuple(found)


def sea_of(texts: Sequence[str] | None) -> tuple[tuple[float, float], ...]:
    """Stretches of sea, ``20km-65km``."""
    found = []
    for text in texts or ():
        start, mark, stop = text.partition("-")
        if not mark:
            raise OutOfRangeError(f"sea {text!r}: give where it starts and ends, as 20km-65km")
        found.append((parse_distance_m(start, zero=True), parse_distance_m(stop)))
    return tuple(found)


def station_of(
    known: Station,
    frequency_mhz: float,
    *,
    mode: str | None = None,
    height: str | None = None,
    power: str | None = None,
    antenna: str | None = None,
    feedline: str | None = None,
    noise: str | None = None,
    polarization: str | None = None,
    mast_limit_m: float | None = None,
    lifts: str = "",
) -> Station:
    """Take a station as it is known, with what the command line says on top.

    It is said of the set-ups that serve the frequency and the mode, asked about or customary; others stay.
    ``mast_limit_m`` lifts a lower limit of the book for this question, ``lifts`` being the option for it.

    Raises
    ------
    StationError
        For what a station cannot have; the field, the value and the limits.
    """
    from pathprofile.link.fitting import modes_of
    from pathprofile.station.catalogue import customary_mode, mode_name

    said: dict[str, Any] = {
        "height_m": height_or_none(height),
        "power_w": _power(power),
        "antenna": _antenna(antenna),
        "feedline": _feedline(feedline),
        "noise": _noise(noise),
        "polarization": polarization,
    }
    said = {field: value for field, value in said.items() if value is not None}
    if not said:
        return known
    mode = customary_mode(frequency_mhz) if mode is None else mode_name(mode)
    fitting = [
        set_up
        for set_up in known.set_ups
        if set_up.covers(frequency_mhz) and mode in modes_of(set_up, frequency_mhz)
    ]
    if known.set_ups and not fitting:
        return known  # the reason why it has nothing here is for the link to say
    base = [set_up.model_dump(exclude_unset=True) for set_up in fitting] or [
        {"bands": (f"{frequency_mhz:g}",)}
    ]
    for stated in base:
        limit_m, height_m = stated.get("max_height_m"), said.get("height_m")
        if limit_m is None or height_m is None or height_m <= limit_m:
            continue
        if mast_limit_m is None or height_m > mast_limit_m:
            to_do = f", or lift it for this question with {lifts} {height_m:g}m" if lifts else ""
            raise StationError(
                f"{known.name}: an antenna at {height_m:g} m is above the limit in the book, "
                f"max_height_m = {limit_m:g}; change it there{to_do}"
            )
        stated["max_height_m"] = mast_limit_m
    changed = tuple(_set_up(known.name, {**stated, **said}) for stated in base)
    others = tuple(set_up for set_up in known.set_ups if set_up not in fitting)
    return type(known)(**{**known.model_dump(exclude_unset=True), "set_ups": changed + others})


def _set_up(name: str, stated: dict[str, Any]) -> SetUp:
    """One set-up; a refusal says whose it is."""
    from pathprofile.station import SetUp

    try:
        return SetUp(**stated)
    except StationError as error:
        raise StationError(f"{name}: {error}") from None


def check_output(path: str | None, suffixes: Sequence[str]) -> None:
    """Refuse an output that cannot be written before any work is done."""
    from pathprofile.errors import OutputError

    if path is None:
        return
    target = Path(path)
    if target.suffix.lower() not in suffixes:
        raise OutputError(f"cannot draw into {path!r}: give a name that ends in {', '.join(suffixes)}")
    if not target.parent.is_dir():
        raise OutputError(f"cannot write {path!r}: there is no folder {str(target.parent)!r}; make it first")


def in_place_of(path: Path | str | None) -> str:
    """Say, once a file is written, that it stands in place of an older one; ask before writing it."""
    return " (in place of an older one)" if path is not None and Path(path).is_file() else ""


def _number(text: str) -> float:
    return float(text.replace(",", ".").replace("\u2212", "-"))


def _power(text: str | None) -> float | None:
    if text is None:
        return None
    found = _POWER.fullmatch(text.strip())
    try:
        watts = _number(found[1] if found else "")
    except ValueError:
        raise StationError(
            f"power {text!r} is no number of watts: give --from-power or --to-power as 10, 10W or 500mW"
        ) from None
    return watts * {"mw": 1e-3, "kw": 1e3}.get(((found and found[2]) or "w").lower(), 1.0)


def _antenna(text: str | None) -> dict[str, Any] | None:
    if text is None:
        return None
    gain = _GAIN.fullmatch(text.strip())
    if gain:
        return {"gain_dbi" if gain[2].lower() == "i" else "gain_dbd": _number(gain[1])}
    return {"kind": text}


def _feedline(text: str | None) -> dict[str, Any] | None:
    if text is None:
        return None
    if loss := _LOSS.fullmatch(text.strip()):
        return {"loss_db": _number(loss[1])}
    if coax := _COAX.fullmatch(text.strip()):
        length_m = _number(coax[2]) * (0.3048 if coax[3].lower() == "ft" else 1.0)
        return {"cable": coax[1], "length_m": length_m, "adapters": int(coax[4] or 0)}
    raise StationError(
        f"feedline {text!r}: give cable and length as 'RG-213 12m' or 'RG-58 9m 2 adapters', "
        "or its loss as 2.5dB"
    )


def _noise(text: str | None) -> dict[str, Any] | None:
    if text is None:
        return None
    plain = re.sub(r"\s+on\s+SSB$", "", text.strip(), flags=re.IGNORECASE)
    if _S_READING.fullmatch(plain):
        return {"s_reading": plain}
    if floor := _FLOOR.fullmatch(plain):
        return {
            "floor_dbm": _number(floor[1]),
            "floor_bandwidth_khz": _number(floor[2]) / (1.0 if floor[3] else 1000.0),
        }
    if rise := _RISE.fullmatch(plain):
        return {"rise_db": _number(rise[1])}
    if extra := _EXTRA.fullmatch(plain):
        return {"category": extra[1], "extra_db": _number(extra[2])}
    if _LONE_FLOOR.fullmatch(plain):
        raise StationError(f"noise {text!r}: give the bandwidth too, as -120dBm/2.4kHz")
    return {"category": plain}
