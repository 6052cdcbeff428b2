"""One contact as JSON: the path's document with link, modes, changes and cautions added."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pathprofile.changes import distance_to_keep_m
from pathprofile.export.reach_json import reach_document
from pathprofile.link.exposure import exposures_by_set_up, rounded_up
from pathprofile.trip.areas import area_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from pathprofile.changes import Change, Changes
    from pathprofile.contact import Contact
    from pathprofile.link.evaluate import Direction, ModeRow
    from pathprofile.link.exposure import Exposure
    from pathprofile.places import Location

__all__ = ["contact_document"]


def contact_document(
    contact: Contact, changes: Changes, *, tiles: Sequence[Mapping[str, object]] = ()
) -> dict[str, Any]:
    """Everything about one contact as plain lists, numbers and text.

    Returns
    -------
    dict
        ``schema`` "pathprofile.reach/1" with ``pointing`` (at the middle of an area), ``links``, ``pair``,
        ``modes``, ``changes``, ``assumed``, ``exposure``, ``cautions``, ``doubts``. The ends of ``inputs``
        say how well they are known.
    """
    link = contact.link
    document = reach_document(contact.reach, tiles=tiles, versions=_versions())
    for end, stated in (("from", contact.you.location), ("to", contact.them.location)):
        document["inputs"][end] |= _known(stated)
    document["pointing"] = {
        "at": "path" if contact.to_middle is None else "middle",
        "distance_m": contact.aim.distance_m,
        "azimuth_deg": contact.aim.azimuth_deg,
        "magnetic_azimuth_deg": contact.aim.magnetic_azimuth_deg,
        "back_azimuth_deg": contact.aim.back_azimuth_deg,
        "magnetic_back_azimuth_deg": contact.aim.back_magnetic_azimuth_deg,
    }
    document["links"] = [
        _direction(way, link.mode, *ends)
        for way, ends in (
            (link.out, (link.you.station, link.them.station)),
            (link.back, (link.them.station, link.you.station)),
        )
        if way is not None
    ]
    document["pair"] = {
        "mode": link.mode,
        "chance": link.pair.chance,
        "comfortable_chance": link.pair.comfortable_chance,
        "verdict": link.pair.verdict.word,
        "text": link.verdict_text,
        "second_opinion_chance": link.second.chance if link.second else None,
        "second_opinion_verdict": link.second.verdict.text if link.second else None,
        "methods_part": link.methods_part,
        "weaker": "you → them" if link.weaker == "out" else "them → you",
        "who_hears_whom": link.who_hears_whom,
        "good_within_deg": link.good_within_deg,
        "spread": {
            "path_db": link.spread.path_db,
            "noise_out_db": link.spread.noise_out_db,
            "noise_back_db": link.spread.noise_back_db,
            "location_db": link.spread.location_db,
        },
    }
    document["modes"] = [_mode(row) for row in contact.modes]
    document["changes"] = [_change(change) for change in (*changes.ranked, *changes.mistakes)]
    document["changes_of_no_use"] = [_change(change) for change in changes.no_use]
    document["changes_not_offered"] = list(changes.notes)
    document["assumed"] = [
        {"station": item.station, "what": item.what, "value": item.value, "source": item.source}
        for item in link.assumed
    ]
    document["exposure"] = [
        _exposure(
            link.exposure[0],
            distance_to_keep_m(contact, changes),
            "" if link.pair.verdict.word == "solid" else " and the changes offered",
        ),
        _exposure(link.exposure[1], _their_distance_m(contact)),
    ]
    document["cautions"] = list(link.cautions)
    document["notes"] = list(link.notes)
    document["doubts"] = list(contact.doubts)
    return document


def _known(stated: Location) -> dict[str, Any]:
    """How well a place is known: the cell or area within which the point of the path is a typical one."""
    area = area_of(stated)
    return {
        "uncertainty_m": stated.uncertainty_m,
        "area": None
        if area is None
        else {
            "stated": stated.text.strip() or None,
            "south_deg": area.south_deg,
            "west_deg": area.west_deg,
            "north_deg": area.north_deg,
            "east_deg": area.east_deg,
        },
    }


def _direction(way: Direction, mode: str, sender: str, receiver: str) -> dict[str, Any]:
    budget = way.budget
    return {
        "from": sender,
        "to": receiver,
        "mode": mode,
        "eirp_dbm": budget.eirp_dbm,
        "path_loss_db": budget.path_loss_db,
        "level_dbm": budget.level_dbm,
        "level_uv": budget.level_uv,
        "s_reading": budget.s_reading,
        "copy": budget.copy_word,
        "noise_dbm": budget.noise_dbm,
        "snr_db": budget.snr_db,
        "required_snr_db": budget.required_snr_db,
        "margin_db": budget.margin_db,
        "comfortable_margin_db": budget.comfortable_margin_db,
        "chance": way.chance,
        "comfortable_chance": way.comfortable_chance,
        "sigma_db": way.sigma_db,
        "verdict": _verdict(way),
        "polarization_loss_db": {
            "taken": budget.polarization.loss_db,
            "least": budget.polarization.least_db,
            "most": budget.polarization.most_db,
        },
        "terms": [
            {"name": term.name, "value_db": term.value_db, "plane": term.plane, "source": term.source}
            for term in budget.terms
        ],
    }


def _verdict(way: Direction) -> str:
    from pathprofile.link.words import verdict

    return verdict(way.chance, way.comfortable_chance).word


def _mode(row: ModeRow) -> dict[str, Any]:
    return {
        "band": row.band,
        "frequency_mhz": row.frequency_mhz,
        "mode": row.mode,
        "chance": row.pair.chance if row.pair else None,
        "verdict": row.pair.verdict.word if row.pair else None,
        "second_opinion_chance": row.second.chance if row.second else None,
        "methods_part": row.methods_part,
        "out_margin_db": row.out_margin_db,
        "back_margin_db": row.back_margin_db,
        "polarization": row.polarization or None,
        "reason": row.reason or None,
    }


def _change(change: Change) -> dict[str, Any]:
    return {
        "what": change.what,
        "gain_db": change.gain_db,
        "helps": change.helps,
        "chance": change.chance,
        "verdict": change.verdict.word,
        "second_opinion_chance": change.second_chance,
        "methods_part": change.methods_part,
        "note": change.note or None,
        "keep_m": change.keep_m,
    }


def _exposure(one: Exposure, keep_m: float | None, also: str = "") -> dict[str, Any]:
    """``keep_m`` covers all that the answer offers; what holds for the mode alone stands apart."""
    words = (
        (one.words if one.keep_m is None else "Does not send.")
        if keep_m is None
        else f"Keep {rounded_up(keep_m):.1f} m from the antenna at {one.station}: covers every mode of the "
        f"set-up{also} (far-field estimate, not a legal assessment; local rules prevail)."
    )
    return {
        "station": one.station,
        "keep_m": keep_m,
        "words": words,
        "eirp_w": one.eirp_w,
        "in_this_mode": {
            "mode": one.mode,
            "duty": one.duty,
            "keep_m": one.keep_m,
            "fcc_m": one.fcc_m,
            "icnirp_m": one.icnirp_m,
        },
    }


def _their_distance_m(contact: Contact) -> float | None:
    found = exposures_by_set_up(contact.them.station, [contact.link.frequency_mhz])
    return max((one.keep_m for one in found if one.keep_m is not None), default=None)


def _versions() -> dict[str, str]:
    from importlib.metadata import version

    from pathprofile import __version__

    return {"pathprofile": __version__} | {name: version(name) for name in ("numpy", "pyproj", "rasterio")}
