"""The main job for one path over ground made on the spot: alike from either end, warned where it may fool."""

from __future__ import annotations

import datetime as dt
import itertools
import math
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import rasterio
from geographiclib.geodesic import Geodesic
from rasterio.transform import Affine

from pathprofile.atmosphere import Atmosphere
from pathprofile.errors import LocationError, OutOfRangeError, TerrainGapError
from pathprofile.ground.clutter import UserObstacle
from pathprofile.places import Location, parse_location
from pathprofile.reach import GroundOptions, Reach, assess, reach, survey
from pathprofile.sample import sample_dir, sample_places
from pathprofile.terrain.store import TerrainStore

if TYPE_CHECKING:
    from pathlib import Path

DAY = dt.date(2026, 11, 24)
PER_DEGREE = 1200  # samples: 93 m north to south
Surface = Callable[[Any, Any], Any]
Strip = Callable[..., TerrainStore]


@pytest.fixture
def strip(tmp_path: Path) -> Strip:
    """Factory: a strip of land 3 km wide along 10° E, 45° to 46° N; NaN is a hole."""

    def make(surface: Surface, *, name: str = "dtm.tif", north: float = 46.0) -> TerrainStore:
        rows, columns = round((north - 45.0) * PER_DEGREE) + 1, 49
        y = north - np.arange(rows)[:, np.newaxis] / PER_DEGREE
        x = 9.98 + np.arange(columns)[np.newaxis, :] / PER_DEGREE
        heights = np.broadcast_to(np.asarray(surface(y, x), float), (rows, columns))
        half = 0.5 / PER_DEGREE
        with rasterio.open(
            tmp_path / name,
            "w",
            driver="GTiff",
            width=columns,
            height=rows,
            count=1,
            dtype="float32",
            crs="EPSG:4326",
            nodata=-32768.0,
            transform=Affine(1 / PER_DEGREE, 0, 9.98 - half, 0, -1 / PER_DEGREE, north + half),
        ) as dataset:
            dataset.write(np.where(np.isnan(heights), -32768.0, heights).astype("float32"), 1)
        return TerrainStore.open([tmp_path])

    return make


def place(latitude_deg: float, label: str, longitude_deg: float = 10.0, known_m: float = 5.0) -> Location:
    return Location(latitude_deg, longitude_deg, label, known_m)


def ask(store: TerrainStore, a: Location, b: Location, **asked: Any) -> Reach:
    usual = {"date": DAY, "frequency_mhz": 146.52, "from_antenna_agl_m": 6.0, "to_antenna_agl_m": 10.0}
    return reach(a, b, store, **(usual | asked))


def rough(seed: int) -> Surface:
    """Ground of random heights up to 400 m, a knot every 2 km, straight between."""
    heights = np.random.default_rng(seed).uniform(0.0, 400.0, 60)
    return lambda y, x: np.interp(y, np.linspace(45.0, 46.0, 60), heights) + 0.0 * x


def ridge(at_deg: float, height_m: float, half_width_deg: float = 0.02, floor_m: float = 20.0) -> Surface:
    return lambda y, x: (
        floor_m + height_m * np.clip(1.0 - np.abs(y - at_deg) / half_width_deg, 0.0, 1.0) + 0.0 * x
    )


SOUTH, NORTH = place(45.05, "Nether Croft"), place(45.93, "Over Fell", 10.01)


# The same from either end


