"""A day's log against a made-up prediction: differences by hand, and words that say no more than they may."""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from pathprofile import __version__
from pathprofile.contact import contact
from pathprofile.station.catalogue import MODES
from pathprofile.trip.debrief import debrief
from pathprofile.trip.debrief_fit import Estimate
from pathprofile.trip.debrief_words import finding_of, way_words
from pathprofile.trip.log import parse_log
from pathprofile.trip.prediction import (
    PredictedRow,
    PredictedWay,
    SavedPrediction,
    read_prediction,
    save_prediction,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from pathlib import Path

    from pathprofile.terrain.store import TerrainStore
    from pathprofile.trip.debrief import Debrief
    from pathprofile.trip.debrief_rows import ContactOutcome

DAY = dt.date(2026, 6, 14)
NAMES = ("Ash", "Beck", "Cairn", "Dell", "Esk", "Fell", "Gill", "Holm", "Isle")


def way(mode: str, snr_db: float, level_dbm: float | None) -> PredictedWay:
    needs = MODES[mode]
    return PredictedWay(snr_db, needs.readable_snr_db, needs.comfortable_snr_db, 0.8, level_dbm, 10.0)


def row(name: str, **more: Any) -> PredictedRow:
    """SSB on 2 m, predicted S5 (-117 dBm) and 26 dB above noise, 20 dB above what is needed, both ways."""
    mode = more.pop("mode", "ssb")
    snr_db = more.pop("snr_db", 26.0)
    level_dbm = more.pop("level_dbm", -117.0)
    values: dict[str, Any] = {
        "station": name,
        "band": "2 m",
        "frequency_mhz": 144.3,
        "mode": mode,
        "asked": True,
        "distance_m": 50e3,
        "azimuth_deg": 0.0,
        "chance": 0.8,
        "comfortable_chance": 0.6,
        "verdict": "workable",
        "out": way(mode, snr_db, level_dbm),
        "back": way(mode, snr_db, level_dbm),
        "path_db": 8.0,
        "location_db": 0.0,
        "noise_out_db": 6.0,
        "noise_back_db": 3.0,
    }
    return PredictedRow(**(values | more))


def prediction(rows: Iterable[PredictedRow]) -> SavedPrediction:
    return SavedPrediction(DAY, "Gull Tor", "0123456789abcdef", __version__, tuple(rows))


def all_nine(**more: Any) -> SavedPrediction:
    return prediction(row(name, azimuth_deg=40.0 * index, **more) for index, name in enumerate(NAMES))


def table(lines: Iterable[str]) -> str:
    return "station;sent;received;heard\n" + "\n".join(lines) + "\n"


def one(line: str, **more: Any) -> ContactOutcome:
    found = debrief(prediction([row("Ash", **more)]), parse_log(table([line])))
    assert found.unclear == ()
    (outcome,) = found.outcomes
    return outcome


class TestDifferences:
    """Heard minus predicted: S-units of 6 dB from S5, steps of 10 dB, decibels of a decoder."""

    @pytest.mark.parametrize(
        ("report", "difference_db", "sigma_db"),
        [("55", 0.0, 6.0), ("S3", -12.0, 6.0), ("57", 12.0, 6.0), ("59", 24.0, 9.0), ("5x9+10", 34.0, 6.0)],
    )
    def test_s_readings(self, report: str, difference_db: float, sigma_db: float) -> None:
        outcome = one(f"Ash;{report};55")
        assert outcome.back.difference_db == pytest.approx(difference_db)
        assert (outcome.back.uncertainty_db, outcome.back.expected_db) == (sigma_db, 10.0)
        assert outcome.out.difference_db == pytest.approx(0.0)

    def test_received_is_how_they_heard_you(self) -> None:
        outcome = one("Ash;55;S3")
        assert outcome.out.difference_db == pytest.approx(-12.0)
        assert outcome.out.words == "12 dB below the prediction, ±6 dB"
        assert outcome.back.words == "as predicted, ±6 dB"

    def test_decoder(self) -> None:
        outcome = one("Ash;-12;-5", mode="weak-digital", snr_db=-8.0)
        assert outcome.back.difference_db == pytest.approx(-4.0)
        assert outcome.out.difference_db == pytest.approx(3.0)
        assert outcome.back.uncertainty_db == 2.0
        assert outcome.back.predicted == "-8 dB"

    @pytest.mark.parametrize(
        ("report", "low_db", "high_db"),
        [
            # FM needs 10 dB, comfortable 20 dB, hiss gone at 30 dB; predicted 26 dB
            ("noisy", -16.0, -6.0),
            ("readable", -6.0, 4.0),
            ("full quieting", 4.0, math.inf),
            ("quieting", -16.0, 4.0),
            ("in and out", -22.0, -10.0),
            ("59", -6.0, math.inf),
            ("S7", -16.0, math.inf),
            ("S3 in and out", -22.0, -10.0),
            ("33", -16.0, -6.0),
        ],
    )
    def test_fm(self, report: str, low_db: float, high_db: float) -> None:
        seen = one(f"Ash;{report};", mode="fm").back
        assert (seen.low_db, seen.high_db) == (pytest.approx(low_db), pytest.approx(high_db))
        assert seen.difference_db is None

    def test_a_mode_saved_without_level_compares_no_levels(self) -> None:
        seen = one("Ash;57;", mode="morse", snr_db=10.0, level_dbm=None).back
        assert (seen.low_db, seen.high_db) == (pytest.approx(-13.0), math.inf)  # Morse needs -3 dB

    def test_nine_plus_is_a_lower_bound(self) -> None:
        seen = one("Ash;59+;").back
        assert (seen.low_db, seen.high_db) == (pytest.approx(24.0), math.inf)

    def test_decibels_by_ear_are_not_compared(self) -> None:
        found = debrief(prediction([row("Ash")]), parse_log(table(["Ash;-12;55"])))
        assert [str(each) for each in found.unclear] == [
            "line 2: Ash: sent: '-12' in SSB: dB are compared in 15 s digital alone; passed over"
        ]
        assert found.outcomes[0].back.low_db is None


class TestNotHeard:
    def test_they_say_so(self) -> None:
        outcome = one("Ash;55;not heard")
        assert (outcome.out.low_db, outcome.out.high_db) == (-math.inf, pytest.approx(-20.0))
        assert outcome.out.words == "not heard: at least 20 dB below the prediction, ±3 dB"
        assert (outcome.silent, outcome.made) == (False, False)

    def test_they_heard_you_and_you_heard_nothing(self) -> None:
        outcome = one("Ash;;S5;n")
        assert outcome.back.high_db == pytest.approx(-20.0)
        assert (outcome.silent, outcome.made) == (False, False)

    def test_silence_bounds_one_way_or_the_other(self) -> None:
        outcome = one("Ash;;;n")
        assert (outcome.silent, outcome.made) == (True, False)
        assert (outcome.out.low_db, outcome.back.low_db) == (None, None)
        assert outcome.words == (
            "no answer: you → them at least 20 dB or them → you at least 20 dB below the prediction, "
            "or nobody was listening"
        )

    def test_silence_foretold(self) -> None:
        outcome = one("Ash;;;n", snr_db=1.0)
        assert outcome.words == "no answer, as foretold: you → them was predicted too weak"

    def test_a_beacon_that_was_not_heard_is_a_bound(self) -> None:
        outcome = one("Ash;;;n", out=None)
        assert outcome.back.high_db == pytest.approx(-20.0)
        assert (outcome.silent, outcome.made, outcome.out.words) == (False, False, "not worked")

    def test_heard_without_a_report_is_a_lower_bound(self) -> None:
        outcome = one("Ash;;;y")
        assert (outcome.back.low_db, outcome.back.high_db) == (pytest.approx(-20.0), math.inf)
        assert outcome.back.words == "heard, as foretold: at most 20 dB below the prediction, ±3 dB"


@pytest.mark.parametrize(
    ("line", "made"),
    [
        ("Ash;55;55;", True),
        ("Ash;55;55;y", True),
        ("Ash;;;y", True),
        ("Ash;;S3;", True),
        ("Ash;55;;y", None),
        ("Ash;55;;", None),
        ("Ash;;;", None),
        ("Ash;nil;55;", False),
        ("Ash;55;nil;", False),
    ],
)
def test_whether_it_was_a_contact(line: str, made: bool | None) -> None:
    assert one(line).made is made


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("Ahs;55;55", "line 2: 'Ahs' is not in the prediction of Gull Tor; did you mean Ash?"),
        ("Zzyzx;55;55", "line 2: 'Zzyzx' is not in the prediction of Gull Tor; known: Ash, Beck"),
    ],
)
def test_unknown_names_are_unclear_with_the_nearest(line: str, said: str) -> None:
    found = debrief(prediction([row("Ash"), row("Beck")]), parse_log(table([line, "beck;55;55"])))
    assert [str(each) for each in found.unclear] == [said]
    assert [outcome.predicted.station for outcome in found.outcomes] == ["Beck"]
    assert found.not_in_log == ("Ash",)


