"""What free text says of a set-up, taken out of it piece by piece; what is left stays a note.

A piece that cannot be read is left where it stands, so nothing is lost and nothing is guessed.
"""

from __future__ import annotations

import re
from contextlib import suppress
from typing import TYPE_CHECKING

from pathprofile.errors import OutOfRangeError
from pathprofile.quantities import parse_frequency_mhz
from pathprofile.station.catalogue import ANTENNAS, BANDS, band_of
from pathprofile.trip.importing.hours import read_hours, zone_name
from pathprofile.trip.importing.set_up_words import (
    ELEMENTS,
    HANDHELD,
    Role,
    SetUpWords,
    role_in_name,
)

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["take", "take_named", "take_numbers"]

_NUMBER = r"(?<![\w.,])\d{1,4}(?:[.,]\d{1,2})?"
_LENGTH = r"(?:m|met(?:re|er)s?|ft|feet)"
_STANDING = r"(?:high|up|agl|a\.g\.l\.|above\s(?:the\s)?ground|mast|tower|pole)"
_HEIGHT = re.compile(
    rf"({_NUMBER}\s?{_LENGTH})\s?{_STANDING}(?!\w)"
    rf"|\b(?:height|mast|tower|pole|antenna|ant\.?|aerial)\s?(?:height|is|of|at|up|:|=)?\s?({_NUMBER}\s?{_LENGTH})\b"
    r"(?!\s?(?:band|\d))",
    re.IGNORECASE,
)
_GAIN = re.compile(rf"({_NUMBER}\s?dB[id])\b", re.IGNORECASE)
_ELEMENTS = re.compile(rf"{ELEMENTS}(?:[\s-]?(?:yagi|beam)\b)?", re.IGNORECASE)
_BAND = re.compile(
    r"(?<![\w.,])((?:6|4|2|1[.,]25)\s?(?:m|met(?:re|er)s?)|(?:70|33|23|13)\s?cm)\b(?:\s?band\b)?",
    re.IGNORECASE,
)
_WHOLE_MHZ = re.compile(r"(?<![\w.,])(\d{2,4})\s?MHz\b", re.IGNORECASE)
_POWER = re.compile(rf"({_NUMBER}\s?(?:W|watts?|mW|kW|dBm))\b", re.IGNORECASE)
_TONE = re.compile(
    r"\b(?:tone|ctcss|pl)\s?[:=]?\s?(\d{2,3}(?:[.,]\d)?)\s?(?:Hz\b)?|(?<![\w.,])(\d{2,3}[.,]\d)\s?Hz\b",
    re.IGNORECASE,
)
_MHZ = r"(?<![\w.,])\d{2,4}(?:[.,]\d{1,6})"
_SIGNED = r"[+\-\u2212]\s?\d{1,4}(?:[.,]\d{1,4})?(?:\s?(?:MHz|kHz)\b)?"
_SHIFTED = re.compile(rf"[\s,/(]{{1,2}}({_SIGNED})\)?(?![\w.°])", re.IGNORECASE)
_SHIFT = re.compile(rf"\b(?:shift|offset)\s?[:=]?\s?({_SIGNED})", re.IGNORECASE)
_FREQUENCY = re.compile(
    rf"({_MHZ}(?:\s?MHz\b)?|(?<![\w.,])\d(?:[.,]\d{{1,6}})\s?GHz\b)(?![\w°])", re.IGNORECASE
)

