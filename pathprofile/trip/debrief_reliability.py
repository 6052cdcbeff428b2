"""Over several trips: did the odds come true, and is there an offset of one's own."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

from pathprofile.errors import OutOfRangeError, StationError
from pathprofile.link.words import MARGINAL_FROM, SOLID_FROM, WORKABLE_FROM
from pathprofile.trip.debrief_fit import fit_offsets
from pathprofile.trip.debrief_rows import groups_of, outcomes_of
from pathprofile.trip.debrief_words import SMALL_DB
from pathprofile.trip.names import name_key

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from pathprofile.trip.debrief_fit import Estimate, Group
    from pathprofile.trip.debrief_rows import ContactOutcome
    from pathprofile.trip.log import Log, LogRow
    from pathprofile.trip.prediction import SavedPrediction

__all__ = ["OddsBin", "Reliability", "Suggestion", "reliability", "wilson_interval"]

_Z95: Final = 1.959963984540054
_EDGES: Final = (0.0, MARGINAL_FROM, WORKABLE_FROM, SOLID_FROM, 1.0)
_FEWEST_CALLS: Final = 10
_FEWEST_TRIPS: Final = 2


class OddsBin(NamedTuple):
    """Calls whose odds lay between two values, with how many became contacts.

    ``low_share`` and ``high_share`` are the Wilson interval of 95 %; None in an empty bin, as is the mean.
    """

    from_chance: float
    to_chance: float
    calls: int
    made: int
    mean_chance: float | None
    low_share: float | None
    high_share: float | None


@dataclass(frozen=True, slots=True)
class Suggestion:
    """An offset of one's own on one band, suggested and applied to nothing."""

    band: str
    way: Literal["out", "back"]
    trips: int
    stations: int
    offset: Estimate
    sentence: str


@dataclass(frozen=True, slots=True)
class Reliability:
    """Odds against outcomes.

    Attributes
    ----------
    trips, calls, made : int
        Calls of which the log tells whether they became contacts: one a station, band and mode on a day.
    untold : int
        Calls of which it does not tell; they count for nothing.
    foretold, foretold_sigma : float
        Contacts to expect by the odds, and the standard deviation of their number.
    bins : tuple of OddsBin
        Edges are those of the verdicts.
    brier, brier_expected, brier_sigma : float or None
        Mean squared difference of odds and outcome; what it would be were the odds right, and its standard
        deviation then. None without a call.
    suggestions : tuple of Suggestion
    sentence : str
    """

    trips: int
    calls: int
    made: int
    untold: int
    foretold: float
    foretold_sigma: float
    bins: tuple[OddsBin, ...]
    brier: float | None
    brier_expected: float | None
    brier_sigma: float | None
    suggestions: tuple[Suggestion, ...]
    sentence: str


def reliability(trips: Iterable[tuple[SavedPrediction, Log]]) -> Reliability:
    """Hold the odds of several trips against what came of them.

    Parameters
    ----------
    trips : iterable of (SavedPrediction, Log)

    Returns
    -------
    Reliability

    Raises
    ------
    StationError
        For one trip given twice: the same prediction with the same log, whatever the log's file is called.

    Notes
    -----
    Standard deviations and intervals take calls for independent. Those of one day share its air and one
    set-up, so with few trips the odds may depart somewhat more than the intervals allow without being wrong.

    References
    ----------
    .. [1] G. W. Brier, "Verification of forecasts expressed in terms of probability", Monthly Weather Review
       78, 1950.
    """
    told: list[tuple[float, bool]] = []
    untold = 0
    count = 0
    by_band: dict[str, list[tuple[int, Group]]] = {}
    known: set[tuple[SavedPrediction, tuple[LogRow, ...]]] = set()
    for prediction, log in trips:
        if (prediction, log.rows) in known:
            raise StationError(
                f"the trip to {prediction.site!r} on {prediction.date.isoformat()} is given twice, with the "
                f"same log ({log.name!r}): give each trip once"
            )
        known.add((prediction, log.rows))
        count += 1
        outcomes, _ = outcomes_of(prediction, log)
        for chance, made in _calls(outcomes):
            if made is None:
                untold += 1
            else:
                told.append((chance, made))
        for band in dict.fromkeys(each.predicted.band for each in outcomes):
            own = [each for each in outcomes if each.predicted.band == band]
            groups = groups_of(own, name=f"{prediction.site} {prediction.date} ")
            by_band.setdefault(band, []).extend((count, group) for group in groups)
    foretold = sum(chance for chance, _ in told)
    sigma = math.sqrt(sum(chance * (1.0 - chance) for chance, _ in told))
    made_in_all = sum(made for _, made in told)
    brier = expected = brier_sigma = None
    if told:
        brier = sum((chance - made) ** 2 for chance, made in told) / len(told)
        expected = sigma**2 / len(told)
        terms = (chance * (1.0 - chance) * (1.0 - 2.0 * chance) ** 2 for chance, _ in told)
        brier_sigma = math.sqrt(sum(terms)) / len(told)
    return Reliability(
        trips=count,
        calls=len(told),
        made=made_in_all,
        untold=untold,
        foretold=foretold,
        foretold_sigma=sigma,
        bins=tuple(_bin(told, low, high) for low, high in pairwise(_EDGES)),
        brier=brier,
        brier_expected=expected,
        brier_sigma=brier_sigma,
        suggestions=tuple(
            suggestion for band, groups in by_band.items() for suggestion in _suggestions(band, groups)
        ),
        sentence=_sentence(len(told), made_in_all, foretold, sigma),
    )


