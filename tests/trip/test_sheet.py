"""The sheet's figures, each traced to the library that made it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from pathprofile.contact import Contact, Party, contact, path_facts
from pathprofile.errors import StationError
from pathprofile.geodesy import declination, inverse, sun_azimuth_deg
from pathprofile.link.evaluate import evaluate
from pathprofile.places import Location, parse_location
from pathprofile.propagation.methods import Surroundings
from pathprofile.reach import assess
from pathprofile.sample import sample_dir
from pathprofile.station import Station
from pathprofile.terrain.store import TerrainStore
from pathprofile.trip.sheet import Sheet, build_sheet, landmarks_in_sight
from pathprofile.trip.sheet_figures import settings_of
from pathprofile.trip.sheet_ladder import with_extra_noise

DAY = dt.date(2026, 6, 14)
SITE = parse_location("47.74833 -21.00083", label="Gull Tor")
MINE = [
    {"bands": ["2 m"], "modes": ["ssb", "morse"], "antenna": {"kind": "5-element beam"}, "height_m": 4,
     "polarization": "horizontal", "power_w": 10, "max_height_m": 6, "feedline": {"loss_db": 1.5}},
    {"bands": ["2 m"], "modes": ["fm"], "antenna": {"kind": "j-pole"}, "height_m": 3, "power_w": 25,
     "feedline": {"loss_db": 2.0}},
]  # fmt: skip
THEM: dict[str, tuple[str, float, str, dict[str, object]]] = {
    "Marsh End": ("46.29750 -20.93750", 144.3, "ssb", {
        "listening_hours": ["18:00-20:00"], "time_zone": "UTC",
        "set_ups": [{"bands": ["2 m"], "modes": ["ssb", "morse"], "antenna": {"kind": "7-element beam"},
                     "polarization": "horizontal", "height_m": 12, "power_w": 50}]}),
    "Sluice Farm": ("46.31667 -20.90750", 144.3, "ssb", {
        "set_ups": [{"bands": ["2 m"], "modes": ["ssb"], "antenna": {"kind": "11-element beam"},
                     "polarization": "horizontal", "height_m": 16, "power_w": 75}]}),
    "Lamp Skerry beacon": ("46.49583 -21.56750", 144.44, "morse", {
        "receive_only": True,
        "set_ups": [{"bands": ["2 m"], "modes": ["morse"], "antenna": {"kind": "horizontal loop"},
                     "height_m": 8, "power_w": 8, "transmit_mhz": 144.44}]}),
    "Tidewick relay": ("46.77917 -21.17583", 145.0, "fm", {
        "set_ups": [{"bands": ["2 m"], "modes": ["fm"], "antenna": {"kind": "collinear"}, "height_m": 20,
                     "power_w": 15, "receive_mhz": 145.0, "shift_mhz": 0.6, "tone_hz": 88.5}]}),
}  # fmt: skip

Ask = Callable[[str], Contact]


@pytest.fixture(scope="module")
def contacts() -> tuple[Contact, ...]:
    me = Station.read({"name": "Gull Tor", "place": "47.74833 -21.00083", "set_ups": MINE})
    with TerrainStore.open([sample_dir()]) as terrain:
        return tuple(
            contact(
                Party(me, SITE, "open"),
                Party(Station.read({"name": name, "place": place, **more}), parse_location(place)),
                terrain,
                date=DAY,
                frequency_mhz=frequency_mhz,
                mode=mode,
            )
            for name, (place, frequency_mhz, mode, more) in THEM.items()
        )


@pytest.fixture(scope="module")
def sheet(contacts: tuple[Contact, ...]) -> Sheet:
    return build_sheet(SITE, contacts, date=DAY, time_zone="UTC-1")


def call_of(sheet: Sheet, name: str):  # type: ignore[no-untyped-def]
    return next(call for call in sheet.calls if call.name == name)


def test_rows_hold_the_contacts_own_figures(sheet: Sheet, contacts: tuple[Contact, ...]) -> None:
    assert {call.key for call in sheet.calls} == set(range(len(contacts)))
    for call in sheet.calls:
        one = contacts[call.key]
        leg = inverse(
            SITE.latitude_deg,
            SITE.longitude_deg,
            one.reach.to_end.location.latitude_deg,
            one.reach.to_end.location.longitude_deg,
        )
        north = declination(SITE.latitude_deg, SITE.longitude_deg, DAY).declination_deg
        assert call.azimuth_deg == pytest.approx(leg.azimuth_deg)
        assert call.magnetic_azimuth_deg == pytest.approx((leg.azimuth_deg - north) % 360.0)
        assert call.chance == one.link.pair.chance
        assert call.odds in call.verdict.text
        assert call.good_within_deg == one.link.good_within_deg
        for heard, way in ((call.you_hear, one.link.back), (call.they_hear, one.link.out)):
            assert (heard is None) == (way is None)
            if heard is not None and way is not None:
                assert heard.level_dbm == way.budget.level_dbm
                assert heard.word == way.budget.s_reading or way.budget.s_reading is None


def test_relay_is_heard_on_its_own_transmit_frequency(sheet: Sheet) -> None:
    relay = call_of(sheet, "Tidewick relay")
    assert (relay.send_mhz, relay.tone_hz) == (145.0, 88.5)
    assert relay.listen_mhz == pytest.approx(145.6)
    beacon = call_of(sheet, "Lamp Skerry beacon")
    assert (beacon.listen_mhz, beacon.send_mhz) == (144.44, None)
    assert call_of(sheet, "Marsh End").frequency_stated is False


def test_two_notations_lead_back_to_the_site(sheet: Sheet) -> None:
    assert [name for name, _ in sheet.site.read_out] == ["degrees and minutes", "locator"]
    for _, text in sheet.site.read_out:
        back = parse_location(text)
        leg = inverse(SITE.latitude_deg, SITE.longitude_deg, back.latitude_deg, back.longitude_deg)
        assert leg.distance_m < max(back.uncertainty_m, 20.0)


def test_stored_margins_are_those_of_the_library_at_every_height(
    sheet: Sheet, contacts: tuple[Contact, ...]
) -> None:
    for call in sheet.calls:
        one = contacts[call.key]
        for row in call.settings[0].heights:
            reach = assess(
                one.reach.survey,
                frequency_mhz=one.reach.frequency_mhz,
                from_antenna_agl_m=row.height_m,
                to_antenna_agl_m=one.reach.to_end.antenna_agl_m,
                polarization=one.reach.polarization,
                deciding_only=True,
            )
            link = evaluate(
                replace(one.link.you, height_m=row.height_m),
                one.link.them,
                path_facts(reach),
                spread=one.link.spread,
            )
            for stored, way in ((row.out_margin_db, link.out), (row.back_margin_db, link.back)):
                assert (stored is None) == (way is None)
                assert (
                    stored is None or way is None or stored == pytest.approx(way.budget.margin_db, abs=1e-9)
                )


def test_other_heights_stand_on_the_same_ground_and_climate() -> None:
    me = Station.read({"name": "Gull Tor", "place": "47.74833 -21.00083", "set_ups": MINE})
    them = Party(Station(name="Marsh End", place="46.29750 -20.93750"), parse_location("46.29750 -20.93750"))
    sea = Surroundings(relative_permittivity=81.0, conductivity_s_per_m=5.0, climate=7)
    with TerrainStore.open([sample_dir()]) as terrain:
        asked = {"date": DAY, "frequency_mhz": 144.3, "mode": "ssb", "surroundings": sea, "with_modes": False}
        planned = contact(Party(me, SITE, "open"), them, terrain, **asked)  # type: ignore[arg-type]
        taller = Station.read({**me.model_dump(exclude_unset=True), "set_ups": [{**MINE[0], "height_m": 6}]})
        alone = contact(Party(taller, SITE, "open"), them, terrain, **asked)  # type: ignore[arg-type]
    row = settings_of(planned, (4.0, 6.0))[0].heights[-1]
    assert row.height_m == 6.0
    assert row.disagreement_db == pytest.approx(alone.link.disagreement_db, abs=1e-9)


def test_heights_stay_within_the_stated_limit(sheet: Sheet) -> None:
    assert sheet.mast_heights_m[-1] == 6.0
    assert {3.0, 4.0} <= set(sheet.mast_heights_m)


def test_planned_mode_first_then_all_that_both_have(sheet: Sheet) -> None:
    settings = call_of(sheet, "Marsh End").settings
    assert [setting.mode for setting in settings] == ["ssb", "morse"]
    assert settings[0].link.pair == call_of(sheet, "Marsh End").contact.link.pair
    assert settings[1].link.pair.chance > settings[0].link.pair.chance


def test_turning_costs_what_the_library_says(sheet: Sheet, contacts: tuple[Contact, ...]) -> None:
    for call, turned in product(sheet.calls, ("vertical", "horizontal")):
        link = contacts[call.key].link
        facts = path_facts(contacts[call.key].reach)
        other = evaluate(replace(link.you, polarization=turned), link.them, facts, spread=link.spread)
        row = next(
            row for row in call.settings[0].heights if row.height_m == contacts[call.key].link.you.height_m
        )
        cost = row.vertical_db if turned == "vertical" else row.horizontal_db
        ways = [(a, b) for a, b in ((link.out, other.out), (link.back, other.back)) if a and b]
        for before, after in ways:
            assert before.budget.margin_db - after.budget.margin_db == pytest.approx(cost)


def test_noise_steps_equal_a_station_that_states_the_noise(sheet: Sheet) -> None:
    """The same as the book's own ``extra_db``, read by the library from a station."""
    assert sheet.ladder.noise
    for step in sheet.ladder.noise:
        one = next(call.contact for call in sheet.calls if call.key == step.key)
        assert step.chances[0] == one.link.pair.chance
        assert list(step.chances) == sorted(step.chances, reverse=True)
        mine = [
            {**MINE[i], "noise": {"category": one.link.you.noise.category, "extra_db": 12.0}} for i in (0, 1)
        ]
        noisy = Station.read({"name": "Gull Tor", "place": "47.74833 -21.00083", "set_ups": mine})
        with TerrainStore.open([sample_dir()]) as terrain:
            again = contact(
                replace(one.you, station=noisy),
                one.them,
                terrain,
                date=DAY,
                frequency_mhz=one.link.frequency_mhz,
                mode=one.link.mode,
                with_modes=False,
            )
        assert step.chances[-1] == pytest.approx(again.link.pair.chance, abs=1e-9)


