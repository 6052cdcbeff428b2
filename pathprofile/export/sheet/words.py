"""How a trip sheet says things: numbers turned into what an operator reads, nothing computed."""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING

from pathprofile.contact import customary_mode
from pathprofile.link.words import odds_text
from pathprofile.station.catalogue import MODES

if TYPE_CHECKING:
    from pathprofile.link.evaluate import Link
    from pathprofile.link.words import Verdict
    from pathprofile.trip.sheet import Sheet
    from pathprofile.trip.sheet_calls import Area, Call
    from pathprofile.trip.sheet_hours import Window
    from pathprofile.trip.sheet_profile import SheetProfile

__all__ = [
    "MODEL_KINDS",
    "NO_FREQUENCY",
    "area_odds",
    "bearing",
    "clock",
    "day_words",
    "declination_words",
    "distance",
    "either_word",
    "frequency",
    "group_heading",
    "minutes_clock",
    "odds",
    "odds_steps",
    "parted",
    "peak_words",
    "planned_frequency",
    "points",
    "send_words",
    "sentence",
    "sight_words",
    "signed",
    "station_hours",
    "tally",
]

_METRES_PER_MILE = 1609.344
_MINUS = "\N{MINUS SIGN}"
_DASH = "\N{EN DASH}"
_FAR_M = 50_000.0
NO_FREQUENCY = "none agreed"
MODEL_KINDS = {"surface": "surface model", "bare": "bare ground", "unknown": "kind unknown"}


def sentence(text: str) -> str:
    """Begin with a capital and end with a full stop."""
    return f"{text[:1].upper()}{text[1:]}" + ("" if text.endswith((".", "!", "?")) else ".")


def bearing(azimuth_deg: float) -> str:
    """Three digits, 000 to 359."""
    return f"{round(azimuth_deg) % 360:03d}"


def signed(value: float, decimals: int = 0) -> str:
    """Write a number with its sign, a true minus."""
    return f"{value:+.{decimals}f}".replace("-", _MINUS)


def distance(distance_m: float) -> str:
    """Kilometres and miles."""
    decimals = 2 if distance_m < 10_000.0 else 1
    return f"{distance_m / 1000:.{decimals}f} km / {distance_m / _METRES_PER_MILE:.{decimals}f} mi"


def points(distance_m: float) -> str:
    """Short form of a distance: metres, then kilometres."""
    if distance_m < 1000.0:
        return f"{distance_m:.0f} m"
    return f"{distance_m / 1000:.{1 if distance_m < 100_000.0 else 0}f} km"


def frequency(frequency_mhz: float) -> str:
    """Megahertz to the kilohertz, finer where stated finer."""
    text = f"{frequency_mhz:.5f}".rstrip("0")
    decimals = len(text.partition(".")[2])
    return f"{frequency_mhz:.{max(decimals, 3)}f}"


def odds(text: str) -> str:
    """Odds without the word that every line would repeat."""
    return text.removeprefix("about ")


def area_odds(area: Area) -> str:
    """Odds on the lowest and the highest third of an area's ground, short: "low 2/10 high 8/10"."""

    def short(chance: float) -> str:
        text = odds(odds_text(chance)).replace("over ", ">").replace("below ", "<")
        return text.replace("nearly ", "<").replace(" in ", "/")

    return (
        f"low\N{NO-BREAK SPACE}{short(area.lowest.chance)} high\N{NO-BREAK SPACE}{short(area.highest.chance)}"
    )


def odds_steps(steps: list[str]) -> str:
    """Odds one after the other, "in 10" said once where all are tenths."""
    if all(step.endswith(" in 10") for step in steps):
        return " → ".join(step.removesuffix(" in 10") for step in steps) + " in 10"
    return " → ".join(steps)


def parted(link: Link) -> str:
    """Second odds where the methods part, and by how much; empty where they agree."""
    if not link.methods_part or link.second is None or link.disagreement_db is None:
        return ""
    first, second = (odds(odds_text(each.verdict.chance)) for each in (link.pair, link.second))
    return (
        f"{'odds alike' if first == second else f'or {second}'}: methods part by "
        f"{abs(link.disagreement_db):.0f} dB"
    )


def either_word(link: Link) -> str:
    """Verdict in one word, in two where the methods part."""
    second = [link.second.verdict.word] if link.methods_part and link.second is not None else []
    return " or ".join(dict.fromkeys([link.pair.verdict.word, *second]))


def tally(verdict: Verdict) -> int:
    """Strokes out of ten."""
    return min(10, max(0, math.floor(verdict.chance * 10.0 + 0.5)))


def day_words(date: dt.date) -> str:
    """Weekday, day, month, year."""
    return f"{date:%A} {date.day} {date:%B} {date.year}"