def test_what_was_not_predicted_is_unclear() -> None:
    log = parse_log(
        "date,station,mode,band,sent\n"
        "2026-06-14,Ash,fm,70 cm,55\n2026-07-30,Ash,,,55\n2026-06-15,Ash,,,55\n,Beck,,,55\n"
    )
    found = debrief(prediction([row("Ash"), row("Beck"), row("Beck", mode="fm")]), log)
    assert [str(each) for each in found.unclear] == [
        "line 2: Ash: no prediction for FM on 70 cm; predicted: SSB on 2 m",
        "line 3: Ash: a call of 2026-07-30, the prediction is for 2026-06-14; left out",
        "line 5: Beck: predicted for SSB on 2 m, FM on 2 m; write band and mode in the log",
    ]
    assert len(found.outcomes) == 1


def test_the_mode_asked_about_goes_before_others_saved_with_it() -> None:
    rows = [row("Ash", mode="morse", asked=False), row("Ash")]
    assert debrief(prediction(rows), parse_log(table(["Ash;55;55"]))).outcomes[0].predicted.mode == "ssb"


def test_notes_name_another_version_and_a_changed_book() -> None:
    saved = SavedPrediction(DAY, "Gull Tor", "0123456789abcdef", "0.0.3", (row("Ash"),))
    log = parse_log(table(["Ash;55;55"]))
    found = debrief(saved, log, book_digest="fedcba9876543210")
    assert found.notes == (
        f"predicted by version 0.0.3, debriefed by {__version__}: figures are those saved",
        "the book has changed since the prediction was saved; the prediction stands as it was",
    )
    assert debrief(all_nine(), log, book_digest="0123456789abcdef").notes == ()


