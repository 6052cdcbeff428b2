"""One pair of a trip answered: odds, directions, mode, weaker direction, what limits; or why not."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, NamedTuple

from pathprofile.errors import PathProfileError
from pathprofile.geodesy import declination, inverse, magnetic_azimuth_deg
from pathprofile.link.words import ALIKE_DB, both_verdicts
from pathprofile.trip.areas import area_of, direction_span, too_vague
from pathprofile.trip.cells import cell_odds
from pathprofile.trip.inquiries import Inquiry, antenna_inquiry, height_inquiry, place_inquiry
from pathprofile.trip.links import ModeOdds, choose, equipped, links_at, serves

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from pathprofile.contact import Party
    from pathprofile.link.evaluate import Link, Pair
    from pathprofile.link.words import Verdict
    from pathprofile.places import Location
    from pathprofile.reach import Reach
    from pathprofile.terrain.store import TerrainStore
    from pathprofile.trip.areas import DirectionSpan
    from pathprofile.trip.cells import CellOdds
    from pathprofile.trip.links import WantedLink
    from pathprofile.trip.terms import Terms, Wanted

__all__ = ["Directions", "ModeOdds", "PairAnswer", "PathFigures", "answer_pair", "what_limits"]

Weaker = Literal["you → them", "them → you", "alike"]


class PathFigures(NamedTuple):
    """What a table says of a path; units as in `Sightline` and `PathLoss`, where they come from."""

    line_of_sight: str
    minimum_fresnel_ratio: float
    limiting_distance_m: float
    loss_db: float
    free_space_db: float
    second_opinion_db: float | None
    mechanism: str

    @classmethod
    def of(cls, reach: Reach) -> PathFigures:
        """Figures of a path."""
        seen, loss = reach.sightline, reach.loss
        return cls(
            seen.verdict,
            seen.minimum_fresnel_ratio,
            seen.limiting_distance_m,
            loss.loss_db,
            loss.free_space_db,
            loss.second_opinion_db,
            loss.mechanism,
        )


@dataclass(frozen=True)
class Directions:
    """Which way and how far; of an area's centre, with ``span`` for all of it.

    Attributes
    ----------
    distance_m : float
    azimuth_deg, magnetic_azimuth_deg : float
        From you to them, true and magnetic.
    back_azimuth_deg, back_magnetic_azimuth_deg : float
        From them to you.
    span : DirectionSpan or None
        Where one end is known by an area.
    """

    distance_m: float
    azimuth_deg: float
    magnetic_azimuth_deg: float
    back_azimuth_deg: float
    back_magnetic_azimuth_deg: float
    span: DirectionSpan | None = None


@dataclass(frozen=True)
class PairAnswer:
    """One pair of a trip: small enough to keep ten thousand of them.

    Attributes
    ----------
    you, them : str
        Names; you are at the site.
    directions : Directions or None
        None where the two places have none.
    mode : Wanted or None
        Mode chosen among those wanted: the first that is workable, else the likeliest.
    pair : Pair or None
        Odds and verdict in that mode; over an area, of somebody who may be anywhere in it. None where there
        is no verdict: ``reason`` says why.
    modes : tuple of ModeOdds
        All modes wanted that both have.
    beside : tuple of ModeOdds
        Modes that were only asked about besides, of those that both have.
    weaker : {"you → them", "them → you", "alike"} or None
        The weaker direction; also the only one, with a station that does not answer.
    out_margin_db, back_margin_db : float or None
        Over just readable, you → them and them → you; from an area, at its typical point.
    who_hears_whom, limits : str
        Sentences.
    methods_part : bool
        Whether the second opinion lies more than 15 dB off; over an area, in the middle of its points.
    second : Pair or None
        Odds and verdict by the second opinion, over the same area.
    apart_db : float or None
        How far the second opinion lies off, without a sign; over an area, the median of its points [dB].
    path : PathFigures or None
        Of the path; within an area from its typical point.
    cell : CellOdds or None
        Where a place is known by an area.
    you_at, them_at : Location
        The places; within an area the typical point, where the odds are middling.
    you_known, them_known : Location or None
        The places as they were stated: a point, or the area that holds the typical point.
    date : datetime.date or None
        Day of the magnetic azimuths.
    inquiries : tuple of Inquiry
        Questions that would tell more.
    notes : tuple of str
        Warnings and assumptions worth a line.
    reason : str
        Why there is no verdict.
    picture : str
        What was drawn for this pair, if anything.
    """

    you: str
    them: str
    you_at: Location
    them_at: Location
    directions: Directions | None = None
    mode: Wanted | None = None
    pair: Pair | None = None
    modes: tuple[ModeOdds, ...] = ()
    beside: tuple[ModeOdds, ...] = ()
    weaker: Weaker | None = None
    out_margin_db: float | None = None
    back_margin_db: float | None = None
    who_hears_whom: str = ""
    limits: str = ""
    methods_part: bool = False
    second: Pair | None = None
    apart_db: float | None = None
    path: PathFigures | None = None
    cell: CellOdds | None = None
    inquiries: tuple[Inquiry, ...] = ()
    notes: tuple[str, ...] = ()
    reason: str = ""
    picture: str = ""
    you_known: Location | None = None
    them_known: Location | None = None
    date: dt.date | None = None

    @property
    def chance(self) -> float:
        """Chance of just readable copy both ways; 0 where there is no verdict."""
        return 0.0 if self.pair is None else self.pair.chance

    @property
    def verdict(self) -> Verdict | None:
        """Verdict, None where there is none."""
        return None if self.pair is None else self.pair.verdict

    @property
    def verdict_text(self) -> str:
        """Verdict and odds, both verdicts where the methods part; empty where there is none."""
        if self.pair is None:
            return ""
        if self.methods_part and self.second is not None and self.apart_db is not None:
            return both_verdicts(self.pair.verdict, self.second.verdict, self.apart_db)
        return self.pair.verdict.text

    @property
    def in_reach(self) -> bool:
        """Whether workable or better."""
        return self.pair is not None and serves(self.pair)

    @property
    def in_doubt(self) -> bool:
        """Whether the methods part and only one of them has it workable or better."""
        return (
            self.methods_part
            and self.pair is not None
            and self.second is not None
            and serves(self.pair) != serves(self.second)
        )


def answer_pair(
    you: Party, them: Party, terrain: TerrainStore, terms: Terms, beside: Sequence[Wanted] = ()
) -> PairAnswer:
    """Answer for one pair; refusals become the reason and never an error.

    Parameters
    ----------
    you, them : Party
        You at a site, and a station. Either may be known by a locator: then the link is worked out all over
        its area.
    terrain : TerrainStore
    terms : Terms
    beside : sequence of Wanted
        Modes whose odds are asked about too, but which are never chosen.

    Returns
    -------
    PairAnswer
    """
    blank = PairAnswer(
        you.station.name,
        them.station.name,
        you.location,
        them.location,
        you_known=you.location,
        them_known=them.location,
        date=terms.date,
    )
    try:
        blank = replace(blank, directions=_directions(you, them, terms))
        vague = [(party, reason) for party in (you, them) if (reason := too_vague(party.location))]
        if vague:
            return replace(
                blank,
                reason="; ".join(f"{party.station.name}: {reason}" for party, reason in vague),
                inquiries=tuple(
                    place_inquiry(party.station.name, _seen_from(you, them, party)) for party, _ in vague
                ),
            )
        pairs = equipped(you, them, terms)
        if isinstance(pairs, str):
            return replace(blank, reason=pairs)
        more = equipped(you, them, replace(terms, wanted=tuple(beside))) if beside else []
        more = [] if isinstance(more, str) else more
        if area_of(you.location) is None and area_of(them.location) is None:
            links = links_at(you, them, [*pairs, *more], terrain, terms)
            best = links[choose([each.link.pair for each in links[: len(pairs)]])]
            modes, cell = [ModeOdds.of(each) for each in links], None
        else:
            found = cell_odds(you, them, pairs, terrain, terms, more)
            if isinstance(found, str):
                return replace(blank, reason=found)
            best, modes, cell = found.typical, found.modes, found.odds
        blank = replace(blank, modes=tuple(modes[: len(pairs)]), beside=tuple(modes[len(pairs) :]))
        return _answered(blank, you, them, best, cell)
    except PathProfileError as error:
        return replace(blank, reason=str(error))


def what_limits(reach: Reach) -> str:
    """One phrase on what stands between the two places."""
    seen, main = reach.sightline, reach.obstacles.main
    if seen.verdict == "clear":
        return "clear line of sight"
    if seen.verdict == "partial":
        return f"in sight, but tight at {_along(seen.limiting_distance_m, 1)}"
    if reach.loss.mechanism in {"troposcatter", "ducting"}:
        return "beyond the horizon: the signal is scattered in the air"
    if reach.obstacles.smooth_reason is not None or main is None:
        return "the curve of the Earth"
    count = reach.obstacles.found
    more = f", the worst of {count}" if count > 1 else ""
    return (
        f"ridge of {main.top_m:.0f} m at {_along(main.distance_m, 0)}, "
        f"{-main.clearance_m:.0f} m into the line{more}"
    )


def _along(distance_m: float, decimals: int) -> str:
    """How far along the path: kilometres with some decimals; below one, metres to the nearest ten."""
    if distance_m < 995.0:
        return f"{max(round(distance_m, -1), 10.0):.0f} m"
    return f"{distance_m / 1000:.{decimals}f} km"


def _answered(
    blank: PairAnswer,
    you: Party,
    them: Party,
    best: WantedLink,
    cell: CellOdds | None,
) -> PairAnswer:
    link, reach = best.link, best.reach
    out = None if link.out is None else link.out.budget.margin_db
    back = None if link.back is None else link.back.budget.margin_db
    odds = next(each for each in blank.modes if each.wanted == best.wanted)
    return replace(
        blank,
        you_at=cell.typical_you if cell else you.location,
        them_at=cell.typical_them if cell else them.location,
        mode=best.wanted,
        pair=odds.pair,
        weaker=_weaker(link, out, back),
        out_margin_db=out,
        back_margin_db=back,
        who_hears_whom=link.who_hears_whom,
        limits=what_limits(reach),
        methods_part=odds.methods_part,
        second=odds.second,
        apart_db=odds.apart_db,
        path=PathFigures.of(reach),
        cell=cell,
        inquiries=_inquiries(you, them, best, cell),
        notes=(*reach.warnings, *(cell.notes if cell else ())),
    )


def _weaker(link: Link, out: float | None, back: float | None) -> Weaker:
    if out is not None and back is not None and abs(out - back) < ALIKE_DB:
        return "alike"
    return "you → them" if link.weaker == "out" else "them → you"


def _inquiries(you: Party, them: Party, best: WantedLink, cell: CellOdds | None) -> tuple[Inquiry, ...]:
    """Ask the far station, or you where you are the one in doubt."""
    found: list[Inquiry] = []
    if cell is not None and cell.split is not None:
        asked = them if area_of(them.location) is not None else you
        found.append(height_inquiry(asked.station.name, cell.split, _seen_from(you, them, asked)))
    antenna = antenna_inquiry(best, theirs=True, seen_from=you.station.name)
    if antenna is not None:
        found.append(antenna)
    return tuple(found)


def _seen_from(you: Party, them: Party, asked: Party) -> str:
    return you.station.name if asked is them else them.station.name


def _directions(you: Party, them: Party, terms: Terms) -> Directions:
    here, there = you.location, them.location
    leg = inverse(here.latitude_deg, here.longitude_deg, there.latitude_deg, there.longitude_deg)
    mine, yours = (
        declination(at.latitude_deg, at.longitude_deg, terms.date).declination_deg for at in (here, there)
    )
    return Directions(
        distance_m=leg.distance_m,
        azimuth_deg=leg.azimuth_deg,
        magnetic_azimuth_deg=magnetic_azimuth_deg(leg.azimuth_deg, mine),
        back_azimuth_deg=leg.back_azimuth_deg,
        back_magnetic_azimuth_deg=magnetic_azimuth_deg(leg.back_azimuth_deg, yours),
        span=direction_span(here, there),
    )
