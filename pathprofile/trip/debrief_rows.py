"""Each row of a log beside its prediction: what the reports say of each direction, as figures or bounds."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

from pathprofile.link.modes import FM_VOICE
from pathprofile.station.catalogue import MODES
from pathprofile.trip.debrief_fit import Group, Observed, Silence
from pathprofile.trip.debrief_words import silence_words, way_words
from pathprofile.trip.log import Unclear
from pathprofile.trip.names import did_you_mean, name_key

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from pathprofile.trip.log import Log, LogRow
    from pathprofile.trip.prediction import PredictedRow, PredictedWay, SavedPrediction
    from pathprofile.trip.reports import CopyWord, Report

__all__ = ["REPORT_SIGMA_DB", "ContactOutcome", "WayOutcome", "groups_of", "outcomes_of"]

REPORT_SIGMA_DB: Final = {
    "S-reading": 6.0,  # an S-unit is 6 dB by IARU Region 1 R.1, on many meters 3 to 4; ears differ as much
    "bare S9": 9.0,  # given as often out of courtesy
    "decoder": 2.0,  # in steps of 1 dB, by a program
    "words": 3.0,  # of each edge of a word
    "heard or not": 3.0,  # two operators on what is just readable
}
"""Standard deviation of a report as a measure, by its kind [dB] (common practice)."""
THEIR_POWER_SIGMA_DB: Final = 3.0  # a station's power against what it states (common practice)
_QUIET_DB: Final = 10.0  # above comfortable copy, as in `pathprofile.link.modes.copy_word`
_IN_AND_OUT_DB: Final = 6.0  # either side of just readable, by fading (common practice)
_DIGITAL_BY_DECODER: Final = "weak-digital"


class _Between(NamedTuple):
    """What a report says of a direction: a difference from the prediction, or bounds on it."""

    low_db: float
    high_db: float
    kind: str

    @property
    def sigma_db(self) -> float:
        return REPORT_SIGMA_DB[self.kind]

    @property
    def of_noise(self) -> bool:
        """Whether it is a signal above noise that was reported, not a level."""
        return self.kind not in {"S-reading", "bare S9"}


@dataclass(frozen=True, slots=True)
class WayOutcome:
    """One direction of a contact: heard minus predicted.

    Attributes
    ----------
    report : str
        As written in the log.
    predicted : str
        What the prediction gave to expect, in the same terms.
    low_db, high_db : float or None
        Bounds on the difference, alike for a figure, infinite on an open side [dB]; None without a report.
    uncertainty_db : float or None
        Standard deviation of the report as a measure [dB], see `REPORT_SIGMA_DB`.
    expected_db : float or None
        Standard deviation with which the prediction itself was given [dB].
    of_noise : bool
        Whether the report is of a signal above noise, not of a level.
    words : str
    """

    report: str
    predicted: str
    low_db: float | None
    high_db: float | None
    uncertainty_db: float | None
    expected_db: float | None
    of_noise: bool
    words: str

    @property
    def difference_db(self) -> float | None:
        """Difference, where the report gives a figure [dB]."""
        return self.low_db if self.low_db == self.high_db else None


@dataclass(frozen=True, slots=True)
class ContactOutcome:
    """A row of the log beside its prediction.

    Attributes
    ----------
    row : LogRow
    predicted : PredictedRow
    out, back : WayOutcome
        You → them (what they gave you), and them → you (what you gave them).
    silent : bool
        Whether the call met silence: that bounds one direction or the other, not each.
    made : bool or None
        Whether it was a contact; None where the log does not tell.
    words : str
        Of the call that met silence; else empty.
    """

    row: LogRow
    predicted: PredictedRow
    out: WayOutcome
    back: WayOutcome
    silent: bool
    made: bool | None
    words: str


def outcomes_of(prediction: SavedPrediction, log: Log) -> tuple[tuple[ContactOutcome, ...], list[Unclear]]:
    """Rows of a log beside their predictions, and those that have none, with the reason."""
    outcomes = []
    unclear = []
    by_station = prediction.by_station()
    for row in log.rows:
        found = _predicted(prediction, by_station.get(name_key(row.station), []), row)
        if isinstance(found, str):
            unclear.append(Unclear(row.line, found))
            continue
        outcome, doubts = _outcome(found, row)
        outcomes.append(outcome)
        unclear.extend(Unclear(row.line, f"{row.station}: {doubt}") for doubt in doubts)
    return tuple(outcomes), unclear


def groups_of(outcomes: Iterable[ContactOutcome], *, name: str = "") -> list[Group]:
    """Observations of one band, a group a station, for `pathprofile.trip.debrief_fit.fit_offsets`.

    Of several rows with one station in one mode the last report each way counts, and a call that met silence
    only where none was answered. ``name`` goes before the station's, to keep trips apart.
    """
    stations: dict[str, dict[str, list[ContactOutcome]]] = defaultdict(lambda: defaultdict(list))
    for each in outcomes:
        stations[name_key(each.predicted.station)][each.predicted.mode].append(each)
    groups = []
    for key, modes in stations.items():
        observed = []
        silences = []
        shared_db = 0.0
        for rows in modes.values():
            for way in ("out", "back"):
                reported = [row for row in rows if getattr(row, way).low_db is not None]
                if reported:
                    observed.append(_observed(reported[-1], way))
                    shared_db = reported[-1].predicted.shared_db
            if all(row.silent for row in rows):
                silences.append(_silence(rows[-1].predicted))
                shared_db = shared_db or rows[-1].predicted.shared_db
        if observed or silences:
            # The mode that needs least says most, and what fails over one path fails in all modes alike.
            silence = min(silences, key=lambda each: each.out_needs_db + each.back_needs_db, default=None)
            groups.append(Group(f"{name}{key}", shared_db or 1.0, tuple(observed), silence))
    return groups


def _predicted(prediction: SavedPrediction, known: Sequence[PredictedRow], row: LogRow) -> PredictedRow | str:
    """Prediction of a row among those of its station, or why there is none."""
    if not known:
        hint = did_you_mean(row.station, prediction.names())
        return f"{row.station!r} is not in the prediction of {prediction.site}; {hint}"
    if row.date is not None and abs((row.date - prediction.date).days) > 1:
        return f"{row.station}: a call of {row.date}, the prediction is for {prediction.date}; left out"
    fitting = [each for each in known if row.mode in {"", each.mode} and row.band in {"", each.band}]
    if not fitting:
        what = " on ".join(part for part in (MODES[row.mode].label if row.mode else "", row.band) if part)
        return f"{row.station}: no prediction for {what}; predicted: {_listed(known)}"
    asked = [each for each in fitting if each.asked] or fitting
    if len(asked) > 1:
        return f"{row.station}: predicted for {_listed(asked)}; write band and mode in the log"
    return asked[0]


def _listed(rows: Sequence[PredictedRow]) -> str:
    names = [f"{MODES[each.mode].label} on {each.band}" for each in rows]
    return ", ".join(names[:6]) + (f" and {len(names) - 6} more" if len(names) > 6 else "")


def _outcome(predicted: PredictedRow, row: LogRow) -> tuple[ContactOutcome, list[str]]:
    doubts: list[str] = []
    seen: dict[str, _Between | None] = {}
    for field, report, way in (("received", row.received, predicted.out), ("sent", row.sent, predicted.back)):
        if way is None:
            seen[field] = None
            if report.kind != "none":
                doubts.append(f"{field}: a report, though that direction is not worked; passed over")
            continue
        between = _between(report, way, predicted.mode)
        if isinstance(between, str):
            doubts.append(f"{field}: {between}")
            between = None
        seen[field] = between
    back = predicted.back
    nothing_heard = row.sent.kind == "not heard" or row.heard is False
    if back is not None and seen["sent"] is None:
        if row.heard:
            seen["sent"] = _Between(-back.margin_db, math.inf, "heard or not")
        elif nothing_heard and (row.received.heard or predicted.out is None):
            seen["sent"] = _Between(-math.inf, -back.margin_db, "heard or not")
    # Whoever was not heard may not have heard the call either, unless they said what they heard.
    silent = nothing_heard and row.received.kind == "none" and predicted.out is not None
    if silent:
        seen["sent"] = None
    outcome = ContactOutcome(
        row=row,
        predicted=predicted,
        out=_way_outcome(row.received, predicted.out, seen["received"]),
        back=_way_outcome(row.sent, back, seen["sent"]),
        silent=silent,
        made=_made(predicted, row, nothing_heard=nothing_heard),
        words="",
    )
    if silent and predicted.out is not None and back is not None:
        outcome = replace(outcome, words=silence_words(-predicted.out.margin_db, -back.margin_db))
    return outcome, doubts


def _made(predicted: PredictedRow, row: LogRow, *, nothing_heard: bool) -> bool | None:
    """Whether it was a contact. A report given with none received does not tell."""
    if nothing_heard or row.received.kind == "not heard":
        return False
    if row.received.heard:
        return True
    if row.heard and row.sent.kind == "none":
        return True  # they answered the call
    if predicted.out is None and (row.heard or row.sent.heard):
        return True
    return None


def _between(report: Report, way: PredictedWay, mode: str) -> _Between | str | None:
    """Read a report against a direction; a text says why it cannot be."""
    if report.kind == "none":
        return None
    if report.kind == "not heard":
        return _Between(-math.inf, -way.margin_db, "heard or not")
    if report.snr_db is not None:
        if mode != _DIGITAL_BY_DECODER:
            return (
                f"{report.text!r} in {MODES[mode].label}: dB are compared in "
                f"{MODES[_DIGITAL_BY_DECODER].label} alone; passed over"
            )
        return _Between(report.snr_db - way.snr_db, report.snr_db - way.snr_db, "decoder")
    if report.level_dbm is not None and way.level_dbm is not None and not MODES[mode].fm_receiver:
        difference_db = report.level_dbm - way.level_dbm
        if report.at_least:
            return _Between(difference_db, math.inf, "S-reading")
        return _Between(difference_db, difference_db, "bare S9" if report.courtesy else "S-reading")
    word = report.word
    if word is None and mode in FM_VOICE and report.readability is not None:
        word = _WORD_OF_READABILITY[report.readability]
    if word is None:
        return _Between(-way.margin_db, math.inf, "heard or not")
    low_db, high_db = _word_snr_db(word, way)
    if report.readability == 5 and report.word is None:
        high_db = math.inf  # "readable" tells nothing of how far above
    return _Between(low_db - way.snr_db, high_db - way.snr_db, "words")


# Readability of the customary scale, 1 unreadable to 5 perfectly readable (common practice).
_WORD_OF_READABILITY: Final[dict[int, CopyWord]] = {
    1: "in and out",
    2: "in and out",
    3: "noisy",
    4: "some quieting",
    5: "readable",
}


def _word_snr_db(word: CopyWord, way: PredictedWay) -> tuple[float, float]:
    """Signal-to-noise for which a word is used; edges as in `pathprofile.link.modes.copy_word` [dB]."""
    just, comfortable = way.required_snr_db, way.comfortable_snr_db
    if word == "in and out":
        return just - _IN_AND_OUT_DB, just + _IN_AND_OUT_DB
    if word == "noisy":
        return just, comfortable
    if word == "some quieting":
        return just, comfortable + _QUIET_DB
    if word == "readable":
        return comfortable, comfortable + _QUIET_DB
    return comfortable + _QUIET_DB, math.inf


def _way_outcome(report: Report, way: PredictedWay | None, between: _Between | None) -> WayOutcome:
    if way is None:
        return WayOutcome(report.text, "", None, None, None, None, of_noise=False, words="not worked")
    predicted = way.s_reading or way.copy_word or f"{way.snr_db:.0f} dB above noise"
    if between is not None and between.kind == "decoder":
        predicted = f"{way.snr_db:+.0f} dB"
    if between is None:
        return WayOutcome(
            report.text, predicted, None, None, None, way.sigma_db, of_noise=False, words="no report"
        )
    return WayOutcome(
        report=report.text,
        predicted=predicted,
        low_db=between.low_db,
        high_db=between.high_db,
        uncertainty_db=between.sigma_db,
        expected_db=way.sigma_db,
        of_noise=between.of_noise,
        words=way_words(between.low_db, between.high_db, between.sigma_db),
    )


def _observed(outcome: ContactOutcome, way: Literal["out", "back"]) -> Observed:
    """For the fit: noise at the far end, or power there, come on top of the report's own spread.

    The error in your own noise is common to all stations, and so a part of the offset that is sought.
    """
    seen = outcome.out if way == "out" else outcome.back
    if seen.low_db is None or seen.high_db is None or seen.uncertainty_db is None:
        raise ValueError("no report in that direction")
    if way == "back":
        far_db = THEIR_POWER_SIGMA_DB
    else:
        far_db = outcome.predicted.noise_out_db if seen.of_noise else 0.0
    return Observed(way, seen.low_db, seen.high_db, math.hypot(seen.uncertainty_db, far_db))


def _silence(predicted: PredictedRow) -> Silence:
    sigma_db = REPORT_SIGMA_DB["heard or not"]
    out, back = predicted.out, predicted.back
    return Silence(
        -math.inf if out is None else -out.margin_db,
        math.hypot(sigma_db, predicted.noise_out_db),
        -math.inf if back is None else -back.margin_db,
        math.hypot(sigma_db, THEIR_POWER_SIGMA_DB),
    )