def digital_day(out_db: float, back_db: float, count: int, *, seed: int = 5, path_db: float = 2.0) -> Debrief:
    """Reports of a decoder on a day whose offsets are known; whole decibels, as decoders give them."""
    rng = np.random.default_rng(seed)
    lines = []
    for name in NAMES[:count]:
        error = rng.normal(0.0, path_db)
        sent, received = (
            round(float(-5.0 + offset + error + rng.normal(0.0, 1.0))) for offset in (back_db, out_db)
        )
        lines.append(f"{name};{sent:+d};{received:+d}")
    return debrief(all_nine(mode="weak-digital", snr_db=-5.0), parse_log(table(lines)))


class TestWords:
    def test_mine_low_on_all_nine_names_the_feedline(self) -> None:
        found = digital_day(-4.0, 0.0, 9)
        assert "look at your feedline" in found.sentence
        assert found.sentence.startswith("2 m: over nine stations, you → them ")
        assert "noise near you" not in found.sentence
        (pattern,) = found.patterns
        assert pattern.finding in {"out low", "out below back"}
        assert pattern.difference.high_db < -1.0

    def test_mine_low_by_s_readings_names_the_feedline(self) -> None:
        # nine contacts, each one S-unit low or as predicted by turns: 4 dB on the average
        lines = [f"{name};55;{'54' if index % 3 else '55'}" for index, name in enumerate(NAMES)]
        found = debrief(all_nine(), parse_log(table(lines)))
        assert "look at your feedline" in found.sentence
        assert found.patterns[0].out.middle_db == pytest.approx(-4.0, abs=0.5)

    def test_mine_low_over_scattered_paths_blames_no_direction_for_sure(self) -> None:
        found = digital_day(-6.0, 0.0, 9, path_db=10.0)
        assert found.patterns[0].finding == "out below back"
        assert "so that which of the two is off is not sure" in found.sentence
        assert "look at your feedline" in found.sentence

    def test_three_contacts_are_taken_with_care(self) -> None:
        found = digital_day(-4.0, 0.0, 3)
        assert "too few to tell" in found.sentence
        assert "feedline" not in found.sentence

    def test_a_large_offset_over_three_says_that_they_are_few(self) -> None:
        found = digital_day(-25.0, 0.0, 3)
        assert "three stations are few, so try again before you act" in found.sentence

    def test_only_theirs_low_names_noise_near_you(self) -> None:
        found = digital_day(0.0, -7.0, 9)
        assert "look for noise near you" in found.sentence
        assert "feedline" not in found.sentence

    def test_only_theirs_low_by_s_readings_suspects_the_meter_first(self) -> None:
        lines = [f"{name};S4;S5" if index % 3 else f"{name};S3;S5" for index, name in enumerate(NAMES)]
        found = debrief(all_nine(), parse_log(table(lines)))
        assert "noise does not lower an S-reading: your meter may read low" in found.sentence

    def test_both_low_on_all_azimuths_names_what_they_share(self) -> None:
        found = digital_day(-12.0, -12.0, 9)
        assert found.patterns[0].finding == "both low"
        assert "your antenna, its polarization and aim, and your feedline" in found.sentence
        assert "of azimuth" not in found.sentence

    def test_both_low_in_one_direction_may_be_that_direction(self) -> None:
        rows = [
            row(name, mode="weak-digital", snr_db=-5.0, azimuth_deg=350.0 + 3.0 * index)
            for index, name in enumerate(NAMES)
        ]
        lines = [f"{name};-17;-17" for name in NAMES]
        found = debrief(prediction(rows), parse_log(table(lines)))
        assert found.patterns[0].arc_deg == pytest.approx(24.0)
        assert "all lie within 24° of azimuth" in found.sentence

    def test_as_predicted_suggests_nothing(self) -> None:
        found = digital_day(0.0, 0.0, 9)
        assert "nothing beyond the scatter" in found.sentence
        assert "look" not in found.sentence

    def test_one_station_low_both_ways_is_its_path_and_left_out(self) -> None:
        lines = [f"{name};{'-33;-33' if name == 'Esk' else '-5;-6'}" for name in NAMES]
        found = debrief(all_nine(mode="weak-digital", snr_db=-5.0), parse_log(table(lines)))
        (pattern,) = found.patterns
        assert pattern.odd is not None
        assert (pattern.odd.name, pattern.odd.one_way, pattern.stations) == ("Esk", "", 8)
        assert "Esk stands 28 dB below the others both ways and is left out of that: look at that path" in (
            found.sentence
        )

    @pytest.mark.parametrize(
        ("reports", "words"), [("-5;-33", "look at their noise"), ("-33;-5", "look at their power")]
    )
    def test_one_station_low_one_way_is_its_end(self, reports: str, words: str) -> None:
        lines = [f"{name};{reports if name == 'Esk' else '-5;-5'}" for name in NAMES]
        found = debrief(all_nine(mode="weak-digital", snr_db=-5.0), parse_log(table(lines)))
        assert found.sentence.endswith(f"{words}.")

    def test_ordinary_scatter_makes_no_station_odd(self) -> None:
        odd = sum(
            digital_day(0.0, 0.0, 9, seed=seed, path_db=8.0).patterns[0].odd is not None for seed in range(12)
        )
        assert odd <= 2  # 5 % of days are to be expected

    def test_no_offset_is_seldom_called_one(self) -> None:
        found = [
            digital_day(0.0, 0.0, 6, seed=seed, path_db=8.0).patterns[0].finding for seed in range(30, 42)
        ]
        assert found.count("nothing") >= 10

    def test_bands_are_told_apart(self) -> None:
        rows = [row("Ash"), row("Ash", band="70 cm", frequency_mhz=432.2)]
        found = debrief(
            prediction(rows), parse_log("station,band,sent,received\nAsh,2 m,55,55\nAsh,70cm,53,53\n")
        )
        assert [pattern.band for pattern in found.patterns] == ["2 m", "70 cm"]
        assert [pattern.stations for pattern in found.patterns] == [1, 1]

    def test_nothing_to_go_by(self) -> None:
        log = parse_log(table(["Nobody;55;55"]))
        assert debrief(all_nine(), log).sentence == "No row of the log could be held against the prediction."
        assert debrief(all_nine(), parse_log(table(["Ash;;"]))).sentence == "2 m: no report to go by."


