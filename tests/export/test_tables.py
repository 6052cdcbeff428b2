"""CSV read back by the csv module; no cell of text may start a formula."""

from __future__ import annotations

import csv
import io
import math
import unicodedata
from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pathprofile.contact import Contact
from pathprofile.errors import OutputError
from pathprofile.export.entries import NoResult
from pathprofile.export.tables import (
    PROFILE_COLUMNS,
    STATION_COLUMNS,
    profile_csv,
    station_csv,
    write_profile_csv,
    write_station_csv,
)
from pathprofile.export.text import one_line, safe_cell
from pathprofile.places import Location

if TYPE_CHECKING:
    from pathlib import Path

Rename = Callable[[Contact, str, str], Contact]
TEXT_COLUMNS = {
    "site",
    "station",
    "date",
    "mode",
    "verdict",
    "second_verdict",
    "odds",
    "weaker",
    "line_of_sight",
    "mechanism",
    "limits",
    "notes",
    "reason",
    "area",
}


def read(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline=""), strict=True))


def test_a_row_a_station_in_the_order_given(island_contacts: tuple[Contact, ...]) -> None:
    without = [
        NoResult("Far Skerry", "no 70 cm antenna", Location(46.5, -21.0, uncertainty_m=90.0), "Gull Tor")
    ]
    rows = read(station_csv([*island_contacts, *without]))
    assert [row["station"] for row in rows] == [one.them.station.name for one in island_contacts] + [
        "Far Skerry"
    ]
    for row, one in zip(rows, island_contacts, strict=False):
        assert row["site"] == "Gull Tor"
        assert row["reason"] == ""
        assert row["verdict"] == one.link.pair.verdict.word
        assert float(row["distance_m"]) == pytest.approx(one.reach.leg.distance_m, abs=0.05)
        assert float(row["magnetic_azimuth_deg"]) == pytest.approx(
            one.reach.from_end.magnetic_azimuth_deg, abs=0.005
        )
        assert float(row["chance"]) == pytest.approx(one.link.pair.chance, abs=5e-4)
        assert float(row["station_latitude_deg"]) == pytest.approx(
            one.reach.to_end.location.latitude_deg, abs=1e-6
        )
    assert rows[-1]["reason"] == "no 70 cm antenna"
    assert rows[-1]["distance_m"] == ""
    assert float(rows[-1]["station_uncertainty_m"]) == 90.0


def test_columns_carry_units(marsh_end: Contact) -> None:
    assert len(set(STATION_COLUMNS)) == len(STATION_COLUMNS)
    for column in set(STATION_COLUMNS) - TEXT_COLUMNS:
        if column.endswith("chance"):
            continue
        assert column.endswith(("_m", "_deg", "_db", "_mhz", "_ratio")), column


def test_dialect_is_rfc_4180(marsh_end: Contact, rename: Rename) -> None:
    """RFC 4180 §2: CRLF after every record, as many fields in each, quotes doubled inside quotes."""
    text = station_csv(rename(marsh_end, 'a "b", c', "d"))
    assert text.endswith("\r\n")
    assert text.count("\r\n") == 2
    assert text.count("\n") == 2
    assert '"a ""b"", c"' in text
    assert len({len(row) for row in csv.reader(io.StringIO(text, newline=""), strict=True)}) == 1


def test_a_row_a_profile_point(marsh_end: Contact) -> None:
    rows = read(profile_csv(marsh_end))
    reach = marsh_end.reach
    assert tuple(rows[0]) == PROFILE_COLUMNS
    assert len(rows) == reach.profile.distance_m.size
    columns = {
        name: np.array([float(row[name]) if row[name] else math.nan for row in rows])
        for name in PROFILE_COLUMNS[2:]
    }
    np.testing.assert_allclose(columns["distance_m"], reach.profile.distance_m, atol=0.005)
    np.testing.assert_allclose(columns["ground_m"], reach.profile.ground_m, atol=0.005)
    np.testing.assert_allclose(columns["longitude_deg"], reach.profile.longitude_deg, atol=1e-6)
    np.testing.assert_allclose(
        columns["line_m"] - columns["ground_with_bulge_m"], columns["clearance_m"], atol=0.011
    )
    inner = slice(1, -1)
    np.testing.assert_allclose(
        columns["clearance_m"][inner] / columns["fresnel_m"][inner],
        columns["fresnel_ratio"][inner],
        atol=0.01,
        rtol=0.01,
    )
    assert [rows[0]["fresnel_ratio"], rows[-1]["fresnel_ratio"]] == ["", ""]
    assert not any("nan" in cell.lower() for row in rows for cell in list(row.values())[2:])