@pytest.mark.parametrize("frequency_mhz", [50.2, 1296.2])
@pytest.mark.parametrize("seed", [0, 3, 5])
def test_reciprocity(strip: Strip, seed: int, frequency_mhz: float) -> None:
    """A passive linear medium loses as much both ways (reciprocity theorem)."""
    store = strip(rough(seed))
    there = ask(store, SOUTH, NORTH, frequency_mhz=frequency_mhz, to_antenna_agl_m=30.0)
    back = ask(
        store, NORTH, SOUTH, frequency_mhz=frequency_mhz, from_antenna_agl_m=30.0, to_antenna_agl_m=6.0
    )
    assert there.loss.loss_db == pytest.approx(back.loss.loss_db, abs=1e-6)
    assert there.loss.mechanism == back.loss.mechanism
    for method, loss_db in there.loss.methods.items():
        # The Irregular Terrain Model starts its roughness at one end, so it differs a little from the other.
        tolerance_db = 0.1 if method == "itm" else 1e-6
        assert loss_db == pytest.approx(back.loss.methods[method], abs=tolerance_db), method
    for share in (1.0, 10.0, 50.0):
        assert there.loss.not_exceeded_db[share] == pytest.approx(back.loss.not_exceeded_db[share], abs=1e-6)
    check_swapped(there, back)


def test_reciprocity_on_the_sample_island() -> None:
    known = sample_places()
    tor, marsh = (
        parse_location(f"{p.latitude_deg:.5f} {p.longitude_deg:.5f}", label=p.name)
        for p in (known["Gull Tor"], known["Marsh End"])
    )
    with TerrainStore.open([sample_dir()]) as store:
        there = ask(store, tor, marsh)
        back = ask(store, marsh, tor, from_antenna_agl_m=10.0, to_antenna_agl_m=6.0)
    assert there.loss.loss_db == pytest.approx(back.loss.loss_db, abs=1e-6)
    check_swapped(there, back)


def check_swapped(there: Reach, back: Reach) -> None:
    assert there.sightline.verdict == back.sightline.verdict
    assert there.sightline.minimum_fresnel_ratio == pytest.approx(
        back.sightline.minimum_fresnel_ratio, abs=1e-6
    )
    assert there.leg.distance_m == pytest.approx(back.leg.distance_m, abs=1e-6)
    assert there.sightline.from_takeoff_deg == pytest.approx(back.sightline.to_takeoff_deg, abs=1e-9)
    assert there.sightline.from_horizon_m == pytest.approx(back.sightline.to_horizon_m, abs=1e-3)
    for one, other in ((there.from_end, back.to_end), (there.to_end, back.from_end)):
        assert one.azimuth_deg == pytest.approx(other.azimuth_deg, abs=1e-9)
        assert one.magnetic_azimuth_deg == pytest.approx(other.magnetic_azimuth_deg, abs=1e-9)
        assert one.ground_m == pytest.approx(other.ground_m, abs=1e-6)
    assert len(there.obstacles.kept) == len(back.obstacles.kept)


def test_azimuths_and_distance_are_those_of_the_geodesic(strip: Strip) -> None:
    found = ask(strip(rough(0)), SOUTH, NORTH)
    line = Geodesic.WGS84.Inverse(45.05, 10.0, 45.93, 10.01)  # geographiclib
    assert found.leg.distance_m == pytest.approx(line["s12"], abs=1e-3)
    assert found.from_end.azimuth_deg == pytest.approx(line["azi1"] % 360.0, abs=1e-6)
    assert found.to_end.azimuth_deg == pytest.approx((line["azi2"] + 180.0) % 360.0, abs=1e-6)


def test_magnetic_is_true_less_declination_at_each_end(strip: Strip) -> None:
    found = ask(strip(rough(0)), SOUTH, NORTH)
    for end in (found.from_end, found.to_end):
        turned = (end.azimuth_deg - end.declination_deg) % 360.0
        assert end.magnetic_azimuth_deg == pytest.approx(turned, abs=1e-9)


# What physics asks for


def test_more_mast_never_hurts_in_sight(strip: Strip) -> None:
    """Over a plain in sight a higher antenna clears more of the Fresnel zone."""
    store = strip(lambda y, x: 50.0 + 0.0 * (y + x))
    found = survey(place(45.2, "A"), place(45.38, "B"), store, date=DAY)
    heights_m = (20.0, 25.0, 30.0, 40.0, 60.0, 100.0, 200.0)
    asked = [
        assess(found, frequency_mhz=146.52, from_antenna_agl_m=h, to_antenna_agl_m=40.0) for h in heights_m
    ]
    assert all(each.sightline.in_sight for each in asked)
    # Focusing in P.1812 (eqs 8-11) adds less than 0.001 dB as the horizons move out.
    for method, tolerance_db in (("p1812", 1e-3), ("bullington", 1e-9)):
        losses = [each.loss.methods[method] for each in asked]
        assert all(after <= before + tolerance_db for before, after in itertools.pairwise(losses)), method
        assert losses[0] > losses[-1] + 1.0