@pytest.mark.parametrize(
    ("out", "back", "difference", "finding"),
    [
        ((-6, -2), (-2, 2), (-6, -2), "out low"),
        ((-6, -2), (-6, -2), (-2, 2), "both low"),
        ((-6, -2), (-1, 3), (-8, 0), "out low, back open"),
        ((-6, 2), (-2, 6), (-6, -2), "out below back"),
        ((-3, 3), (2, 8), (-8, -2), "back high"),
        ((-2, 2), (-6, -2), (2, 6), "back low"),
        ((2, 6), (-2, 2), (2, 6), "out high"),
        ((2, 6), (2, 6), (-1, 1), "both high"),
        ((-12, -6), (-6, -2), (-8, -2), "both low, out lower"),
        ((-6, -2), (-12, -6), (2, 8), "both low, back lower"),
        ((2, 6), (6, 12), (-8, -2), "both high"),
        ((-9, -0.9), (-3, 3), (-9, -0.9), "nothing"),  # what may be less than 1 dB is not spoken of
    ],
)
def test_findings_need_whole_intervals(
    out: tuple[float, float], back: tuple[float, float], difference: tuple[float, float], finding: str
) -> None:
    estimates = [Estimate((low + high) / 2.0, low, high) for low, high in (out, back, difference)]
    assert finding_of(*estimates) == finding


