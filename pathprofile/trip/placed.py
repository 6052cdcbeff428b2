"""One contact in full with somebody known by an area: odds of all of it, a path from its typical point."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from pathprofile.contact import Contact, Party, bands_between, contact, mode_for
from pathprofile.errors import OutOfRangeError
from pathprofile.station.catalogue import MODES
from pathprofile.trip.answer import answer_pair
from pathprofile.trip.areas import area_of
from pathprofile.trip.over_area import over_area
from pathprofile.trip.terms import Terms, Wanted, wanted_modes

if TYPE_CHECKING:
    import datetime as dt

    from pathprofile.atmosphere import Atmosphere
    from pathprofile.reach import GroundOptions
    from pathprofile.terrain.store import TerrainStore

__all__ = ["placed_contact"]


def placed_contact(
    you: Party,
    them: Party,
    terrain: TerrainStore,
    *,
    date: dt.date,
    frequency_mhz: float,
    mode: str | None = None,
    atmosphere: Atmosphere | None = None,
    options: GroundOptions | None = None,
    mast_limit_m: float = 100.0,
    path_sigma_db: float | None = None,
    noise_sigma_db: float | None = None,
) -> Contact:
    """Answer for one pair as `pathprofile.contact.contact` does; an end known by an area counts as all of it.

    Returns
    -------
    Contact
        Between two points, theirs. With an area the odds of the pair, and of the other modes, are those over
        the area, the path is that from its typical point, the aim is at its middle, and a doubt says so.

    Raises
    ------
    StationError, LocationError, OutOfRangeError, TerrainError, TerrainGapError
        As for `pathprofile.contact.contact`; OutOfRangeError too for a sigma of one's own with an area.
    """

    def from_points(one: Party, other: Party) -> Contact:
        return contact(
            one,
            other,
            terrain,
            date=date,
            frequency_mhz=frequency_mhz,
            mode=mode,
            atmosphere=atmosphere,
            options=options,
            mast_limit_m=mast_limit_m,
            path_sigma_db=path_sigma_db,
            noise_sigma_db=noise_sigma_db,
        )

    areas = [party.location.cell is not None and area_of(party.location) is not None for party in (you, them)]
    if not any(areas):  # a point typed with few digits is still the point that was meant
        return from_points(you, them)
    if path_sigma_db is not None or noise_sigma_db is not None:
        raise OutOfRangeError(
            f"path sigma {path_sigma_db!r}, noise sigma {noise_sigma_db!r}: an area takes the default ones; "
            "leave them out, or give both ends as points"
        )
    wanted = Wanted(frequency_mhz, mode or mode_for(you, them, frequency_mhz))
    terms = Terms(date=date, wanted=(wanted,), atmosphere=atmosphere)
    if options is not None:
        terms = replace(terms, options=options)
    others = wanted_modes(bands_between(you, them, frequency_mhz), MODES)
    row = answer_pair(you, them, terrain, terms, [each for each in others if each != wanted])
    if row.pair is None or row.cell is None:
        return from_points(you, them)  # whatever stands in the way is said there
    moved = [
        replace(party, location=replace(at, label=party.location.label or party.location.text))
        for party, at in ((you, row.you_at), (them, row.them_at))
    ]
    typical = from_points(moved[0], moved[1])
    answer = over_area(typical, row)
    asked = tuple(inquiry.text for inquiry in row.inquiries[:1])
    return replace(answer, doubts=(answer.doubts[0], *asked, *answer.doubts[1:]))
