"""``locate``, ``tiles``, ``defaults`` and ``demo``."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
import rasterio
from rasterio.transform import Affine

from pathprofile.link.assume import DEFAULTS

if TYPE_CHECKING:
    from collections.abc import Callable

GULL_TOR = "47.74833,-21.00083"
MARSH_END = "46.29750,-20.93750"


# --- locate


def test_one_place_in_every_notation(run: Callable) -> None:
    """Locator against the package maidenhead 1.8, MGRS against mgrs 1.5 (GEOTRANS)."""
    import maidenhead
    import mgrs

    text = run("locate", GULL_TOR).answer()
    assert "47.74833 -21.00083" in text
    assert maidenhead.to_maiden(47.74833, -21.00083, 3).lower() in text.lower()
    assert mgrs.MGRS().toMGRS(47.74833, -21.00083, MGRSPrecision=5) in text.replace(" ", "")
    for notation in ("decimal degrees", "degrees and minutes", "locator", "UTM", "MGRS"):
        assert notation in text


def test_every_notation_leads_back(run: Callable) -> None:
    place = json.loads(run("locate", "--json", GULL_TOR).answer())["places"][0]
    for name, typed in place["notations"].items():
        again = json.loads(run("locate", "--json", typed).answer())["places"][0]
        tolerance_deg = 2.0 * (again["uncertainty_m"] + 1.0) / 70_000.0  # a degree is 74 km or more here
        assert again["latitude_deg"] == pytest.approx(47.74833, abs=tolerance_deg), name
        assert again["longitude_deg"] == pytest.approx(-21.00083, abs=tolerance_deg), name


def test_a_locator_is_a_cell(run: Callable) -> None:
    """A square of four characters is 1° high and 2° wide."""
    text = run("locate", "HN97").answer()
    assert "cell" in text
    cell = json.loads(run("locate", "--json", "HN97").answer())["places"][0]["cell"]
    assert (cell["south_deg"], cell["north_deg"]) == (47.0, 48.0)
    assert (cell["west_deg"], cell["east_deg"]) == (-22.0, -20.0)


def test_digits_set_the_uncertainty(run: Callable) -> None:
    """Half of 0.01° is 556 m along a meridian."""
    assert "±55" in run("locate", "47.74 -21.00").answer()


def test_the_ground_is_told_where_there_are_tiles(
    run: Callable, dem: str, monkeypatch: pytest.MonkeyPatch, alone: Path
) -> None:
    """Gull Tor is 500 m high, as the picture of the demo shows; by option, environment or book."""
    words = "  ground                        500 m / 1640 ft above the sea"
    assert "ground" not in run("locate", GULL_TOR).answer()
    assert words in run("locate", GULL_TOR, "--dem", dem).answer().splitlines()
    assert "not on these tiles" in run("locate", "12,12", "--dem", dem).answer()
    document = json.loads(run("locate", GULL_TOR, "12,12", "--dem", dem, "--json").answer())
    assert [place["ground_m"] for place in document["places"]] == [pytest.approx(500.0, abs=1.0), None]
    assert "'nowhere'" in run("locate", GULL_TOR, "--dem", "nowhere").refusal()
    (alone / "trip.toml").write_text(f'[trip]\ntiles = ["{dem}"]\n', encoding="utf-8")
    assert words in run("locate", GULL_TOR).answer().splitlines()
    (alone / "trip.toml").unlink()
    monkeypatch.setenv("PATHPROFILE_DEM", dem)
    assert words in run("locate", GULL_TOR).answer().splitlines()
    assert "ground" not in run("locate", "12,12").answer()
    monkeypatch.setenv("PATHPROFILE_DEM", "nowhere")
    assert "ground" not in run("locate", GULL_TOR).answer()


def test_a_place_on_a_narrow_terminal(run: Callable, monkeypatch: pytest.MonkeyPatch, dem: str) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    lines = run("locate", GULL_TOR, "--dem", dem).answer().splitlines()
    assert max(map(len, lines)) <= 40
    assert "    500 m / 1640 ft above the sea" in lines


def test_two_places(run: Callable) -> None:
    """Distance and azimuths against geographiclib 2.0."""
    from geographiclib.geodesic import Geodesic

    line = Geodesic.WGS84.Inverse(47.74833, -21.00083, 46.29750, -20.93750)
    between = json.loads(run("locate", GULL_TOR, MARSH_END, "--json", "--date", "2026-06-14").answer())[
        "between"
    ]
    assert between["distance_m"] == pytest.approx(line["s12"], abs=1e-3)
    assert between["azimuth_deg"] == pytest.approx(line["azi1"] % 360, abs=1e-6)
    assert between["back_azimuth_deg"] == pytest.approx((line["azi2"] + 180) % 360, abs=1e-6)
    for end, which in (("", "from"), ("back_", "to")):
        expected = between[f"{end}azimuth_deg"] - between[f"{which}_declination_deg"]
        assert between[f"magnetic_{end}azimuth_deg"] == pytest.approx(expected % 360, abs=1e-9)
    # Zone 27 has its central meridian at 21° W, so grid north is true north there.
    assert between["grid_azimuth_deg"] == pytest.approx(between["azimuth_deg"], abs=0.01)
    text = run("locate", GULL_TOR, MARSH_END, "--date", "2026-06-14").answer()
    assert f"{line['s12'] / 1000:.3f} km" in text
    assert all(word in text for word in ("true", "magnetic", "grid", "out", "back"))


def test_no_grid_near_a_pole(run: Callable) -> None:
    """UTM ends at 84° N."""
    ran = run("locate", GULL_TOR, "86,10", "--date", "2026-06-14")
    assert ran.code == 0
    assert "none" in ran.out.splitlines()[-1]
    found = json.loads(run("locate", GULL_TOR, "86,10", "--json", "--date", "2026-06-14").answer())["between"]
    assert found["grid_back_azimuth_deg"] is None
    assert found["grid_azimuth_deg"] is not None


def test_declination_past_its_validity_warns(run: Callable) -> None:
    ran = run("locate", GULL_TOR, MARSH_END, "--date", "2041-01-01")
    assert ran.code == 0
    assert "2041-01-01" in ran.err
    assert "warning" not in ran.out


def test_locate_fits_80_columns(run: Callable) -> None:
    text = run("locate", GULL_TOR, "33°55'12.345\"S 18°25'12.345\"E", "--date", "2026-06-14").answer()
    assert max(map(len, text.splitlines())) <= 80


BOOK = """\
[trip]
tiles = [{tiles}]
[[sites]]
name = "Gull Tor"
place = "47.74833 -21.00083"
[[stations]]
name = "Marsh End"
place = "46.29750 -20.93750"
"""


@pytest.fixture
def book(alone: Path, dem: str) -> Path:
    path = alone / "trip.toml"
    path.write_text(BOOK.format(tiles=json.dumps(dem)), encoding="utf-8")
    return path


def test_names_of_a_book_are_places(run: Callable, book: Path, tmp_path: Path) -> None:
    by_name = json.loads(run("locate", "gull tor", "Marsh End", "--book", str(book), "--json").answer())
    typed = json.loads(run("locate", GULL_TOR, MARSH_END, "--json").answer())
    assert by_name["between"] == typed["between"]
    assert [place["label"] for place in by_name["places"]] == ["Gull Tor", "Marsh End"]
    elsewhere = book.rename(tmp_path / "other.toml")
    assert run("locate", "Gull Tor", "--book", str(elsewhere)).answer().startswith("Gull Tor: 47.74833 -21.0")


def test_a_book_in_the_folder_is_asked_for_what_is_no_place(run: Callable, book: Path) -> None:
    ran = run("locate", "Marsh End")
    assert ran.answer().startswith("Marsh End: 46.29750 -20.93750")
    assert book.name in ran.err
    assert run("locate", MARSH_END).err == ""
    assert "did you mean Marsh End?" in run("locate", "Marsh Ent", "--book", str(book)).refusal()


def test_a_name_without_a_book_is_refused(run: Callable) -> None:
    assert "cannot read 'Gull Tor' as a place" in run("locate", "Gull Tor").refusal()


@pytest.mark.parametrize("read", ["95,12", "95, 12"])
def test_two_whole_degrees_beyond_the_pole(run: Callable, read: str) -> None:
    refusal = run("locate", read).refusal()
    assert "latitude 95 is beyond 90 degrees" in refusal
    assert "did you mean '12 95'?" in refusal


def test_a_book_is_not_written_over_and_the_option_is_named(run: Callable, alone: Path) -> None:
    (alone / "mine.toml").write_text("notes = 'mine'\n", encoding="utf-8")
    ran = run("new", "mine.toml")
    assert ran.code == 2
    assert "it exists already; choose another name, or --replace to write over it" in ran.err
    assert (alone / "mine.toml").read_text(encoding="utf-8") == "notes = 'mine'\n"
    assert run("new", "mine.toml", "--replace").code == 0
    assert "[[sites]]" in (alone / "mine.toml").read_text(encoding="utf-8")


# --- tiles


def test_tiles_between_names_use_the_folders_of_the_book(run: Callable, book: Path, dem: str) -> None:
    named = run("tiles", "Gull Tor", "Marsh End", "--book", str(book)).answer()
    assert named == run("tiles", GULL_TOR, MARSH_END, "--dem", dem).answer()
    assert run("tiles", "Gull Tor", "Marsh End").answer() == named


def test_a_square_touched_on_its_edge_is_not_missing(run: Callable, tmp_path: Path) -> None:
    """A tile of a degree holds the row of its northern edge, so a path that starts there needs no other."""
    (tmp_path / "N44E005.hgt").write_bytes(b"\0\x64" * 1201 * 1201)
    asked = ("tiles", "45.0,5.5", "44.5,5.5", "--dem", str(tmp_path))
    text = run(*asked).answer()
    assert text.startswith("1 tile needed, 1 present, 1 more touched on the edge of a neighbour.")
    assert "missing" not in text.lower()
    assert "N45E005   on the edge of its neighbour" in text
    assert json.loads(run(*asked, "--json").answer())["needed"] == ["N44E005"]
    # A step beyond the edge it is needed, and counted so.
    beyond = run("tiles", "45.01,5.5", "44.5,5.5", "--dem", str(tmp_path))
    assert beyond.code == 1
    assert beyond.out.startswith("2 tiles needed, 1 present.")
    assert "MISSING: N45E005" in beyond.out


@pytest.mark.skipif(os.name != "posix", reason="such names do not exist elsewhere")
def test_the_name_of_a_tile_steers_no_terminal(run: Callable, tmp_path: Path) -> None:
    heights = np.full((1, 120, 120), 100, dtype="int16")
    with rasterio.open(
        tmp_path / "a\x1b[2J.tif",
        "w",
        driver="GTiff",
        width=120,
        height=120,
        count=1,
        dtype="int16",
        crs="EPSG:4326",
        transform=Affine(1 / 120, 0.0, 5.0, 0.0, -1 / 120, 45.0),
    ) as file:
        file.write(heights)
    ran = run("tiles", "44.9,5.5", "44.5,5.5", "--dem", str(tmp_path))
    assert "\x1b" not in ran.out + ran.err
    assert "a?[2J.tif" in ran.out


def test_tiles_present(run: Callable, dem: str) -> None:
    text = run("tiles", GULL_TOR, MARSH_END, "--dem", dem).answer()
    for name in ("N46W021", "N47W021", "N47W022"):
        assert name in text
    assert "MISSING" not in text
    found = json.loads(run("tiles", GULL_TOR, MARSH_END, "--dem", dem, "--json").answer())
    assert found["schema"] == "pathprofile.tiles/1"
    south = next(tile for tile in found["tiles"] if tile["name"] == "N46W021")
    assert south["cell_m"] == pytest.approx(
        92.6 * 0.69, rel=0.05
    )  # 3 arc-seconds, the shorter side, at 46.5°
    assert south["model_kinds"] == ["surface"]
    assert south["vertical_datums"] == ["EGM96"]  # as the customary .hgt is


def test_tiles_with_a_hole_on_the_path(run: Callable, dem: str) -> None:
    found = json.loads(run("tiles", GULL_TOR, "47.30833,-21.75", "--dem", dem, "--json").answer())
    assert sum(tile["holes"] for tile in found["tiles"]) > 0
    assert sum(tile["holes_on_paths"] for tile in found["tiles"]) > 0


def test_tiles_missing(run: Callable, dem: str) -> None:
    """A script that goes on after exit code 0 has all that it needs."""
    asked = ("tiles", GULL_TOR, "47.5,-19.5", "--dem", dem)
    ran = run(*asked)
    assert ran.code == run(*asked, "--json").code == 1
    assert "MISSING: N47W020" in ran.out


def test_tiles_before_there_are_any(run: Callable) -> None:
    ran = run("tiles", GULL_TOR, MARSH_END)
    assert ran.code == 1
    assert "N46W021" in ran.out
    assert "N47W021" in ran.out
    assert "--dem" in ran.err
    found = json.loads(run("tiles", GULL_TOR, MARSH_END, "--json").out)
    assert {"N46W021", "N47W021"} <= set(found["needed"])
    assert found["tiles"] == []


def test_every_pair_of_places_is_a_path(run: Callable) -> None:
    needed = json.loads(run("tiles", "--json", "10.5,10.5", "10.5,12.5", "12.5,10.5").out)["needed"]
    assert {"N10E010", "N10E012", "N12E010", "N11E011"} <= set(needed)


# --- defaults


def test_every_default_has_its_source(run: Callable) -> None:
    text = run("defaults").answer()
    found = json.loads(run("defaults", "--json").answer())["defaults"]
    assert len(text.splitlines()) == len(found) == len(DEFAULTS)
    for name, row in found.items():
        assert name in text
        assert row["source"]
        assert row["source"] in text


# --- demo


def test_demo(run: Callable) -> None:
    ran = run("demo")
    lines = ran.answer().splitlines()
    assert ran.made == ("pathprofile-demo.png",)
    assert any("pathprofile-demo.png" in line for line in lines)
    assert "invented" in lines[-1]
    assert " on 2 m SSB, " in lines[0]
    assert max(map(len, lines)) <= 80
    answer = [line for line in lines if not line.startswith(("Picture: ", "The island, "))]
    assert len(answer) == len(lines) - 2
    assert len(answer) <= 26
    page = (Path(__file__).resolve().parents[2] / "README.md").read_text(encoding="utf-8")
    assert f"```\n{ran.answer().rstrip()}\n```" in page, "README: the answer of the demo is another now"


def test_demo_into_another_picture(run: Callable, alone: Path) -> None:
    assert run("demo", "--chart", "island.svg").made == ("island.svg",)
    assert (alone / "island.svg").read_bytes().startswith(b"<?xml")


def test_demo_as_json(run: Callable) -> None:
    found = json.loads(run("demo", "--json").answer())
    assert (found["inputs"]["from"]["label"], found["inputs"]["to"]["label"]) == ("Gull Tor", "Marsh End")


def test_demo_as_a_process_of_its_own(shell: Callable, alone: Path) -> None:
    done = shell("demo")
    assert done.returncode == 0
    assert "unexpected" not in done.stderr
    assert (alone / "pathprofile-demo.png").stat().st_size > 10_000
