"""Nobody hears me: what to try, in which order, with the figures of this trip."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

from pathprofile.contact import path_facts
from pathprofile.link.antennas import polarization_loss
from pathprofile.link.evaluate import evaluate
from pathprofile.link.words import MARGINAL_FROM, odds_text
from pathprofile.trip.sheet_order import EASY_FROM

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pathprofile.contact import Contact
    from pathprofile.link.ends import End
    from pathprofile.trip.sheet_calls import Call

__all__ = [
    "Ladder",
    "MorseStep",
    "Move",
    "NoiseStep",
    "Proof",
    "RelayPlan",
    "ladder",
    "noise_steps",
    "with_extra_noise",
]

_SWEEP_TIMES = 3.0
"""A beam is swept this many of its tolerances either side: beyond, 9 dB are lost and it would be noticed."""
_LEAST_SWEEP_DEG = 20.0
_FULL_CIRCLE_DEG = 180.0
_NOISE_STEPS_DB = (6.0, 12.0)


class Move(NamedTuple):
    """Another spot, or another site.

    ``gain_db`` and ``chance`` are those of the contact with ``station`` from there; None where not known.
    """

    name: str
    latitude_deg: float
    longitude_deg: float
    station: str
    gain_db: float | None
    chance: float | None
    note: str = ""


class RelayPlan(NamedTuple):
    """A station that can be reached by way of another."""

    station: str
    via: str
    chance: float
    note: str = ""


@dataclass(frozen=True, slots=True)
class Proof:
    """The proving station: what to hear of it, and how to look for it.

    ``spread_s_units`` is one standard deviation of the level; ``sweep_deg`` how far to turn either side, None
    where the antenna is alike all round; ``crossed_db`` what the wrong polarization costs, least and most.
    """

    key: int
    spread_s_units: float
    sweep_deg: float | None
    crossed_db: tuple[float, float]
    polarization: str


@dataclass(frozen=True, slots=True)
class MorseStep:
    """What Morse would bring to a contact planned in another mode."""

    key: int
    name: str
    gain_db: float
    odds_before: str
    odds_after: str


@dataclass(frozen=True, slots=True)
class NoiseStep:
    """What noise at the site does to a contact: chance at 0, 6 and 12 dB more."""

    key: int
    name: str
    extra_db: tuple[float, ...]
    chances: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Ladder:
    """The rungs, each from figures of this trip; what is empty is left out of the words."""

    proof: Proof
    power_w: tuple[float, ...]
    morse: tuple[MorseStep, ...]
    moves: tuple[Move, ...]
    relays: tuple[RelayPlan, ...]
    noise: tuple[NoiseStep, ...]


def ladder(calls: Sequence[Call], moves: Sequence[Move], relays: Sequence[RelayPlan]) -> Ladder:
    """Figures for "nobody hears me".

    Parameters
    ----------
    calls : sequence of Call
        In the order to call; the first one proves the station.
    moves : sequence of Move
    relays : sequence of RelayPlan
    """
    first = next((call for call in calls if call.part == "prove"), calls[0])
    heard = first.you_hear or first.they_hear
    crossed = polarization_loss("vertical", "horizontal", in_sight=first.contact.reach.sightline.in_sight)
    proof = Proof(
        key=first.key,
        spread_s_units=0.0 if heard is None else heard.sigma_db / 6.0,
        sweep_deg=None
        if first.good_within_deg is None
        else min(max(_SWEEP_TIMES * first.good_within_deg, _LEAST_SWEEP_DEG), _FULL_CIRCLE_DEG),
        crossed_db=(crossed.least_db, crossed.most_db),
        polarization=first.polarization,
    )
    powers = dict.fromkeys(call.power_w for call in calls if call.they_hear is not None)
    moves = _worth_moving(calls, moves)
    return Ladder(proof, tuple(powers), _morse(calls), moves, tuple(relays), noise_steps(calls))


def _worth_moving(calls: Sequence[Call], moves: Sequence[Move]) -> tuple[Move, ...]:
    """Keep the best move for each station whose odds leave room for one."""
    chance = {call.name: call.chance for call in calls}
    best: dict[str, Move] = {}
    for move in moves:
        before = best.get(move.station)
        if chance.get(move.station, 0.0) < EASY_FROM and (
            before is None or (move.gain_db or 0.0) > (before.gain_db or 0.0)
        ):
            best[move.station] = move
    return tuple(best.values())


def _morse(calls: Sequence[Call]) -> tuple[MorseStep, ...]:
    """Contacts not solid as planned that have Morse too, no antenna turned; the largest change first."""
    found = []
    for call in calls:
        if call.area is not None:  # its typical point says nothing of all of it
            continue
        planned = call.settings[0].link
        for setting in call.settings[1:]:
            same_mast = setting.mode == "morse" and setting.polarization == call.polarization
            if same_mast and planned.out is not None and setting.link.out is not None:
                gain_db = setting.link.out.budget.margin_db - planned.out.budget.margin_db
                before, after = planned.pair.chance, setting.link.pair.chance
                if after > before and planned.pair.verdict.word != "solid":
                    step = MorseStep(call.key, call.name, gain_db, odds_text(before), odds_text(after))
                    found.append((after - before, step))
    return tuple(step for _, step in sorted(found, key=lambda item: -item[0]))


def noise_steps(calls: Sequence[Call]) -> tuple[NoiseStep, ...]:
    """Contacts whose odds fall with noise at the site, the most touched first."""
    found = []
    for call in calls:
        contact = call.contact
        if contact.link.back is None or call.area is not None:
            continue
        chances = [call.chance, *(_noisier(contact, extra_db) for extra_db in _NOISE_STEPS_DB)]
        if odds_text(chances[-1]) != odds_text(chances[0]) and chances[0] >= MARGINAL_FROM:
            step = NoiseStep(call.key, call.name, (0.0, *_NOISE_STEPS_DB), tuple(chances))
            found.append((chances[0] - chances[-1], step))
    return tuple(step for _, step in sorted(found, key=lambda item: -item[0]))


def _noisier(contact: Contact, extra_db: float) -> float:
    link = contact.link
    return evaluate(
        with_extra_noise(link.you, extra_db), link.them, path_facts(contact.reach), spread=link.spread
    ).pair.chance


def with_extra_noise(end: End, extra_db: float) -> End:
    """Put more noise about an end: added to the noise from outside, or to what was measured."""
    noise = end.noise
    if noise.external is not None:
        external = replace(
            noise.external,
            figure_db=noise.external.figure_db + extra_db,
            extra_db=noise.external.extra_db + extra_db,
        )
        return replace(end, noise=replace(noise, external=external))
    if noise.density_dbm_hz is not None:
        return replace(end, noise=replace(noise, density_dbm_hz=noise.density_dbm_hz + extra_db))
    return replace(end, noise=replace(noise, rise_db=(noise.rise_db or 0.0) + extra_db))