@pytest.mark.parametrize("noise", [{"s_reading": "S3"}, {"rise_db": 6.0}])
def test_measured_noise_rises_by_what_is_added(
    contacts: tuple[Contact, ...], noise: dict[str, object]
) -> None:
    me = Station.read(
        {"name": "Gull Tor", "place": "47.74833 -21.00083", "set_ups": [{**MINE[0], "noise": noise}]}
    )
    with TerrainStore.open([sample_dir()]) as terrain:
        one = contact(
            Party(me, SITE, "open"),
            contacts[0].them,
            terrain,
            date=DAY,
            frequency_mhz=144.3,
            mode="ssb",
            with_modes=False,
        )
    noisy = evaluate(with_extra_noise(one.link.you, 10.0), one.link.them, path_facts(one.reach))
    assert noisy.back is not None
    assert one.link.back is not None
    assert noisy.back.budget.noise_dbm - one.link.back.budget.noise_dbm == pytest.approx(10.0)


def test_beams_serve_all_their_calls(sheet: Sheet) -> None:
    served = [key for beam in sheet.beams for key in beam.keys]
    assert sorted(served) == sorted(call.key for call in sheet.calls if call.good_within_deg is not None)
    for beam in sheet.beams:
        assert beam.within_deg > 0.0
        for key in beam.keys:
            call = next(call for call in sheet.calls if call.key == key)
            off = abs((call.azimuth_deg - beam.azimuth_deg + 180.0) % 360.0 - 180.0)
            assert off + beam.within_deg <= call.good_within_deg + 1e-9
    # Marsh End and Sluice Farm lie a degree apart: one position.
    together = {call_of(sheet, name).key for name in ("Marsh End", "Sluice Farm")}
    assert any(together <= set(beam.keys) for beam in sheet.beams)


