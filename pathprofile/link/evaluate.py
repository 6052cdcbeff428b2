"""A link, both ways: budgets, chances, verdict, what was assumed; and the table of modes and bands."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

from pathprofile.errors import StationError
from pathprofile.link.assume import Assumption, default_number
from pathprofile.link.budget import LinkBudget, budget
from pathprofile.link.cautions import CAUTIONS, CONDITIONAL, odds_meaning
from pathprofile.link.chance import PairChances, Spread, TimeSpread, pair_chances, time_spread
from pathprofile.link.ends import End, SurroundingsName, equip_pair
from pathprofile.link.exposure import Exposure, exposure
from pathprofile.link.fitting import NoFit, common_bands
from pathprofile.link.words import Verdict, both_verdicts, verdict, who_hears_whom
from pathprofile.station.catalogue import MODES, band_of, planning_mhz

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from pathprofile.link.path import PathFacts
    from pathprofile.station import Station

__all__ = [
    "Direction",
    "Link",
    "ModeRow",
    "Pair",
    "PathQuestion",
    "default_spread",
    "evaluate",
    "evaluate_modes",
    "pair_odds",
    "parting_note",
]

PARTING_DB: Final = 15.0  # beyond it the methods are said to disagree, and both verdicts are shown
PARTING: Final = "the methods part"


@dataclass(frozen=True, slots=True)
class Direction:
    """One direction: its budget, and its chance alone of just readable and of comfortable copy."""

    budget: LinkBudget
    chance: float
    comfortable_chance: float
    sigma_db: float


@dataclass(frozen=True, slots=True)
class Pair:
    """Both directions together (or the only one there is), under one loss method."""

    chance: float
    comfortable_chance: float
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class Link:
    """Answer for one pair of ends in one mode.

    ``out`` is you → them, ``back`` them → you; one is None with a station that does not answer. ``second`` is
    the pair under the second opinion; ``methods_part`` says whether that lies more than 15 dB off, in which
    case ``pair`` is "solid" only if both are.
    """

    mode: str
    frequency_mhz: float
    you: End
    them: End
    out: Direction | None
    back: Direction | None
    pair: Pair
    second: Pair | None
    disagreement_db: float | None
    methods_part: bool
    weaker: Literal["out", "back"]
    who_hears_whom: str
    good_within_deg: float | None
    spread: Spread
    assumed: tuple[Assumption, ...]
    notes: tuple[str, ...]
    exposure: tuple[Exposure, ...]
    cautions: tuple[str, ...]

    @property
    def verdict_text(self) -> str:
        """Verdict and odds of the pair; both verdicts where the methods part."""
        if self.methods_part and self.second is not None and self.disagreement_db is not None:
            return both_verdicts(self.pair.verdict, self.second.verdict, self.disagreement_db)
        return self.pair.verdict.text


class PathQuestion(NamedTuple):
    """What a mode and band asks of a path."""

    band: str
    frequency_mhz: float
    from_height_m: float
    to_height_m: float
    polarization: str


@dataclass(frozen=True, slots=True)
class ModeRow:
    """One mode on one band: the pair and the margins each way, or the reason why it stays blank.

    ``keep_m`` is the distance to keep people from your antenna in this mode. ``second`` is the pair under the
    second opinion; ``methods_part`` as in `Link`.
    """

    band: str
    frequency_mhz: float
    mode: str
    pair: Pair | None
    out_margin_db: float | None = None
    back_margin_db: float | None = None
    out_chance: float | None = None
    back_chance: float | None = None
    polarization: str = ""
    reason: str = ""
    keep_m: float | None = None
    second: Pair | None = None
    methods_part: bool = False


def default_spread(you: End, them: End, location_db: float = 0.0) -> Spread:
    """Take the standard deviations from the table of defaults and how each end's noise is known.

    Parameters
    ----------
    you, them : End
        Both ends.
    location_db : float
        Location variability, only where an antenna's place is uncertain (`location_sigma_db`) [dB].
    """
    return Spread(default_number("path error"), them.noise.sigma_db, you.noise.sigma_db, location_db)


class _Figures(NamedTuple):
    """What a row of the mode table needs, and a link starts from."""

    out: LinkBudget | None
    back: LinkBudget | None
    chances: PairChances  # rows: readable, comfortable, then both again under the second opinion
    pair: Pair
    second: Pair | None
    part: bool


def _figures(you: End, them: End, path: PathFacts, spread: Spread, time: TimeSpread) -> _Figures:
    if you.receive_only and them.receive_only:
        raise StationError(f"{you.station} and {them.station} are both receive_only; nobody would listen")
    out = None if them.receive_only else budget(you, them, path)
    back = None if you.receive_only else budget(them, you, path.reversed())
    first = out or back
    last = back or out
    if first is None or last is None:
        raise StationError("a link needs a direction")
    margins = [
        (first.margin_db, last.margin_db),
        (first.comfortable_margin_db, last.comfortable_margin_db),
    ]
    more_loss_db = path.disagreement_db
    if more_loss_db is not None:
        margins += [(one - more_loss_db, other - more_loss_db) for one, other in margins]
    chances = pair_chances(margins, spread, time)
    joint = chances.back if out is None else chances.out if back is None else chances.both

    second = None
    if more_loss_db is not None:
        second = _pair(float(joint[2]), float(joint[3]))
    part = more_loss_db is not None and abs(more_loss_db) > PARTING_DB
    may_be_solid = not part or second is None or second.verdict.word == "solid"
    pair = _pair(float(joint[0]), float(joint[1]), may_be_solid=may_be_solid)
    return _Figures(out, back, chances, pair, second, part)


def _pair(readable: float, comfortable: float, *, may_be_solid: bool = True) -> Pair:
    return Pair(readable, comfortable, verdict(readable, comfortable, may_be_solid=may_be_solid))


def evaluate(you: End, them: End, path: PathFacts, *, spread: Spread | None = None) -> Link:
    """Evaluate a link in both directions.

    Parameters
    ----------
    you, them : End
        Both ends, from `equip` or `equip_set_up`, on the same frequency and in the same mode.
    path : PathFacts
        The path from ``you`` to ``them``.
    spread : Spread, optional
        Standard deviations; by default those of the table of defaults.

    Returns
    -------
    Link
        Budgets, chances, verdict, words, assumptions, exposure and cautions.

    Raises
    ------
    StationError
        When the ends differ in mode, or neither answers.
    OutOfRangeError
        When ends and path are on different frequencies, or the loss is no number.

    Notes
    -----
    The chance is conditional on the other station listening. Where the second opinion parts from the best
    estimate by more than 15 dB both verdicts are given, and it is "solid" only if both are.
    """
    if spread is None:
        spread = default_spread(you, them)
    found = _figures(you, them, path, spread, time_spread(path.time_losses_db, path.loss_db))
    out = back = None
    if found.out is not None:
        chances = found.chances.out
        out = Direction(found.out, float(chances[0]), float(chances[1]), spread.out_db)
    if found.back is not None:
        chances = found.chances.back
        back = Direction(found.back, float(chances[0]), float(chances[1]), spread.back_db)
    notes = [note for one in (found.out, found.back) if one is not None for note in one.notes]
    if found.part and found.second is not None and path.disagreement_db is not None:
        notes.append(
            parting_note(found.pair, found.second, path.disagreement_db, (path.method, path.second_method))
        )
    weaker: Literal["out", "back"] = "out"
    if found.out is None or (found.back is not None and found.back.margin_db < found.out.margin_db):
        weaker = "back"
    return Link(
        mode=you.mode,
        frequency_mhz=path.frequency_mhz,
        you=you,
        them=them,
        out=out,
        back=back,
        pair=found.pair,
        second=found.second,
        disagreement_db=path.disagreement_db,
        methods_part=found.part,
        weaker=weaker,
        who_hears_whom=who_hears_whom(out, back, you, them),
        good_within_deg=you.pattern.good_within_deg,
        spread=spread,
        assumed=you.assumed + them.assumed,
        notes=(*dict.fromkeys(notes), CONDITIONAL, odds_meaning(found.pair.chance)),
        exposure=(exposure(you), exposure(them)),
        cautions=CAUTIONS,
    )


def pair_odds(
    you: End, them: End, path: PathFacts, spread: Spread, time: TimeSpread
) -> tuple[Pair, Pair | None]:
    """Odds of `evaluate` without its words, for a question asked at many points.

    Parameters
    ----------
    you, them, path, spread
        As for `evaluate`.
    time : TimeSpread
        That of the path.

    Returns
    -------
    pair, second : Pair
        By the best estimate and by the second opinion; None where there is no second one.

    Raises
    ------
    StationError, OutOfRangeError
        As for `evaluate`.
    """
    found = _figures(you, them, path, spread, time)
    return found.pair, found.second


def parting_note(pair: Pair, second: Pair, apart_db: float, methods: tuple[str, str], where: str = "") -> str:
    """Say that the methods part, and what each has to say.

    Parameters
    ----------
    pair, second : Pair
        By the best estimate and by the second opinion.
    apart_db : float
        How far they part; its sign is of no account [dB].
    methods : tuple of str
        Their names.
    where : str
        What that holds for, if not for the path: " over the area".
    """
    alone = _pair(pair.chance, pair.comfortable_chance)  # whatever the other one says
    return (
        f"{PARTING} by {abs(apart_db):.0f} dB{where}: {methods[0]} says {alone.verdict.text}; "
        f"{methods[1]} says {second.verdict.text}"
    )


def evaluate_modes(
    you: Station,
    them: Station,
    ask_path: Callable[[PathQuestion], PathFacts],
    *,
    bands: Iterable[str | float] | None = None,
    modes: Iterable[str] = tuple(MODES),
    spread: Spread | Callable[[End, End], Spread] | None = None,
    unstated_surroundings: tuple[SurroundingsName | None, SurroundingsName | None] = (None, None),
) -> tuple[ModeRow, ...]:
    """Every mode on every band, the first question being often "which band?".

    Parameters
    ----------
    you, them : Station
        Both stations.
    ask_path : callable
        Gives the path for a `PathQuestion`; asked once for each question that differs.
    bands : iterable of str or float, optional
        Bands, or frequencies in MHz; by default `common_bands`.
    modes : iterable of str
        Modes of the catalogue.
    spread : Spread or callable, optional
        Standard deviations, or what gives them for two ends; by default `default_spread`.
    unstated_surroundings : pair of {"open", "suburb", "wooded"}
        What to assume round each station.

    Returns
    -------
    tuple of ModeRow
        A row a band and mode, blank with its reason where a station has nothing for it.
    """

    def sigmas(one: End, other: End) -> Spread:
        return spread if isinstance(spread, Spread) else (spread or default_spread)(one, other)

    known: dict[PathQuestion, tuple[PathFacts, TimeSpread]] = {}
    rows = []
    for item in common_bands(you, them) if bands is None else bands:
        band = band_of(item)
        frequency_mhz = float(item) if isinstance(item, int | float) else planning_mhz(band)
        for mode in modes:
            one, other = equip_pair(
                you, them, frequency_mhz, mode, unstated_surroundings=unstated_surroundings
            )
            if isinstance(one, NoFit) or isinstance(other, NoFit):
                reasons = [end.reason for end in (one, other) if isinstance(end, NoFit)]
                rows.append(ModeRow(band, frequency_mhz, mode, None, reason="; ".join(reasons)))
                continue
            question = PathQuestion(band, frequency_mhz, one.height_m, other.height_m, one.polarization)
            if question not in known:
                path = ask_path(question)
                known[question] = path, time_spread(path.time_losses_db, path.loss_db)
            path, time = known[question]
            found = _figures(one, other, path, sigmas(one, other), time)
            rows.append(
                ModeRow(
                    band,
                    frequency_mhz,
                    mode,
                    found.pair,
                    None if found.out is None else found.out.margin_db,
                    None if found.back is None else found.back.margin_db,
                    None if found.out is None else float(found.chances.out[0]),
                    None if found.back is None else float(found.chances.back[0]),
                    one.polarization,
                    keep_m=exposure(one).keep_m,
                    second=found.second,
                    methods_part=found.part,
                )
            )
    return tuple(rows)