def test_a_clear_path_loses_free_space(strip: Strip) -> None:
    """20 log d + 20 log f − 27.55 dB (ITU-R P.525-4 eq. 4, d in m): 50 km over a deep valley."""
    store = strip(lambda y, x: np.where(np.abs(y - 45.3) > 0.2285, 900.0, 0.0) + 0.0 * x)
    found = ask(store, place(45.07, "A"), place(45.53, "B"), from_antenna_agl_m=15.0, to_antenna_agl_m=15.0)
    free_db = 20.0 * math.log10(found.leg.distance_m) + 20.0 * math.log10(146.52) - 27.55
    assert found.sightline.verdict == "clear"
    assert found.loss.mechanism == "sight"
    assert found.loss.free_space_db == pytest.approx(free_db, abs=0.01)
    assert found.loss.loss_db == pytest.approx(free_db, abs=0.5)


def test_a_ridge_in_the_way_is_found_where_it_stands(strip: Strip) -> None:
    store = strip(ridge(45.5, 400.0))
    found = ask(store, SOUTH, NORTH)
    at_m = Geodesic.WGS84.Inverse(45.05, 10.0, 45.5, 10.005)["s12"]
    assert found.sightline.verdict == "obstructed"
    assert found.obstacles.main is not None
    assert found.obstacles.main.distance_m == pytest.approx(at_m, abs=150.0)
    assert found.limiting_place().latitude_deg == pytest.approx(45.5, abs=0.002)
    assert found.limiting_place().ground_m == pytest.approx(420.0, abs=15.0)
    assert ask(strip(ridge(45.5, 800.0)), SOUTH, NORTH).loss.loss_db > found.loss.loss_db + 3.0


def test_a_user_obstacle_lands_on_the_path(strip: Strip) -> None:
    store = strip(lambda y, x: 50.0 + 0.0 * (y + x))
    ends = place(45.2, "A"), place(45.29, "B")
    bare = ask(store, *ends, from_antenna_agl_m=20.0)
    mast = ask(
        store, *ends, from_antenna_agl_m=20.0, options=GroundOptions(obstacles=(UserObstacle(4000.0, 60.0),))
    )
    assert (bare.sightline.in_sight, mast.sightline.verdict) == (True, "obstructed")
    assert mast.sightline.limiting_distance_m == pytest.approx(4000.0)


def test_thicker_air_bends_farther(strip: Strip) -> None:
    """The effective Earth is rounder for a smaller k; bulge in the middle d²/8ka (P.530-18 §2.2.2.1)."""
    store = strip(lambda y, x: 50.0 + 0.0 * (y + x))
    flat, round_ = (
        ask(store, SOUTH, NORTH, atmosphere=Atmosphere(delta_n=157.0 * (1.0 - 1.0 / k))) for k in (4 / 3, 1.0)
    )
    assert round_.loss.loss_db > flat.loss.loss_db
    middle = round_.sightline.ground_with_bulge_m.max() - 50.0
    assert middle == pytest.approx(flat.leg.distance_m**2 / 8.0 / 6_371_000.0, rel=0.003)


# Warned where it may fool


def test_a_bridge_at_the_horizon_is_doubtful(strip: Strip) -> None:
    """A hole 1.4 km long on the crest that decides the path."""
    crest = ridge(45.5, 400.0)
    store = strip(lambda y, x: np.where(np.abs(y - 45.5) < 0.006, np.nan, crest(y, x)))
    found = ask(store, SOUTH, NORTH)
    assert found.profile.void_points > 0
    (warning,) = [text for text in found.warnings if text.startswith("DOUBTFUL")]
    start_km, stop_km = 49.0, 51.0  # 45.5° is 50.0 km from 45.05°
    assert "is a hole in the map that was filled in; check it on a paper map" in warning
    said = [float(word) for word in warning.replace(",", " ").split() if word.replace(".", "").isdigit()]
    assert start_km < said[0] < said[1] < stop_km


