"""The answer for one path in words: a sentence first, then what it stands on; as wide as the terminal."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from pathprofile.changes.distance import distance_to_keep_m
from pathprofile.changes.spots import NOT_CHECKED
from pathprofile.cli.budget import budget_lines
from pathprofile.cli.width import text_width, wrapped
from pathprofile.link.cautions import CONDITIONAL
from pathprofile.link.evaluate import default_spread
from pathprofile.link.exposure import rounded_up
from pathprofile.link.words import odds_text
from pathprofile.station.catalogue import MODES
from pathprofile.trip.areas import area_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pathprofile.changes import Change, Changes
    from pathprofile.contact import Contact
    from pathprofile.link.assume import Assumption
    from pathprofile.link.evaluate import ModeRow, Pair
    from pathprofile.link.words import Verdict
    from pathprofile.sightline import LeastHeights

__all__ = [
    "answer_lines",
    "headline",
    "margin_line",
    "parted_lines",
    "picture_caution",
    "sight_sentence",
]

_HEIGHT = 24
_MOST_CHANGES = 5
_FEWEST_CHANGES = 2
_USUALLY_OBSTRUCTED_M = 50_000.0
_OBSTRUCTED_AS_USUAL = "No line of sight, usual at this distance; that alone does not rule out a contact"
_REGIONS = {
    "from_foreground": "ground just in front of you",
    "to_foreground": "ground just in front of them",
    "mid_path": "ground between",
}


def answer_lines(contact: Contact, changes: Changes | None = None, *, below: int = 1) -> list[str]:
    """Text of one contact, line by line: a screen of 80 by 24 where names and doubts leave room for it.

    Of the screen ``below`` lines are left free: the prompt that comes back, and whatever is said before it.
    """
    link = contact.link
    top = [
        *wrapped(f"{headline(contact)}.{_best_other_mode(contact)}"),
        *wrapped(link.who_hears_whom),
        *wrapped(
            f"Point {contact.aim.magnetic_azimuth_deg:03.0f} magnetic ({contact.aim.azimuth_deg:03.0f} true)"
            f"{_good_within(contact)}. {_polarization(contact)}"
        ),
        *wrapped(f"{_how_far(contact)}. {sight_sentence(contact)} {_mechanism(contact)}"),
        *budget_lines(contact),
        *_all_wrapped(*parted_lines(contact)),
    ]
    caution, remarks = (
        wrapped(_caution(contact, changes)),
        [*contact.doubts, *_notes(contact), _assumed(contact)],
    )
    grave, other = _all_wrapped(*_grave(contact)), wrapped(_other_modes(contact, ()))
    offered = 0 if changes is None or link.pair.verdict.word == "solid" else _MOST_CHANGES

    def room(remarks: list[str]) -> int:
        """Lines left for changes."""
        table = 0 if changes is None else len(_change_lines(_told(changes, 0))) or 1
        used = sum(map(len, (top, grave, other, caution, wrapped(" ".join(remarks)))))
        return _HEIGHT - below - used - table

    if room([*remarks, CONDITIONAL]) >= min(offered, _FEWEST_CHANGES):
        remarks.append(CONDITIONAL)
    told = [] if changes is None else _told(changes, min(offered, max(room(remarks), _FEWEST_CHANGES)))
    return [
        *top,
        *_change_lines(told),
        *wrapped(_other_modes(contact, told)),
        *grave,
        *wrapped(" ".join(remarks)),
        *wrapped(_caution(contact, changes)),
    ]


def _how_far(contact: Contact) -> str:
    """Distance and the ground at both ends; ~ to or from the middle of an area, and at its typical point."""
    about, decimals = ("", 1) if contact.to_middle is None else ("~", 0)
    km, miles = (contact.aim.distance_m / unit_m for unit_m in (1000.0, 1609.344))
    here, there = (
        f"{'' if area_of(party.location) is None else '~'}{end.ground_m:.0f} m"
        for party, end in ((contact.you, contact.reach.from_end), (contact.them, contact.reach.to_end))
    )
    return f"{about}{km:.{decimals}f} km / {about}{miles:.{decimals}f} mi, ground {here} here, {there} there"


def headline(contact: Contact) -> str:
    """Verdict with band, mode and odds; both verdicts where the methods part."""
    link = contact.link
    stop = ": " if link.methods_part and link.second is not None else ", "
    word, _, odds = link.verdict_text.partition(stop)
    odds = odds.partition(" (")[0]  # by how much they part stands further down
    return f"{word.upper()} on {link.you.band} {MODES[link.mode].label}{stop}{odds}"


def _by_either(verdict: Verdict, second: Pair | None, *, part: bool) -> str:
    """Word and odds, and where the methods part the odds by the second opinion too."""
    if not part or second is None or odds_text(second.chance) == odds_text(verdict.chance):
        return verdict.text
    return f"{verdict.text} or {odds_text(second.chance)}"


def margin_line(contact: Contact) -> str:
    """Both margins in one line."""
    parts = []
    for who, direction in (("you → them", contact.link.out), ("them → you", contact.link.back)):
        if direction is not None:
            parts.append(f"{who} {direction.budget.margin_db:+.0f} dB")
    return f"Above just readable: {', '.join(parts)}"


def sight_sentence(contact: Contact) -> str:
    """Say whether the ends see each other, and what limits."""
    reach = contact.reach
    seen = reach.sightline
    where = f"{seen.limiting_distance_m / 1000:.1f} km from you"
    if seen.verdict == "clear":
        return "Clear line of sight."
    if seen.verdict == "partial":
        return (
            f"In sight, but tight: {_REGIONS[seen.limiting_region]} ({where}) leaves "
            f"{math.floor(100 * seen.minimum_fresnel_ratio) / 100:.2f} of the first Fresnel radius; "
            f"0.6 would be free{_masts(contact, seen.height_for_fresnel_m, 'clear')}."
        )
    main = reach.obstacles.main
    if reach.obstacles.smooth_reason is not None or main is None or main.clearance_m >= 0.0:
        region = _REGIONS[seen.limiting_region]
        stands = f"{region[0].upper()}{region[1:]} stands in the line, {where}"
    else:
        crest = reach.crest_index(main)
        ground = reach.survey.cluttered
        top_m = ground.ground_m[crest] + ground.clutter_m[crest]
        what = "obstacle" if ground.clutter_m[crest] > 0.0 else "ridge"
        stands = (
            f"Counts most: {top_m:.0f} m {what} at {ground.distance_m[crest] / 1000:.0f} km, "
            f"{-seen.clearance_m[crest]:.0f} m above line"
        )
    masts = _masts(contact, seen.height_for_sight_m, "bare")
    if reach.leg.distance_m >= _USUALLY_OBSTRUCTED_M:
        return f"{_OBSTRUCTED_AS_USUAL}. {stands}{masts}."
    return f"No line of sight. {stands}{masts}. That alone does not rule out a contact."


def _masts(contact: Contact, heights: LeastHeights, sight: str) -> str:
    """Masts that would give a line of sight, each alone or both alike; nothing where that is not needed."""
    if contact.link.pair.verdict.word == "solid":
        return ""
    told = [
        f"{height_m:.0f} m {who}"
        for height_m, who in ((heights.from_m, "here"), (heights.to_m, "there"), (heights.both_m, "at both"))
        if height_m is not None
    ]
    return f"; for a {sight} line of sight a mast of {' or '.join(told)}" if told else ""


def _all_wrapped(*texts: str) -> list[str]:
    return [line for text in texts for line in wrapped(text)]


def _polarization(contact: Contact) -> str:
    """How to mount the antenna, and what it costs if theirs is mounted otherwise."""
    link = contact.link
    mine, way = link.you.polarization.upper(), link.out or link.back
    crossed = way is not None and way.budget.polarization
    if not crossed or crossed.least_db == crossed.most_db:
        return f"{mine}."
    return (
        f"{mine}, theirs {link.them.polarization}: your antennas are crossed, "
        f"{crossed.least_db:.0f} to {crossed.most_db:.0f} dB lost."
    )


def _good_within(contact: Contact) -> str:
    width = contact.link.good_within_deg
    return "" if width is None else f", good within {width:.0f}° either side"


def _better_mode(contact: Contact) -> ModeRow | None:
    """Pick the mode that does better by a whole verdict, if there is one on this band."""
    rows = [row for row in _same_band(contact) if row.mode != contact.link.mode and row.pair is not None]
    better = [
        row
        for row in rows
        if row.pair is not None
        and row.mode in {"fm", "ssb", "morse"}
        and row.pair.verdict.word != contact.link.pair.verdict.word
        and row.pair.chance > contact.link.pair.chance
    ]
    if not better or contact.link.pair.verdict.word == "solid":
        return None
    return max(better, key=lambda row: row.pair.chance if row.pair else 0.0)


def _best_other_mode(contact: Contact) -> str:
    best = _better_mode(contact)
    if best is None or best.pair is None:
        return ""
    return f" {MODES[best.mode].label}: {_by_either(best.pair.verdict, best.second, part=best.methods_part)}."


def _same_band(contact: Contact) -> list[ModeRow]:
    return [row for row in contact.modes if row.band == contact.link.you.band]


def _mechanism(contact: Contact) -> str:
    """Say what rules the loss, and what a tenth of the year does to it."""
    loss = contact.reach.loss
    more_db = loss.loss_db - loss.free_space_db
    sight = (
        "The loss is that of free sight"
        if more_db < 3.0
        else f"In sight, but {more_db:.0f} dB over free space"
    )
    rules = {"sight": sight, "ducting": "Ducts in the air rule"}.get(
        loss.mechanism, f"{loss.mechanism.capitalize()} rules"
    )
    less_db = loss.loss_db - loss.not_exceeded_db.get(10.0, loss.loss_db)
    return f"{rules}; {less_db:.0f} dB less a tenth of the year." if less_db >= 0.5 else f"{rules}."


def _told(changes: Changes, most: int) -> list[Change]:
    """Pick the best changes, as many as there is room for, and the mistake.

    Crossed antennas always turn, and how high a mast is always answered where changes are offered.
    """
    best = changes.ranked[:most]
    turning = [change for change in changes.ranked if change.what.startswith("turn to ")][:1]
    masts = [change for change in (*changes.ranked, *changes.no_use) if change.what.startswith("mast ")]
    always = [change for change in (*turning, *(masts[:1] if most else [])) if change not in best]
    return [*best[: max(most - len(always), 0)], *always, *changes.mistakes[:1]]


def _change_lines(told: list[Change]) -> list[str]:
    """Table of changes, or two lines for each; both odds where the methods part, best estimate first."""
    if not told:
        return []
    parted = any(change.methods_part for change in told)
    odds = ["odds", "or second"] if parted else ["odds"]
    named, gained, odd = (36, 11, 15) if parted else (45, 13, 16)
    wide = text_width() >= 2 + named + gained + odd * len(odds)
    lines = [" One change"]
    if wide:
        lines = [
            f" {'One change':<{named + 1}}{'gain':>{gained}}{''.join(f'{head:>{odd}}' for head in odds)}"
        ]
    for change in told:
        gain_db = round(change.gain_db)
        what, gain = change.what, f"{gain_db:+d} dB"
        if what.startswith("mast ") and gain_db <= 0:
            what = f"{what}: no use"
        if change.helps != "both ways":
            gain += " out" if change.helps == "you → them" else " back"
        after = [change.chance] if change.second_chance is None else [change.chance, change.second_chance]
        tenths = [odds_text(chance).removeprefix("about ") for chance in after[: len(odds)]]
        if wide:
            cells = "".join(f"{each:>{odd}}" for each in tenths)
            lines.append(f"  {what[:named]:<{named}}{gain:>{gained}}{cells}")
        else:
            lines += [
                *wrapped(what, 2, 4),
                *wrapped(f"{gain}, {' or '.join(dict.fromkeys(tenths))}", 4),
            ]
    if any(change.note == NOT_CHECKED for change in told):
        lines += wrapped(f"Places: {NOT_CHECKED}.", 2)
    return lines


def _other_modes(contact: Contact, told: Sequence[Change]) -> str:
    """Modes on this band by how they do, and this mode on other bands likewise."""
    labels: dict[str, list[str]] = {}
    in_first_line = _better_mode(contact)
    for row in _same_band(contact):
        label = MODES[row.mode].label
        if row.pair is None or row.mode == contact.link.mode or row.mode not in _WORTH_A_WORD:
            continue
        if row is in_first_line:
            continue
        if not any(change.what.startswith((f"{label} instead", f"{label} with ")) for change in told):
            told_odds = _by_either(row.pair.verdict, row.second, part=row.methods_part)
            labels.setdefault(told_odds.replace(", about", ""), []).append(label)
    parts = [f"{', '.join(alike)} {text}" for text, alike in labels.items()]
    bands: dict[str, list[str]] = {}
    for row in contact.modes:
        if row.pair is not None and row.mode == contact.link.mode and row.band != contact.link.you.band:
            words = [row.pair.verdict.word]
            if row.methods_part and row.second is not None:
                words.append(row.second.verdict.word)
            bands.setdefault(" or ".join(dict.fromkeys(words)), []).append(row.band)
    text = f"Other modes: {'; '.join(parts)}." if parts else ""
    if bands:
        elsewhere = "; ".join(f"{', '.join(alike)} {word}" for word, alike in bands.items())
        text += f" {MODES[contact.link.mode].label} elsewhere: {elsewhere}."
    return text.strip()


_WORTH_A_WORD = ("fm", "ssb", "morse", "packet-1200", "weak-digital")
_WORTH_TELLING = ("power", "antenna gain", "antenna height", "feedline", "noise")


def _assumed(contact: Contact) -> str:
    told = []
    for where, end in (("here", contact.link.you), ("there", contact.link.them)):
        values = [
            _phrase(item)
            for item in contact.link.assumed
            if item.station == end.station
            and item.what in _WORTH_TELLING
            and not (item.what == "feedline" and " m" not in item.value)
        ]
        if values:
            told.append(f"{where} {', '.join(values)}")
    kinds = {"surface": "surface", "bare": "bare ground", "unknown": "kind unknown"}
    terrain = "/".join(kinds[kind] for kind in contact.reach.profile.model_kinds)
    text = f"Assumed: {'; '.join(told)}. " if told else ""
    return f"{text}Map: {terrain}, {contact.reach.profile.cell_m:.0f} m.{_sigmas(contact)}"


def _sigmas(contact: Contact) -> str:
    """Spread behind the odds, where it is not the one of the table of defaults; nothing where it is."""
    link, spread = contact.link, contact.link.spread
    if spread == default_spread(link.you, link.them):
        return ""
    noise = {f"{each:g}" for each in (spread.noise_out_db, spread.noise_back_db)}
    place = f", place {spread.location_db:.1f}" if spread.location_db else ""
    return f" Sigmas: path {spread.path_db:g}, noise {'/'.join(sorted(noise))}{place} dB."


def _phrase(item: Assumption) -> str:
    return {
        "antenna height": f"antenna at {item.value}",
        "noise": f"{item.value} noise",
        "feedline": ", ".join(item.value.split(", ")[:2]).replace(", ", " "),
    }.get(item.what, item.value)


def parted_lines(contact: Contact) -> list[str]:
    """Both verdicts where the methods part, in one line; none where they agree."""
    return [
        f"{note[0].upper()}{note[1:]}." for note in contact.link.notes if note.startswith("the methods part")
    ]


def _notes(contact: Contact) -> list[str]:
    """Pick the remarks that change how the figures are to be read; that the methods part is said above."""
    parted = parted_lines(contact)
    return [
        remark
        for remark in contact.reach.loss.remarks
        if not (parted and remark.startswith("The methods part"))
    ]


def _grave(contact: Contact) -> list[str]:
    """Warnings that no answer should be read without."""
    return [text for text in contact.reach.warnings if text.startswith("DOUBTFUL")]


def picture_caution(contact: Contact, changes: Changes | None = None) -> str:
    """Caution in one line of a picture."""
    keep_m = distance_to_keep_m(contact, changes)
    keep = "" if keep_m is None else f"Keep {rounded_up(keep_m):.1f} m off; "
    if contact.link.you.handheld:
        keep = f"Hold it off the head; {keep}"
    text = f"{keep}power lines twice the height of mast + antenna away. No safety line."
    return text[0].upper() + text[1:]


def _caution(contact: Contact, changes: Changes | None = None) -> str:
    keep_m = distance_to_keep_m(contact, changes)
    keep = "" if keep_m is None else f"keep {rounded_up(keep_m):.1f} m from the antenna; "
    if contact.link.you.handheld:
        other = "" if keep_m is None else f"other set-ups offered here: {keep}"
        keep = f"hold it off the head: follow the radio's manual; {other}"
    return (
        f"Safety: {keep}power lines twice the height of mast plus antenna away; "
        "thunder: stop. This is no safety line."
    )
