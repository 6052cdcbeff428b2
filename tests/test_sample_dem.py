"""The sample elevation tiles: small, seamless, plausible, and what their script makes."""

from __future__ import annotations

import runpy
import tomllib
import zipfile
from pathlib import Path

import numpy as np
import pytest
import rasterio
from numpy.typing import NDArray
from pyproj import Geod

FOLDER = Path(__file__).resolve().parents[1] / "sample_dem"
FILES = {
    "N46W021": FOLDER / "N46W021.hgt.zip",
    "N46W022": FOLDER / "N46W022.tif",
    "N47W021": FOLDER / "N47W021.tif",
    "N47W022": FOLDER / "N47W022.tif",
}
VOID = -32768
Heights = dict[str, NDArray[np.int16]]


@pytest.fixture(scope="module")
def heights() -> Heights:
    read = {}
    for name, path in FILES.items():
        with rasterio.open(path) as tile:
            read[name] = tile.read(1)
    return read


@pytest.fixture(scope="module")
def island(heights: Heights) -> NDArray[np.int16]:
    """The four tiles put together, the shared samples once."""
    north = np.hstack([heights["N47W022"], heights["N47W021"][:, 1:]])
    south = np.hstack([heights["N46W022"], heights["N46W021"][:, 1:]])
    return np.vstack([north, south[1:]])


@pytest.fixture(scope="module")
def places() -> dict[str, dict[str, str | float]]:
    with (FOLDER / "places.toml").open("rb") as file:
        return {place["name"]: place for place in tomllib.load(file)["place"]}


def ground_at(island: NDArray[np.int16], latitude_deg: float, longitude_deg: float) -> int:
    """Nearest sample; rows go south from 48 N, columns east from 22 W, 1200 to the degree."""
    return int(island[round((48 - latitude_deg) * 1200), round((longitude_deg + 22) * 1200)])


def along(
    island: NDArray[np.int16], a: dict[str, str | float], b: dict[str, str | float]
) -> NDArray[np.int16]:
    """Nearest samples along the geodesic."""
    line = Geod(ellps="WGS84").inv_intermediate(
        a["longitude_deg"],
        a["latitude_deg"],
        b["longitude_deg"],
        b["latitude_deg"],
        npts=3000,
        return_back_azimuth=False,
    )
    return np.array(
        [ground_at(island, lat, lon) for lat, lon in zip(line.lats, line.lons, strict=True)], np.int16
    )


def test_all_of_it_is_small() -> None:
    kept = [path for path in FOLDER.rglob("*") if path.is_file()]
    assert sum(path.stat().st_size for path in kept) <= 8_000_000


@pytest.mark.parametrize("name", FILES)
def test_samples_stand_on_whole_multiples_of_three_arc_seconds(name: str) -> None:
    with rasterio.open(FILES[name]) as tile:
        assert tile.shape == (1201, 1201)
        assert tile.dtypes == ("int16",)
        assert tile.crs.to_epsg() == 4326
        assert tile.nodata == VOID
        north, west = int(name[1:3]) + 1, -int(name[4:7])
        assert tile.xy(0, 0) == pytest.approx((west, north), abs=1e-9)
        assert tile.xy(1200, 1200) == pytest.approx((west + 1, north - 1), abs=1e-9)


@pytest.mark.parametrize("name", [name for name, path in FILES.items() if path.suffix == ".tif"])
def test_geotiffs_say_what_they_are(name: str) -> None:
    with rasterio.open(FILES[name]) as tile:
        assert tile.profile["compress"] == "deflate"
        assert tile.block_shapes == [(256, 256)]
        tags = tile.tags()
    assert tags["AREA_OR_POINT"] == "Point"
    assert tags["VERTICAL_DATUM"] == "EGM96"
    assert "invented" in tags["SOURCE"]


def test_zipped_hgt_is_big_endian_rows_from_the_north(heights: Heights) -> None:
    with zipfile.ZipFile(FILES["N46W021"]) as archive:
        assert archive.namelist() == ["N46W021.hgt"]
        raw = np.frombuffer(archive.read("N46W021.hgt"), ">i2").reshape(1201, 1201)
    np.testing.assert_array_equal(raw, heights["N46W021"])