@pytest.mark.parametrize(
    ("low_db", "high_db", "words"),
    [
        (-4.0, -4.0, "4 dB below the prediction, ±3 dB"),
        (0.3, 0.3, "as predicted, ±3 dB"),
        (-math.inf, 4.0, "not heard, as foretold"),
        (-0.2, math.inf, "heard, as foretold"),
        (7.0, math.inf, "at least 7 dB above the prediction, ±3 dB"),
        (-5.0, 4.0, "5 dB below to 4 dB above the prediction, ±3 dB"),
        (-9.0, -4.0, "4 to 9 dB below the prediction, ±3 dB"),
    ],
)
def test_words_of_a_direction(low_db: float, high_db: float, words: str) -> None:
    assert way_words(low_db, high_db, 3.0) == words


def test_the_last_report_of_a_station_counts_and_a_late_answer_ends_the_silence() -> None:
    once = debrief(all_nine(), parse_log(table(["Ash;55;53"]))).patterns[0]
    often = debrief(all_nine(), parse_log(table(["Ash;;;n", "Ash;S1;S9+40", "Ash;55;53"]))).patterns[0]
    assert (often.out, often.back) == (once.out, once.back)


def test_from_a_contact_on_the_sample_island(
    tmp_path: Path, island: TerrainStore, islander: Callable[..., Any]
) -> None:
    known = contact(
        islander("Gull Tor", unstated="open"), islander("Tidewick"), island, date=DAY, frequency_mhz=144.3
    )
    assert known.link.back is not None
    save_prediction([known], tmp_path / "p.json")
    found = debrief(
        read_prediction(tmp_path / "p.json"), parse_log("station,sent,received\nTidewick,S5,noisy\n")
    )
    (outcome,) = found.outcomes
    # S5 is -117 dBm by IARU Region 1 R.1
    assert outcome.back.difference_db == pytest.approx(-117.0 - known.link.back.budget.level_dbm)
    assert outcome.back.expected_db == known.link.back.sigma_db
    assert outcome.predicted.chance == known.link.pair.chance
