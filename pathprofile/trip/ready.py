"""A last look before leaving: is everything on board that the day needs, and does it fit together."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np

from pathprofile.errors import LocationError
from pathprofile.geodesy import declination, inverse, points_along
from pathprofile.station.catalogue import MODES
from pathprofile.terrain.names import square_name
from pathprofile.terrain.store import NO_TILE
from pathprofile.trip.areas import area_of, too_vague
from pathprofile.trip.links import equipped

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from pathprofile.contact import Party
    from pathprofile.places import Location
    from pathprofile.terrain.store import TerrainStore
    from pathprofile.trip.terms import Terms

__all__ = ["Check", "ready"]

State = Literal["ok", "attention", "stop"]
_STEP_M = 1000.0
_SITE_GOOD_TO_M = 100.0
"""A site known no better is looked for on the hill, and higher ground may be meant."""
_FAR_AHEAD = dt.timedelta(days=400)
_CLOCK_SLACK = dt.timedelta(minutes=5)
_NAMED = 6
_CLOCK_MODE = "weak-digital"


@dataclass(frozen=True)
class Check:
    """One thing looked at.

    Attributes
    ----------
    what : {"tiles", "declination", "sheet", "clock", "positions", "equipment"}
    state : {"ok", "attention", "stop"}
        ``stop``: the day cannot be planned like this.
    sentence : str
        What was found and what to do.
    """

    what: str
    state: State
    sentence: str


def ready(
    sites: Sequence[Party],
    stations: Sequence[Party],
    terrain: TerrainStore,
    terms: Terms,
    *,
    now: dt.datetime,
    book_file: Path | str | None = None,
    sheet_file: Path | str | None = None,
) -> list[Check]:
    """Check what a day out depends on, before leaving.

    Parameters
    ----------
    sites : sequence of Party
        You, at each of the sites.
    stations : sequence of Party
    terrain : TerrainStore
        The tiles that will be at hand.
    terms : Terms
        Its date is the day of the trip.
    now : datetime.datetime
        What the clock says.
    book_file, sheet_file : path, optional
        Files of the book and of the printed sheet; their times of change are compared.

    Returns
    -------
    list of Check
        Tiles, declination, sheet, clock, positions, equipment, in this order.

    Notes
    -----
    Tiles are looked for every kilometre along all paths, and to the corners of areas. A path whose tiles are
    there may still meet a hole in them; holes that are hit are counted.
    """
    return [
        _tiles(sites, stations, terrain, terms),
        _declination(sites, terms),
        _sheet(book_file, sheet_file),
        _clock(now, terms, [file for file in (book_file, sheet_file) if file is not None]),
        _positions(sites, stations),
        _equipment(sites, stations, terms),
    ]


def _tiles(sites: Sequence[Party], stations: Sequence[Party], terrain: TerrainStore, terms: Terms) -> Check:
    missing: dict[str, None] = {}
    lines = holed = 0
    lacking: dict[str, None] = {}
    for site in sites:
        for station in stations:
            hole = False
            for latitude, longitude in _lines(site.location, station.location):
                lines += 1
                height, source = terrain.sample(latitude, longitude)
                absent = source == NO_TILE
                if absent.any() and not terms.options.sea_where_missing:
                    lacking[f"{site.station.name} to {station.station.name}"] = None
                    missing |= dict.fromkeys(
                        square_name(float(lat), float(lon))
                        for lat, lon in zip(latitude[absent], longitude[absent], strict=True)
                    )
                hole |= bool((np.isnan(height) & ~absent).any())
            holed += hole
    if not lines:
        return Check("tiles", "stop", "no path to look at: the book needs a site and a station with a place")
    if missing:
        return Check(
            "tiles",
            "stop",
            f"{len(missing)} tile{_s(missing)} missing for {len(lacking)} path{_s(lacking)}: "
            f"{_listed(missing)}; get them before you leave",
        )
    problems = list(terrain.warnings[:1])
    if holed:
        cross = "path crosses" if holed == 1 else "paths cross"
        problems.append(f"{holed} {cross} holes in them; have a paper map with you")
    if problems:
        return Check("tiles", "attention", "tiles for all paths are here, but " + "; ".join(problems))
    return Check("tiles", "ok", f"tiles for all {len(sites) * len(stations)} paths are here")


def _lines(start: Location, end: Location) -> Iterable[tuple[np.ndarray, np.ndarray]]:
    """Points along the path, or along the paths to the corners of an area; none to a place too vague."""
    if too_vague(start) or too_vague(end):
        return
    goals = [(end.latitude_deg, end.longitude_deg)]
    cell = area_of(end)
    if cell is not None:
        goals += [
            (latitude, (longitude + 180.0) % 360.0 - 180.0)
            for latitude in (cell.south_deg, cell.north_deg)
            for longitude in (cell.west_deg, cell.east_deg)
        ]
    for goal in goals:
        try:
            leg = inverse(start.latitude_deg, start.longitude_deg, *goal)
        except LocationError:
            continue
        count = max(2, math.ceil(leg.distance_m / _STEP_M) + 1)
        points = points_along(start.latitude_deg, start.longitude_deg, *goal, count)
        yield points.latitude_deg, points.longitude_deg


def _declination(sites: Sequence[Party], terms: Terms) -> Check:
    found = [
        (
            site.station.name,
            declination(site.location.latitude_deg, site.location.longitude_deg, terms.date),
        )
        for site in sites
    ]
    if not found:
        return Check("declination", "stop", "no site, so no magnetic north: add a site")
    doubtful = [(name, north.warning) for name, north in found if north.warning]
    if doubtful:
        return Check("declination", "attention", f"{doubtful[0][0]}: {doubtful[0][1]}")
    north = found[0][1]
    return Check(
        "declination",
        "ok",
        f"{north.model} is valid on {terms.date.isoformat()} (until {north.valid_to.isoformat()}); "
        f"declination at {found[0][0]} {north.declination_deg:+.1f}°, east positive",
    )


def _sheet(book_file: Path | str | None, sheet_file: Path | str | None) -> Check:
    if sheet_file is None or not Path(sheet_file).is_file():
        return Check("sheet", "attention", "no sheet has been made: make and print one")
    if book_file is None or not Path(book_file).is_file():
        return Check("sheet", "attention", "no book to hold the sheet against; check that it is the last one")
    book_s, sheet_s = (Path(file).stat().st_mtime for file in (book_file, sheet_file))
    if sheet_s < book_s:
        return Check(
            "sheet",
            "attention",
            f"the book was changed at {_stamp(book_s)}, after the sheet was made at {_stamp(sheet_s)}: "
            "make the sheet again",
        )
    return Check("sheet", "ok", f"the sheet ({_stamp(sheet_s)}) is newer than the book")


def _clock(now: dt.datetime, terms: Terms, files: Sequence[Path | str]) -> Check:
    newest = max((Path(file).stat().st_mtime for file in files if Path(file).is_file()), default=None)
    said = f"{now:%Y-%m-%d %H:%M}"
    if newest is not None and now.timestamp() < newest - _CLOCK_SLACK.total_seconds():
        return Check(
            "clock",
            "stop",
            f"the clock says {said}, before the book or sheet was saved ({_stamp(newest)}): set it",
        )
    ahead = terms.date - now.date()
    if ahead < dt.timedelta(0):
        return Check(
            "clock",
            "attention",
            f"the day of the trip, {terms.date.isoformat()}, is past; today is {now.date().isoformat()} "
            "if the clock is right",
        )
    if ahead > _FAR_AHEAD:
        return Check(
            "clock",
            "attention",
            f"the trip is {ahead.days} days ahead, {terms.date.isoformat()}; today is "
            f"{now.date().isoformat()} if the clock is right",
        )
    if any(wanted.mode == _CLOCK_MODE for wanted in terms.wanted):
        return Check(
            "clock",
            "attention",
            f"the clock says {said}, {_days(ahead.days)}; {MODES[_CLOCK_MODE].label} needs it right within "
            "1 s, which cannot be seen from here: set it by radio, satellite or network before you leave",
        )
    return Check("clock", "ok", f"the clock says {said}, {_days(ahead.days)}")


def _positions(sites: Sequence[Party], stations: Sequence[Party]) -> Check:
    hopeless = [site.station.name for site in sites if too_vague(site.location)]
    if hopeless:
        return Check(
            "positions", "stop", f"sites too vague for any verdict: {_listed(hopeless)}; give degrees"
        )
    rough = [
        f"{site.station.name} (±{site.location.uncertainty_m:.0f} m)"
        for site in sites
        if site.location.uncertainty_m > _SITE_GOOD_TO_M
    ]
    vague = [station.station.name for station in stations if too_vague(station.location)]
    parts = []
    if rough:
        parts.append(f"sites to be placed better: {_listed(rough)}")
    if vague:
        parts.append(f"too vague for a verdict, azimuth only: {_listed(vague)}; ask for six characters")
    if parts:
        return Check("positions", "attention", "; ".join(parts))
    cells = sum(area_of(station.location) is not None for station in stations)
    exact = len(stations) - cells
    return Check("positions", "ok", f"{exact} of {len(stations)} stations are points, {cells} are areas")


def _equipment(sites: Sequence[Party], stations: Sequence[Party], terms: Terms) -> Check:
    mute: dict[str, str] = {}
    for station in stations:
        asked = [equipped(site, station, terms) for site in sites]
        if asked and all(isinstance(found, str) for found in asked):
            mute[station.station.name] = str(asked[0])
    if mute:
        first = next(iter(mute.values())).partition(": ")[2] or next(iter(mute.values()))
        said = f"no mode wanted in common with {_listed(mute)}: {first}"
        return Check("equipment", "attention", said)
    return Check("equipment", "ok", "every station has a mode wanted in common with you at some site")


def _days(days: int) -> str:
    return "the day of the trip" if days == 0 else f"{days} day{'s' * (days > 1)} before the trip"


def _stamp(seconds: float) -> str:
    return dt.datetime.fromtimestamp(seconds, dt.UTC).astimezone().strftime("%Y-%m-%d %H:%M")


def _s(things: Sequence[str] | dict[str, None]) -> str:
    return "s" if len(things) > 1 else ""


def _listed(names: Iterable[str]) -> str:
    shown = list(names)
    more = f" and {len(shown) - _NAMED} more" if len(shown) > _NAMED else ""
    return ", ".join(shown[:_NAMED]) + more