def test_profiles_of_several_paths(island_contacts: tuple[Contact, ...]) -> None:
    rows = read(profile_csv(island_contacts))
    for one in island_contacts:
        mine = [row for row in rows if row["station"] == one.them.station.name]
        assert len(mine) == one.reach.survey.cluttered.distance_m.size


def test_profile_across_the_date_line(date_line: Contact) -> None:
    longitude = np.array([float(row["longitude_deg"]) for row in read(profile_csv(date_line))])
    assert (longitude[0], longitude[-1]) == (179.7213, -179.7642)
    assert np.abs(longitude).min() > 179.0  # none of them interpolated the long way round


def test_byte_order_mark(tmp_path: Path, marsh_end: Contact, rename: Rename) -> None:
    one = rename(marsh_end, "Ærø 東京", "b")
    write_station_csv(tmp_path / "plain.csv", one)
    write_station_csv(tmp_path / "marked.csv", one, byte_order_mark=True)
    plain, marked = ((tmp_path / name).read_bytes() for name in ("plain.csv", "marked.csv"))
    assert marked == b"\xef\xbb\xbf" + plain
    with (tmp_path / "marked.csv").open(encoding="utf-8-sig", newline="") as file:
        assert next(csv.DictReader(file))["site"] == "Ærø 東京"


def test_hostile_names(marsh_end: Contact, rename: Rename, hostile_name: str) -> None:
    text = station_csv([rename(marsh_end, hostile_name, hostile_name), NoResult(hostile_name, hostile_name)])
    rows = read(text)
    assert len(rows) == 2
    text.encode("utf-8")
    for row in rows:
        for column in TEXT_COLUMNS:
            check_cell(row[column])


def check_cell(cell: str) -> None:
    assert not cell.lstrip().startswith(tuple("=+-@\t\r＝＋－＠"))
    assert not set(cell) & set("\r\n\t\x00\x07\x1b\u202e")


@given(st.text())
def test_any_text_is_safe(text: str) -> None:
    check_cell(safe_cell(text))
    one_line(text).encode("utf-8")
    assert one_line(one_line(text)) == one_line(text)


def test_numbers_are_never_quoted_as_text(marsh_end: Contact) -> None:
    row = read(station_csv(marsh_end))[0]
    assert float(row["station_longitude_deg"]) < 0.0
    assert row["station_longitude_deg"].startswith("-")


def test_refuses_in_one_line_and_writes_nothing(tmp_path: Path, marsh_end: Contact) -> None:
    for write in (write_station_csv, write_profile_csv):
        with pytest.raises(
            OutputError, match=r"cannot write CSV into .*day\.xls': give a name that ends in \.csv"
        ):
            write(tmp_path / "day.xls", marsh_end)
        with pytest.raises(OutputError, match="there is no folder"):
            write(tmp_path / "none" / "day.csv", marsh_end)
    assert list(tmp_path.iterdir()) == []


def test_every_character_left_is_one_that_xml_allows() -> None:
    """XML 1.0 §2.2 production 2, Char, for every character there is."""
    for start in range(0, 0x110000, 0x1000):
        left = one_line("".join(map(chr, range(start, start + 0x1000))))
        for character in left:
            code = ord(character)
            assert 0x20 <= code <= 0xD7FF or 0xE000 <= code <= 0xFFFD or code >= 0x10000
            assert unicodedata.category(character) not in {"Cc", "Cs"}
            assert unicodedata.bidirectional(character) not in {
                "LRE",
                "RLE",
                "LRO",
                "RLO",
                "PDF",
                "LRI",
                "RLI",
                "FSI",
                "PDI",
            }
