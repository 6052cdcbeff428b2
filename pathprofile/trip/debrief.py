"""What was heard against what was predicted: each contact, then what all of them suggest."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from pathprofile import __version__
from pathprofile.trip.debrief_fit import fit_offsets
from pathprofile.trip.debrief_rows import groups_of, outcomes_of
from pathprofile.trip.debrief_words import Finding, OddStation, finding_of, pattern_sentence
from pathprofile.trip.names import name_key

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from pathprofile.trip.debrief_fit import Estimate, Group, Observed, Offsets
    from pathprofile.trip.debrief_rows import ContactOutcome
    from pathprofile.trip.log import Log, Unclear
    from pathprofile.trip.prediction import SavedPrediction

__all__ = ["Debrief", "Pattern", "debrief"]

_FEWEST_OTHERS: Final = 4  # before one station can be called odd among them
_ODD_SHARE: Final = 0.025


@dataclass(frozen=True, slots=True)
class Pattern:
    """What the contacts on one band have in common.

    Attributes
    ----------
    band : str
    stations : int
        With anything to go by.
    out, back, difference : Estimate
        Offsets from the prediction and out minus back, as 95 % intervals [dB].
    below_out, below_back : tuple of (int, int)
        How many figures lay below the prediction, of how many.
    arc_deg : float
        Smallest arc that holds the azimuths of the stations.
    back_of_noise : bool
        Whether you reported signals above noise or silence, and not S-readings alone.
    odd : OddStation or None
        A station unlike the others, which was then left out of the offsets.
    finding : str
    sentence : str
    """

    band: str
    stations: int
    out: Estimate
    back: Estimate
    difference: Estimate
    below_out: tuple[int, int]
    below_back: tuple[int, int]
    arc_deg: float
    back_of_noise: bool
    odd: OddStation | None
    finding: Finding
    sentence: str


@dataclass(frozen=True, slots=True)
class Debrief:
    """A day's log against the prediction saved for it.

    ``sentence`` is what the pattern suggests, band by band; ``not_in_log`` are stations predicted and not in
    the log; ``unclear`` what in the log could not be used.
    """

    date: dt.date
    site: str
    outcomes: tuple[ContactOutcome, ...]
    patterns: tuple[Pattern, ...]
    sentence: str
    not_in_log: tuple[str, ...]
    unclear: tuple[Unclear, ...]
    notes: tuple[str, ...]


def debrief(prediction: SavedPrediction, log: Log, *, book_digest: str | None = None) -> Debrief:
    """Compare a log with the prediction saved on the day.

    Parameters
    ----------
    prediction : SavedPrediction
    log : Log
    book_digest : str, optional
        Of the book as it is now, see `pathprofile.trip.prediction.digest_of`.

    Returns
    -------
    Debrief
        Nothing is worked out anew: all figures predicted are those saved.

    Notes
    -----
    S-readings are compared as levels, all else as signal above noise. On FM an S-figure says no more than
    that a signal was heard, and the readability figure stands for a word. Stations left uncalled because they
    seemed hopeless do no harm to the estimates; calls that met silence and are not in the log make them too
    good.
    """
    outcomes, unclear = outcomes_of(prediction, log)
    patterns = tuple(
        _pattern(band, [each for each in outcomes if each.predicted.band == band])
        for band in dict.fromkeys(each.predicted.band for each in outcomes)
    )
    logged = {name_key(each.predicted.station) for each in outcomes}
    notes = []
    if prediction.version != __version__:
        notes.append(
            f"predicted by version {prediction.version}, debriefed by {__version__}: figures are those saved"
        )
    if book_digest is not None and prediction.book_digest and book_digest != prediction.book_digest:
        notes.append("the book has changed since the prediction was saved; the prediction stands as it was")
    return Debrief(
        date=prediction.date,
        site=prediction.site,
        outcomes=outcomes,
        patterns=patterns,
        sentence=" ".join(pattern.sentence for pattern in patterns)
        or "No row of the log could be held against the prediction.",
        not_in_log=tuple(name for name in prediction.names() if name_key(name) not in logged),
        unclear=tuple(sorted((*log.unclear, *unclear))),
        notes=tuple(notes),
    )


def _pattern(band: str, outcomes: Sequence[ContactOutcome]) -> Pattern:
    groups = groups_of(outcomes)
    odd = None
    offsets = fit_offsets(groups)
    suspect = _most_unlike(groups, offsets)
    if suspect is not None and len(groups) > _FEWEST_OTHERS:
        others = [group for group in groups if group is not suspect]
        without = fit_offsets(others)
        names = {name_key(each.predicted.station): each.predicted.station for each in outcomes}
        odd = _odd(names[suspect.name], suspect, without, len(groups))
        if odd is not None:
            groups, offsets = others, without
    keys = {group.name for group in groups}
    used = [each for each in outcomes if name_key(each.predicted.station) in keys]
    pattern = Pattern(
        band=band,
        stations=len(groups),
        out=offsets.out,
        back=offsets.back,
        difference=offsets.difference,
        below_out=_below(groups, "out"),
        below_back=_below(groups, "back"),
        arc_deg=_arc_deg([each.predicted.azimuth_deg for each in used]),
        back_of_noise=any(each.back.of_noise or each.silent for each in used),
        odd=odd,
        finding=finding_of(offsets.out, offsets.back, offsets.difference),
        sentence="",
    )
    return replace(pattern, sentence=pattern_sentence(pattern))


def _below(groups: Sequence[Group], way: str) -> tuple[int, int]:
    figures = [
        each.low_db
        for group in groups
        for each in group.observed
        if each.way == way and each.low_db == each.high_db
    ]
    return sum(figure < 0.0 for figure in figures), len(figures)


def _figures(group: Group) -> list[Observed]:
    return [each for each in group.observed if each.low_db == each.high_db]


def _away(group: Group, offsets: Offsets) -> float:
    """Mean of a station's figures less the offsets [dB]."""
    figures = _figures(group)
    centre = {"out": offsets.out.middle_db, "back": offsets.back.middle_db}
    return sum(each.low_db - centre[each.way] for each in figures) / len(figures)