def test_a_bridge_in_a_valley_is_not(strip: Strip) -> None:
    crest = ridge(45.5, 400.0)
    store = strip(lambda y, x: np.where(np.abs(y - 45.3) < 0.006, np.nan, crest(y, x)))
    found = ask(store, SOUTH, NORTH)
    assert found.profile.void_points > 0
    assert not any("DOUBTFUL" in text for text in found.warnings)


def test_a_bridge_that_makes_the_path_tight_is_doubtful(strip: Strip) -> None:
    """In sight there is no horizon: the smallest clearance ratio counts."""
    crest = ridge(45.25, 30.0)
    store = strip(lambda y, x: np.where(np.abs(y - 45.25) < 0.004, np.nan, crest(y, x)))
    found = ask(store, place(45.2, "A"), place(45.3, "B"), from_antenna_agl_m=40.0, to_antenna_agl_m=40.0)
    assert found.sightline.in_sight
    assert any(text.startswith("DOUBTFUL") for text in found.warnings)


def knoll(y: Any, x: Any) -> Any:
    """A hill of 150 m round 45.053° N 10° E, 330 m north of Nether Croft, on a plain behind a ridge."""
    away_m = np.hypot((y - 45.053) * 111_130.0, (x - 10.0) * 78_700.0)
    return ridge(45.5, 200.0)(y, x) + 150.0 * np.clip(1.0 - away_m / 300.0, 0.0, 1.0)


def test_higher_ground_within_the_digits_typed(strip: Strip) -> None:
    store = strip(knoll)
    vague = parse_location("45.05 10.00", label="Nether Croft")  # two decimals: ±556 m
    found = ask(store, vague, NORTH)
    (warning,) = [text for text in found.warnings if "did you mean that?" in text]
    assert warning.startswith("Nether Croft: typed to ±556 m; higher ground ")
    assert 250.0 < float(warning.split("higher ground ")[1].split()[0]) < 420.0
    assert 120.0 < float(warning.split("away, ")[1].split()[0]) < 151.0
    assert not any("did you mean" in text for text in ask(store, SOUTH, NORTH).warnings)  # typed to ±5 m


def test_higher_ground_at_the_other_end(strip: Strip) -> None:
    vague = parse_location("45.05 10.00", label="Nether Croft")
    found = ask(strip(knoll), NORTH, vague)
    assert any(text.startswith("Nether Croft: typed to ±556 m") for text in found.warnings)


def test_a_stated_ground_is_not_doubted(strip: Strip) -> None:
    vague = parse_location("45.05 10.00", label="Nether Croft")
    found = ask(strip(knoll), vague, NORTH, options=GroundOptions(from_ground_m=25.0))
    assert not any("did you mean" in text for text in found.warnings)


def test_a_locator_of_four_characters_is_too_vague(strip: Strip) -> None:
    cell = Location(45.5, 10.0, "JN55", uncertainty_m=96_000.0)
    found = ask(strip(rough(0)), cell, NORTH)
    (warning,) = [text for text in found.warnings if "too vague" in text]
    assert warning.startswith("JN55: good to ±96 km only, too vague for a verdict")


def test_clutter_on_a_surface_model(strip: Strip) -> None:
    said = "15 m of clutter were added to a surface model, which holds trees and roofs already"
    trees = GroundOptions(clutter_m=15.0)
    assert said in ask(strip(rough(0), name="dsm.tif"), SOUTH, NORTH, options=trees).warnings