def wilson_interval(successes: int, trials: int) -> tuple[float, float]:
    """Score interval of 95 % for a share.

    Parameters
    ----------
    successes, trials : int
        At least one trial.

    Raises
    ------
    OutOfRangeError
        For no trial, or more successes than trials.

    References
    ----------
    .. [1] E. B. Wilson, "Probable inference, the law of succession, and statistical inference", J. Am. Stat.
       Assoc. 22, 1927.
    """
    if not 0 <= successes <= trials or trials < 1:
        raise OutOfRangeError(f"{successes!r} of {trials!r}: accepted at least one trial, no more successes")
    share = successes / trials
    square = _Z95**2 / trials
    centre = (share + 0.5 * square) / (1.0 + square)
    half = math.sqrt(square * share * (1.0 - share) + 0.25 * square**2) / (1.0 + square)
    low = 0.0 if successes == 0 else centre - half
    return low, 1.0 if successes == trials else centre + half


def _calls(outcomes: Sequence[ContactOutcome]) -> list[tuple[float, bool | None]]:
    """Odds and outcome of each station, band and mode; made once is made."""
    calls: dict[tuple[str, str, str], tuple[float, bool | None]] = {}
    for each in outcomes:
        row = each.predicted
        key = name_key(row.station), row.band, row.mode
        _, before = calls.get(key, (row.chance, None))
        calls[key] = row.chance, before or each.made if each.made is not None else before
    return list(calls.values())


def _bin(told: Sequence[tuple[float, bool]], low: float, high: float) -> OddsBin:
    inside = [(chance, made) for chance, made in told if low <= chance < high or chance == high == 1.0]
    if not inside:
        return OddsBin(low, high, 0, 0, None, None, None)
    made = sum(made for _, made in inside)
    mean = sum(chance for chance, _ in inside) / len(inside)
    return OddsBin(low, high, len(inside), made, mean, *wilson_interval(made, len(inside)))


def _sentence(calls: int, made: int, foretold: float, sigma: float) -> str:
    head = f"{made} of {calls} calls became contacts, {foretold:.1f} were foretold (±{2.0 * sigma:.1f})"
    if calls < _FEWEST_CALLS:
        return f"{head}: too few to judge the odds." if calls else "No call whose outcome the logs tell."
    if made - foretold > 2.0 * sigma:
        return f"{head}: the odds were too cautious."
    if foretold - made > 2.0 * sigma:
        return f"{head}: the odds were too hopeful."
    return f"{head}: no sign that the odds are wrong."


def _suggestions(band: str, groups: Sequence[tuple[int, Group]]) -> list[Suggestion]:
    """Offsets that two trips or more bear out."""
    trips = len({trip for trip, _ in groups})
    if trips < _FEWEST_TRIPS:
        return []
    offsets = fit_offsets([group for _, group in groups])
    found = []
    for way, offset, name, remedy in (
        ("out", offsets.out, "You → them", "feedline loss or power of your set-ups"),
        ("back", offsets.back, "Them → you", "feedline loss or noise of your set-ups"),
    ):
        if offset.high_db >= -SMALL_DB and offset.low_db <= SMALL_DB:
            continue
        side = "below" if offset.middle_db < 0.0 else "above"
        near, far = sorted((abs(offset.low_db), abs(offset.high_db)))
        sentence = (
            f"{name} on {band} came in {abs(offset.middle_db):.0f} dB {side} the prediction over "
            f"{trips} trips (95 %: {near:.0f} to {far:.0f} dB): if you know why, correct {remedy} in the "
            "book; nothing has been changed."
        )
        found.append(
            Suggestion(band, "out" if way == "out" else "back", trips, len(groups), offset, sentence)
        )
    return found
