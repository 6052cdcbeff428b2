"""A debrief in careful words: nothing is said that its interval does not bear out."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

if TYPE_CHECKING:
    from pathprofile.trip.debrief import Pattern
    from pathprofile.trip.debrief_fit import Estimate

__all__ = [
    "SMALL_DB",
    "Finding",
    "OddStation",
    "finding_of",
    "pattern_sentence",
    "silence_words",
    "way_words",
]

SMALL_DB: Final = 1.0
"""An offset is spoken of only where its whole interval lies farther from zero than this."""
_FEW_STATIONS: Final = 5
_NUMBERS: Final = (
    *("no", "one", "two", "three", "four", "five", "six"),
    *("seven", "eight", "nine", "ten", "eleven", "twelve"),
)
_NARROW_DEG: Final = 90.0

Finding = Literal[
    "nothing",
    "out low",
    "back low",
    "out high",
    "back high",
    "both low",
    "both low, out lower",
    "both low, back lower",
    "both high",
    "out below back",
    "back below out",
    "out low, back open",
    "back low, out open",
    "out high, back open",
    "back high, out open",
]
"""What the intervals bear out; "open" is a direction that may be as predicted."""

_FEEDLINE: Final = (
    "look at your feedline, its connectors and the match, then at power under load (a radio cuts its power "
    "into a poor match, and a lossy line takes noise down with the signal: neither need show in what you "
    "hear)"
)
_NOISE: Final = (
    "look for noise near you, such as a charger, an inverter or the car, then at your receiving side"
)
_METER: Final = (
    "know that noise does not lower an S-reading: your meter may read low; else look at your receiving side, "
    "and listen for noise near you"
)
_SHARED: Final = (
    "look at what both directions share, your antenna, its polarization and aim, and your feedline"
)
_ALL_PATHS: Final = "that the method took all paths of the day for too good looks the same"
_HINTS: Final[dict[Finding, str]] = {
    "out low": _FEEDLINE,
    "out low, back open": f"it may be the paths as well; {_FEEDLINE}",
    "out below back": (
        f"if you → them is low, {_FEEDLINE}, though noise at their end looks the same; if them → you is "
        "high, your place is quieter than assumed, or their power higher"
    ),
    "back low": _NOISE,
    "back low, out open": f"it may be the paths as well; {_NOISE}",
    "back below out": (
        f"if them → you is low, {_NOISE}; if you → them is high, your signal is stronger than stated, or "
        "their places quieter than assumed"
    ),
    "both low": f"{_SHARED}; {_ALL_PATHS}",
    "both low, out lower": f"{_SHARED}; then, for what you send alone, at power and match; {_ALL_PATHS}",
    "both low, back lower": f"{_SHARED}; then, for what you hear alone, for noise near you; {_ALL_PATHS}",
    "both high": "your antenna and place, or all paths of the day, were better than predicted",
    "out high": "your signal is stronger than stated, or their places quieter than assumed",
    "out high, back open": "your signal, their quiet places or the paths were better than predicted",
    "back high": "your place is quieter than assumed, or their power higher than stated",
    "back high, out open": "your quiet place, their power or the paths were better than predicted",
}


class OddStation(NamedTuple):
    """A station unlike the others: by how much, and whether one way ("out" or "back") or both ("")."""

    name: str
    away_db: float
    one_way: str


def way_words(low_db: float, high_db: float, sigma_db: float) -> str:
    """Difference in one direction: "4 dB below the prediction, ±6 dB", "at least 9 dB below …"."""
    if low_db == high_db:
        return f"{_apart(low_db)}, ±{sigma_db:.0f} dB"
    if low_db == -math.inf:
        if high_db < 0.0:
            return f"not heard: at least {_apart(high_db)}, ±{sigma_db:.0f} dB"
        return "not heard, as foretold"
    if high_db == math.inf:
        if low_db > 0.0:
            return f"at least {_apart(low_db)}, ±{sigma_db:.0f} dB"
        if low_db > -0.5:
            return "heard, as foretold"
        return f"heard, as foretold: at most {_apart(low_db)}, ±{sigma_db:.0f} dB"
    return f"{_span(low_db, high_db)} the prediction, ±{sigma_db:.0f} dB"


def silence_words(out_db: float, back_db: float) -> str:
    """Say what a call that met silence bounds, from the differences that each direction would have needed."""
    ways = []
    for name, needs_db in (("you → them", out_db), ("them → you", back_db)):
        if needs_db >= 0.0:
            return f"no answer, as foretold: {name} was predicted too weak"
        ways.append(f"{name} at least {-needs_db:.0f} dB")
    return f"no answer: {' or '.join(ways)} below the prediction, or nobody was listening"


def finding_of(out: Estimate, back: Estimate, difference: Estimate) -> Finding:
    """Name what the intervals bear out.

    Parameters
    ----------
    out, back, difference : Estimate
        Offset you → them, them → you, and the first less the second.
    """
    of_out, of_back, of_difference = _state(out), _state(back), _state(difference)
    if of_out == of_back != "open":
        if of_out == "high" or of_difference == "open":
            return "both low" if of_out == "low" else "both high"
        return "both low, out lower" if of_difference == "low" else "both low, back lower"
    if of_difference == "low":
        if of_back == "high":
            return "back high"
        return "out low" if of_out == "low" else "out below back"
    if of_difference == "high":
        if of_out == "high":
            return "out high"
        return "back low" if of_back == "low" else "back below out"
    if of_out == of_back:
        return "nothing"
    if "low" in {of_out, of_back}:
        return "out low, back open" if of_out == "low" else "back low, out open"
    return "out high, back open" if of_out == "high" else "back high, out open"


def pattern_sentence(pattern: Pattern) -> str:
    """One careful sentence on what the pattern suggests, and one on a station unlike the others."""
    text = f"{pattern.band}: {_suggestion(pattern)}."
    if pattern.odd is not None:
        text += f" {_odd_words(pattern.odd)}"
    return text


def _suggestion(pattern: Pattern) -> str:
    over = _over(pattern.stations)
    if pattern.stations == 0:
        return "no report to go by"
    found = pattern.finding
    out, back = _headline(pattern, "out"), _headline(pattern, "back")
    if found == "nothing":
        tell = "too few to tell" if pattern.stations < _FEW_STATIONS else "nothing beyond the scatter"
        blind_db = max((estimate.high_db - estimate.low_db) / 2.0 for estimate in (pattern.out, pattern.back))
        return f"{over}, {tell}: {out}, {back}; an offset below about {blind_db:.0f} dB would not show"
    hint = _HINTS[found]
    if not pattern.back_of_noise:
        hint = hint.replace(_NOISE, _METER)
    if found.startswith("both low") and pattern.arc_deg < _NARROW_DEG:
        hint += (
            f"; all lie within {max(pattern.arc_deg, 1.0):.0f}° of azimuth, so it may as well be what stands "
            "in that direction"
        )
    text = f"{over}, {out}, {back}"
    if found in {"out below back", "back below out"}:
        weaker, other = "you → them", "them → you"
        if found == "back below out":
            weaker, other = other, weaker
        near_db, far_db = sorted((abs(pattern.difference.low_db), abs(pattern.difference.high_db)))
        text = (
            f"{over}, {weaker} came in {abs(pattern.difference.middle_db):.0f} dB lower against its "
            f"prediction than {other} (95 %: {near_db:.0f} to {far_db:.0f} dB), which no error of the paths "
            f"explains; by themselves {out} and {back}, so that which of the two is off is not sure"
        )
    text += f": {hint}"
    if pattern.stations < _FEW_STATIONS:
        text += f"; {_number(pattern.stations)} stations are few, so try again before you act"
    return text


def _headline(pattern: Pattern, way: Literal["out", "back"]) -> str:
    estimate, (below, count) = (
        (pattern.out, pattern.below_out) if way == "out" else (pattern.back, pattern.below_back)
    )
    name = "you → them" if way == "out" else "them → you"
    state = _state(estimate)
    apart = _apart(estimate.middle_db)
    if state == "open":
        return f"{name} {apart.removesuffix(' the prediction')} ({_ends(estimate)})"
    every = count > 1 and below == (count if state == "low" else 0)
    return f"{name} {apart}{f' on all {_number(count)}' if every else ''} ({_ends(estimate)})"


def _odd_words(odd: OddStation) -> str:
    side = "below" if odd.away_db < 0.0 else "above"
    text = f"{odd.name} stands {abs(odd.away_db):.0f} dB {side} the others"
    if odd.one_way == "":
        return (
            f"{text} both ways and is left out of that: look at that path, your aim there, and their antenna."
        )
    if odd.one_way in {"out", "out alone"}:
        why = "their noise" if odd.one_way == "out" else "that path or their end"
        return f"{text} in what they hear of you and is left out of that: look at {why}."
    why = "their power" if odd.one_way == "back" else "that path or their end"
    return f"{text} in what you hear of them and is left out of that: look at {why}."


def _state(estimate: Estimate) -> Literal["low", "high", "open"]:
    if estimate.high_db < -SMALL_DB:
        return "low"
    return "high" if estimate.low_db > SMALL_DB else "open"


def _apart(value_db: float) -> str:
    if abs(value_db) < 0.5:
        return "as predicted"
    return f"{abs(value_db):.0f} dB {'below' if value_db < 0.0 else 'above'} the prediction"


def _span(low_db: float, high_db: float) -> str:
    """From one figure to another, ending in "below" or "above"."""
    if high_db <= 0.0:
        return f"{abs(high_db):.0f} to {-low_db:.0f} dB below"
    if low_db >= 0.0:
        return f"{abs(low_db):.0f} to {high_db:.0f} dB above"
    return f"{-low_db:.0f} dB below to {high_db:.0f} dB above"


def _ends(estimate: Estimate) -> str:
    return f"95 %: {_span(estimate.low_db, estimate.high_db)}"


def _over(stations: int) -> str:
    return f"over {_number(stations)} station{'' if stations == 1 else 's'}"


def _number(count: int) -> str:
    return _NUMBERS[count] if count < len(_NUMBERS) else str(count)