def test_sun_stands_at_each_half_hour_of_the_day(sheet: Sheet) -> None:
    assert [(sun.utc - sheet.sun[0].utc) / dt.timedelta(minutes=30) for sun in sheet.sun] == list(
        range(len(sheet.sun))
    )
    # 16 hours of daylight at 47.7 N in June (almanac: about 15 h 55 min).
    assert len(sheet.sun) in {31, 32}
    for sun in sheet.sun[::6]:
        position = sun_azimuth_deg(SITE.latitude_deg, SITE.longitude_deg, sun.utc)
        assert (sun.azimuth_deg, sun.elevation_deg) == position
        assert sun.local.utcoffset() == dt.timedelta(hours=-1)


def test_ladder_is_made_of_this_trip(sheet: Sheet) -> None:
    first = sheet.calls[0]
    assert sheet.ladder.proof.key == first.key == call_of(sheet, "Lamp Skerry beacon").key
    assert sheet.ladder.power_w == (10.0, 25.0)
    assert sheet.ladder.proof.crossed_db == (10.0, 20.0)
    step = sheet.ladder.morse[0]
    settings = {setting.mode: setting.link for setting in call_of(sheet, step.name).settings}
    gained = settings["morse"].out.budget.margin_db - settings["ssb"].out.budget.margin_db
    assert step.gain_db == pytest.approx(gained)


