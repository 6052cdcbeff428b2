"""The generated parts of the pages, each a function from what was measured to Markdown."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING, Any, Final

from building.book_words import SECTIONS, WORDS

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    Measured = dict[str, Any]

__all__ = ["BLOCKS"]

_KINDS: Final = {
    "published": "Printed by a standards body",
    "separate": "Computed by other code",
    "closed form": "Known from mathematics",
}
_ROOMS: Final = {
    "area": "whole areas, against the single path",
    "atmosphere": "the air",
    "atomic": "files written whole or not at all",
    "changes": "what one change does",
    "cli": "the command line",
    "fuzz": "hostile input and injected faults",
    "install": "the package on strangers' machines",
    "contact": "the whole answer for a pair",
    "docs": "these pages and the README",
    "draw": "pictures",
    "export": "files and the trip sheet",
    "geodesy": "distance, azimuth, magnetic north, the Sun",
    "ground": "obstacles, zones, clutter",
    "notebooks": "the notebooks, executed",
    "quantities": "heights, frequencies and distances as typed",
    "sample": "finding the sample island",
    "sample_dem": "its tiles",
    "station_catalogue": "names of bands, modes, antennas, cables",
    "station_models": "what users state about stations",
    "link": "noise, budget, chance, antennas, feedline, exposure",
    "places": "reading and writing places",
    "propagation": "every loss method",
    "reach": "one path",
    "sightline": "line of sight, Fresnel clearance",
    "terrain": "elevation files, seams, holes",
    "trip": "book, ranking, comparing, debrief",
}


def _table(head: Sequence[str], rows: Iterable[Sequence[str]], right: Sequence[int] = ()) -> str:
    lines = [head, ["---:" if index in right else "---" for index in range(len(head))], *rows]
    return "\n".join("| " + " | ".join(cell.replace("|", "\\|") for cell in line) + " |" for line in lines)


def _about(number: float) -> str:
    """One digit, rounded up, so that the true figure is never larger."""
    if number < 1e-9:
        return "below 1e-9"
    power = math.floor(math.log10(number))
    digit = math.ceil(number / 10.0**power - 1e-9)
    return f"{digit * 10.0**power:.0e}".replace("e-0", "e-") if power < -3 else f"{digit * 10.0**power:g}"


def _case_sets(measured: Measured, kinds: Sequence[str]) -> str:
    rows = [
        (
            each["what"],
            each["source"],
            str(each["cases"]),
            str(each["figures"]),
            f"{_about(each['worst'])} {each['unit']}".strip(),
        )
        for kind in kinds
        for each in measured["case_sets"]
        if each["kind"] == kind
    ]
    return _table(("what", "against", "cases", "figures", "worst difference"), rows, right=(2, 3))


def published(measured: Measured) -> str:
    """List the case sets of standards bodies."""
    return _case_sets(measured, ("published",))


def others(measured: Measured) -> str:
    """List the case sets of other code, and of mathematics."""
    return _case_sets(measured, ("separate", "closed form"))


def run(measured: Measured) -> str:
    """Say when, and with what."""
    tools = ", ".join(f"{name} {version}" for name, version in measured["versions"].items())
    return f"Figures of {measured['date']}, made with {tools}."


def rooms(measured: Measured) -> str:
    """Count the tests of the run, by room."""
    found = measured["tests"]["rooms"]
    rows = [
        (room, _ROOMS.get(room, ""), str(count.get("passed", 0)), str(count.get("skipped", 0)))
        for room, count in found.items()
    ]
    totals = (str(sum(count.get(word, 0) for count in found.values())) for word in ("passed", "skipped"))
    return _table(("tests of", "which is", "passed", "skipped"), [*rows, ("all", "", *totals)], right=(2, 3))


def skipped(measured: Measured) -> str:
    """Say why tests were skipped."""
    reasons = measured["tests"]["skipped"]
    if not reasons:
        return "None was skipped in this run."
    return "\n".join(f"- {count} skipped: {reason}" for reason, count in reasons.items())


def browser(measured: Measured) -> str:
    """List the checks of the trip sheet in a browser."""
    found = measured["tests"]["browser"]
    if not found:
        return "No browser was at hand in this run."
    return "\n".join(
        f"- {_sentence(name)}{' (skipped in this run)' if outcome == 'skipped' else ''}"
        for name, outcome in found.items()
    )


def properties(measured: Measured) -> str:
    """List the tests that draw their inputs at random."""
    by_file: dict[str, list[str]] = {}
    for file, name in measured["properties"]:
        by_file.setdefault(file, []).append(_sentence(name))
    return "\n".join(f"- `{file}`: {'; '.join(names)}" for file, names in by_file.items())


def memory(measured: Measured) -> str:
    """Say where figures are from memory."""
    return "\n".join(
        f"- `{file}`" + (f" ({count} places)" if count > 1 else "") for file, count in measured["from_memory"]
    )


def _sentence(name: str) -> str:
    return name.removeprefix("test_").replace("_", " ")


def defaults(_: Measured) -> str:
    """Show the table of `pathprofile.link.assume`."""
    from pathprofile.link.assume import DEFAULTS

    rows = [
        (
            name,
            f"{row.value:g} {row.unit}".strip() if isinstance(row.value, float) else row.value,
            row.source,
        )
        for name, row in DEFAULTS.items()
    ]
    return _table(("left unsaid", "taken", "source"), rows)


def modes(_: Measured) -> str:
    """Show what each mode needs."""
    from pathprofile.station.catalogue import MODES

    rows = [
        (
            f"`{name}`",
            f"{mode.noise_bandwidth_hz:g}",
            f"{mode.readable_snr_db:g}",
            f"{mode.comfortable_snr_db:g}",
            mode.polarization,
            f"{mode.duty:g}",
            f"{mode.source}{f'; {mode.note}' if mode.note else ''}",
        )
        for name, mode in MODES.items()
    ]
    head = (
        "mode",
        "noise bandwidth, Hz",
        "just readable, dB",
        "comfortable, dB",
        "customary",
        "duty",
        "source",
    )
    return _table(head, rows, right=(1, 2, 3, 5))


def verdicts(_: Measured) -> str:
    """Show the verdict words and their limits."""
    from pathprofile.link.words import MARGINAL_FROM, SOLID_FROM, WORKABLE_FROM

    rows = (
        ("solid", f"at least {SOLID_FROM:.0%}", "comfortable copy both ways"),
        ("workable", f"at least {WORKABLE_FROM:.0%}", "just readable copy both ways"),
        ("marginal", f"at least {MARGINAL_FROM:.0%}", "just readable copy both ways"),
        ("unlikely", f"below {MARGINAL_FROM:.0%}", "just readable copy both ways"),
    )
    return _table(("word", "chance", "of"), rows)


def examples(_: Measured) -> str:
    """Show the chance of the pair for a few margins, with the default spreads."""
    from pathprofile.link.chance import Spread, pair_chances
    from pathprofile.link.words import odds_text

    margins = (-10.0, -5.0, 0.0, 5.0, 10.0, 15.0, 20.0)
    alike = pair_chances([(margin, margin) for margin in margins], Spread())
    one_way = pair_chances([(margin, 100.0) for margin in margins], Spread())
    rows = [
        (f"{margin:+g}", odds_text(float(one)), odds_text(float(both)))
        for margin, one, both in zip(margins, one_way.both, alike.both, strict=True)
    ]
    return _table(
        ("margin over just readable, dB", "if one direction alone counts", "if both have that margin"), rows
    )


def antennas(_: Measured) -> str:
    """List the kinds of antennas."""
    from pathprofile.station.catalogue import ANTENNAS

    rows = []
    for name, kind in ANTENNAS.items():
        gain = kind.gain_dbi
        text = (
            f"{gain:g} dBi"
            if isinstance(gain, float)
            else ", ".join(f"{value:g} dBi on {band}" for band, value in gain.items())
        )
        rows.append((f"`{name}`", text, kind.shape, kind.polarization or "as mounted", kind.source))
    return _table(("kind", "gain", "shape", "polarization", "source"), rows)


def cables(_: Measured) -> str:
    """List the cables of the catalogue, with the fit through their figures."""
    from pathprofile.link.feedline import cable_fit
    from pathprofile.station.catalogue import CABLES

    rows = [
        (
            f"`{name}`",
            ", ".join(f"{loss:.1f} at {mhz:g} MHz" for mhz, loss in cable.loss_db_per_100m.items()),
            f"{cable_fit(name).worst_error:.1%}" if len(cable.loss_db_per_100m) > 2 else "",
            cable.source,
        )
        for name, cable in CABLES.items()
    ]
    return _table(("cable", "dB per 100 m", "worst error of the fit", "source"), rows, right=(2,))


def noise(_: Measured) -> str:
    """List the noise categories, with what they give on three bands."""
    from pathprofile.link.noise import external_noise
    from pathprofile.station.catalogue import NOISE_CATEGORIES

    rows = [
        (
            f"`{name}`",
            f"{known.c_db:g} − {known.d_db:g} log f",
            *(f"{external_noise(name, mhz).figure_db:.1f}" for mhz in (50.0, 144.0, 432.0)),
            known.source,
        )
        for name, known in NOISE_CATEGORIES.items()
    ]
    head = ("category", "man-made part, dB over kT₀B, f in MHz", "50 MHz", "144 MHz", "432 MHz", "source")
    return _table(head, rows, right=(2, 3, 4))


def surroundings(_: Measured) -> str:
    """Show what each word for the surroundings stands for."""
    from pathprofile.station.catalogue import SURROUNDINGS

    rows = [
        (f"`{name}`", f"{known.clutter_m:g} m", known.noise_category, known.source)
        for name, known in SURROUNDINGS.items()
    ]
    return _table(("word", "roofs or trees", "noise where none is stated", "source"), rows)


def book_reference(_: Measured) -> str:
    """List every key of a trip book, from the models' own schema."""
    from pathprofile.trip.schema import book_schema_text

    schema = json.loads(book_schema_text())
    definitions = schema["$defs"] | {"Book": schema}
    if set(definitions) != set(SECTIONS) or set(WORDS) != set(SECTIONS):
        raise SystemExit(f"book_words.py lacks or has too much of {set(definitions) ^ set(SECTIONS)}")
    parts = []
    for model, (title, what) in SECTIONS.items():
        fields, words = definitions[model]["properties"], WORDS[model]
        if set(fields) != set(words):
            raise SystemExit(f"book_words.py lacks or has too much of {model}: {set(fields) ^ set(words)}")
        needed = definitions[model].get("required", [])
        rows = [
            (
                f"`{key}`" + (" (needed)" if key in needed else ""),
                _type_words(fields[key]),
                _default_words(fields[key]),
                words[key],
            )
            for key in words
        ]
        table = _table(("key", "accepted", "left out", "meaning"), rows)
        parts.append(f"### {title}\n\n{what}\n\n{table}")
    return "\n\n".join(parts)


