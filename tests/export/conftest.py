"""Contacts to export: on the sample island, and across the date line; names as hostile as they come."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import rasterio
from rasterio.transform import Affine

from pathprofile.contact import Contact, Party, contact
from pathprofile.places import Location, parse_location
from pathprofile.sample import sample_dir, sample_places
from pathprofile.station import Station
from pathprofile.terrain.store import TerrainStore

if TYPE_CHECKING:
    from collections.abc import Callable

DAY = dt.date(2026, 11, 24)
HOSTILE = [
    "<b>&\"';=cmd|' /C calc'!A0",
    "=cmd|' /C calc'!A0",
    "+1+1",
    "-2",
    "@SUM(1)",
    "＝1+1",
    "  =1+1",
    "two\r\nlines\tand a tab",
    "nul\x00bell\x07escape\x1b[31m",
    "turned \u202egnp.exe\u2066",
    "lone \ud800 surrogate \uffff and \ufdd0",
    "]]> <![CDATA[ <!-- --> <?xml ?>",
    "cat 🐈\u200d⬛ flag 🏴",
    "Ærø 東京 مرحبا",
    "x" * 300,
    "../../etc/passwd",
    "$[name] %s {0}",
    ";,\"'",
]


def named(one: Contact, you: str, them: str) -> Contact:
    """The same contact under other names, whatever the models think of them."""
    parties = [
        replace(party, station=party.station.model_copy(update={"name": name}))
        for party, name in ((one.you, you), (one.them, them))
    ]
    return replace(one, you=parties[0], them=parties[1])


@pytest.fixture(scope="session")
def rename() -> Callable[[Contact, str, str], Contact]:
    return named


@pytest.fixture(scope="session")
def island() -> TerrainStore:
    return TerrainStore.open([sample_dir()])


def _ask(store: TerrainStore, a: Location, b: Location, **asked: Any) -> Contact:
    you = Party(Station(name=a.label, place="x"), a, "open")
    them = Party(Station(name=b.label, place="x"), b)
    return contact(you, them, store, date=DAY, **({"frequency_mhz": 144.3, "with_modes": False} | asked))


def _place(name: str) -> Location:
    place = sample_places()[name]
    return parse_location(f"{place.latitude_deg:.5f} {place.longitude_deg:.5f}", label=name)


@pytest.fixture(scope="session")
def marsh_end(island: TerrainStore) -> Contact:
    """Gull Tor to Marsh End, with the table of modes."""
    return _ask(island, _place("Gull Tor"), _place("Marsh End"), with_modes=True)


@pytest.fixture(scope="session")
def island_contacts(island: TerrainStore, marsh_end: Contact) -> tuple[Contact, ...]:
    """From Gull Tor to three places, in modes that give different verdicts; the first in SSB."""
    names = [name for name in sample_places() if name not in {"Gull Tor", "Marsh End"}]
    others = [
        _ask(island, _place("Gull Tor"), _place(name), mode=mode)
        for name, mode in zip(names[:3], ("fm", "morse", "packet-9600"), strict=True)
    ]
    return (marsh_end, *others)


@pytest.fixture(scope="session")
def date_line(tmp_path_factory: pytest.TempPathFactory) -> Contact:
    """70 km across 180° of longitude, over a low plain."""
    folder = tmp_path_factory.mktemp("date_line")
    for name, west in (("N10E179.tif", 179), ("N10W180.tif", -180)):
        heights = np.full((61, 61), 3.0, dtype="float32")
        with rasterio.open(
            folder / name,
            "w",
            driver="GTiff",
            width=61,
            height=61,
            count=1,
            dtype="float32",
            crs="EPSG:4326",
            transform=Affine(1 / 60, 0, west - 1 / 120, 0, -1 / 60, 11 + 1 / 120),
        ) as dataset:
            dataset.write(heights, 1)
    with TerrainStore.open([folder]) as store:
        return _ask(
            store,
            Location(10.31, 179.7213, "West Cay", 5.0),
            Location(10.68, -179.7642, "East Cay", 5.0),
        )


@pytest.fixture(params=range(len(HOSTILE)), ids=lambda i: f"name{i}")
def hostile_name(request: pytest.FixtureRequest) -> str:
    return HOSTILE[request.param]
