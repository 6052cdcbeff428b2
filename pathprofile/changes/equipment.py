"""Changes to what either operator has: mast, power, antenna, feedline, mode, polarization, noise."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from pathprofile.contact import Contact, path_facts
from pathprofile.link.antennas import gain_dbi, pattern_of
from pathprofile.link.assume import default_number, default_text
from pathprofile.link.ends import NoFit, equip_pair, fitting_set_up
from pathprofile.link.feedline import connector_loss_db, line_loss
from pathprofile.link.noise import external_noise
from pathprofile.reach import again
from pathprofile.station.catalogue import ANTENNAS, MODES, NOISE_CATEGORIES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pathprofile.link.ends import End
    from pathprofile.link.path import PathFacts
    from pathprofile.station import SetUp

__all__ = ["Candidate", "Helps", "equipment_changes"]

Helps = Literal["both ways", "you → them", "them → you"]

_MAST_STEPS_M = (4.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0, 30.0)
_POWER_STEPS_W = (5.0, 10.0, 25.0, 50.0, 100.0)
_LOW_LOSS_CABLE = "400-size low-loss foam"


@dataclass(frozen=True)
class Candidate:
    """One thing altered: both ends and the path as they would be.

    ``mistake`` marks what is to be avoided, not done.
    """

    what: str
    you: End
    them: End
    facts: PathFacts
    helps: Helps
    note: str = ""
    mistake: bool = False


def equipment_changes(contact: Contact) -> Iterator[Candidate]:
    """Everything worth trying, within the limits that are stated; ranking is for the caller."""
    for make in (_masts, _power, _antennas, _feedlines, _modes, _polarization, _quiet):
        yield from make(contact)


def _masts(contact: Contact) -> Iterator[Candidate]:
    """Try the next useful height and the limit, by the true height gain of this path."""
    you, limit_m = contact.link.you, contact.link.you.max_height_m
    if you.handheld and limit_m is None:
        return  # nobody holds a radio on a mast
    top_m = default_number("highest mast offered") if limit_m is None else limit_m
    if contact.mast_limit_m < top_m:
        top_m = limit_m = contact.mast_limit_m
    steps = [step for step in _MAST_STEPS_M if you.height_m < step < top_m][:1]
    for height_m in dict.fromkeys([*steps, top_m]):
        if height_m <= you.height_m:
            continue
        why = "your limit" if height_m == limit_m else ""
        yield Candidate(
            f"mast {you.height_m:g} → {height_m:g} m" + (f" ({why})" if why else ""),
            replace(you, height_m=height_m, line_loss_db=you.line_loss_db + _longer_line(contact, height_m)),
            contact.link.them,
            _facts_again(contact, height_m, contact.reach.to_end.antenna_agl_m),
            "both ways",
        )


def _longer_line(contact: Contact, height_m: float) -> float:
    """Loss of the coax that a higher mast needs on top; nothing where the loss is stated as one figure."""
    you, set_up = contact.link.you, _fitting(contact)
    line = None if set_up is None else set_up.feedline
    if you.handheld or (line is not None and line.loss_db is not None):
        return 0.0
    cable = line.cable if line is not None and line.cable is not None else default_text("cable")
    return line_loss(cable, height_m - you.height_m, 0, contact.link.frequency_mhz).loss_db


def _power(contact: Contact) -> Iterator[Candidate]:
    for mine, helps in ((True, "you → them"), (False, "them → you")):
        end = contact.link.you if mine else contact.link.them
        if end.receive_only or (end.handheld and end.max_power_w is None):
            continue  # nobody holds 50 W to his head
        limit_w = default_number("most power offered") if end.max_power_w is None else end.max_power_w
        steps = [step for step in _POWER_STEPS_W if end.power_w < step <= limit_w]
        if limit_w > end.power_w and limit_w not in steps:
            steps.append(limit_w)
        for power_w in steps[-1:] if mine else steps[:1]:
            louder = replace(end, power_w=power_w)
            yield Candidate(
                f"{power_w:g} W{'' if mine else ' at their end'} instead of {end.power_w:g} W",
                louder if mine else contact.link.you,
                contact.link.them if mine else louder,
                path_facts(contact.reach),
                "you → them" if helps == "you → them" else "them → you",
            )


def _antennas(contact: Contact) -> Iterator[Candidate]:
    """Try the next larger beam and the largest."""
    you = contact.link.you
    if you.handheld:
        return
    mounting: Literal["vertical", "horizontal"] = (
        "horizontal" if you.polarization == "horizontal" else "vertical"
    )
    larger = sorted(
        (gain, kind)
        for kind, facts in ANTENNAS.items()
        if facts.shape == "beam"
        and (gain := gain_dbi(kind, you.band)) is not None
        and gain >= you.gain_dbi + 1.0
    )
    for gain, kind in [*larger[:1], *larger[-1:]] if len(larger) > 1 else larger:
        yield Candidate(
            f"{kind} ({gain:g} dBi)",
            replace(
                you,
                gain_dbi=gain,
                antenna=kind,
                pattern=pattern_of(gain, kind=kind, mounting=mounting),
                pointing_deg=None,
            ),
            contact.link.them,
            path_facts(contact.reach),
            "both ways",
        )


def _feedlines(contact: Contact) -> Iterator[Candidate]:
    you = contact.link.you
    stated = _fitting(contact)
    line = None if stated is None else stated.feedline
    if line is None or line.loss_db is not None or you.handheld:
        return
    frequency_mhz = contact.link.frequency_mhz
    if line.adapters:
        saved_db = line.adapters * connector_loss_db(frequency_mhz)
        yield Candidate(
            f"no adapters ({line.adapters} now)",
            replace(you, line_loss_db=max(0.0, you.line_loss_db - saved_db)),
            contact.link.them,
            path_facts(contact.reach),
            "both ways",
        )
    if line.cable is not None and line.length_m is not None and line.cable != _LOW_LOSS_CABLE:
        joints = (line.connectors if line.connectors is not None else 2) + line.adapters
        yield Candidate(
            f"{_LOW_LOSS_CABLE} cable instead of {line.cable}",
            replace(
                you,
                line_loss_db=line_loss(_LOW_LOSS_CABLE, line.length_m, joints, frequency_mhz).loss_db,
            ),
            contact.link.them,
            path_facts(contact.reach),
            "both ways",
        )


def _modes(contact: Contact) -> Iterator[Candidate]:
    """Every other mode that both stations have, on this frequency; another set-up is called one."""
    link = contact.link
    for mode in MODES:
        if mode == link.mode:
            continue
        you, them = equip_pair(
            contact.you.station,
            contact.them.station,
            link.frequency_mhz,
            mode,
            unstated_surroundings=(contact.you.unstated, contact.them.unstated),
        )
        if isinstance(you, NoFit) or isinstance(them, NoFit):
            continue
        label, other = MODES[mode].label, _other_set_up(contact, you, them)
        turned = you.polarization != link.you.polarization
        note = f"turn the antennas {you.polarization}" if turned else MODES[mode].note
        yield Candidate(
            f"{label} with {other}" if other else f"{label} instead of {MODES[link.mode].label}",
            you,
            them,
            _facts_again(contact, you.height_m, them.height_m) if other else path_facts(contact.reach),
            "both ways",
            MODES[mode].note if other else note,
        )


def _other_set_up(contact: Contact, you: End, them: End) -> str:
    """Whose other set-up a mode takes; nothing where antenna, power and height stay what they are."""
    mine, theirs = (
        (before.antenna, before.gain_dbi, before.power_w, before.height_m, before.line_loss_db)
        != (after.antenna, after.gain_dbi, after.power_w, after.height_m, after.line_loss_db)
        for before, after in ((contact.link.you, you), (contact.link.them, them))
    )
    if mine and theirs:
        return "other set-ups at both ends"
    return "your other set-up" if mine else "their other set-up" if theirs else ""


def _polarization(contact: Contact) -> Iterator[Candidate]:
    you, them = contact.link.you, contact.link.them
    set_up = _fitting(contact)
    kind = None if set_up is None else set_up.antenna.kind
    if kind is not None and ANTENNAS[kind].polarization is not None:
        return  # it cannot be turned
    if them.polarization in {"vertical", "horizontal"} and you.polarization in {"vertical", "horizontal"}:
        if you.polarization != them.polarization:
            what, turned, mistake = f"turn to {them.polarization}", them.polarization, False
        else:
            turned = "vertical" if you.polarization == "horizontal" else "horizontal"
            what, mistake = f"forgetting to turn to {you.polarization}", True
        yield Candidate(
            what,
            replace(you, polarization=turned),
            them,
            path_facts(contact.reach),
            "both ways",
            mistake=mistake,
        )


def _quiet(contact: Contact) -> Iterator[Candidate]:
    """Less noise, where more than that of the country is stated: nothing is known of what is assumed."""
    you, frequency_mhz = contact.link.you, contact.link.frequency_mhz
    set_up = _fitting(contact)
    if you.receive_only or set_up is None or set_up.noise is None or "noise" in {a.what for a in you.assumed}:
        return
    if you.noise.external is None:
        what, category = "noise of rural land instead of that measured", "rural"
    elif set_up.noise.extra_db > 0.0:
        what, category = "chargers, inverters off", you.noise.category
    elif NOISE_CATEGORIES[you.noise.category].home:
        what, category = f"a spot with rural instead of {you.noise.category} noise", "rural"
    else:
        return
    quiet = replace(
        you.noise,
        category=category,
        external=external_noise(category, frequency_mhz),
        density_dbm_hz=None,
        rise_db=None,
    )
    yield Candidate(
        what, replace(you, noise=quiet), contact.link.them, path_facts(contact.reach), "them → you"
    )


def _fitting(contact: Contact) -> SetUp | None:
    found = fitting_set_up(contact.you.station, contact.link.frequency_mhz, contact.link.mode)
    return None if isinstance(found, NoFit) else found


def _facts_again(contact: Contact, from_antenna_agl_m: float, to_antenna_agl_m: float) -> PathFacts:
    return path_facts(
        again(contact.reach, from_antenna_agl_m=from_antenna_agl_m, to_antenna_agl_m=to_antenna_agl_m)
    )
