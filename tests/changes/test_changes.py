"""One thing altered at a time: within the limits stated, and as much as an independent run gives."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import rasterio
from rasterio.transform import Affine

from pathprofile.changes import Change, Changes, better_spots, equipment_changes, ranking, what_would_change
from pathprofile.changes.ranking import compass_word
from pathprofile.changes.spots import NOT_CHECKED
from pathprofile.contact import Contact, Party, contact
from pathprofile.places import Location
from pathprofile.station import Station
from pathprofile.terrain.store import TerrainStore

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    Surface = Callable[[Any, Any], Any]
    Patch = Callable[..., TerrainStore]

DAY = dt.date(2026, 11, 24)
FROM, TO = (45.1, 10.0), (45.5, 10.0)


@pytest.fixture
def patch(tmp_path: Path) -> Patch:
    """Factory: land 4 km wide along 10° E, 45.05° to 45.55° N; by default a sample every 31 m northwards."""

    def make(surface: Surface, *, per_degree: int = 3600) -> TerrainStore:
        rows, columns = round(0.5 * per_degree) + 1, round(0.05 * per_degree) + 1
        y = 45.55 - np.arange(rows)[:, np.newaxis] / per_degree
        x = 9.975 + np.arange(columns)[np.newaxis, :] / per_degree
        heights = np.broadcast_to(np.asarray(surface(y, x), float), (rows, columns)).astype("float32")
        half = 0.5 / per_degree
        with rasterio.open(
            tmp_path / "dtm.tif",
            "w",
            driver="GTiff",
            width=columns,
            height=rows,
            count=1,
            dtype="float32",
            crs="EPSG:4326",
            transform=Affine(1 / per_degree, 0, 9.975 - half, 0, -1 / per_degree, 45.55 + half),
        ) as dataset:
            dataset.write(heights, 1)
        return TerrainStore.open([tmp_path])

    return make


def east_m(x: Any) -> Any:
    return (x - 10.0) * 78_850.0


def north_m(y: Any) -> Any:
    return (y - FROM[0]) * 111_130.0


def country(y: Any, x: Any) -> Any:
    """A plain with a ridge half way."""
    return 100.0 + 150.0 * np.clip(1.0 - np.abs(y - 45.3) / 0.02, 0.0, 1.0) + 0.0 * x


def bank(y: Any, x: Any) -> Any:
    """The same, and a bank of 20 m that begins 60 m north of FROM, at a slope of 11°."""
    rise = np.clip((north_m(y) - 60.0) * 0.2, 0.0, 20.0) * (north_m(y) < 2000.0)
    return country(y, x) + rise


def cliff(y: Any, x: Any) -> Any:
    """The same, and a cliff of 120 m that climbs from 60 m north of FROM on at 40° and goes on climbing."""
    rise = np.clip((north_m(y) - 60.0) * math.tan(math.radians(40.0)), 0.0, 400.0) * (north_m(y) < 4000.0)
    return country(y, x) + rise


def ask(store: TerrainStore, *, mode: str = "fm", frequency_mhz: float = 146.52, **mine: Any) -> Contact:
    """You with what is stated, them with everything assumed."""
    set_ups = [{"bands": ["2 m"], **mine}] if mine else []
    you = Party(
        Station.read({"name": "Gull Tor", "place": "x", "set_ups": set_ups}),
        Location(*FROM, "Gull Tor", 5.0),
        "open",
    )
    them = Party(Station(name="Marsh End", place="x"), Location(*TO, "Marsh End", 5.0))
    return contact(you, them, store, date=DAY, frequency_mhz=frequency_mhz, mode=mode, with_modes=False)


def found(changes: Changes, words: str) -> Change:
    (change,) = [each for each in (*changes.ranked, *changes.mistakes) if words in each.what]
    return change


# Limits


@pytest.mark.parametrize(("height_m", "limit_m"), [(4.0, 5.0), (6.0, 6.0), (6.0, 7.5), (3.0, 30.0)])
def test_no_mast_exceeds_the_limit(patch: Patch, height_m: float, limit_m: float) -> None:
    tried = list(equipment_changes(ask(patch(country), height_m=height_m, max_height_m=limit_m)))
    masts = [each for each in tried if each.what.startswith("mast ")]
    assert all(height_m < each.you.height_m <= limit_m for each in masts)
    assert all(each.you.height_m <= limit_m for each in tried)
    if height_m < limit_m:
        assert masts[-1].what == f"mast {height_m:g} → {limit_m:g} m (your limit)"
        assert masts[-1].you.height_m == limit_m
    else:
        assert masts == []


def test_without_a_limit_a_push_up_mast_is_taken(patch: Patch) -> None:
    """10 m (common practice)."""
    tried = equipment_changes(ask(patch(country), height_m=4.0))
    assert max(each.you.height_m for each in tried) == 10.0


@pytest.mark.parametrize(("limit_m", "tallest_m"), [(3.0, 3.0), (2.0, None), (7.0, 7.0), (100.0, 10.0)])
def test_the_limit_of_the_question_caps_the_mast(
    patch: Patch, limit_m: float, tallest_m: float | None
) -> None:
    """Whatever the station states beside it; never above the 10 m of a push-up mast (common practice)."""
    store = patch(country)
    for stated in ({}, {"max_height_m": 10.0}):
        asked = ask(store, height_m=2.0, **stated)
        limited = contact(
            asked.you,
            asked.them,
            store,
            date=DAY,
            frequency_mhz=146.52,
            mode="fm",
            mast_limit_m=limit_m,
            with_modes=False,
        )
        heights = [each.you.height_m for each in equipment_changes(limited) if each.what.startswith("mast ")]
        assert max(heights, default=None) == tallest_m


def test_a_handheld_is_offered_no_mast_unless_its_limit_is_stated(patch: Patch) -> None:
    store, stub = patch(country), {"kind": "handheld stub"}
    for limit, offered in (({}, False), ({"max_height_m": 4.0}, True)):
        tried = equipment_changes(ask(store, antenna=stub, **limit))
        assert any(each.what.startswith("mast ") for each in tried) is offered


@pytest.mark.parametrize(("power_w", "limit_w"), [(10.0, 25.0), (10.0, 40.0), (20.0, 20.0), (5.0, 7.0)])
def test_no_power_exceeds_the_limit(patch: Patch, power_w: float, limit_w: float) -> None:
    changes = what_would_change(ask(patch(country), power_w=power_w, max_power_w=limit_w))
    mine = [each for each in changes.ranked if " W instead of" in each.what and "their end" not in each.what]
    powers = [float(each.what.split(" W")[0]) for each in mine]
    assert all(power_w < each <= limit_w for each in powers)
    assert bool(powers) is (power_w < limit_w)
    if powers:
        assert max(powers) == limit_w


def test_a_handheld_is_offered_no_more_power_unless_its_limit_is_stated(patch: Patch) -> None:
    """The distance to keep says nothing near the head, so nothing above what is stated is offered."""
    store, stub = patch(country), {"kind": "handheld stub"}
    for limit, powers in (({}, []), ({"max_power_w": 8.0}, ["8 W instead of 5 W"])):
        tried = equipment_changes(ask(store, antenna=stub, power_w=5.0, **limit))
        assert [each.what for each in tried if " W instead" in each.what] == powers


def test_their_limit_binds_too(patch: Patch) -> None:
    store = patch(country)
    asked = ask(store, power_w=10.0)
    them = Party(
        Station.read(
            {
                "name": "Marsh End",
                "place": "x",
                "set_ups": [{"bands": ["2 m"], "power_w": 5, "max_power_w": 8}],
            }
        ),
        asked.them.location,
    )
    bound = contact(asked.you, them, store, date=DAY, frequency_mhz=146.52, mode="fm", with_modes=False)
    changes = what_would_change(bound)
    assert [each.what for each in changes.ranked if "their end" in each.what] == [
        "8 W at their end instead of 5 W"
    ]


# Gains


def test_a_power_step_gains_its_ratio(patch: Patch) -> None:
    """10 log(50/10) = 6.99 dB, and only them hear the difference."""
    before = ask(patch(country), power_w=10.0)
    change = found(what_would_change(before), "50 W instead of 10 W")
    assert change.gain_db == pytest.approx(6.98970, abs=1e-4)
    assert change.helps == "you → them"
    again = ask(patch(country), power_w=50.0)
    assert change.chance == pytest.approx(again.link.pair.chance, abs=1e-9)


def test_a_mast_gains_what_an_independent_run_gives(patch: Patch) -> None:
    """Its height gain alone: the cable is stated as a loss and stays as it is."""
    stated = {"feedline": {"loss_db": 1.0}, "power_w": 10.0, "max_height_m": 12.0}
    before = ask(patch(country), height_m=4.0, **stated)
    for change in (each for each in what_would_change(before).ranked if each.what.startswith("mast")):
        height_m = float(change.what.split("→ ")[1].split(" m")[0])
        after = ask(patch(country), height_m=height_m, **stated)
        saved_db = before.reach.loss.loss_db - after.reach.loss.loss_db
        assert change.gain_db == pytest.approx(saved_db, abs=0.05)  # beside it only the take-off angle moves
        assert change.chance == pytest.approx(after.link.pair.chance, abs=1e-3)


def test_another_mode_gains_what_an_independent_run_gives(patch: Patch) -> None:
    """With the antennas turned as that mode has it."""
    before, after = ask(patch(country), mode="ssb"), ask(patch(country), mode="morse")
    change = found(what_would_change(before), "Morse instead of SSB")
    assert change.chance == pytest.approx(after.link.pair.chance, abs=1e-9)
    assert change.helps == "both ways"
    # 9 dB less signal-to-noise needed, in 10 log(2400/500) = 6.81 dB less noise (common practice)
    assert change.gain_db == pytest.approx(9.0 + 6.81, abs=0.01)


def test_another_mode_keeps_a_beam_turned_to_a_vertical(patch: Patch) -> None:
    store = patch(country)
    before = ask(store, antenna={"kind": "7-element beam"})
    vertical = Station.read(
        {"name": "Marsh End", "place": "x", "set_ups": [{"bands": ["2 m"], "antenna": "collinear"}]}
    )
    them = replace(before.them, station=vertical)
    fm = contact(before.you, them, store, date=DAY, frequency_mhz=146.52, mode="fm", with_modes=False)
    tried = [each for each in equipment_changes(fm) if "instead of FM" in each.what]
    assert {"SSB", "Morse"} <= {each.what.partition(" ")[0] for each in tried}
    assert {(each.you.polarization, each.them.polarization) for each in tried} == {("vertical", "vertical")}


def two_set_ups(store: TerrainStore, mode: str, **ssb: Any) -> Contact:
    """FM with a j-pole and 25 W at 3 m; SSB with what is said."""
    fm = {
        "bands": ["2 m"],
        "modes": ["fm"],
        "antenna": {"kind": "j-pole"},
        "power_w": 25,
        "height_m": 3,
        "feedline": {"loss_db": 1.0},
    }
    before = ask(store)
    set_ups = [fm, {**fm, "modes": ["ssb"], **ssb}]
    you = replace(before.you, station=Station.read({"name": "Gull Tor", "place": "x", "set_ups": set_ups}))
    return contact(you, before.them, store, date=DAY, frequency_mhz=146.52, mode=mode, with_modes=False)


@pytest.mark.parametrize("ssb", [{"antenna": {"kind": "5-element beam"}}, {"power_w": 100}, {"height_m": 9}])
def test_another_set_up_is_called_one_and_gains_what_an_independent_run_gives(
    patch: Patch, ssb: dict[str, Any]
) -> None:
    store = patch(country)
    before, after = two_set_ups(store, "fm", **ssb), two_set_ups(store, "ssb", **ssb)
    tried = [each.what for each in equipment_changes(before) if each.what.startswith("SSB ")]
    assert tried == ["SSB with your other set-up"]
    change = found(what_would_change(before), "SSB with your other set-up")
    assert before.link.out is not None
    assert after.link.out is not None
    gain_db = after.link.out.budget.margin_db - before.link.out.budget.margin_db
    assert change.gain_db == pytest.approx(gain_db, abs=0.05)


def test_a_set_up_alike_in_all_is_a_mode_change(patch: Patch) -> None:
    tried = [each.what for each in equipment_changes(two_set_ups(patch(country), "fm"))]
    assert "SSB instead of FM" in tried
    assert not any("set-up" in what for what in tried)


def test_an_antenna_that_cannot_be_turned_is_not_turned(patch: Patch) -> None:
    """A j-pole is vertical for good; SSB is customarily horizontal (common practice)."""
    store = patch(country)
    for kind, offered in (("j-pole", False), ("5-element beam", True)):
        crossed = ask(
            store, mode="ssb", antenna={"kind": kind}, **({"polarization": "vertical"} if offered else {})
        )
        assert crossed.link.you.polarization != crossed.link.them.polarization
        assert any("turn to" in each.what for each in equipment_changes(crossed)) is offered


@pytest.mark.parametrize(
    ("noise", "offered"),
    [
        (None, None),
        ({"category": "rural"}, None),
        ({"category": "quiet rural"}, None),
        ({"category": "shared radio site"}, None),
        ({"category": "rural", "extra_db": 10.0}, "chargers, inverters off"),
        ({"category": "residential"}, "a spot with rural instead of residential noise"),
        ({"s_reading": "S5"}, "noise of rural land instead of that measured"),
    ],
)
def test_less_noise_is_offered_only_where_more_is_stated(
    patch: Patch, noise: dict[str, Any] | None, offered: str | None
) -> None:
    before = ask(patch(country), power_w=10.0, **({} if noise is None else {"noise": noise}))
    names = [
        each.what for each in equipment_changes(before) if "noise" in each.what or "chargers" in each.what
    ]
    assert names == ([] if offered is None else [offered])
    if offered is not None:
        change = found(what_would_change(before), offered)
        plain = ask(patch(country), power_w=10.0, noise={"category": "rural"})
        assert plain.link.back is not None
        assert before.link.back is not None
        gain_db = plain.link.back.budget.margin_db - before.link.back.budget.margin_db
        assert change.gain_db == pytest.approx(gain_db, abs=1e-9)
        assert change.helps == "them → you"


def test_a_beam_gains_its_gain_both_ways(patch: Patch) -> None:
    before = ask(patch(country), antenna={"gain_dbi": 2.0}, power_w=10.0)
    changes = [
        each for each in what_would_change(before).ranked if "beam" in each.what or "periodic" in each.what
    ]
    assert changes
    for change in changes:
        gain_dbi = float(change.what.split("(")[1].split(" dBi")[0])
        assert change.gain_db == pytest.approx(gain_dbi - 2.0, abs=0.1)
        assert change.helps == "both ways"


def test_the_distance_to_keep_grows_with_power_duty_and_gain(patch: Patch) -> None:
    """As the square root: of 5 in power, of 1.0 over 0.2 in duty (FCC OET Bulletin 65 Supplement B)."""
    before = ask(patch(country), mode="ssb", power_w=10.0, antenna={"gain_dbi": 2.0})
    asked_m = before.link.exposure[0].keep_m
    assert asked_m is not None
    changes = what_would_change(before)
    for words in ("50 W instead", "15 s digital"):
        assert found(changes, words).keep_m == pytest.approx(asked_m * math.sqrt(5.0), rel=1e-6)
    # 13.5 dBi over 2 dBi is 11.5 dB: a factor 10^(11.5/20) = 3.758
    assert found(changes, "11-element beam").keep_m == pytest.approx(asked_m * 3.758, rel=1e-3)


def test_adapters_and_cable(patch: Patch) -> None:
    line = {"cable": "RG-58", "length_m": 20.0, "adapters": 3}
    before = ask(patch(country), feedline=line, power_w=10.0)
    changes = what_would_change(before)
    bare = ask(patch(country), feedline=line | {"adapters": 0}, power_w=10.0)
    better = ask(patch(country), feedline=line | {"cable": "400-size low-loss foam"}, power_w=10.0)
    assert before.link.out is not None
    for words, after in (("low-loss", better), ("no adapters", bare)):
        assert after.link.out is not None
        gain_db = after.link.out.budget.margin_db - before.link.out.budget.margin_db
        named = [each for each in (*changes.ranked, *changes.mistakes) if words in each.what]
        assert bool(named) is (gain_db >= 0.5)
        for change in named:
            assert change.gain_db == pytest.approx(gain_db, abs=0.05)


def test_the_feedline_is_that_of_the_set_up_in_use(patch: Patch) -> None:
    """The first set-up is on the band and has no antenna for it, so it is the second that is used."""
    before = ask(patch(country))
    set_ups = [
        {"bands": ["6 m"], "antenna": {"kind": "collinear"}},
        {"bands": ["6 m"], "feedline": {"cable": "RG-58", "length_m": 30, "adapters": 6}},
    ]
    you = replace(before.you, station=Station.read({"name": "Gull Tor", "place": "x", "set_ups": set_ups}))
    again = contact(
        you, before.them, patch(country), date=DAY, frequency_mhz=50.2, mode="fm", with_modes=False
    )
    tried = [each.what for each in equipment_changes(again)]
    assert "no adapters (6 now)" in tried
    assert "400-size low-loss foam cable instead of RG-58" in tried


def test_forgetting_to_turn_is_a_mistake_not_a_suggestion(patch: Patch) -> None:
    changes = what_would_change(ask(patch(country), mode="ssb"))
    (mistake,) = changes.mistakes
    assert mistake.what == "forgetting to turn to horizontal"
    assert mistake.gain_db < -3.0
    assert mistake not in changes.ranked


def test_a_mistake_is_known_by_its_kind_not_by_its_words(
    patch: Patch, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = ask(patch(country), mode="ssb")
    worded = [replace(each, what=f"({each.what})") for each in equipment_changes(asked)]
    monkeypatch.setattr(ranking, "equipment_changes", lambda _: worded)
    (mistake,) = what_would_change(asked).mistakes
    assert mistake.what == "(forgetting to turn to horizontal)"


def test_crossed_antennas_are_turned(patch: Patch) -> None:
    """10 to 20 dB between crossed antennas behind a ridge (common practice)."""
    before = ask(patch(country), polarization="horizontal", power_w=10.0)
    change = found(what_would_change(before), "turn to vertical")
    assert change.gain_db >= 10.0
    assert change.chance > before.link.pair.chance


def test_ranked_by_the_odds_after_it(patch: Patch) -> None:
    changes = what_would_change(ask(patch(country), mode="ssb", power_w=10.0)).ranked
    chances = [round(each.chance, 2) for each in changes]
    assert chances == sorted(chances, reverse=True)
    assert all(each.gain_db >= 0.5 for each in changes)
    assert len({each.what for each in changes}) == len(changes)


# Spots


def test_better_spots_are_real(patch: Patch) -> None:
    """Each spot asked again as if typed gives its gain; all on the bank, none too steep, none too near."""
    store = patch(bank)
    before = ask(store)
    spots, reason = better_spots(before.reach, store)
    assert reason is None
    assert 1 <= len(spots) <= 5
    gains = [spot.gain_db for spot in spots]
    assert gains == sorted(gains, reverse=True)
    for spot in spots:
        assert spot.gain_db > 0.0
        assert 2.0 * before.reach.profile.cell_m - 0.1 <= spot.distance_m <= 200.1
        assert spot.ground_m > 100.0
        moved = replace(before.you, location=Location(spot.latitude_deg, spot.longitude_deg, "there", 5.0))
        after = contact(
            moved, before.them, store, date=DAY, frequency_mhz=146.52, mode="fm", with_modes=False
        )
        saved_db = before.reach.loss.loss_db - after.reach.loss.loss_db
        assert spot.gain_db == pytest.approx(saved_db, abs=1e-6)


def test_every_spot_says_what_was_not_checked(patch: Patch) -> None:
    store = patch(bank)
    changes = what_would_change(ask(store), store)
    moves = [each for each in changes.ranked if each.note == NOT_CHECKED]
    assert changes.spots
    assert len(moves) == sum(spot.gain_db >= 0.5 for spot in changes.spots)
    assert NOT_CHECKED == "terrain only; not checked for access, cliffs, snow, power lines"
    for move in moves:
        metres, direction = move.what.split(" m ")
        assert 60.0 <= float(metres) <= 200.0
        assert direction in {"N", "NE", "E", "SE", "S", "SW", "W", "NW"}


def test_steep_ground_is_left_out(patch: Patch) -> None:
    """The cliff would be the best place by far, at 40°; nothing on it or at its foot is offered."""
    store = patch(cliff)
    spots, _ = better_spots(ask(store).reach, store)
    for spot in spots:
        assert float(north_m(spot.latitude_deg)) < 60.0


def test_a_sharp_crest_is_steep_though_both_sides_are_level_with_each_other(patch: Patch) -> None:
    """40° down on either side of a crest that runs north; a gentle crest of the same height is offered."""

    def crest(slope_deg: float) -> Surface:
        fall = math.tan(math.radians(slope_deg))
        return lambda y, x: (
            country(y, x)
            + np.clip(40.0 - np.abs(east_m(x) - 90.0) * fall, 0.0, 40.0) * (np.abs(north_m(y)) < 300.0)
        )

    for slope_deg, offered in ((40.0, False), (15.0, True)):
        store = patch(crest(slope_deg))
        spots, _ = better_spots(ask(store).reach, store)
        on_top = [spot for spot in spots if abs(float(east_m(spot.longitude_deg)) - 90.0) < 20.0]
        assert bool(on_top) is offered


def test_the_same_cliff_less_steep_is_used(patch: Patch) -> None:
    """At 11° the higher ground is offered: it is the steepness that ruled the cliff out."""
    store = patch(bank)
    spots, _ = better_spots(ask(store).reach, store)
    assert max(float(north_m(spot.latitude_deg)) for spot in spots) > 80.0


def test_moves_shorter_than_two_cells_are_refused_with_the_reason(patch: Patch) -> None:
    store = patch(bank, per_degree=600)  # cells of 130 m on the ground, east to west
    changes = what_would_change(ask(store), store)
    assert changes.spots == ()
    (note,) = changes.notes
    assert note == (
        "no spots within 200 m: the map's cells are 130 m, and a move shorter than two of them cannot be seen"
    )


def test_without_terrain_no_spots_are_looked_for(patch: Patch) -> None:
    changes = what_would_change(ask(patch(bank)))
    assert (changes.spots, changes.notes) == ((), ())


def test_on_top_of_everything_no_spot_is_better(patch: Patch) -> None:
    def top(y: Any, x: Any) -> Any:
        away_m = np.hypot(north_m(y), east_m(x))
        return country(y, x) + 100.0 * np.clip(1.0 - away_m / 600.0, 0.0, 1.0)

    store = patch(top)
    spots, reason = better_spots(ask(store).reach, store)
    assert (spots, reason) == ((), None)


@pytest.mark.parametrize(
    ("azimuth_deg", "word"),
    [(0.0, "N"), (359.0, "N"), (44.0, "NE"), (180.0, "S"), (247.6, "W"), (-90.0, "W")],
)
def test_compass_word(azimuth_deg: float, word: str) -> None:
    assert compass_word(azimuth_deg) == word
