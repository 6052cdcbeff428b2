"""Text pasted from mail: lines with a name and a place in any notation."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from pathprofile.places.locators import looks_like_locator
from pathprofile.trip.importing.entry import (
    Entry,
    Remark,
    UnclearError,
    plain_notes,
    read_claim,
    tidy_name,
)
from pathprofile.trip.importing.free_text import take, take_named, take_numbers
from pathprofile.trip.importing.positions import agreed, read_place
from pathprofile.trip.importing.set_up_words import SetUpWords, role_in_name, role_of
from pathprofile.trip.importing.text import check_free_text, numbered, split_lines

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pathprofile.trip.importing.entry import Reading

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
_UNIT = re.compile(r"\s?(?:MHz|GHz|kHz|km|mi|W|watts?)\b", re.IGNORECASE)
_NOTE_PARTS = re.compile(r"\s*(?:[,;\t|…]|\.{3}|\s{2,})\s*")
# A colon within a time of day parts nothing.
_PARTS = re.compile(r"\s*(?:[,;\t|…]|\.{3}|:(?!\d)|(?<!\d):|\s[-–—]\s|\s{2,})\s*")
_MODES_LAST = re.compile(r"(?<=\S)(?:\s(?:FM|NFM|SSB|CW))+$")


class _Found(NamedTuple):
    start: int
    end: int
    text: str


def read_mail(text: str) -> Iterator[Reading]:
    """Stations of a pasted text, a line each.

    A line that holds a place makes a station; what stands before the place is its name, or what follows
    where nothing stands before. A place alone on its line takes its name from the line above. Distance and
    azimuth, and what `free_text` knows of a set-up, are taken where units or names stand beside them; the
    rest becomes one note.

    Yields
    ------
    Entry or Remark
        Lines without any place yield one remark together, at the end.
    """
    check_free_text(text)
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
    before, after = line[: first.start], line[first.end :]
    if above and not _has_letters(before):
        before = f"{above}, "
    texts = [before, after]
    for other in places[1:]:
        texts = [text.replace(other.text, " ") for text in texts]
    words = SetUpWords()
    take_numbers(texts, words)
    claim = read_claim(take(_DISTANCE, texts, whole=True), "", take(_AZIMUTH, texts))
    name_text, rest = _name_and_rest(texts[0], texts[1], words)
    name, doubt = tidy_name(name_text)
    if len(name.split()) > _MOST_WORDS_IN_NAME or _SPEAKER.match(name):
        raise UnclearError(f"a sentence rather than a name stands by {first.text!r}")
    doubts += [doubt] if doubt else []
    rest, role = take_named(rest, words)
    if not role and (role := role_in_name(name)) == "beacon":
        doubts.append("called a beacon, so taken as receive-only")
    if not role and (only_named := role_of(name)):
        doubts.append(f"its name speaks of a {only_named}; taken as a station that answers")
    words.finish(role)
    notes = [part for part in map(_bare, _NOTE_PARTS.split(rest)) if _has_letters(part)]
    return Entry(
        number,
        name,
        location,
        plain_notes(_balanced(", ".join((*notes, *words.leftover)))),
        receive_only=role == "beacon",
        set_up=words.set_up,
        listening_hours=words.listening_hours,
        time_zone=words.time_zone,
        assumed=tuple(words.assumed),
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
        _Found(*m.span(), m[0])
        for m in _LOCATOR.finditer(line)
        if (len(m[0]) >= 6 or m[0][:2].isupper()) and not _UNIT.match(line, m.end())
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


def _name_and_rest(before: str, after: str, words: SetUpWords) -> tuple[str, str]:
    """Name, and the rest of the line: the first part before the place, else the first after it."""
    if not _has_letters(before):
        before, after = after, ""
    parts = [part for part in _PARTS.split(before) if _has_letters(part)]
    while len(parts) > 1 and not any(character.isalpha() for character in parts[0]):
        del parts[0]  # a number in a list, or a greeting in figures
    if not parts:
        raise UnclearError("a place without a name")
    name = _bare(parts[0])
    if modes := _MODES_LAST.search(name):  # "Ann SSB"; small letters may be part of a name
        words.modes(modes[0])
        name = name[: modes.start()]
    rest = _NOTE_PARTS.split(f"{before.partition(parts[0])[2]}, {after}")
    return name, ", ".join(part.strip(" :") for part in rest if _has_letters(part))


def _bare(part: str) -> str:
    part = _LINK_WORDS.sub("", part.strip(" .,;:-–—|*\"'"))
    return part[:-1] if part.endswith(")") and "(" not in part else part


def _balanced(text: str) -> str:
    """Text without brackets that lost their partner when a piece beside them was taken."""
    opened: list[int] = []
    stray = set()
    for at, character in enumerate(text):
        if character == "(":
            opened.append(at)
        elif character == ")":
            if opened:
                opened.pop()
            else:
                stray.add(at)
    stray.update(opened)
    return "".join(character for at, character in enumerate(text) if at not in stray)


def _has_letters(part: str) -> bool:
    return any(character.isalnum() for character in _bare(part))
