"""One pair answered: practice that every operator knows, terms that add up, doubts that name the ridge."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import rasterio
from rasterio.transform import Affine

from pathprofile.contact import (
    Contact,
    Party,
    contact,
    customary_mode,
    path_facts,
    path_over,
    spread_over,
    survey_between,
)
from pathprofile.errors import OutOfRangeError, StationError
from pathprofile.link.chance import Spread
from pathprofile.link.ends import End, equip
from pathprofile.link.evaluate import evaluate
from pathprofile.places import Location
from pathprofile.station import Station
from pathprofile.station.catalogue import MODES
from pathprofile.terrain.store import TerrainStore

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    Surface = Callable[[Any], Any]
    Strip = Callable[[Surface], TerrainStore]

DAY = dt.date(2026, 11, 24)
PER_DEGREE = 1200  # samples: 93 m north to south
ORDER = ["unlikely", "marginal", "workable", "solid"]


@pytest.fixture
def strip(tmp_path: Path) -> Strip:
    """Factory: a strip of land 1.5 km wide along 10° E, 45° to 46.6° N, its height a function of latitude."""

    def make(surface: Surface) -> TerrainStore:
        rows, columns = round(1.6 * PER_DEGREE) + 1, 25
        y = 46.6 - np.arange(rows)[:, np.newaxis] / PER_DEGREE
        heights = np.broadcast_to(surface(y), (rows, columns)).astype("float32")
        half = 0.5 / PER_DEGREE
        with rasterio.open(
            tmp_path / "dtm.tif",
            "w",
            driver="GTiff",
            width=columns,
            height=rows,
            count=1,
            dtype="float32",
            crs="EPSG:4326",
            transform=Affine(1 / PER_DEGREE, 0, 9.99 - half, 0, -1 / PER_DEGREE, 46.6 + half),
        ) as dataset:
            dataset.write(heights, 1)
        return TerrainStore.open([tmp_path])

    return make


def hilltop(y: Any) -> Any:
    """A hill of 600 m at 45.05° N that falls to a plain of 60 m within 6 km."""
    return 60.0 + 540.0 * np.clip(1.0 - np.abs(y - 45.05) / 0.05, 0.0, 1.0)


def two_ridges(y: Any) -> Any:
    """Hills of 400 m at both ends, 45.2° and 45.56° N; two ridges between them reach the line of sight."""
    tops = ((45.2, 340.0), (45.3, 329.0), (45.488, 340.0), (45.56, 340.0))
    return 60.0 + sum(high * np.clip(1.0 - np.abs(y - at) / 0.02, 0.0, 1.0) for at, high in tops)


def party(
    name: str, latitude_deg: float, unstated: Any = "open", *, known_m: float = 5.0, **set_up: Any
) -> Party:
    station = Station.read(
        {"name": name, "place": "x", "set_ups": [{"bands": ["2 m"], **set_up}] if set_up else []}
    )
    return Party(station, Location(latitude_deg, 10.0, name, known_m), unstated)


def ask(store: TerrainStore, you: Party, them: Party, **asked: Any) -> Contact:
    usual = {"date": DAY, "frequency_mhz": 146.52, "with_modes": False}
    return contact(you, them, store, **(usual | asked))


SUMMIT = party("Gull Tor", 45.05, antenna={"kind": "log-periodic"}, power_w=10.0, height_m=6.0)


def home(latitude_deg: float) -> Party:
    return party("Marsh End", latitude_deg, "suburb", power_w=50.0, height_m=10.0)


# Facts of practice: common practice, no source


def test_a_hilltop_in_sight_at_60_km_is_solid_in_fm(strip: Strip) -> None:
    found = ask(strip(hilltop), SUMMIT, home(45.59), mode="fm")
    assert found.reach.leg.distance_m == pytest.approx(60_000.0, rel=0.01)
    assert found.reach.sightline.in_sight
    assert found.link.pair.verdict.word == "solid"


def test_behind_its_horizon_at_160_km_it_is_not_but_better_in_narrower_modes(strip: Strip) -> None:
    store = strip(hilltop)
    by_mode = {mode: ask(store, SUMMIT, home(46.49), mode=mode) for mode in ("fm", "morse", "weak-digital")}
    fm = by_mode["fm"]
    assert fm.reach.leg.distance_m == pytest.approx(160_000.0, rel=0.01)
    assert not fm.reach.sightline.in_sight
    assert fm.link.pair.verdict.word != "solid"
    chances = [found.link.pair.chance for found in by_mode.values()]
    assert chances[0] < chances[1] < chances[2]
    assert ORDER.index(by_mode["weak-digital"].link.pair.verdict.word) > ORDER.index(
        fm.link.pair.verdict.word
    )


def test_more_power_moves_the_margin_decibel_for_decibel(strip: Strip) -> None:
    """10 log 4 = 6.02 dB more out, and nothing back."""
    store = strip(hilltop)
    weak, strong = (
        ask(
            store,
            party("Gull Tor", 45.05, antenna={"kind": "log-periodic"}, power_w=power_w, height_m=6.0),
            home(46.2),
            mode="fm",
        ).link
        for power_w in (10.0, 40.0)
    )
    assert weak.out is not None
    assert strong.out is not None
    assert strong.out.budget.margin_db - weak.out.budget.margin_db == pytest.approx(6.0206, abs=1e-4)
    assert strong.back is not None
    assert weak.back is not None
    assert strong.back.budget.margin_db == weak.back.budget.margin_db
    assert strong.pair.chance > weak.pair.chance


def test_seen_from_the_other_end_the_directions_change_places(strip: Strip) -> None:
    store = strip(hilltop)
    there, back = ask(store, SUMMIT, home(46.2), mode="fm"), ask(store, home(46.2), SUMMIT, mode="fm")
    assert there.link.out is not None
    assert back.link.back is not None
    assert there.link.out.budget.margin_db == pytest.approx(back.link.back.budget.margin_db, abs=1e-6)
    assert there.link.pair.chance == pytest.approx(back.link.pair.chance, abs=1e-6)
    assert {there.link.weaker, back.link.weaker} == {"out", "back"}


def test_the_link_uses_the_loss_the_heights_and_the_azimuths_of_the_path(strip: Strip) -> None:
    found = ask(strip(hilltop), SUMMIT, home(46.2), mode="fm")
    assert found.link.out is not None
    assert found.link.out.budget.path_loss_db == found.reach.loss.loss_db
    assert (found.reach.from_end.antenna_agl_m, found.reach.to_end.antenna_agl_m) == (6.0, 10.0)
    facts = path_facts(found.reach)
    assert facts.azimuth_out_deg == found.reach.leg.azimuth_deg
    assert facts.azimuth_back_deg == found.reach.leg.back_azimuth_deg
    assert facts.second_opinion_db == found.reach.loss.methods["itm"]
    assert facts.in_sight is found.reach.sightline.in_sight


def test_the_path_is_asked_in_the_polarization_of_the_antenna(strip: Strip) -> None:
    store = strip(hilltop)
    assert ask(store, SUMMIT, home(46.2), mode="fm").reach.polarization == "vertical"
    assert ask(store, SUMMIT, home(46.2), mode="ssb").reach.polarization == "horizontal"


def test_a_beam_is_turned_to_a_vertical_whichever_end_asks(strip: Strip) -> None:
    store = strip(hilltop)
    beam = party("Gull Tor", 45.05, antenna={"kind": "7-element beam"}, height_m=6.0)
    vertical = party("Marsh End", 46.2, antenna={"kind": "collinear"}, height_m=9.0)
    for you, them in ((beam, vertical), (vertical, beam)):
        found = ask(store, you, them, frequency_mhz=144.3, with_modes=True)
        assert found.link.mode == "ssb"
        assert found.link.out is not None
        assert found.link.out.budget.polarization.loss_db == 0.0
        assert found.reach.polarization == "vertical"
        assert {row.polarization for row in found.modes if row.pair is not None} == {"vertical"}
        row = next(row for row in found.modes if row.mode == "ssb" and row.frequency_mhz == 144.3)
        assert row.pair is not None
        assert row.pair.chance == pytest.approx(found.link.pair.chance, abs=1e-9)


def test_where_no_mode_is_named_it_is_one_that_both_have(strip: Strip) -> None:
    store = strip(hilltop)
    them = party("Marsh End", 45.59, modes=["fm"], power_w=5.0)
    assert ask(store, SUMMIT, them, frequency_mhz=144.3).link.mode == "fm"
    with pytest.raises(StationError, match="no SSB on 2 m at Marsh End; both have FM there: give --mode fm"):
        ask(store, SUMMIT, them, frequency_mhz=144.3, mode="ssb")


def test_a_link_over_surveyed_ground_is_that_of_the_contact(strip: Strip) -> None:
    store, you, them = strip(hilltop), SUMMIT, home(46.2)
    whole = ask(store, you, them, mode="fm")
    ends = [equip(each.station, 146.52, "fm", unstated_surroundings=each.unstated) for each in (you, them)]
    assert isinstance(ends[0], End)
    assert isinstance(ends[1], End)
    found = survey_between(you, them, (ends[0], ends[1]), store, date=DAY)
    reach = path_over(found, ends[0], ends[1])
    link = evaluate(ends[0], ends[1], path_facts(reach), spread=spread_over(ends[0], ends[1], reach))
    assert link.pair == whole.link.pair
    assert link.out == whole.link.out


# Modes and bands


@pytest.mark.parametrize(
    ("frequency_mhz", "mode"),
    [
        (50.15, "ssb"),
        (51.5, "fm"),
        (144.3, "ssb"),
        (146.52, "fm"),
        (432.2, "ssb"),
        (433.5, "fm"),
        (1296.2, "ssb"),
    ],
)
def test_customary_mode(frequency_mhz: float, mode: str) -> None:
    """SSB at the low end of a band, FM above it (common practice)."""
    assert customary_mode(frequency_mhz) == mode


def test_every_mode_on_every_band_that_both_have(strip: Strip) -> None:
    two = [{"bands": ["2 m"]}, {"bands": ["70 cm"]}]
    you = Party(Station.read({"name": "Gull Tor", "place": "x", "set_ups": two}), SUMMIT.location, "open")
    found = ask(strip(hilltop), you, home(46.2), with_modes=True)
    by_band = {band: [row for row in found.modes if row.band == band] for band in ("2 m", "70 cm")}
    assert len(by_band["2 m"]) == len(by_band["70 cm"]) >= 8
    assert all(row.pair is not None for row in by_band["2 m"])
    assert {row.reason for row in by_band["70 cm"]} == {"no 70 cm antenna at Marsh End"}
    asked = next(row for row in by_band["2 m"] if row.mode == "fm")
    alone = ask(strip(hilltop), you, home(46.2), mode="fm", frequency_mhz=asked.frequency_mhz)
    assert asked.pair is not None
    assert asked.pair.chance == pytest.approx(alone.link.pair.chance, abs=1e-9)


@pytest.mark.parametrize("frequency_mhz", [145.2, 300.0, 446.1])
def test_the_frequency_asked_about_has_its_rows(strip: Strip, frequency_mhz: float) -> None:
    """At exactly that frequency, and the row of the mode asked about says what the answer says."""
    for known_m, stated in ((5.0, {}), (2000.0, {}), (5.0, {"spread": Spread(3.0, 2.0, 1.0)})):
        you, them = party("Gull Tor", 45.05), party("Marsh End", 46.3, known_m=known_m)
        found = ask(
            strip(hilltop), you, them, mode="fm", frequency_mhz=frequency_mhz, with_modes=True, **stated
        )
        rows = [row for row in found.modes if row.band == found.link.you.band]
        assert [row.mode for row in rows] == list(MODES)
        assert {row.frequency_mhz for row in rows} == {frequency_mhz}
        (row,) = [row for row in rows if row.mode == "fm"]
        assert row.pair is not None
        assert row.pair.chance == pytest.approx(found.link.pair.chance, abs=1e-9)
        assert row.keep_m == found.link.exposure[0].keep_m


def test_one_sigma_in_place_of_its_default(strip: Strip) -> None:
    """The others stay: 8 dB of the path, 6 dB of noise that is assumed (common practice)."""
    store, you, them = strip(hilltop), party("Gull Tor", 45.05), party("Marsh End", 46.3)
    for stated, spread in (
        ({}, Spread(8.0, 6.0, 6.0)),
        ({"path_sigma_db": 5.0}, Spread(5.0, 6.0, 6.0)),
        ({"noise_sigma_db": 2.0}, Spread(8.0, 2.0, 2.0)),
    ):
        assert ask(store, you, them, mode="fm", **stated).link.spread == spread
    with pytest.raises(OutOfRangeError, match=r"path_db = -1.0: accepted 0 to 40 dB"):
        ask(store, you, them, mode="fm", path_sigma_db=-1.0)


def test_a_station_without_the_band_is_refused_with_the_reason(strip: Strip) -> None:
    with pytest.raises(StationError, match="no 70 cm antenna at Marsh End"):
        ask(strip(hilltop), SUMMIT_ANY, home(46.2), frequency_mhz=433.5)


SUMMIT_ANY = Party(Station(name="Gull Tor", place="x"), SUMMIT.location, "open")


# Surroundings of a home


def test_roofs_count_where_they_were_stated_only(strip: Strip) -> None:
    store = strip(hilltop)
    stated = party("Marsh End", 46.2, power_w=50.0, height_m=4.0, surroundings="suburb")
    unstated = party("Marsh End", 46.2, "suburb", power_w=50.0, height_m=4.0)
    assumed = ask(store, SUMMIT, unstated, mode="fm").reach
    found = ask(store, SUMMIT, stated, mode="fm").reach
    assert assumed.survey.cluttered.clutter_m.max() == 0.0
    at_m, clutter_m = found.survey.cluttered.distance_m, found.survey.cluttered.clutter_m
    assert clutter_m.max() > 0.0
    assert at_m[clutter_m > 0.0].min() >= found.leg.distance_m - 500.0
    assert found.loss.loss_db > assumed.loss.loss_db
    # and they are on their own side when seen from there
    back = ask(store, stated, SUMMIT, mode="fm").reach
    assert back.survey.cluttered.distance_m[back.survey.cluttered.clutter_m > 0.0].max() <= 500.0


def test_an_open_home_has_no_roofs(strip: Strip) -> None:
    stated = party("Marsh End", 46.2, power_w=50.0, height_m=10.0, surroundings="open")
    assert ask(strip(hilltop), SUMMIT, stated, mode="fm").reach.survey.cluttered.clutter_m.max() == 0.0


def test_roofs_stated_with_another_band_are_not_taken_for_this_one(strip: Strip) -> None:
    """What the set-up in use leaves open is assumed, whatever another set-up states."""
    set_ups = [{"bands": ["2 m"], "height_m": 4}, {"bands": ["70 cm"], "surroundings": "open"}]
    station = Station.read({"name": "Marsh End", "place": "x", "set_ups": set_ups})
    them = Party(station, Location(46.2, 10.0, "Marsh End", 5.0), "suburb")
    assert ask(strip(hilltop), SUMMIT, them, mode="fm").reach.survey.cluttered.clutter_m.max() == 0.0


# Doubts


def between_hills(store: TerrainStore) -> Contact:
    """On 70 cm, where ten metres are a good part of a Fresnel zone."""
    you, them = (
        Party(Station(name=name, place="x"), Location(at, 10.0, name, 5.0), "open")
        for name, at in (("Nether Fell", 45.2), ("Over Fell", 45.56))
    )
    return ask(store, you, them, frequency_mhz=432.2)


def test_trees_on_the_deciding_ridge(strip: Strip) -> None:
    """The doubt equals an independent run with the ridge 10 m higher, as far as whole decibels can say."""
    found = between_hills(strip(two_ridges))
    (doubt,) = [text for text in found.doubts if "trees" in text]
    said = re.fullmatch(
        r"This hangs on the highest of (\d) ridges at (\d+) km; 10 m of trees there cost (\d+) dB\.", doubt
    )
    assert said is not None
    assert int(said[1]) == found.reach.obstacles.found == 2
    assert int(said[2]) == 32  # 0.288° of latitude
    grown = strip(lambda y: two_ridges(y) + np.where(np.abs(y - 45.488) < 0.0015, 10.0, 0.0))
    more_db = between_hills(grown).reach.loss.loss_db - found.reach.loss.loss_db
    assert more_db > 0.5
    assert int(said[3]) == pytest.approx(more_db, abs=1.0)


def test_sea_and_plain_are_no_ridge(strip: Strip) -> None:
    """Smooth ground without a crest: 10 km, tight in sight, and 60 km, beyond the horizon."""
    store = strip(lambda y: 0.0 * y)
    for north in (45.14, 45.59):
        found = ask(store, party("Gull Tor", 45.05, height_m=30.0), party("Marsh End", north, height_m=30.0))
        assert found.reach.sightline.verdict != "clear"
        assert not any("ridge" in doubt for doubt in found.doubts)


def test_error_of_the_map(strip: Strip) -> None:
    """The ends stay, all between moves by 5 m: so does an independent run over such ground."""
    found = between_hills(strip(two_ridges))
    (doubt,) = [text for text in found.doubts if text.startswith("If the map is 5 m too low")]
    said = re.search(r"the path is (\d+) dB worse, if too high (\d+) dB better", doubt)
    assert said is not None
    for figure, by_m, sign in ((said[1], 5.0, 1.0), (said[2], -5.0, -1.0)):
        moved = strip(lambda y, by_m=by_m: two_ridges(y) + np.where(np.abs(y - 45.38) < 0.179, by_m, 0.0))
        change_db = between_hills(moved).reach.loss.loss_db - found.reach.loss.loss_db
        assert int(figure) == pytest.approx(sign * change_db, abs=0.6)


def test_a_path_over_a_deep_valley_hangs_on_nothing(strip: Strip) -> None:
    found = ask(
        strip(lambda y: np.where(np.abs(y - 45.3) > 0.1, 900.0, 0.0)),
        party("West Top", 45.199, height_m=15.0),
        party("East Top", 45.401, height_m=15.0),
        mode="fm",
    )
    assert not any("trees" in text or "map" in text for text in found.doubts)


def test_a_vague_place_widens_the_odds(strip: Strip) -> None:
    """Location variability counts only where a place is known no better than a cell of the map."""
    store = strip(hilltop)
    point, cell = (
        ask(store, SUMMIT, replace(home(46.2), location=Location(46.2, 10.0, "x", known_m)), mode="fm").link
        for known_m in (5.0, 1500.0)
    )
    assert point.spread.location_db == 0.0
    assert cell.spread.location_db > 3.0
    assert cell.spread.path_db == point.spread.path_db


def test_higher_ground_within_the_digits_is_warned_of(strip: Strip) -> None:
    """A place on the flank, typed to two decimals; the crest is 780 m on."""
    coarse = replace(party("Ridge Foot", 45.4), location=Location(45.481, 10.0, "Ridge Foot", 556.0))
    warnings = ask(strip(two_ridges), party("Nether Fell", 45.2), coarse, mode="fm").reach.warnings
    assert any(text.startswith("Ridge Foot: typed to ±556 m; higher ground") for text in warnings)


@pytest.mark.parametrize("at_home", [True, False])
def test_a_rise_at_the_feet_is_told_with_what_to_do(strip: Strip, at_home: bool) -> None:
    """A knoll of 60 m, half a sample, 46 m, before the mast of one end, which stands on its slope."""

    def surface(y: Any) -> Any:
        return 100.0 + 60.0 * np.clip(1.0 - np.abs(y - 45.1) * PER_DEGREE, 0.0, 1.0)

    store = strip(surface)
    here, there = home(45.1 - 0.5 / PER_DEGREE), home(45.6)
    found = ask(store, here, there) if at_home else ask(store, there, here)
    (told,) = [text for text in found.doubts if "cuts off" in text]
    seen = found.reach.sightline
    away_m = seen.from_horizon_m if at_home else seen.to_horizon_m
    assert told.startswith(f"A rise of ground {away_m:.0f} m from ")
    assert away_m <= found.reach.profile.cell_m
    assert (": step onto it, or raise the mast;" in told) is at_home
    assert (": ask them to step onto it, or to raise the mast;" in told) is not at_home
    assert told.endswith(f"The map's cells are {found.reach.profile.cell_m:.0f} m, so go and look first.")
    flat = ask(strip(lambda y: 100.0 + 0.0 * y), here, there)
    assert not any("cuts off" in text for text in flat.doubts)