def test_exposure_and_sources(sheet: Sheet, contacts: tuple[Contact, ...]) -> None:
    # Duty: 0.4 in Morse, to which one falls back, and 1 in FM and packet (common practice).
    kept = {(one.antenna, one.power_w, one.duty) for one in sheet.exposure}
    assert kept == {("5-element beam", 10.0, 0.4), ("j-pole", 25.0, 1.0)}
    for one in contacts:
        planned = one.link.exposure[0]
        (own,) = [each for each in sheet.exposure if each.antenna == planned.antenna]
        assert one.link.out is None or own.keep_m >= planned.keep_m
    assert sheet.sources.magnetic_model.startswith("WMM")
    assert set(sheet.sources.terrain) >= {"N47W021"}


def test_profile_points_are_the_paths_own(sheet: Sheet, contacts: tuple[Contact, ...]) -> None:
    for path in sheet.paths:
        seen = contacts[path.key].reach.sightline
        whole = contacts[path.key].reach.survey.cluttered.distance_m
        where = np.searchsorted(whole, path.profile.distance_m)
        assert np.array_equal(whole[where], path.profile.distance_m)
        assert np.array_equal(seen.clearance_m[where], path.profile.clearance_m)
        assert path.profile.clearance_m.min() == seen.clearance_m.min()
        assert where[path.profile.limiting] == seen.limiting_index
        assert {where[0], where[-1]} == {0, whole.size - 1}


def test_landmarks_in_sight_only() -> None:
    near = parse_location("47.40417 -21.07000", label="Brindlemoor")
    behind = parse_location("47.86167 -21.13000", label="Norwater")
    with TerrainStore.open([sample_dir()]) as terrain:
        seen = landmarks_in_sight(SITE, [behind, near, SITE, Location(10.0, 10.0, "off")], terrain, date=DAY)
    assert [place.label for place in seen] == ["Brindlemoor"]


def test_refusals(contacts: tuple[Contact, ...]) -> None:
    with pytest.raises(StationError, match=r"no station to call from 'Gull Tor': .* add stations"):
        build_sheet(SITE, (), date=DAY)
    with pytest.raises(StationError, match=r"no station .*Skerrow Hill: no digital voice"):
        build_sheet(SITE, (), date=DAY, left_out=[("Skerrow Hill", "no digital voice")])
    with pytest.raises(StationError, match=r"'Marsh End' starts at 'Gull Tor', not at 'elsewhere'"):
        build_sheet(Location(47.0, -21.0, "elsewhere"), contacts, date=DAY)
    with pytest.raises(StationError, match=r"is for 2026-06-14, the sheet for 2026-06-15"):
        build_sheet(SITE, contacts, date=DAY + dt.timedelta(days=1))
    with pytest.raises(StationError, match=r"time zone 'Nowhere'"):
        build_sheet(SITE, contacts, date=DAY, time_zone="Nowhere")


def test_the_first_to_call_is_one_on_which_the_methods_agree(contacts: tuple[Contact, ...]) -> None:
    first = build_sheet(SITE, contacts, date=DAY, time_zone="UTC-1").calls[0]
    assert not first.contact.link.methods_part
    link = replace(first.contact.link, methods_part=True, disagreement_db=21.0)
    parted = [replace(each, link=link) if each is first.contact else each for each in contacts]
    calls = build_sheet(SITE, parted, date=DAY, time_zone="UTC-1").calls
    assert calls[0].name != first.name
    assert first.name in {call.name for call in calls}
