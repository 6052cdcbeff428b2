"""The trip sheet as a model: everything that a page shows, as plain values computed from contacts."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

from pathprofile import __version__
from pathprofile.changes import what_would_change
from pathprofile.errors import StationError
from pathprofile.geodesy import sunrise_utc, sunset_utc
from pathprofile.link.cautions import CAUTIONS, CONDITIONAL, ON_THE_SUMMIT
from pathprofile.link.exposure import exposures_by_line, exposures_by_set_up
from pathprofile.places import notations
from pathprofile.propagation.methods import METHOD_NAMES
from pathprofile.trip.sheet_aiming import (
    Beam,
    LandmarkBearing,
    SunBearing,
    beams,
    landmark_bearings,
    landmarks_in_sight,
    sun_bearings,
)
from pathprofile.trip.sheet_calls import Call, make_call, station_windows, to_call
from pathprofile.trip.sheet_figures import mast_heights_m, settings_of
from pathprofile.trip.sheet_hours import offset_text, zone_of
from pathprofile.trip.sheet_ladder import Ladder, Move, RelayPlan, ladder
from pathprofile.trip.sheet_order import Order, call_order
from pathprofile.trip.sheet_profile import SheetProfile, sheet_profile

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from pathprofile.changes import Changes
    from pathprofile.contact import Contact
    from pathprofile.link.exposure import Exposure
    from pathprofile.places import Location
    from pathprofile.trip.cells import CellOdds
    from pathprofile.trip.relays import Relay

__all__ = [
    "Move",
    "NextBest",
    "RelayPlan",
    "Sheet",
    "SheetPath",
    "SheetSite",
    "Sources",
    "build_sheet",
    "landmarks_in_sight",
]


@dataclass(frozen=True)
class SheetSite:
    """Where the operator stands.

    Attributes
    ----------
    read_out : tuple of (str, str)
        Two notations to read out, each with its name.
    cell_m : float
        Side of a terrain cell: a fix farther off than this is another spot.
    declination_deg : float
        East positive: magnetic = true - declination.
    sunset_utc, sunrise_utc : datetime or None
        None where the Sun does not set, or not rise, that day.
    """

    name: str
    latitude_deg: float
    longitude_deg: float
    uncertainty_m: float
    read_out: tuple[tuple[str, str], ...]
    ground_m: float
    cell_m: float
    declination_deg: float
    sunrise_utc: dt.datetime | None
    sunset_utc: dt.datetime | None


class NextBest(NamedTuple):
    """A station that did not make the list."""

    name: str
    distance_m: float
    azimuth_deg: float
    magnetic_azimuth_deg: float
    frequency_mhz: float
    mode: str
    verdict_text: str


@dataclass(frozen=True)
class Sources:
    """What the sheet stands on."""

    version: str
    terrain: tuple[str, ...]
    model_kinds: tuple[str, ...]
    vertical_datums: tuple[str, ...]
    methods: tuple[str, ...]
    k_factor: float
    magnetic_model: str
    book_digest: str | None
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class SheetPath:
    """What follows page one for a contact."""

    key: int
    profile: SheetProfile
    changes: Changes


@dataclass(frozen=True)
class Sheet:
    """A trip sheet.

    Attributes
    ----------
    calls : tuple of Call
        In the order to call.
    paths : tuple of SheetPath
        In the same order.
    mast_heights_m : tuple of float
        For which margins are stored.
    exposure : tuple of Exposure
        One a set-up of one's own on the frequencies called, in the mode that asks for most distance; the
        farthest first, handhelds last.
    keeps : tuple of Exposure
        The same, apart for each frequency and line, from which the page works out what is typed.
    left_out : tuple of (str, str)
        Stations that were wanted and are not on the sheet, with the reason.
    """

    site: SheetSite
    date: dt.date
    time_zone: str
    zone: dt.tzinfo
    offset_text: str
    order: Order
    order_reason: str
    calls: tuple[Call, ...]
    beams: tuple[Beam, ...]
    sun: tuple[SunBearing, ...]
    landmarks: tuple[LandmarkBearing, ...]
    ladder: Ladder
    cautions: tuple[str, ...]
    conditional: str
    exposure: tuple[Exposure, ...]
    keeps: tuple[Exposure, ...]
    paths: tuple[SheetPath, ...]
    next_best: tuple[NextBest, ...]
    mast_heights_m: tuple[float, ...]
    left_out: tuple[tuple[str, str], ...]
    sources: Sources


def build_sheet(
    site: Location,
    contacts: Sequence[Contact],
    *,
    date: dt.date,
    time_zone: str | None = None,
    order: Order = "sweep",
    alternatives: Iterable[Contact] = (),
    moves: Iterable[Move] = (),
    relays: Iterable[Relay | RelayPlan] = (),
    landmarks: Iterable[Location] = (),
    changes: Mapping[str, Changes] | None = None,
    areas: Mapping[str, CellOdds] | None = None,
    left_out: Iterable[tuple[str, str]] = (),
    book_digest: str | None = None,
) -> Sheet:
    """Trip sheet of one site and one day.

    Parameters
    ----------
    site : Location
        With the name of the site as its label.
    contacts : sequence of Contact
        One a station, all from this site on this day.
    date : datetime.date
        Local date at the site.
    time_zone : str, optional
        Of the site: "UTC-1" or a name; UTC where none is stated.
    order : {"sweep", "odds"}
        See `pathprofile.trip.sheet_order.call_order`.
    alternatives : iterable of Contact
        Next-best stations, from the same site.
    moves : iterable of Move
        Other spots or sites.
    relays : iterable of Relay or RelayPlan
        From `best_relays`, or stated.
    landmarks : iterable of Location
        To aim by; `landmarks_in_sight` chooses those that can be seen.
    changes : mapping of str to Changes, optional
        By name of the station; worked out here, without spots, where missing.
    areas : mapping of str to CellOdds, optional
        By name of the station; what is shown for those whose ``them.location`` is an area.
    left_out : iterable of (str, str)
        Stations that were wanted and cannot be worked from here, with the reason.
    book_digest : str, optional
        Fingerprint of the book.

    Returns
    -------
    Sheet

    Raises
    ------
    StationError
        When there is no station to call, a contact starts elsewhere or on another day, or a time zone is
        unknown.
    """
    contacts, left_out = tuple(contacts), tuple(left_out)
    _check(site, contacts, date, left_out)
    zone = zone_of(time_zone)
    heights = mast_heights_m(contacts)
    windows = [station_windows(contact, date, zone) for contact in contacts]
    placed, reason = call_order(
        [to_call(contact, own) for contact, own in zip(contacts, windows, strict=True)], order
    )
    calls = tuple(
        make_call(
            place.index,
            contacts[place.index],
            place,
            windows[place.index],
            settings_of(contacts[place.index], heights),
            (areas or {}).get(contacts[place.index].them.station.name),
        )
        for place in placed
    )
    declination = contacts[0].reach.from_end.declination_deg
    return Sheet(
        site=_site(site, contacts, date),
        date=date,
        time_zone=time_zone or "UTC",
        zone=zone,
        offset_text=offset_text(date, zone),
        order=order,
        order_reason=reason,
        calls=calls,
        beams=beams(calls, declination),
        sun=sun_bearings(site.latitude_deg, site.longitude_deg, date, zone, declination),
        landmarks=landmark_bearings(site, landmarks, declination),
        ladder=ladder(calls, tuple(moves), tuple(_plan(relay) for relay in relays)),
        cautions=(*ON_THE_SUMMIT, *CAUTIONS),
        conditional=CONDITIONAL,
        exposure=_exposure(contacts, exposures_by_set_up),
        keeps=_exposure(contacts, exposures_by_line),
        paths=tuple(_path(call, changes or {}) for call in calls),
        next_best=tuple(_next_best(contact) for contact in alternatives),
        mast_heights_m=heights,
        left_out=left_out,
        sources=_sources(contacts, book_digest),
    )


def _check(
    site: Location, contacts: Sequence[Contact], date: dt.date, left_out: Sequence[tuple[str, str]]
) -> None:
    if not contacts:
        why = "; ".join(f"{name}: {reason}" for name, reason in left_out[:3])
        raise StationError(
            f"no station to call from {site.label!r}: a sheet needs at least one"
            + (f" ({why})" if why else "; add stations to the book")
        )
    for contact in contacts:
        start = contact.reach.from_end.location
        if (start.latitude_deg, start.longitude_deg) != (site.latitude_deg, site.longitude_deg):
            raise StationError(
                f"the contact with {contact.them.station.name!r} starts at {start.label!r}, "
                f"not at {site.label!r}: give contacts from the site of the sheet"
            )
        if contact.reach.date != date:
            raise StationError(
                f"the contact with {contact.them.station.name!r} is for {contact.reach.date}, "
                f"the sheet for {date}: give contacts of that day"
            )


def _site(site: Location, contacts: Sequence[Contact], date: dt.date) -> SheetSite:
    end = contacts[0].reach.from_end
    return SheetSite(
        name=site.label,
        latitude_deg=site.latitude_deg,
        longitude_deg=site.longitude_deg,
        uncertainty_m=site.uncertainty_m,
        read_out=read_out(site),
        ground_m=end.ground_m,
        cell_m=max(contact.reach.profile.cell_m for contact in contacts),
        declination_deg=end.declination_deg,
        sunrise_utc=sunrise_utc(site.latitude_deg, site.longitude_deg, date),
        sunset_utc=sunset_utc(site.latitude_deg, site.longitude_deg, date),
    )


def read_out(site: Location) -> tuple[tuple[str, str], ...]:
    """Degrees and minutes, and a locator of at most 8 characters: two notations understood by ear."""
    written = notations(replace(site, uncertainty_m=max(site.uncertainty_m, 10.0), cell=None))
    locators = [text for name, text in written.items() if name.startswith("locator")]
    short = [text for text in locators if len(text) <= 8]
    degrees = next(text for name, text in written.items() if name.startswith("degrees and minutes"))
    return ("degrees and minutes", degrees), ("locator", (short or locators)[-1])


def _plan(relay: Relay | RelayPlan) -> RelayPlan:
    if isinstance(relay, RelayPlan):
        return relay
    return RelayPlan(relay.to, relay.via, relay.pair.chance, f"weaker hop: {relay.weaker_hop}")


def _path(call: Call, changes: Mapping[str, Changes]) -> SheetPath:
    known = changes.get(call.name)
    return SheetPath(call.key, sheet_profile(call.contact.reach), known or what_would_change(call.contact))


def _next_best(contact: Contact) -> NextBest:
    return NextBest(
        contact.them.station.name,
        contact.aim.distance_m,
        contact.aim.azimuth_deg,
        contact.aim.magnetic_azimuth_deg,
        contact.link.frequency_mhz,
        contact.link.mode,
        contact.link.verdict_text,
    )


def _exposure(contacts: Sequence[Contact], of: Callable[..., tuple[Exposure, ...]]) -> tuple[Exposure, ...]:
    asked = [each for each in contacts if each.link.out is not None]
    if not asked:
        return ()
    frequencies = dict.fromkeys(each.link.frequency_mhz for each in asked)
    return of(asked[0].you.station, frequencies)


def _sources(contacts: Sequence[Contact], book_digest: str | None) -> Sources:
    reaches = [contact.reach for contact in contacts]

    def together(lists: Iterable[Iterable[str]]) -> tuple[str, ...]:
        return tuple(dict.fromkeys(item for items in lists for item in items))

    first = reaches[0]
    return Sources(
        version=__version__,
        terrain=together(reach.profile.sources for reach in reaches),
        model_kinds=together(reach.profile.model_kinds for reach in reaches),
        vertical_datums=together(reach.profile.vertical_datums for reach in reaches),
        methods=together([METHOD_NAMES[reach.loss.primary]] for reach in reaches),
        k_factor=first.atmosphere.k_factor,
        magnetic_model=first.survey.from_declination.model,
        book_digest=book_digest,
        warnings=together(reach.warnings for reach in reaches),
    )