_MODE = re.compile(
    r"\b(narrow[\s-]fm|fm[\s-]narrow|nfm|fm|ssb|usb|lsb|cw|morse|digital[\s-]voice|weak[\s-]digital"
    r"|packet(?:[\s-]?(?:1200|9600|9k6))?|9k6[\s-]packet)\b",
    re.IGNORECASE,
)
_POLARIZATION = re.compile(
    r"\b(vert(?:ical(?:ly)?)?|horiz(?:ontal(?:ly)?)?|slant|circular|[VH](?=[\s-]?pol))\b\.?"
    r"(?:[\s-]?pol(?:ari[sz](?:ed|ation))?\b\.?)?",
    re.IGNORECASE,
)
_KINDS = sorted((name for name in ANTENNAS if "element" not in name), key=len, reverse=True)
_KIND = re.compile(
    r"(?<!\w)("
    + "|".join(re.escape(kind).replace("\\-", r"[\s-]?").replace("\\ ", r"[\s-]?") for kind in _KINDS)
    + r")"
    r"(?!\w)(?:\s(?:antenna|aerial|ant)\b\.?)?",
    re.IGNORECASE,
)
# "HT" before a figure is a height; "handy" is a radio only where it stands alone.
_HANDHELD = re.compile(
    rf"(?<!\w)({HANDHELD}|(?-i:HT)(?![\s:=.]*\d))(?!\w)|(?:^|,)\s*(?:(?:with|an?|my|on|and)\s)*(handy)(?=\s*(?:[,;.]|$))",
    re.IGNORECASE,
)

_ANTENNA_WORD = re.compile(
    r"\b(?:yagi|beam|antenna|aerial|discone|ground[\s-]?plane|halo|quad|turnstile|(?-i:GP))\b", re.IGNORECASE
)
_ANTENNA_HEAD = re.compile(r"^(?:antenna|aerial|ant\.?)\s*[:=]?\s*(?=\w)", re.IGNORECASE)
_BARE_BEAM = re.compile(r"\b(?:yagi|beam)\b", re.IGNORECASE)

# A few words that say what it is; with an article or a preposition they speak of something else.
_CALLED = re.compile(
    r"(?:(?!(?:the|a|an|my|our|near|by|at|of|from|via|through|behind|below|above|no)\b)[\w-]+\s){0,2}\w+",
    re.IGNORECASE,
)
# Words that lead to what was taken and say nothing once it is gone.
_EMPTY = frozenset(
    re.findall(
        r"\w+",
        "a active aerial also an and ant antenna at band beam daily for freq frequency from gain hours in"
        " into is listening listens mast mode modes mostly on only pol polarisation polarised polarization"
        " polarized"
        " power qrg qrv running runs to tower use uses using with yagi",
    )
)


def take(pattern: re.Pattern[str], texts: list[str], *, whole: bool = False) -> str:
    """Take the first match out of the texts: its group that matched, or all of it; empty for none."""
    for position, text in enumerate(texts):
        if match := pattern.search(text):
            texts[position] = f"{text[: match.start()]},{text[match.end() :]}"
            return match[0] if whole else next((group for group in match.groups() if group), "")
    return ""


def take_numbers(texts: list[str], words: SetUpWords) -> None:
    """Take out what stands with a number: hours, tone, frequency and shift, height, antenna, band, power.

    Parameters
    ----------
    texts : list of str
        Changed in place: each piece that is read leaves a comma behind.
    words : SetUpWords
    """
    _take_hours(texts, words)
    if tone := take(_TONE, texts):
        words.tone(tone)
    _take_frequencies(texts, words)
    for pattern, read in ((_HEIGHT, words.height), (_GAIN, words.antenna), (_POWER, words.power)):
        if found := take(pattern, texts):
            read(found)
    _take_elements(texts, words)
    while band := take(_BAND, texts):
        words.bands(re.sub(r"met(?:re|er)s?", "m", band.replace(",", "."), flags=re.IGNORECASE))


def take_named(rest: str, words: SetUpWords) -> tuple[str, Role]:
    """Take out of the rest of a line, its name apart, what is said in words; and what the station is.

    Returns
    -------
    rest : str
        What was not understood.
    role : {"", "beacon", "repeater"}
    """
    texts = [rest]
    while mode := take(_MODE, texts):
        words.modes(mode.replace(" ", "-"))
    if handheld := take(_HANDHELD, texts):
        kind = take(_KIND, texts)
        words.antenna(f"{handheld}, {kind}" if kind else handheld)
        while take(_HANDHELD, texts):  # "HT with rubber duck"
            pass
    elif kind := take(_KIND, texts):
        words.antenna(kind)
    if polarization := take(_POLARIZATION, texts):
        words.polarization(polarization)
    parts = [part.strip() for part in texts[0].split(",")]
    role: Role = ""
    for position, part in enumerate(parts):
        if not role and _CALLED.fullmatch(part) and (role := role_in_name(f"- {part}")):
            parts[position] = "" if " " not in part else part
    if "antenna" not in words.set_up:
        _name_unread_antenna(parts, words)
    return ", ".join(part for part in map(_without_empty, parts) if part), role