def _type_words(field: dict[str, Any]) -> str:
    if "anyOf" in field:
        return " or ".join(_type_words(each) for each in field["anyOf"] if each.get("type") != "null")
    if "$ref" in field:
        return "a table"
    if "enum" in field:
        return ", ".join(f"`{value}`" for value in field["enum"])
    kind = field.get("type")
    if kind in {"number", "integer"}:
        if "minimum" not in field:
            return "a number"
        unit = field.get("description", "").strip("[]")
        if field["minimum"] == field["maximum"]:
            return f"{field['minimum']:g} {unit}"
        return f"{field['minimum']:g} to {field['maximum']:g} {unit}".strip()
    if kind == "array":
        items = _type_words(field["items"])
        return "a list of tables" if items == "a table" else f"a list of {items.removeprefix('a ')}"
    if kind == "object":
        inner = _type_words(field["additionalProperties"])
        known = {"a table": "a table of tables", "a number": "a table of numbers"}
        return known.get(inner, f"a table of numbers, {inner}")
    if kind == "boolean":
        return "`true`, `false`"
    return "a date" if field.get("format") == "date" else "text"


def _default_words(field: dict[str, Any]) -> str:
    value = field.get("default")
    if value is None or value == "" or isinstance(value, dict | list):
        return ""
    return f"`{json.dumps(value)}`"


BLOCKS: Final[dict[str, Callable[[Measured], str]]] = {
    "antennas": antennas,
    "book reference": book_reference,
    "browser": browser,
    "cables": cables,
    "defaults": defaults,
    "examples": examples,
    "from memory": memory,
    "modes": modes,
    "noise": noise,
    "other cases": others,
    "properties": properties,
    "published cases": published,
    "rooms": rooms,
    "run": run,
    "skipped": skipped,
    "surroundings": surroundings,
    "verdicts": verdicts,
}
