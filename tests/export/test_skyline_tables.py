from __future__ import annotations

import csv
import io
import json
from typing import TYPE_CHECKING

import numpy as np
import pytest

from pathprofile.area.landmarks import Landmark, against_skyline
from pathprofile.area.skyline import Skyline
from pathprofile.errors import OutputError
from pathprofile.export.reach_json import to_json
from pathprofile.export.skyline_tables import (
    SKYLINE_COLUMNS,
    skyline_csv,
    skyline_document,
    write_skyline_csv,
    write_skyline_json,
)
from pathprofile.places import Location

if TYPE_CHECKING:
    from pathlib import Path

COUNT = 720


def _skyline() -> Skyline:
    azimuth = np.arange(COUNT) * (360.0 / COUNT)
    height = np.sin(np.radians(azimuth))
    far = np.full(COUNT, 12_345.678)
    height[7] = far[7] = np.nan
    ground = np.where(np.isnan(height), np.nan, 321.0)
    reach = np.full(COUNT, 60_000.0)
    return Skyline(
        Location(47.0, -21.0, label="Gull\nTor"),
        506.0,
        8.5e6,
        azimuth,
        height,
        far,
        ground,
        reach,
        60_000.0,
        ("a note",),
    )


def test_csv_is_read_back() -> None:
    rows = list(csv.DictReader(io.StringIO(skyline_csv(_skyline(), declination_deg=-6.25), newline="")))
    assert len(rows) == COUNT
    assert tuple(rows[0]) == SKYLINE_COLUMNS
    assert float(rows[180]["azimuth_deg"]) == 90.0
    assert float(rows[180]["elevation_deg"]) == 1.0
    assert float(rows[180]["distance_m"]) == 12_345.7
    # magnetic = true − declination: west declination adds
    assert float(rows[180]["magnetic_azimuth_deg"]) == 96.25
    assert float(rows[719]["magnetic_azimuth_deg"]) == 5.75
    assert [rows[7][name] for name in ("elevation_deg", "distance_m", "ground_m")] == ["", "", ""]
    assert rows[7]["reach_m"] == "60000"
    assert {row["open_end"] for row in rows} == {"0", "1"}
    assert all(0.0 <= float(row["magnetic_azimuth_deg"]) < 360.0 for row in rows)


def test_csv_without_declination_leaves_the_magnetic_column_empty() -> None:
    rows = list(csv.DictReader(io.StringIO(skyline_csv(_skyline()), newline="")))
    assert {row["magnetic_azimuth_deg"] for row in rows} == {""}


def test_magnetic_bearings_never_round_to_360() -> None:
    rows = list(csv.DictReader(io.StringIO(skyline_csv(_skyline(), declination_deg=1e-9), newline="")))
    assert float(rows[0]["magnetic_azimuth_deg"]) == 0.0


def test_json_has_a_schema_and_null_for_the_unknown() -> None:
    skyline = _skyline()
    station = against_skyline(skyline, Landmark("Marsh\tEnd", 40_000.0, 90.0), 2.0)
    lost = against_skyline(skyline, Landmark("Lost", 40_000.0, 3.5), 2.0)
    document = skyline_document(
        skyline,
        declination_deg=-6.25,
        stations=[station, lost],
        tiles=[{"name": "N47W022.tif", "sha256": "ab"}],
        versions={"pathprofile": "0"},
    )
    text = to_json(document)
    assert "NaN" not in text
    back = json.loads(text)
    assert back["schema"] == "pathprofile.skyline/1"
    assert back["inputs"]["site"]["label"] == "Gull Tor"
    assert back["skyline"]["elevation_deg"][7] is None
    assert back["skyline"]["elevation_deg"][180] == 1.0
    assert {len(column) for column in back["skyline"].values()} == {COUNT}
    first = back["stations"][0]
    assert first["name"] == "Marsh End"
    assert first["magnetic_azimuth_deg"] == 96.25
    assert first["stands"] == "below"
    assert first["horizon_elevation_deg"] == 1.0
    assert back["stations"][1]["horizon_elevation_deg"] is None
    assert back["stations"][1]["stands"] == "unknown"
    # dip √(2h/a) of the sea from 506 m over 8500 km: 0.6252°, at 92.7 km (closed form); known to 60 km
    low = [angle is not None and angle < -0.6252 for angle in back["skyline"]["elevation_deg"]]
    assert back["skyline"]["open_end"] == low
    assert back["skyline"]["elevation_deg"][540] == -1.0
    assert back["skyline"]["least_elevation_deg"][540] == pytest.approx(-0.6252, abs=1e-4)
    assert back["skyline"]["least_elevation_deg"][180] == 1.0
    assert back["stations"][0]["open_end"] is False
    assert back["notes"] == ["a note"]


def test_every_number_names_its_unit() -> None:
    document = skyline_document(
        _skyline(), stations=[against_skyline(_skyline(), Landmark("x", 1e4, 9.0), 2.0)]
    )
    for part in (document["inputs"], document["skyline"], document["stations"][0]):
        for key, value in part.items():
            if isinstance(value, float | list) and key not in {"tiles", "open_end"}:
                assert key.endswith(("_deg", "_m")), key


def test_files_are_written_whole_with_their_endings(tmp_path: Path) -> None:
    skyline = _skyline()
    table, document = tmp_path / "sky.csv", tmp_path / "sky.json"
    write_skyline_csv(table, skyline, declination_deg=-6.25)
    write_skyline_json(document, skyline, declination_deg=-6.25)
    assert table.read_bytes().decode() == skyline_csv(skyline, declination_deg=-6.25)
    assert json.loads(document.read_text(encoding="utf-8"))["schema"] == "pathprofile.skyline/1"
    with pytest.raises(OutputError, match=r"cannot write CSV into .*ends in .csv"):
        write_skyline_csv(tmp_path / "sky.txt", skyline)
    with pytest.raises(OutputError, match=r"cannot write JSON into .*ends in .json"):
        write_skyline_json(tmp_path / "sky.txt", skyline)
    with pytest.raises(OutputError, match="exists already"):
        write_skyline_csv(table, skyline, overwrite=False)