def _name_unread_antenna(parts: list[str], words: SetUpWords) -> None:
    """Say of an antenna that is spoken of but not read that a usual one stands in for it."""
    for position, part in enumerate(parts):
        if _ANTENNA_WORD.search(part) and (_BARE_BEAM.search(part) or _without_empty(part)):
            parts[position] = ""
            said = _ANTENNA_HEAD.sub("", part) or part
            reason = f"antenna {said[:40]!r}: name a kind, or a gain in dBi or dBd"
            words.leave("antenna", said, reason, words.antenna_meanwhile())
            return


def _take_hours(texts: list[str], words: SetUpWords) -> None:
    for position, text in enumerate(texts):
        found = read_hours(text)
        if found is None or (found.zone and not zone_name(found.zone)):
            continue
        words.hours(text[found.start : found.end])
        texts[position] = f"{text[: found.start]},{text[found.end :]}"
        return


def _take_frequencies(texts: list[str], words: SetUpWords) -> None:
    """One frequency, with a repeater's shift behind it or named; several are bands and a note."""
    shift = take(_SHIFT, texts)
    found: list[str] = []
    for position, text in enumerate(texts):
        match = next((m for m in _FREQUENCY.finditer(text) if _is_frequency(m[1])), None)
        while match is not None:
            found.append(match[1])
            behind = _SHIFTED.match(text, match.end()) if not shift else None
            shift = behind[1] if behind else shift
            end = behind.end() if behind else match.end()
            text = f"{text[: match.start()]},{text[end:]}"  # noqa: PLW2901 - what is left is searched again
            match = next((m for m in _FREQUENCY.finditer(text) if _is_frequency(m[1])), None)
        texts[position] = text
    for whole in _taken_while(texts, lambda mhz: band_of(float(mhz)) in BANDS):
        words.bands(band_of(float(whole)))
    if len(found) == 1:
        words.frequency(found[0])
    elif found:
        for each in found:
            with suppress(OutOfRangeError):  # the note below tells it
                words.bands(band_of(parse_frequency_mhz(each)))
        words.leave("frequencies", " and ".join(found), "several frequencies, and a set-up has one")
    if shift:
        words.shift(shift)


def _taken_while(texts: list[str], fits: Callable[[str], bool]) -> list[str]:
    """Whole numbers of MHz that name a band, as "144 MHz" does."""
    taken = []
    for position, text in enumerate(texts):
        for match in reversed(list(_WHOLE_MHZ.finditer(text))):
            if 30 <= int(match[1]) <= 3000 and fits(match[1]):
                taken.append(match[1])
                texts[position] = f"{texts[position][: match.start()]},{texts[position][match.end() :]}"
    return taken[::-1]


def _is_frequency(text: str) -> bool:
    """Whether a number is a frequency: by its unit, three decimals, or an amateur band that holds it."""
    if re.search(r"[MG]Hz", text, re.IGNORECASE):
        return True
    whole, _, decimals = text.replace(",", ".").partition(".")
    value = float(f"{whole}.{decimals}")
    if not 30.0 <= value <= 3000.0:
        return False
    is_band = any(band.lowest_mhz <= value <= band.highest_mhz for band in BANDS.values())
    return len(decimals) >= 3 or (is_band and (len(whole) > 2 or len(decimals) == 2))


def _take_elements(texts: list[str], words: SetUpWords) -> None:
    """Take a beam by its elements, alone or with "yagi" before them."""
    for position, text in enumerate(texts):
        if (match := _ELEMENTS.search(text)) and int(match[1]) > 1:
            words.antenna(match[0])
            texts[position] = f"{text[: match.start()]},{text[match.end() :]}"
            return


def _without_empty(part: str) -> str:
    """Part, or nothing where only words are left that led to what was taken."""
    left = part.strip(" .()[]-–—/&+").split(" ")
    if all(word.casefold().strip(".()/&+") in _EMPTY or not word.strip("./&+()") for word in left):
        return ""
    return part