def test_clutter_on_bare_ground_is_not_remarked(strip: Strip) -> None:
    store = strip(rough(0))
    found = ask(store, SOUTH, NORTH, options=GroundOptions(clutter_m=15.0))
    assert not any("clutter" in text for text in found.warnings)
    assert found.loss.loss_db > ask(store, SOUTH, NORTH).loss.loss_db


def test_roofs_stand_round_their_own_end_only(strip: Strip) -> None:
    found = ask(strip(rough(0)), SOUTH, NORTH, options=GroundOptions(to_clutter_m=9.0))
    at_m, clutter_m = found.survey.cluttered.distance_m, found.survey.cluttered.clutter_m
    whole_m = found.leg.distance_m
    near = (at_m >= whole_m - 500.0) & (at_m <= whole_m - 50.0)  # round the home, and clear round the mast
    assert set(clutter_m[near]) == {9.0}
    assert set(clutter_m[~near]) == {0.0}


def test_the_stated_ground_is_used_and_a_difference_reported(strip: Strip) -> None:
    store = strip(lambda y, x: 50.0 + 0.0 * (y + x))
    found = ask(store, SOUTH, NORTH, options=GroundOptions(from_ground_m=80.0))
    assert found.from_end.ground_m == 80.0
    assert any("FROM" in text and "30 m less" in text for text in found.warnings)


# Bad input


@pytest.mark.parametrize("height_m", [math.nan, math.inf, -1.0, 0.0, 3000.1])
def test_impossible_antenna_heights(strip: Strip, height_m: float) -> None:
    store = strip(rough(0))
    for end in ("from", "to"):
        with pytest.raises(
            OutOfRangeError, match=rf"antenna height .* m at {end.upper()}: give a height above ground"
        ):
            ask(store, SOUTH, NORTH, **{f"{end}_antenna_agl_m": height_m})


@pytest.mark.parametrize("frequency_mhz", [math.nan, 0.0, -146.0, 29.99, 3000.01, math.inf])
def test_impossible_frequencies(strip: Strip, frequency_mhz: float) -> None:
    with pytest.raises(OutOfRangeError, match=r"frequency .* MHz: give 30 to 3000 MHz, or a band such as 2m"):
        ask(strip(rough(0)), SOUTH, NORTH, frequency_mhz=frequency_mhz)


def test_bad_numbers_are_refused_before_the_ground_is_read(strip: Strip) -> None:
    store = strip(rough(0))
    with pytest.raises(OutOfRangeError, match="antenna height"):
        ask(store, SOUTH, place(80.0, "Nowhere"), from_antenna_agl_m=0.0)
    assert store.decoded_blocks == 0


def test_equal_and_opposite_ends(strip: Strip) -> None:
    store = strip(rough(0))
    with pytest.raises(LocationError, match="both ends are the same place"):
        ask(store, SOUTH, replace(SOUTH, label="again"))
    with pytest.raises(LocationError, match="antipodal"):
        ask(store, SOUTH, Location(-45.05, -170.0, "Antipode"))


def test_an_end_outside_the_tiles(strip: Strip) -> None:
    with pytest.raises(TerrainGapError, match=r"TO \(46\.50000 10\.00000\) lies outside all elevation tiles"):
        ask(strip(rough(0)), SOUTH, place(46.5, "Beyond"))


def test_impossible_polarization(strip: Strip) -> None:
    with pytest.raises(OutOfRangeError, match="polarization 'slant'"):
        ask(strip(rough(0)), SOUTH, NORTH, polarization="slant")


def test_assessing_again_equals_asking_again(strip: Strip) -> None:
    store = strip(rough(5))
    once = ask(store, SOUTH, NORTH)
    again = assess(once.survey, frequency_mhz=146.52, from_antenna_agl_m=6.0, to_antenna_agl_m=10.0)
    quick = assess(
        once.survey, frequency_mhz=146.52, from_antenna_agl_m=6.0, to_antenna_agl_m=10.0, deciding_only=True
    )
    assert again.loss == once.loss
    assert quick.loss.loss_db == once.loss.loss_db
    assert quick.loss.second_opinion_db == once.loss.second_opinion_db
