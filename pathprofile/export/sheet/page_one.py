"""Page one of a trip sheet in words: the call rows, the aiming box, the ladder, the cautions."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pathprofile.export.sheet import words
from pathprofile.export.sheet.fitting import fit_page_one
from pathprofile.export.sheet.pictures import ring_arcs
from pathprofile.link.cautions import EMERGENCY
from pathprofile.link.exposure import HANDHELD_WORDS, rounded_up
from pathprofile.link.words import odds_text
from pathprofile.station.catalogue import MODES
from pathprofile.trip.sheet_order import EASY_FROM

if TYPE_CHECKING:
    import datetime as dt

    from pathprofile.trip.sheet import Sheet
    from pathprofile.trip.sheet_calls import Call, Expectation

__all__ = ["page_one_values"]

_NOISE_SHOWN = 4
_LEFT_OUT_SHOWN = 3
_REASON_LETTERS = 90
_AREA_LEGEND = "Low, high: the odds if it stands on the lowest, on the highest third of that area's ground."
_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def page_one_values(sheet: Sheet) -> dict[str, Any]:
    """Everything that page one and the fields show, for the template."""
    numbers = {call.key: number for number, call in enumerate(sheet.calls, 1)}
    values: dict[str, Any] = {
        "date": words.day_words(sheet.date),
        "order": sheet.order,
        "order_reason": sheet.order_reason,
        "conditional": sheet.conditional,
        "site": {
            "name": sheet.site.name,
            "ground": f"{sheet.site.ground_m:.0f} m",
            "read": [text for _, text in sheet.site.read_out],
            "declination": f"{sheet.site.declination_deg:.2f}",
        },
        "facts": _facts(sheet),
        "planned": _planned(sheet),
        "modes": _modes_on_offer(sheet),
        "rows": _rows(sheet, numbers),
        "left_out": [(name, _short(reason)) for name, reason in sheet.left_out[:_LEFT_OUT_SHOWN]],
        "left_out_more": max(0, len(sheet.left_out) - _LEFT_OUT_SHOWN),
        "unagreed": any(not call.frequency_stated for call in sheet.calls),
        **_aiming(sheet, numbers),
        **_ladder(sheet, numbers),
        "keep": _keep(sheet),
        "keep_note": "Far-field estimate for the public in front of the antenna, no legal assessment.",
        "handheld": HANDHELD_WORDS if any(one.keep_m is None for one in sheet.exposure) else "",
        "emergency": EMERGENCY,
        "area_legend": _AREA_LEGEND if any(call.area is not None for call in sheet.calls) else "",
        "cautions": sheet.cautions,
        "foot": _foot(sheet),
    }
    size, count = fit_page_one(values)
    rows = values["rows"]
    return {**values, "size": size, "rows": rows[:count], "more_rows": rows[count:]}


def _rows(sheet: Sheet, numbers: dict[int, int]) -> list[dict[str, Any]]:
    """Put headings between the calls; the script writes the same ones when it reorders."""
    offset_min = words.offset_minutes(sheet)
    found = []
    previous: Call | None = None
    for call in sheet.calls:
        heading, turn = "", False
        if sheet.order == "sweep":
            if previous is None or previous.polarization != call.polarization:
                heading = words.group_heading(call, first=previous is None, offset_min=offset_min)
                turn = True
            elif call.part == "hard" and previous.part != "hard":
                heading = "The hard ones"
            elif (previous.part, previous.sweep) != (call.part, call.sweep) and call.part == "sweep":
                heading = words.round_words(call, offset_min).removeprefix(" · ")
        heading = heading[:1].upper() + heading[1:]
        found.append({"heading": heading, "turn": turn, "call": _row(sheet, call, numbers)})
        previous = call
    return found


def _row(sheet: Sheet, call: Call, numbers: dict[int, int]) -> dict[str, Any]:
    better = call.better
    return {
        "key": call.key,
        "number": numbers[call.key],
        "name": call.name,
        "area": "" if call.area is None else f"a {call.area.kind}!".replace("a area", "an area"),
        "proves": call.part == "prove",
        "prove": f"{'Listen for' if call.receive_only else 'Call'} it first: heard as predicted, your "
        "antenna, line and receiver work.",
        "hours": words.station_hours(call.windows, sheet.zone),
        "frequency": _listen(call),
        "mode": call.mode_label,
        "send": words.send_words(call),
        "polarization": call.polarization,
        "magnetic": words.bearing(call.magnetic_azimuth_deg),
        "true": words.bearing(call.azimuth_deg),
        "within": "all round" if call.good_within_deg is None else f"±{call.good_within_deg:.0f}°",
        "tally": words.tally(call.verdict),
        "odds": words.odds(call.odds) if call.area is None else words.area_odds(call.area),
        "word": words.either_word(call.contact.link),
        "parted": words.parted(call.contact.link),
        "better": ""
        if better is None
        else f"; {better.label}: {words.odds(odds_text(better.verdict.chance))}",
        "you": _expected(call.you_hear),
        "they": _expected(call.they_hear),
    }


def _listen(call: Call) -> str:
    if call.listen_mhz is None:
        return "–"
    if not call.frequency_stated:
        return words.planned_frequency(call.listen_mhz, call.mode)
    return words.frequency(call.listen_mhz)


def _short(reason: str) -> str:
    return reason if len(reason) <= _REASON_LETTERS else f"{reason[: _REASON_LETTERS - 1].rstrip()}…"


def _expected(expected: Expectation | None) -> str:
    return "–" if expected is None else expected.word


def _facts(sheet: Sheet) -> list[str]:
    site, zone = sheet.site, sheet.zone

    def both(moment: dt.datetime) -> str:
        return f"{words.clock(moment, zone)} local = {words.clock(moment)} UTC"

    sunset = "no sunset" if site.sunset_utc is None else f"sunset {both(site.sunset_utc)}"
    sunrise = "no sunrise" if site.sunrise_utc is None else f"sunrise {both(site.sunrise_utc)}"
    north = f"{words.declination_words(site.declination_deg)}"
    return [
        sunset[:1].upper() + sunset[1:],
        sunrise[:1].upper() + sunrise[1:],
        f"{north[:1].upper()}{north[1:]} (declination {words.signed(site.declination_deg, 1)}°)",
        sheet.offset_text,
    ]


def _planned(sheet: Sheet) -> dict[str, str]:
    """Fill the empty fields with the planned figures, several where set-ups differ."""
    first = [call.settings[0] for call in sheet.calls]

    def several(values: list[str]) -> str:
        return ", ".join(dict.fromkeys(values))

    return {
        "power": several([f"{setting.power_w:g}" for setting in first]),
        "line": several([f"{setting.line_loss_db:.1f}" for setting in first]),
        "height": several([f"{setting.height_m:g}" for setting in first]),
        "lowest": f"{sheet.mast_heights_m[0]:g}",
        "highest": f"{sheet.mast_heights_m[-1]:g}",
    }


def _modes_on_offer(sheet: Sheet) -> list[tuple[str, str]]:
    offered = {setting.mode for call in sheet.calls for setting in call.settings}
    return [(name, mode.label) for name, mode in MODES.items() if name in offered]


def _aiming(sheet: Sheet, numbers: dict[int, int]) -> dict[str, Any]:
    letters = tuple(_LETTERS[i % 26] for i in range(len(sheet.beams)))
    return {
        "beams": [
            {
                "letter": letter,
                "magnetic": words.bearing(beam.magnetic_azimuth_deg),
                "true": words.bearing(beam.azimuth_deg),
                "within": f"{beam.within_deg:.0f}",
                "polarization": beam.polarization,
                "numbers": [{"key": key, "number": numbers[key]} for key in beam.keys],
            }
            for beam, letter in zip(sheet.beams, letters, strict=True)
        ],
        "arcs": ring_arcs(sheet.beams, letters),
        "all_round": [
            {"key": call.key, "number": numbers[call.key]}
            for call in sheet.calls
            if call.good_within_deg is None
        ],
        "landmarks": [
            {
                "name": mark.name,
                "magnetic": words.bearing(mark.magnetic_azimuth_deg),
                "true": words.bearing(mark.azimuth_deg),
                "distance": words.points(mark.distance_m),
            }
            for mark in sheet.landmarks
        ],
        "sun": [
            {
                "local": f"{sun.local:%H:%M}",
                "magnetic": words.bearing(sun.magnetic_azimuth_deg),
                "true": words.bearing(sun.azimuth_deg),
            }
            for sun in sheet.sun
        ],
    }


def _ladder(sheet: Sheet, numbers: dict[int, int]) -> dict[str, Any]:
    steps, proof = sheet.ladder, sheet.ladder.proof
    first = next(call for call in sheet.calls if call.key == proof.key)
    heard = first.you_hear or first.they_hear
    morse = "then Morse, if both can"
    if steps.morse:
        best = steps.morse[0]
        morse = (
            f"then Morse ({words.signed(best.gain_db)} dB; no. {numbers[best.key]}: "
            f"{words.odds_steps([words.odds(best.odds_before), words.odds(best.odds_after)])})"
        )
    named = {move.station for move in steps.moves}
    calls = {call.key: call for call in sheet.calls}
    spots = [
        (change.gain_db, calls[path.key].name, change)
        for path in sheet.paths
        for change in path.changes.ranked
        if change.note.startswith("terrain only")
        and calls[path.key].chance < EASY_FROM
        and calls[path.key].name not in named
    ]
    offered = [(move.name, move.gain_db, move.station, move.note) for move in steps.moves[:1]]
    if spots:
        gain_db, name, change = max(spots, key=lambda spot: spot[0])
        offered.append((change.what, gain_db, name, change.note))
    notes = [each[-1] for each in offered]
    neither = [
        _move_words(*each[:3], "" if each[-1] in notes[place + 1 :] else each[-1])
        for place, each in enumerate(offered)
    ]
    if steps.relays:
        relay = steps.relays[0]
        neither.append(f"ask {relay.via} to relay to {relay.station} ({words.odds(odds_text(relay.chance))})")
    if not neither:
        neither.append("another spot; ask whoever you do hear to relay")
    return {
        "proof": {
            "number": numbers[first.key],
            "name": first.name,
            "set": f"{_listen(first)} {first.mode_label}",
            "expect": _expected(heard),
            "spread": f" (give or take {proof.spread_s_units:.0f} S-units)"
            if heard is not None and heard.word.startswith("S")
            else "",
            "aim": f"{words.bearing(first.magnetic_azimuth_deg)} magnetic",
            "polarization": proof.polarization,
            "crossed": f"{proof.crossed_db[0]:.0f} to {proof.crossed_db[1]:.0f}",
            "sweep": "turn about"
            if proof.sweep_deg is None
            else f"sweep {5 * round(proof.sweep_deg / 5):.0f}° either side",
        },
        "powers": " or ".join(f"{power:g} W" for power in steps.power_w) or "listen only",
        "morse": morse,
        "neither": "; or ".join(neither),
        "noise": [
            {
                "key": step.key,
                "number": numbers[step.key],
                "words": words.odds_steps([words.odds(odds_text(chance)) for chance in step.chances]),
            }
            for step in steps.noise[:_NOISE_SHOWN]
        ],
    }


def _move_words(spot: str, gain_db: float | None, station: str, note: str) -> str:
    gain = "" if gain_db is None else f"{words.signed(gain_db)} dB "
    return f"move to {spot} ({gain}to {station}{'; ' if note else ''}{note})"


def _keep(sheet: Sheet) -> list[str]:
    """Distances to keep, one a set-up, and what each holds for."""
    return [
        f"Keep {rounded_up(one.keep_m):.1f} m from the {one.antenna} at {one.power_w:g} W: enough for every "
        f"mode you have on it ({MODES[one.mode].label} asks for most, duty {one.duty:g})."
        for one in sheet.exposure
        if one.keep_m is not None
    ]


def _foot(sheet: Sheet) -> str:
    stands = sheet.sources
    kinds = " and ".join(words.MODEL_KINDS[kind] for kind in stands.model_kinds)
    book = f" Book {stands.book_digest[:12]}." if stands.book_digest else ""
    return (
        f"Terrain {', '.join(stands.terrain[:4])}{' and more' if len(stands.terrain) > 4 else ''} ({kinds}, "
        f"{sheet.site.cell_m:.0f} m). Loss {', '.join(stands.methods)}, k {stands.k_factor:.2f}. "
        f"North {stands.magnetic_model}.{book} pathprofile {stands.version}."
    )
