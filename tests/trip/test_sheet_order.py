"""Order of calls: its promises, on chosen days and on drawn ones."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pathprofile.trip.sheet_order import ToCall, call_order

LINEAR = ("horizontal", "vertical")
WINDOWS = st.lists(
    st.tuples(st.integers(0, 1200), st.integers(30, 600)).map(lambda w: (w[0], w[0] + w[1])), max_size=2
).map(tuple)
CALLS = st.lists(
    st.builds(
        ToCall,
        chance=st.floats(0.0, 1.0),
        azimuth_deg=st.floats(0.0, 359.9),
        polarization=st.sampled_from(LINEAR),
        receive_only=st.booleans(),
        windows=WINDOWS,
        second_chance=st.none() | st.floats(0.0, 1.0),
    ),
    min_size=1,
    max_size=12,
)


def names(calls: list[ToCall], order: str = "sweep") -> list[int]:
    placed, _ = call_order(calls, order)  # type: ignore[arg-type]
    return [place.index for place in placed]


def test_an_easy_beacon_comes_before_an_easier_station() -> None:
    calls = [
        ToCall(0.99, 10.0, "horizontal"),
        ToCall(0.93, 200.0, "horizontal", receive_only=True),
        ToCall(0.99, 20.0, "horizontal"),
    ]
    placed, reason = call_order(calls)
    assert (placed[0].index, placed[0].part) == (1, "prove")
    assert "beacon" in reason


def test_a_weak_beacon_proves_nothing() -> None:
    calls = [ToCall(0.5, 10.0, "horizontal", receive_only=True), ToCall(0.95, 20.0, "vertical")]
    assert names(calls)[0] == 1


def test_where_none_is_easy_the_best_goes_first_and_it_is_said() -> None:
    placed, reason = call_order([ToCall(0.2, 0.0, "vertical"), ToCall(0.6, 0.0, "vertical")])
    assert placed[0].index == 1
    assert "none is easy" in reason


def test_a_station_whose_methods_part_proves_nothing_while_another_will_do() -> None:
    # silence there may be the path's, whatever both opinions say
    parted = [
        ToCall(0.97, 10.0, "horizontal", receive_only=True, second_chance=0.02),
        ToCall(0.99, 20.0, "horizontal", second_chance=0.91),
    ]
    plain = ToCall(0.72, 30.0, "vertical", windows=((600, 700),))
    placed, reason = call_order([*parted, plain])
    assert (placed[0].index, placed[0].part) == (2, "prove")
    assert reason.startswith("First an easy call")
    placed, reason = call_order([*parted, replace(plain, chance=0.69)])  # below workable it will not do
    assert placed[0].index == 1
    assert reason.startswith("First an easy call")


def test_where_one_method_alone_has_it_easy_it_is_said() -> None:
    doubtful, weak = ToCall(0.97, 10.0, "vertical", second_chance=0.02), ToCall(0.5, 20.0, "vertical")
    placed, reason = call_order([doubtful, weak])
    assert placed[0].index == 1
    assert reason.startswith("First the best there is, for none is easy by both methods")
    assert "by both" not in call_order([weak])[1]


def test_one_polarization_after_the_other_the_proving_one_first() -> None:
    calls = [
        ToCall(0.8, 10.0, "vertical"),
        ToCall(0.8, 20.0, "horizontal"),
        ToCall(0.95, 30.0, "vertical"),
        ToCall(0.8, 40.0, "horizontal"),
    ]
    assert [calls[i].polarization for i in names(calls)] == ["vertical"] * 2 + ["horizontal"] * 2


def test_the_beam_leaves_out_the_widest_gap_and_starts_at_its_nearer_end() -> None:
    calls = [ToCall(0.95, 197.0, "horizontal", receive_only=True)]
    calls += [ToCall(0.8, azimuth, "horizontal") for azimuth in (144.0, 229.0, 188.0, 176.0)]
    placed, _ = call_order(calls)
    # 229 lies 32 degrees from the beacon, 144 lies 53: it goes back from 229.
    assert [calls[place.index].azimuth_deg for place in placed] == [197.0, 229.0, 188.0, 176.0, 144.0]
    assert placed[1].turning == "anticlockwise"


def test_north_is_no_border() -> None:
    calls = [ToCall(0.95, 350.0, "vertical")]
    calls += [ToCall(0.8, azimuth, "vertical") for azimuth in (10.0, 355.0, 30.0)]
    assert [calls[i].azimuth_deg for i in names(calls)] == [350.0, 355.0, 10.0, 30.0]


def test_hard_ones_come_last_in_their_polarization() -> None:
    calls = [
        ToCall(0.95, 0.0, "vertical"),
        ToCall(0.1, 1.0, "vertical"),
        ToCall(0.8, 2.0, "vertical"),
        ToCall(0.29, 3.0, "vertical"),
        ToCall(0.8, 4.0, "horizontal"),
    ]
    assert names(calls) == [0, 2, 3, 1, 4]


def test_hours_that_meet_make_one_round_others_two() -> None:
    evening, later, morning = (1080, 1200), (1140, 1260), (420, 540)
    calls = [
        ToCall(0.95, 0.0, "vertical"),
        ToCall(0.8, 50.0, "vertical", windows=(evening,)),
        ToCall(0.8, 60.0, "vertical", windows=(later, morning)),
        ToCall(0.8, 70.0, "vertical", windows=(morning,)),
        ToCall(0.8, 80.0, "vertical"),
    ]
    placed, reason = call_order(calls)
    rounds = {place.index: (place.sweep, place.together_min) for place in placed[1:]}
    # In the morning two of three listen and in the evening two of three; the earlier is taken.
    assert rounds[3] == rounds[2] == rounds[4] == (0, (420, 540))
    assert rounds[1] == (1, evening)
    assert "another where they do not meet" in reason


def test_the_polarization_whose_hours_close_first_comes_first() -> None:
    calls = [
        ToCall(0.95, 0.0, "vertical"),
        ToCall(0.8, 0.0, "horizontal", windows=((1000, 1100),)),
        ToCall(0.8, 0.0, "circular", windows=((500, 600),)),
    ]
    assert [calls[i].polarization for i in names(calls)] == ["vertical", "circular", "horizontal"]


def test_odds_order_is_strongest_first() -> None:
    calls = [ToCall(chance, 0.0, "vertical") for chance in (0.2, 0.9, 0.5)]
    assert names(calls, "odds") == [1, 2, 0]
    assert call_order(calls, "odds")[1].startswith("Strongest first")


@given(CALLS)
def test_promises_hold_for_any_day(calls: list[ToCall]) -> None:
    placed, reason = call_order(calls)
    assert sorted(place.index for place in placed) == list(range(len(calls)))
    assert reason.endswith(".")
    rest = [calls[place.index] for place in placed[1:]]
    changes = sum(one.polarization != other.polarization for one, other in pairwise(rest))
    assert changes <= len({call.polarization for call in rest}) - 1 if rest else True
    for one, other in pairwise(placed[1:]):
        same = calls[one.index].polarization == calls[other.index].polarization
        if same:
            assert not (one.part == "hard" and other.part == "sweep")
            assert (one.part, other.part) != ("sweep", "sweep") or one.sweep <= other.sweep
        if same and one.part == other.part == "hard":
            assert calls[one.index].chance >= calls[other.index].chance


@given(CALLS)
def test_every_one_of_a_round_listens_in_its_common_hours(calls: list[ToCall]) -> None:
    placed, _ = call_order(calls)
    for place in placed:
        call = calls[place.index]
        if place.part == "sweep" and call.windows:
            assert place.together_min is not None
            start, end = place.together_min
            assert start < end
            assert any(opening <= start and end <= closing for opening, closing in call.windows)


@given(CALLS)
def test_a_round_turns_less_than_full_circle_one_way(calls: list[ToCall]) -> None:
    placed, _ = call_order(calls)
    rounds: dict[tuple[str, int], list[float]] = {}
    for place in placed:
        if place.part == "sweep":
            call = calls[place.index]
            rounds.setdefault((call.polarization, place.sweep), []).append(call.azimuth_deg)
    for azimuths in rounds.values():
        clockwise = sum((b - a) % 360.0 for a, b in pairwise(azimuths))
        anticlockwise = sum((a - b) % 360.0 for a, b in pairwise(azimuths))
        assert min(clockwise, anticlockwise) == pytest.approx(min(clockwise, anticlockwise) % 360.0, abs=1e-6)
