"""The JSON document of a contact: what links, pair, modes and changes must hold."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from pathprofile.changes import Changes, what_would_change
from pathprofile.export.contact_json import contact_document
from pathprofile.export.reach_json import to_json

if TYPE_CHECKING:
    from pathprofile.contact import Contact
    from pathprofile.terrain.store import TerrainStore

LINK = {
    "from",
    "to",
    "mode",
    "eirp_dbm",
    "path_loss_db",
    "level_dbm",
    "s_reading",
    "noise_dbm",
    "snr_db",
    "required_snr_db",
    "margin_db",
    "comfortable_margin_db",
    "chance",
    "sigma_db",
    "verdict",
    "terms",
}
NOTHING = Changes((), (), (), ())


@pytest.fixture(scope="module")
def changes(marsh_end: Contact, island: TerrainStore) -> Changes:
    return what_would_change(marsh_end, island)


@pytest.fixture
def document(marsh_end: Contact, changes: Changes) -> dict[str, Any]:
    def refuse(name: str) -> None:
        raise AssertionError(f"{name} is no JSON (RFC 8259 §6)")

    read: dict[str, Any] = json.loads(to_json(contact_document(marsh_end, changes)), parse_constant=refuse)
    return read


def test_shape(document: dict[str, Any]) -> None:
    assert document["schema"] == "pathprofile.reach/1"
    assert {"inputs", "path", "profile", "sightline", "loss", "warnings"} <= set(document)
    assert len(document["links"]) == 2
    for link in document["links"]:
        assert set(link) >= LINK
        assert link["terms"]
        for term in link["terms"]:
            assert {"name", "value_db", "source"} <= set(term)
            assert term["source"]
    assert {"chance", "verdict"} <= set(document["pair"])
    for key in ("modes", "changes", "assumed", "exposure", "cautions"):
        assert document[key], key


def test_directions_are_each_others(document: dict[str, Any]) -> None:
    out, back = document["links"]
    assert (out["from"], out["to"]) == ("Gull Tor", "Marsh End")
    assert (back["from"], back["to"]) == ("Marsh End", "Gull Tor")


def test_terms_add_up(document: dict[str, Any]) -> None:
    """Level, noise and margin are the sums of the terms that stand beside them, to 1e-9 dB."""
    for link in document["links"]:
        planes = {
            plane: math.fsum(term["value_db"] for term in link["terms"] if term["plane"] == plane)
            for plane in ("eirp", "level", "noise", "required")
        }
        assert link["eirp_dbm"] == pytest.approx(planes["eirp"], abs=1e-9)
        assert link["level_dbm"] == pytest.approx(planes["eirp"] + planes["level"], abs=1e-9)
        assert link["noise_dbm"] == pytest.approx(planes["noise"], abs=1e-9)
        margin_db = planes["eirp"] + planes["level"] - planes["noise"] - planes["required"]
        assert link["margin_db"] == pytest.approx(margin_db, abs=1e-9)


def test_pair_is_no_likelier_than_either_direction(document: dict[str, Any]) -> None:
    assert document["pair"]["chance"] <= min(link["chance"] for link in document["links"]) + 1e-12
    assert document["pair"]["verdict"] in {"solid", "workable", "marginal", "unlikely"}


def test_changes_are_those_found(document: dict[str, Any], changes: Changes) -> None:
    found = [*changes.ranked, *changes.mistakes]
    assert [(c["what"], c["gain_db"], c["chance"]) for c in document["changes"]] == [
        (change.what, change.gain_db, change.chance) for change in found
    ]


def test_modes_without_an_antenna_are_blank_with_the_reason(marsh_end: Contact) -> None:
    row = replace(marsh_end.modes[0], pair=None, out_margin_db=None, reason="no 70 cm antenna at Marsh End")
    written = contact_document(replace(marsh_end, modes=(row,)), NOTHING)["modes"][0]
    assert (written["chance"], written["verdict"], written["out_margin_db"]) == (None, None, None)
    assert written["reason"] == "no 70 cm antenna at Marsh End"


def test_a_beacon_has_one_direction(marsh_end: Contact) -> None:
    link = replace(marsh_end.link, out=None)
    (only,) = contact_document(replace(marsh_end, link=link), NOTHING)["links"]
    assert (only["from"], only["to"]) == ("Marsh End", "Gull Tor")
