"""What follows page one: a section for each path, relays, other spots, next-best stations, sources."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pathprofile.changes import NOT_CHECKED
from pathprofile.export.sheet import words
from pathprofile.export.sheet.pictures import profile_picture
from pathprofile.link.words import odds_text
from pathprofile.station.catalogue import MODES, band_of

if TYPE_CHECKING:
    from pathprofile.contact import Contact
    from pathprofile.link.evaluate import Direction
    from pathprofile.reach import PathEnd
    from pathprofile.trip.sheet import Sheet, SheetPath
    from pathprofile.trip.sheet_calls import Call

    _Cells = list[dict[str, str]]

__all__ = ["after_values"]

_MOST_CHANGES = 6
_WAYS = {"both ways": "", "you → them": " out", "them → you": " back"}


def after_values(sheet: Sheet) -> dict[str, Any]:
    """Everything behind page one, for the template."""
    numbers = {call.key: number for number, call in enumerate(sheet.calls, 1)}
    return {
        "paths": [_path(path, call, numbers) for path, call in zip(sheet.paths, sheet.calls, strict=True)],
        "relays": [
            {"station": r.station, "via": r.via, "odds": words.odds(odds_text(r.chance)), "note": r.note}
            for r in sheet.ladder.relays
        ],
        "moves": [
            {
                "name": m.name,
                "position": f"{m.latitude_deg:.5f} {m.longitude_deg:.5f}",
                "station": m.station,
                "gain": "" if m.gain_db is None else f"{words.signed(m.gain_db)} dB",
                "odds": "" if m.chance is None else words.odds(odds_text(m.chance)),
                "note": m.note,
            }
            for m in sheet.ladder.moves
        ],
        "next_best": [
            {
                "name": n.name,
                "set": f"{band_of(n.frequency_mhz)} {MODES[n.mode].label}",
                "aim": f"{words.bearing(n.magnetic_azimuth_deg)}/{words.bearing(n.azimuth_deg)}",
                "distance": words.points(n.distance_m),
                "verdict": n.verdict_text,
            }
            for n in sheet.next_best
        ],
        "not_here": sheet.left_out,
        "sources": _sources(sheet),
    }


def _sources(sheet: Sheet) -> list[str]:
    stands = sheet.sources
    kinds = ", ".join(words.MODEL_KINDS[kind] for kind in stands.model_kinds)
    found = [
        f"Terrain: {', '.join(stands.terrain)}; {kinds}; "
        f"cells of {sheet.site.cell_m:.0f} m"
        + (f"; heights above {', '.join(stands.vertical_datums)}" if stands.vertical_datums else "")
        + ".",
        (
            f"Loss: {', '.join(stands.methods)}; k factor {stands.k_factor:.2f}. Magnetic north: "
            f"{stands.magnetic_model}. Time zone of the site: {sheet.time_zone}."
        ),
        f"Made by pathprofile {stands.version}"
        + (f"; book {stands.book_digest}." if stands.book_digest else "."),
    ]
    assumed = dict.fromkeys(
        f"{item.station}: {item.what} {item.value}"
        for call in sheet.calls
        for item in call.contact.link.assumed
        if item.what in {"power", "antenna gain", "antenna height", "noise"}
    )
    if assumed:
        found.append(f"Assumed, because nothing was stated. {'; '.join(assumed)}.")
    return [*found, *map(words.sentence, stands.warnings)]


def _path(path: SheetPath, call: Call, numbers: dict[int, int]) -> dict[str, Any]:
    profile, link = path.profile, call.contact.link
    ways = [(name, way) for name, way in (("you → them", link.out), ("them → you", link.back)) if way]
    keys = ["out" if name.startswith("you") else "back" for name, _ in ways]
    at = profile.limiting
    marks = profile_picture(profile)
    shown = {mark.text for mark in marks.marks}
    return {
        "key": path.key,
        "number": numbers[path.key],
        "name": call.name,
        "distance": words.distance(call.distance_m),
        "verdict": link.verdict_text,
        "who": link.who_hears_whom,
        "from_end": _end(call.contact.reach.from_end),
        "to_end": _end(call.contact.reach.to_end),
        "picture": marks,
        "readout": _readout(
            float(profile.distance_m[at]), float(profile.ground_m[at]), float(profile.clearance_m[at])
        ),
        "sight": words.sight_words(profile),
        "peaks": [
            words.peak_words(peak.top_m, peak.distance_m, peak.clearance_m)
            for number, peak in enumerate(profile.peaks, 1)
            if str(number) in shown
        ],
        "ways": [name for name, _ in ways],
        "budget": _budget(call.contact, [way for _, way in ways], keys),
        "places": f"Places: {NOT_CHECKED}."
        if any(change.note == NOT_CHECKED for change in path.changes.ranked[:_MOST_CHANGES])
        else "",
        "changes": [
            {
                "what": change.what,
                "note": "" if change.note == NOT_CHECKED else change.note,
                "gain": f"{words.signed(change.gain_db)} dB"
                + (
                    "" if change.helps == "both ways" else " out" if change.helps == "you → them" else " back"
                ),
                "odds": words.odds(odds_text(change.verdict.chance)),
            }
            for change in (*path.changes.ranked[:_MOST_CHANGES], *path.changes.mistakes[:1])
        ],
        "modes": _mode_table(call.contact),
        "remarks": [
            *map(words.sentence, call.contact.doubts),
            *(words.sentence(note) for note in link.notes if note.startswith("the methods part")),
        ]
        + ([call.notes] if call.notes else []),
    }


def _end(end: PathEnd) -> str:
    return f"{end.ground_m:.0f} m, antenna {end.antenna_agl_m:g} m up"


def _readout(distance_m: float, ground_m: float, clearance_m: float) -> str:
    side = "below" if clearance_m >= 0.0 else "above"
    return f"{distance_m / 1000:.1f} km: ground {ground_m:.0f} m, {abs(clearance_m):.0f} m {side} the line"


def _budget(
    contact: Contact, ways: list[Direction], keys: list[str]
) -> list[tuple[str, list[dict[str, str]]]]:
    def line(name: str, field: str, unit: str, *, plus: bool = False) -> tuple[str, list[dict[str, str]]]:
        cells = []
        for key, way in zip(keys, ways, strict=True):
            value = getattr(way.budget, field)
            text = words.signed(value, 1) if plus else f"{value:.1f}".replace("-", "\N{MINUS SIGN}")
            cells.append(
                {"is": f"{key}-{field.removesuffix('_db').removesuffix('_dbm')}", "text": f"{text} {unit}"}
            )
        return name, cells

    return [
        line("above just readable", "margin_db", "dB", plus=True),
        line("above comfortable", "comfortable_margin_db", "dB", plus=True),
        line("signal", "level_dbm", "dBm"),
        line("noise", "noise_dbm", "dBm"),
        (
            f"path, {words.points(contact.reach.leg.distance_m)}",
            [{"is": "path", "text": f"{contact.reach.loss.loss_db:.1f} dB"} for _ in ways],
        ),
    ]


def _mode_table(contact: Contact) -> dict[str, Any]:
    bands = list(dict.fromkeys(row.band for row in contact.modes if row.pair is not None))
    modes = list(dict.fromkeys(row.mode for row in contact.modes if row.pair is not None))
    cells = {(row.mode, row.band): row.pair for row in contact.modes}

    def cell(mode: str, band: str) -> str:
        pair = cells.get((mode, band))
        return "–" if pair is None else words.odds(odds_text(pair.verdict.chance))

    return {
        "bands": bands,
        "rows": [(MODES[mode].label, [cell(mode, band) for band in bands]) for mode in modes],
    }
