"""A trip sheet of the sample island, with names that no page must trip over."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from pathprofile.contact import Contact, Party, contact
from pathprofile.export.sheet import sheet_html
from pathprofile.export.sheet.browser import Tab, find_browser, open_tab
from pathprofile.places import Location, parse_location
from pathprofile.sample import sample_dir
from pathprofile.station import Station
from pathprofile.terrain.store import TerrainStore
from pathprofile.trip.sheet import Move, RelayPlan, Sheet, build_sheet

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

DATE = dt.date(2026, 6, 14)
SITE = parse_location("47.74833 -21.00083", label="Gull Tor")
NASTY = "<script>alert(1)</script>\"'&\u202eב🗼"

BEAM = {"bands": ["2 m"], "modes": ["ssb", "morse", "weak-digital"], "antenna": {"kind": "5-element beam"},
        "polarization": "horizontal", "height_m": 4, "max_height_m": 6, "power_w": 10,
        "feedline": {"cable": "7 mm low-loss", "length_m": 12, "connectors": 2}}  # fmt: skip
WHIP = {"bands": ["2 m"], "modes": ["fm", "packet-1200"], "antenna": {"kind": "j-pole"}, "height_m": 3,
        "power_w": 25, "max_height_m": 6, "feedline": {"cable": "RG-58", "length_m": 8}}  # fmt: skip

THEM = {
    "Marsh End": (
        "46.29750 -20.93750", 144.3, "ssb",
        {"listening_hours": ["18:00-20:00"], "time_zone": "UTC", "set_ups": [
            {"bands": ["2 m"], "modes": ["ssb", "morse"], "antenna": {"kind": "7-element beam"},
             "power_w": 50, "polarization": "horizontal", "height_m": 12,
             "noise": {"category": "residential"}}]},
    ),
    "Lamp Skerry beacon": (
        "46.49583 -21.56750", 144.44, "morse",
        {"receive_only": True, "set_ups": [
            {"bands": ["2 m"], "modes": ["morse"], "antenna": {"kind": "horizontal loop"}, "height_m": 8,
             "power_w": 8, "transmit_mhz": 144.44}]},
    ),
    "Tidewick relay": (
        "46.77917 -21.17583", 145.0, "fm",
        {"set_ups": [
            {"bands": ["2 m"], "modes": ["fm"], "antenna": {"kind": "collinear"}, "height_m": 20,
             "power_w": 15, "receive_mhz": 145.0, "shift_mhz": 0.6, "tone_hz": 88.5}]},
    ),
    "Ravel Gap gateway": (
        "47.07583 -20.97083", 144.925, "packet-1200",
        {"set_ups": [
            {"bands": ["2 m"], "modes": ["packet-1200"], "antenna": {"kind": "collinear"}, "height_m": 15,
             "power_w": 25, "receive_mhz": 144.925, "packet_address": "RAVEL-7"}]},
    ),
    "Pennowick": (
        "47.30833 -21.75000", 144.3, "ssb",
        {"listening_hours": ["08:00-09:30", "19:00-21:00"], "time_zone": "UTC", "set_ups": [
            {"bands": ["2 m"], "antenna": {"kind": "5/8-wave"}, "height_m": 9, "power_w": 25,
             "noise": {"category": "rural"}}]},
    ),
}  # fmt: skip


@pytest.fixture(scope="session")
def sample_contacts() -> tuple[Contact, ...]:
    me = Station.read({"name": "Gull Tor", "place": "47.74833 -21.00083", "set_ups": [BEAM, WHIP]})
    found = []
    with TerrainStore.open([sample_dir()]) as terrain:
        for name, (place, frequency_mhz, mode, more) in THEM.items():
            them = Station.read({"name": name, "place": place, **more})
            found.append(
                contact(
                    Party(me, SITE, "open"),
                    Party(them, them.location()),
                    terrain,
                    date=DATE,
                    frequency_mhz=frequency_mhz,
                    mode=mode,
                )
            )
    return tuple(found)


@pytest.fixture(scope="session")
def make_sheet(sample_contacts: tuple[Contact, ...]) -> Callable[..., Sheet]:
    def make(contacts: tuple[Contact, ...] = sample_contacts, **options: object) -> Sheet:
        values: dict[str, object] = {
            "date": DATE,
            "time_zone": "UTC-1",
            "landmarks": [parse_location("47.50250 -21.49917", label="High Hallow")],
            "moves": [Move("Kestrel Pike", 47.61167, -21.3825, "Marsh End", 6.0, 0.95, "an hour on foot")],
            "relays": [RelayPlan("Marsh End", "Tidewick relay", 0.6)],
            "alternatives": contacts[:1],
            "left_out": [("Skerrow Hill", "no digital voice on 70 cm at Gull Tor")],
            "book_digest": "3f9a1c20",
        }
        return build_sheet(SITE, contacts, **{**values, **options})  # type: ignore[arg-type]

    return make


@pytest.fixture(scope="session")
def sheet(make_sheet: Callable[..., Sheet]) -> Sheet:
    return make_sheet()


@pytest.fixture(scope="session")
def nasty_sheet(make_sheet: Callable[..., Sheet], sample_contacts: tuple[Contact, ...]) -> Sheet:
    """Every text that a user may write holds markup, quotes, a right-to-left letter and an emoji."""
    contacts = tuple(
        replace(
            one,
            them=replace(
                one.them, station=one.them.station.model_copy(update={"name": f"{i}{NASTY}", "notes": NASTY})
            ),
            link=replace(one.link, who_hears_whom=NASTY),
        )
        for i, one in enumerate(sample_contacts)
    )
    place = Location(SITE.latitude_deg, SITE.longitude_deg, NASTY, SITE.uncertainty_m)
    return build_sheet(
        place,
        contacts,
        date=DATE,
        time_zone="UTC-1",
        landmarks=[replace(place, latitude_deg=47.5)],
        moves=[Move(NASTY, 47.6, -21.4, NASTY, 6.0, 0.9, NASTY)],
        relays=[RelayPlan(NASTY, NASTY, 0.6, NASTY)],
        alternatives=contacts[:1],
        left_out=[(NASTY, NASTY)],
        book_digest=NASTY,
    )


@pytest.fixture(scope="session")
def tab() -> Iterator[Tab]:
    program = find_browser()
    if program is None:
        pytest.skip("no chromium to drive on this machine")
    with open_tab(program) as opened:
        yield opened


@pytest.fixture(scope="session")
def page(sheet: Sheet, tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("sheet") / "trip.html"
    file.write_text(sheet_html(sheet), encoding="utf-8")
    return file