def clock(moment: dt.datetime | None, zone: dt.tzinfo = dt.UTC) -> str:
    """Hour and minute, or a dash."""
    return _DASH if moment is None else f"{moment.astimezone(zone):%H:%M}"


def minutes_clock(minutes: int) -> str:
    """Clock of minutes after midnight."""
    return f"{minutes // 60 % 24:02d}:{minutes % 60:02d}"


def declination_words(declination_deg: float) -> str:
    """How to come from true to magnetic."""
    whole = round(-declination_deg)
    if whole == 0:
        return "magnetic = true"
    return f"magnetic = true {'+' if whole > 0 else _MINUS} {abs(whole)}°"


def station_hours(windows: tuple[Window, ...], zone: dt.tzinfo) -> str:
    """All listening windows, in local time and UTC."""
    if not windows:
        return "hours not stated"
    local, utc = (
        ", ".join(_short(clock(w.start_utc, z), clock(w.end_utc, z)) for w in windows) for z in (zone, dt.UTC)
    )
    return f"{local} local = {utc} UTC"


def _short(start: str, end: str) -> str:
    """From one clock to another, full hours without their zeros."""
    return f"{start.removesuffix(':00')}{_DASH}{end.removesuffix(':00')}"


def planned_frequency(frequency_mhz: float, mode: str) -> str:
    """Frequency that nobody stated: with ≈ where that mode is customary there, else said to be open."""
    narrow = customary_mode(frequency_mhz) == "ssb"
    return NO_FREQUENCY if MODES[mode].fm_receiver is narrow else f"≈{frequency(frequency_mhz)}"


def send_words(call: Call) -> tuple[str, ...]:
    """List what to set beside the frequency to listen on."""
    parts = []
    if call.receive_only:
        parts.append("listen only")
    elif call.send_mhz is not None and call.listen_mhz is not None and call.send_mhz != call.listen_mhz:
        shift = signed(call.send_mhz - call.listen_mhz, 3).rstrip("0").rstrip(".")
        parts.append(f"send {frequency(call.send_mhz)} ({shift})")
    if call.tone_hz is not None:
        parts.append(f"tone {call.tone_hz:g}")
    if call.packet_address:
        parts.append(f"to {call.packet_address}" + (f" via {call.packet_path}" if call.packet_path else ""))
    if call.their_polarization != call.polarization:
        parts.append(f"they {call.their_polarization}")
    return tuple(parts)


def group_heading(call: Call, *, first: bool, offset_min: int) -> str:
    """Heading over the calls of one polarization and one turn of the beam."""
    name = call.polarization.upper()
    text = f"{name} first" if first else f"Lower the mast, turn to {name}"
    return text + round_words(call, offset_min)


def round_words(call: Call, offset_min: int) -> str:
    """When all of a round listen whose hours are stated, and which way the beam goes."""
    text = ""
    if call.together_min is not None:
        start, end = call.together_min
        local = f"{_short(minutes_clock(start), minutes_clock(end))} local"
        utc = f"{_short(minutes_clock(start + offset_min), minutes_clock(end + offset_min))} UTC"
        text += f" · those with stated hours listen {local} = {utc}"
    return text + (f" · beam turns {call.turning}" if call.turning else "")


def offset_minutes(sheet: Sheet) -> int:
    """Minutes from local time to UTC at noon of the day."""
    noon = dt.datetime(sheet.date.year, sheet.date.month, sheet.date.day, 12, tzinfo=sheet.zone)
    shift = noon.utcoffset() or dt.timedelta()
    return -round(shift.total_seconds() / 60.0)


def sight_words(profile: SheetProfile) -> str:
    """Say in one sentence what the profile shows."""
    at = float(profile.distance_m[profile.limiting])
    clearance_m = float(profile.clearance_m[profile.limiting])
    if profile.verdict == "clear":
        return f"Clear line of sight; tightest {points(at)} out, ground {clearance_m:.0f} m below the line."
    if profile.verdict == "partial":
        return (
            f"In sight, but tight: {points(at)} out the ground leaves {profile.minimum_fresnel_ratio:.1f} "
            "of a Fresnel radius (0.6 wanted)."
        )
    usual = ", usual at this distance;" if float(profile.distance_m[-1]) >= _FAR_M else ";"
    return f"No line of sight{usual} that alone does not rule out a contact."


def peak_words(top_m: float, distance_m: float, clearance_m: float) -> str:
    """One obstacle."""
    side = "above" if clearance_m < 0.0 else "below"
    return f"{top_m:.0f} m at {points(distance_m)}, {abs(clearance_m):.0f} m {side} the line"
