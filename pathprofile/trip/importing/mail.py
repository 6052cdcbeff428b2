"""Text pasted from mail: lines with a name and a place in any notation."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from pathprofile.places.locators import looks_like_locator
from pathprofile.trip.importing.entry import (
    Entry,
    Remark,
    SetUpWords,
    UnclearError,
    plain_notes,
    read_claim,
    tidy_name,
)
from pathprofile.trip.importing.positions import agreed, read_place
from pathprofile.trip.importing.text import numbered, split_lines

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pathprofile.trip.importing.entry import Claim, Reading

__all__ = ["read_line", "read_mail"]

_LONGEST_PROSE = 2_000
_MOST_WORDS_IN_NAME = 7

# One coordinate: degrees, perhaps minutes, perhaps seconds, with signs or letters as people write them.
_COORDINATE = (
    r"(?:\b[NSEW]\s?)?[-+\u2212]?\d{1,3}(?:[.,]\d{1,15})?"
    r"(?:\s?(?:[°º]|deg\b|d\b)(?:\s?\d{1,2}(?:[.,]\d{1,12})?\s?(?:['′’]|min\b|m\b)"
    r"(?:\s?\d{1,2}(?:[.,]\d{1,10})?\s?(?:\"|″|”|''|s\b))?)?)?(?:\s?[NSEW]\b)?"
)
_PAIR = re.compile(
    rf"(?<![\d.,])(?P<first>{_COORDINATE})(?:\s?[,;/]\s?|\s{{1,3}})(?P<second>{_COORDINATE})(?![\d.])",
    re.IGNORECASE,
)
_NAMED_PAIR = re.compile(
    rf"\blat(?:itude)?\.?\s?[:=]?\s?(?P<first>{_COORDINATE})\s?[,;]?\s?"
    rf"\b(?:lon|lng|long|longitude)\.?\s?[:=]?\s?(?P<second>{_COORDINATE})",
    re.IGNORECASE,
)
_SPACED = r"\d{1,3}\s\d{1,2}(?:[.,]\d{1,12})?(?:\s\d{1,2}(?:[.,]\d{1,10})?)?"
_SPACED_PAIR = re.compile(
    rf"\b(?P<first>{_SPACED}\s?[NS])\b\s?[,;/]?\s?(?P<second>{_SPACED}\s?[EW])\b"
    rf"|\b(?P<third>[NS]\s?{_SPACED})\s?[,;/]?\s?(?P<fourth>[EW]\s?{_SPACED})\b",
    re.IGNORECASE,
)
_GRID = re.compile(
    r"\b(?:UTM )?\d{1,2} ?(?:[C-HJ-NP-X]) \d{6}(?:\.\d+)? ?(?:m?E)? ?[ ,;] ?\d{7}(?:\.\d+)?(?: ?m?N)?\b"
    r"|\b\d{1,2} ?[C-HJ-NP-X] ?[A-HJ-NP-Z]{2} ?(?:\d{2,5} \d{2,5}|\d{4}|\d{6}|\d{8}|\d{10})\b",
    re.IGNORECASE,
)
_LOCATOR = re.compile(r"\b[A-R]{2}\d{2}(?:[A-X]{2}(?:\d{2}(?:[A-X]{2})?)?)?\b", re.IGNORECASE)

_DISTANCE = re.compile(r"(?<![\w.,])(\d{1,5}(?:[.,]\d{1,3})?)\s?(km|mi|miles|nmi|nm)\b", re.IGNORECASE)
_AZIMUTH = re.compile(
    r"\b(?:az(?:imuth)?|bearing|brg|heading)\.?\s?[:=]?\s?(\d{1,3}(?:\.\d)?)|(?<![\w.,])(\d{1,3})\s?(?:°|deg\b|degrees\b)",
    re.IGNORECASE,
)
_FREQUENCY = re.compile(r"(?<![\w.,])(\d{2,4}(?:[.,]\d{1,6})?\s?MHz|\d{2,4}[.,]\d{3,6})\b", re.IGNORECASE)
_POWER = re.compile(r"(?<![\w.,])(\d{1,4}(?:[.,]\d)?)\s?(?:W|watts?)\b", re.IGNORECASE)
_TONE = re.compile(r"\b(?:tone|ctcss|pl)\s?[:=]?\s?(\d{2,3}(?:[.,]\d)?)\s?(?:Hz)?\b", re.IGNORECASE)
_LEADER = re.compile(r"^(?:[>|\s]+|[-*•·–]\s+|\d{1,3}[.)]\s+|\(\d{1,3}\)\s+)+")
_GREETING = re.compile(
    r"^(?:dear|hello|hi|hey|good (?:morning|day|evening))\b[^,;:.!\d]{0,40}[,;:.!]\s*", re.IGNORECASE
)
_ITEM = re.compile(r"^[>|\s]*(?:[-*•·–]|\d{1,3}[.)]|\(\d{1,3}\))\s")
_SPEAKER = re.compile(
    r"(?:i|i['’]?m|we|we['’]?re|my|our|you|your|he|she|it|they|there|here|this)\b", re.IGNORECASE
)
_LINK_WORDS = re.compile(
    r"(?:[\s,;:=(–-]|\b(?:is|at|in|near|loc(?:ator)?|grid|square|qth|from|position|coordinates|coords|gps|utm|mgrs|lat"
    r"|the|located|@)\b)+$",
    re.IGNORECASE,
)
_UNIT = re.compile(r"\s?(?:MHz|GHz|kHz|km|mi|W)\b", re.IGNORECASE)
_PARTS = re.compile(r"\s*(?:[,;:\t|]|\s[-–—]\s|\s{2,})\s*")


class _Found(NamedTuple):
    start: int
    end: int
    text: str


def read_mail(text: str) -> Iterator[Reading]:
    """Stations of a pasted text, a line each.

    A line that holds a place makes a station; what stands before the place is its name, or what follows
    where nothing stands before. A place alone on its line takes its name from the line above. Distance,
    azimuth, frequency, power and tone are taken where their units or names stand beside them.

    Yields
    ------
    Entry or Remark
        Lines without any place yield one remark together, at the end.
    """
    prose = []
    above = ""
    for number, raw in enumerate(split_lines(text), start=1):
        if not raw.strip():
            continue
        if len(raw) > _LONGEST_PROSE:
            yield Remark(number, "", f"a line of {len(raw)} characters; left out")
            continue
        try:
            entry = read_line(raw, number, above=above)
        except UnclearError as reason:
            yield Remark(number, "", f"{reason}; left out")
            above = ""
            continue
        above = "" if entry else _LEADER.sub("", raw).strip()[:200]
        if entry:
            yield entry
        elif _ITEM.match(raw):
            yield Remark(number, "", f"no place found in {plain_notes(raw)[:60]!r}; left out")
        else:
            prose.append(number)
    if prose:
        yield Remark(prose[0], "", f"no place found on {numbered(prose)}; passed over")


def read_line(raw: str, number: int, *, above: str = "") -> Entry | None:
    """Station of one line of free text; None where it holds no place.

    Parameters
    ----------
    raw : str
        The line.
    number : int
        Its number.
    above : str
        The line above, for a place that stands alone.

    Raises
    ------
    UnclearError
        Where a place is there but cannot be read, or the name cannot be told.
    """
    line = _LEADER.sub("", raw.replace("\u00a0", " ").replace("\t", "  ")).rstrip()
    line = _GREETING.sub("", line)
    places = _places(line)
    if not places:
        return None
    first = places[0]
    location = read_place(first.text)
    doubts = []
    for other in places[1:]:
        if not looks_like_locator(other.text.upper()):
            raise UnclearError(f"two places, {first.text!r} and {other.text!r}, on one line")
        if location.cell is not None and not (
            first.text.upper().startswith(other.text.upper())
            or other.text.upper().startswith(first.text.upper())
        ):
            raise UnclearError(f"two places, {first.text!r} and {other.text!r}, on one line")
        if location.cell is not None and len(other.text) > len(first.text):
            location = read_place(other.text)
        elif location.cell is None and (complaint := agreed(location, other.text)):
            doubts.append(complaint)
    texts = [line[first.end :], line[: first.start]]
    for other in places[1:]:
        texts = [text.replace(other.text, " ") for text in texts]
    words = SetUpWords()
    claim = _facts(texts, words)
    name_text, notes = _name_and_notes(texts[1], texts[0], above)
    name, doubt = tidy_name(name_text)
    if len(name.split()) > _MOST_WORDS_IN_NAME or _SPEAKER.match(name):
        raise UnclearError(f"a sentence rather than a name stands by {first.text!r}")
    doubts += [doubt] if doubt else []
    return Entry(
        number,
        name,
        location,
        plain_notes(notes),
        set_up=words.set_up,
        claim=claim,
        doubts=(*doubts, *words.doubts),
    )


def _places(line: str) -> list[_Found]:
    """Places in a line, coordinates first; text that is part of one is not read again as another."""
    found = [
        _Found(*m.span(), f"{m['first'].strip()}; {m['second'].strip()}") for m in _NAMED_PAIR.finditer(line)
    ]
    found += [
        _Found(*m.span(), f"{m['first'] or m['third']}; {m['second'] or m['fourth']}")
        for m in _SPACED_PAIR.finditer(line)
    ]
    found += [_Found(*m.span(), m[0].strip(" ,;")) for m in _GRID.finditer(line)]
    found += _pairs(line)
    # Small words with digits in them, such as "of10", are rarely locators; capitals or length tell.
    found += [
        _Found(*m.span(), m[0]) for m in _LOCATOR.finditer(line) if len(m[0]) >= 6 or m[0][:2].isupper()
    ]
    apart: list[_Found] = []
    for place in found:
        if all(place.end <= other.start or place.start >= other.end for other in apart):
            apart.append(place)
    return apart


def _pairs(line: str) -> Iterator[_Found]:
    at = 0
    while match := _PAIR.search(line, at):
        if _is_pair(match["first"], match["second"]) and not _UNIT.match(line, match.end()):
            yield _Found(match.start(), match.end(), f"{match['first'].strip()}; {match['second'].strip()}")
            at = match.end()
        else:
            at = match.end("first")


def _is_pair(first: str, second: str) -> bool:
    """Whether two numbers are coordinates: letters or degree signs on both, or two decimals on both."""
    for sign in (r"[NSEW]", r"[°º]|deg|\dd\b"):
        if re.search(sign, first, re.IGNORECASE) and re.search(sign, second, re.IGNORECASE):
            return True
    has_decimals = all(re.search(r"[.,]\d\d", number) for number in (first, second))
    return has_decimals and float(re.sub(r"[^\d.]", "", first.replace(",", "."))) <= 90.0


def _facts(texts: list[str], words: SetUpWords) -> Claim:
    """Take out of the texts what has a unit or a name of its own."""
    tone = _take(_TONE, texts)
    frequency = _take(_FREQUENCY, texts)
    distance = _take(_DISTANCE, texts)
    azimuth = _take(_AZIMUTH, texts)
    words.tone(tone)
    words.frequency(frequency)
    words.power(_take(_POWER, texts))
    return read_claim(distance, "", azimuth)


def _take(pattern: re.Pattern[str], texts: list[str]) -> str:
    for position, text in enumerate(texts):
        if match := pattern.search(text):
            texts[position] = f"{text[: match.start()]},{text[match.end() :]}"
            value = next((group for group in match.groups() if group), "")
            return match[0] if pattern is _DISTANCE else value
    return ""


def _name_and_notes(before: str, after: str, above: str) -> tuple[str, str]:
    """Name, and the rest of the line: the first part before the place, else after it, else the line above."""
    parts = [part for part in _PARTS.split(before) if _has_letters(part)]
    rest = [part for part in _PARTS.split(after) if _has_letters(part)]
    while len(parts) > 1 and not any(character.isalpha() for character in parts[0]):
        del parts[0]  # a number in a list, or a greeting in figures
    if parts:
        return _bare(parts[0]), "; ".join(_bare(part) for part in (*parts[1:], *rest))
    if above and _has_letters(above):
        return _bare(_PARTS.split(above)[0]), "; ".join(_bare(part) for part in rest)
    if rest:
        return _bare(rest[0]), "; ".join(_bare(part) for part in rest[1:])
    raise UnclearError("a place without a name")


def _bare(part: str) -> str:
    part = _LINK_WORDS.sub("", part.strip(" .,;:-–—|*\"'"))
    return part[:-1] if part.endswith(")") and "(" not in part else part


def _has_letters(part: str) -> bool:
    return any(character.isalnum() for character in _bare(part))
