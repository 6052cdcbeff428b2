"""Odds against outcomes over several trips. Interval and score against published values and by hand."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from scipy import stats

from pathprofile import __version__
from pathprofile.errors import OutOfRangeError, StationError
from pathprofile.trip.debrief_reliability import reliability, wilson_interval
from pathprofile.trip.log import Log, parse_log
from pathprofile.trip.prediction import PredictedRow, PredictedWay, SavedPrediction


@pytest.mark.parametrize(
    ("made", "calls", "low", "high"),
    [
        # R. G. Newcombe, Statistics in Medicine 17, 1998, table I, score method (from memory)
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0000, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_wilson_interval_as_published(made: int, calls: int, low: float, high: float) -> None:
    assert wilson_interval(made, calls) == pytest.approx((low, high), abs=5e-5)


@pytest.mark.parametrize(("made", "calls"), [(0, 1), (1, 1), (3, 7), (20, 20), (499, 1000)])
def test_wilson_interval_as_scipy_has_it(made: int, calls: int) -> None:
    expected = stats.binomtest(made, calls).proportion_ci(0.95, method="wilson")
    assert wilson_interval(made, calls) == pytest.approx((expected.low, expected.high), abs=1e-9)


@pytest.mark.parametrize(("made", "calls"), [(0, 0), (2, 1), (-1, 3)])
def test_wilson_interval_refuses(made: int, calls: int) -> None:
    with pytest.raises(OutOfRangeError, match=r"accepted at least one trial, no more successes$"):
        wilson_interval(made, calls)


def trip(chances: list[float], lines: list[str], *, day: int = 14) -> tuple[SavedPrediction, Log]:
    """Stations A0, A1 … on 2 m by a decoder, predicted at -5 dB both ways."""
    there = PredictedWay(-5.0, -20.0, -16.0, 0.9, -150.0, 10.0)
    rows = tuple(
        PredictedRow(
            *(f"A{index}", "2 m", 144.3, "weak-digital", True, 5e4, 40.0 * index, chance, chance, "workable"),
            *(there, there, 8.0, 0.0, 6.0, 3.0),
        )
        for index, chance in enumerate(chances)
    )
    saved = SavedPrediction(dt.date(2026, 6, day), "Gull Tor", "", __version__, rows)
    return saved, parse_log("station;sent;received;heard\n" + "\n".join(lines) + "\n")


MADE, NOT_MADE, UNTOLD = "-5;-5;y", ";;n", "-5;;y"


def test_table_and_score_by_hand() -> None:
    found = reliability(
        [
            trip([0.95, 0.8, 0.2, 0.5], [f"A0;{MADE}", f"A1;{NOT_MADE}", f"A2;{NOT_MADE}", f"A3;{UNTOLD}"]),
            trip([0.9, 0.6], [f"A0;{MADE}", f"A1;{MADE}"], day=15),
        ]
    )
    assert (found.trips, found.calls, found.made, found.untold) == (2, 5, 3, 1)
    assert [(each.calls, each.made) for each in found.bins] == [(1, 0), (1, 1), (1, 0), (2, 2)]
    assert found.bins[3].mean_chance == pytest.approx(0.925)
    # 0.05² + 0.8² + 0.2² + 0.1² + 0.4² over 5
    assert found.brier == pytest.approx((0.0025 + 0.64 + 0.04 + 0.01 + 0.16) / 5.0)
    assert found.foretold == pytest.approx(3.45)
    # variances 0.0475 + 0.16 + 0.16 + 0.09 + 0.24
    assert found.foretold_sigma == pytest.approx(0.6975**0.5)
    assert found.sentence.startswith("3 of 5 calls became contacts, 3.")
    assert found.sentence.endswith(" were foretold (±1.7): too few to judge the odds.")


def test_a_station_called_twice_counts_once() -> None:
    found = reliability([trip([0.7], [f"A0;{NOT_MADE}", f"A0;{MADE}", f"A0;{NOT_MADE}"])])
    assert (found.calls, found.made) == (1, 1)


def test_no_call() -> None:
    found = reliability([])
    assert (found.brier, found.calls, found.suggestions) == (None, 0, ())
    assert found.bins[0].low_share is None
    assert found.sentence == "No call whose outcome the logs tell."


@pytest.mark.parametrize(
    ("shift", "words"),
    [(0.0, "no sign that the odds are wrong"), (-0.35, "too hopeful"), (0.3, "too cautious")],
)
def test_odds_held_against_outcomes(shift: float, words: str) -> None:
    rng = np.random.default_rng(11)
    chances = [float(value) for value in rng.uniform(0.35, 0.7, 80)]
    lines = [
        f"A{index};{MADE if rng.uniform() < chance + shift else NOT_MADE}"
        for index, chance in enumerate(chances)
    ]
    assert words in reliability([trip(chances, lines)]).sentence


def test_expected_score_and_its_spread_are_those_of_right_odds() -> None:
    rng = np.random.default_rng(12)
    chances = [0.05, 0.2, 0.4, 0.6, 0.75, 0.85, 0.9, 0.95, 0.97, 0.99]
    found = [
        reliability(
            [
                trip(
                    chances,
                    [f"A{i};{MADE if rng.uniform() < p else NOT_MADE}" for i, p in enumerate(chances)],
                )
            ]
        )
        for _ in range(150)
    ]
    scores = [each.brier for each in found if each.brier is not None]
    expected, sigma = found[0].brier_expected, found[0].brier_sigma
    assert expected is not None
    assert sigma is not None
    # three standard errors of a mean, and of a standard deviation, over 150 days
    assert np.mean(scores) == pytest.approx(expected, abs=3.0 * sigma / 150**0.5)
    assert np.std(scores) == pytest.approx(sigma, rel=3.0 / 300**0.5)


def off_by(out: int, back: int) -> list[str]:
    wobble = (1, -1, 0, 2, -2, 0, 1, -1)
    return [f"A{index};{-5 + back + each:+d};{-5 + out - each:+d};y" for index, each in enumerate(wobble)]


def test_offset_of_ones_own_is_suggested_after_two_trips_and_applied_to_nothing() -> None:
    first, second = trip([0.8] * 8, off_by(-8, 0)), trip([0.8] * 8, off_by(-8, 0), day=20)
    assert reliability([first]).suggestions == ()
    found = reliability([first, second])
    (suggestion,) = found.suggestions
    assert (suggestion.band, suggestion.way, suggestion.trips, suggestion.stations) == ("2 m", "out", 2, 16)
    assert suggestion.offset.low_db < -8.0 < suggestion.offset.high_db < -1.0
    assert suggestion.sentence.startswith(
        "You → them on 2 m came in 8 dB below the prediction over 2 trips (95 %"
    )
    assert suggestion.sentence.endswith("nothing has been changed.")
    assert found.foretold == pytest.approx(0.8 * 16)


def test_no_offset_no_suggestion() -> None:
    trips = [trip([0.8] * 8, off_by(0, 0)), trip([0.8] * 8, off_by(1, -1), day=20)]
    assert reliability(trips).suggestions == ()


def test_one_trip_given_twice_is_not_two() -> None:
    saved, log = trip([0.9, 0.8], ["A0;" + MADE, "A1;" + NOT_MADE])
    again = Log("a copy of it.csv", log.rows, log.unclear)
    with pytest.raises(StationError, match=r"'Gull Tor' on 2026-06-14 is given twice, with the same log"):
        reliability([(saved, log), (saved, again)])
    assert reliability([(saved, log), trip([0.9, 0.8], ["A0;" + MADE, "A1;" + NOT_MADE], day=15)]).trips == 2