def test_shared_edges_agree(heights: Heights) -> None:
    for south, north in (("N46W021", "N47W021"), ("N46W022", "N47W022")):
        np.testing.assert_array_equal(heights[south][0], heights[north][-1])
    for west, east in (("N46W022", "N46W021"), ("N47W022", "N47W021")):
        np.testing.assert_array_equal(heights[west][:, -1], heights[east][:, 0])


def test_land_crosses_every_seam(island: NDArray[np.int16]) -> None:
    assert (island[1200, :1200] > 0).any()
    assert (island[1200, 1201:] > 0).any()
    assert (island[:1200, 1200] > 0).any()
    assert (island[1201:, 1200] > 0).any()


def test_sea_all_round(island: NDArray[np.int16]) -> None:
    for edge in (island[0], island[-1], island[:, 0], island[:, -1]):
        assert not edge.any()


def test_heights_are_plausible(island: NDArray[np.int16]) -> None:
    ground = island[island != VOID].astype(float)
    assert ground.min() == -3
    assert 900 <= ground.max() <= 1500
    assert 0.25 < np.mean(ground != 0) < 0.5
    steps = np.abs(np.diff(np.where(island == VOID, np.nan, island), axis=0))
    assert np.nanmax(steps) < 200  # 65° over the 93 m between rows


def test_holes_are_few_and_only_in_the_mountain_tile(heights: Heights) -> None:
    missing = {name: int((tile == VOID).sum()) for name, tile in heights.items()}
    assert 100 < missing.pop("N47W022") < 2000
    assert not any(missing.values())


def test_places_stand_on_land_and_clear_of_holes(
    island: NDArray[np.int16], places: dict[str, dict[str, str | float]]
) -> None:
    for name, place in places.items():
        assert 46 < place["latitude_deg"] < 48, name
        assert -22 < place["longitude_deg"] < -20, name
        assert ground_at(island, place["latitude_deg"], place["longitude_deg"]) not in {0, VOID}, name


def test_places_are_many_and_of_all_kinds(
    island: NDArray[np.int16], places: dict[str, dict[str, str | float]]
) -> None:
    kinds = [place["kind"] for place in places.values()]
    assert kinds.count("summit") >= 3
    assert len(kinds) - kinds.count("summit") >= 12
    ground = [ground_at(island, place["latitude_deg"], place["longitude_deg"]) for place in places.values()]
    for low, high in ((-5, -1), (1, 10), (10, 100), (100, 400), (400, 900), (900, 1500)):
        assert any(low <= metres <= high for metres in ground), (low, high)


def test_summits_are_the_highest_ground_within_a_kilometre(
    island: NDArray[np.int16], places: dict[str, dict[str, str | float]]
) -> None:
    for place in places.values():
        if place["kind"] == "summit":
            row, col = round((48 - place["latitude_deg"]) * 1200), round((place["longitude_deg"] + 22) * 1200)
            assert island[row, col] == island[row - 10 : row + 11, col - 10 : col + 11].max(), place["name"]


def test_demonstration_path(island: NDArray[np.int16], places: dict[str, dict[str, str | float]]) -> None:
    a, b = places["Gull Tor"], places["Marsh End"]
    length_m = Geod(ellps="WGS84").inv(
        a["longitude_deg"], a["latitude_deg"], b["longitude_deg"], b["latitude_deg"]
    )[2]
    assert 150_000 < length_m < 170_000
    ground = along(island, a, b)
    assert VOID not in ground
    middle = ground[1200:1600]
    straight = np.linspace(ground[0], ground[-1], ground.size)[1200:1600]
    assert (
        middle > straight
    ).any()  # the middle ridge stands in the way even before the Earth's bulge is added


def test_path_to_pennowick_crosses_a_hole(
    island: NDArray[np.int16], places: dict[str, dict[str, str | float]]
) -> None:
    assert VOID in along(island, places["Gull Tor"], places["Pennowick"])


def test_script_makes_the_committed_heights(heights: Heights, tmp_path: Path) -> None:
    runpy.run_path(str(FOLDER / "make_island.py"))["main"](tmp_path)
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(path.name for path in FILES.values())
    for name, path in FILES.items():
        with rasterio.open(tmp_path / path.name) as tile:
            np.testing.assert_array_equal(
                tile.read(1), heights[name], err_msg=f"{name}: run make_island.py again"
            )
