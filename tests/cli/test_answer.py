"""The first line of an answer."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from pathprofile.cli.answer import headline
from pathprofile.contact import Contact, Party, contact
from pathprofile.link.evaluate import Pair
from pathprofile.link.words import verdict
from pathprofile.places import parse_location
from pathprofile.station import Station
from pathprofile.terrain.store import TerrainStore


@pytest.fixture(scope="module")
def found(dem: str) -> Contact:
    ends = (
        Party(Station(name=name, place="x"), parse_location(place, label=name))
        for name, place in (("Gull Tor", "47.74833 -21.00083"), ("Marsh End", "46.29750 -20.93750"))
    )
    with TerrainStore.open([dem]) as store:
        return contact(*ends, store, date=dt.date(2026, 6, 14), frequency_mhz=144.3, with_modes=False)


def test_the_headline_has_both_verdicts_where_methods_part(found: Contact) -> None:
    good, bad = (Pair(chance, 0.5, verdict(chance, 0.5)) for chance in (0.88, 0.02))
    agreed = replace(found, link=replace(found.link, pair=good, second=good, methods_part=False))
    assert headline(agreed) == "WORKABLE on 2 m SSB, about 9 in 10"
    parted = replace(agreed.link, second=bad, methods_part=True, disagreement_db=38.0)
    assert headline(replace(agreed, link=parted)) == (
        "WORKABLE OR UNLIKELY on 2 m SSB: about 9 in 10 or below 1 in 20"
    )