def _most_unlike(groups: Sequence[Group], offsets: Offsets) -> Group | None:
    with_figures = [group for group in groups if _figures(group)]
    return max(with_figures, key=lambda group: abs(_away(group, offsets)), default=None)


def _odd(name: str, group: Group, others: Offsets, tried: int) -> OddStation | None:
    """Say whether a station departs from the others by more than chance, having looked at all of them.

    Its mean figure is held against what the others foretell, as a normal deviate at 2.5 % over the number of
    stations a side (Bonferroni).
    """
    from scipy.special import ndtri

    figures = _figures(group)
    count = len(figures)
    shares = {way: sum(each.way == way for each in figures) / count for way in ("out", "back")}
    variance = (
        others.path_scale_sq * group.path_db**2
        + others.report_scale_sq * sum(each.sigma_db**2 for each in figures) / count**2
        + others.variance_of(shares["out"], shares["back"])
    )
    away_db = _away(group, others)
    if abs(away_db) < -float(ndtri(_ODD_SHARE / tried)) * math.sqrt(variance):
        return None
    by_way = {way: [each for each in figures if each.way == way] for way in ("out", "back")}
    one_way = ""
    if by_way["out"] and by_way["back"]:
        out, back = by_way["out"][0], by_way["back"][0]
        parted_db = out.low_db - back.low_db - others.difference.middle_db
        sigma_db = math.sqrt(
            others.report_scale_sq * (out.sigma_db**2 + back.sigma_db**2) + others.variance_of(1.0, -1.0)
        )
        if abs(parted_db) > 2.0 * sigma_db:
            one_way = "out" if abs(out.low_db - others.out.middle_db) > abs(away_db) else "back"
    else:
        one_way = "out alone" if by_way["out"] else "back alone"
    return OddStation(name, away_db, one_way)


def _arc_deg(azimuths_deg: Sequence[float]) -> float:
    """Smallest arc that holds all azimuths."""
    around = sorted(azimuth % 360.0 for azimuth in azimuths_deg)
    if len(around) < 2:
        return 0.0
    gaps = [after - before for before, after in zip(around, [*around[1:], around[0] + 360.0], strict=True)]
    return 360.0 - max(gaps)
