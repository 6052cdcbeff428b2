"""Degrees, degrees-minutes and degrees-minutes-seconds: read in any customary dress, written in one."""

from __future__ import annotations

import math
import re
from typing import NamedTuple

from pathprofile.errors import LocationError
from pathprofile.places.location import METRES_PER_DEGREE

__all__ = ["DegreePair", "read_degrees", "write_degrees", "write_minutes", "write_seconds"]

_TOKEN = re.compile(
    r"\s*(?:(?P<number>[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+))"
    r"|(?P<word>NORTH|SOUTH|EAST|WEST|DEGREES?|DEG|MINUTES?|MIN|SECONDS?|SEC|[NSEWDM])"
    r"|(?P<sign>[°'\"])|(?P<comma>[;,]))",
    re.IGNORECASE,
)
_KINDS = {"N": "N", "S": "S", "E": "E", "W": "W", "D": "degree", "M": "minute"}
_SIGNS = {"°": "degree", "'": "minute", '"': "second", ",": "comma", ";": "comma"}
_UNITS = ("degree", "minute", "second")
_HEMISPHERES = ("N", "S", "E", "W")
_COMMA_RUN = re.compile(r"[0-9]+(?:,[0-9]+)+")
_NUMBERS = re.compile(r"[0-9]+(?:,[0-9]+)*")


class DegreePair(NamedTuple):
    """A point and the radius that the digits typed leave open."""

    latitude_deg: float
    longitude_deg: float
    uncertainty_m: float


class _Token(NamedTuple):
    kind: str
    text: str


class _Coordinate(NamedTuple):
    value_deg: float
    half_step_deg: float
    hemisphere: str | None


def read_degrees(text: str) -> DegreePair:
    """Read two coordinates in degrees, the latitude first unless letters say otherwise.

    Parameters
    ----------
    text
        Cleaned text: plain digits, plain minus, ``° ' "`` as signs.

    Returns
    -------
    DegreePair

    Raises
    ------
    LocationError
        With the reason alone, for the caller to put into a sentence.

    Notes
    -----
    A comma between digits may be a decimal comma or may part the coordinates. Both readings are tried where
    no decimal point settles it; if both make sense and differ, the text is refused.
    """
    if "." in text or not _COMMA_RUN.search(text):
        return _read_pair(text)
    readings: list[DegreePair] = []
    reasons: list[LocationError] = []
    for reading in (text, _with_decimal_commas(text)):
        if reading is None:
            continue
        try:
            readings.append(_read_pair(reading))
        except LocationError as reason:
            reasons.append(reason)
    if not readings:
        raise reasons[-1]
    if any(reading != readings[0] for reading in readings):
        raise LocationError("its commas can be decimal or part the coordinates; use points or a semicolon")
    return readings[0]


def write_degrees(latitude_deg: float, longitude_deg: float, decimals: int) -> str:
    """Signed decimal degrees, such as ``46.2057 -21.3126``."""
    # Adding 0.0 turns a rounded -0.0 into 0.0.
    latitude, longitude = round(latitude_deg, decimals) + 0.0, round(longitude_deg, decimals) + 0.0
    return f"{latitude:.{decimals}f} {longitude:.{decimals}f}"


def write_minutes(latitude_deg: float, longitude_deg: float, decimals: int) -> str:
    """Degrees and minutes with hemisphere letters, such as ``46°12.34'N 21°18.76'W``."""
    return " ".join(
        _minutes(value, decimals) + "'" + letter for value, letter in _lettered(latitude_deg, longitude_deg)
    )


def write_seconds(latitude_deg: float, longitude_deg: float, decimals: int) -> str:
    """Degrees, minutes and seconds with hemisphere letters, such as ``46°12'20.5"N 21°18'45.4"W``."""
    parts = []
    for value, letter in _lettered(latitude_deg, longitude_deg):
        scale = 10**decimals
        total = round(value * 3600 * scale)
        minutes, seconds = divmod(total, 60 * scale)
        degrees, minutes = divmod(minutes, 60)
        parts.append(f"{degrees}°{minutes:02d}'{_fixed(seconds, decimals)}\"{letter}")
    return " ".join(parts)


def _minutes(value_deg: float, decimals: int) -> str:
    scale = 10**decimals
    degrees, minutes = divmod(round(value_deg * 60 * scale), 60 * scale)
    return f"{degrees}°{_fixed(minutes, decimals)}"


def _fixed(scaled: int, decimals: int) -> str:
    """Two digits and the decimals of an integer number of 10**-decimals."""
    whole, rest = divmod(scaled, 10**decimals)
    return f"{whole:02d}" if decimals == 0 else f"{whole:02d}.{rest:0{decimals}d}"


def _lettered(latitude_deg: float, longitude_deg: float) -> tuple[tuple[float, str], tuple[float, str]]:
    return (
        (abs(latitude_deg), "S" if latitude_deg < 0 else "N"),
        (abs(longitude_deg), "W" if longitude_deg < 0 else "E"),
    )


def _with_decimal_commas(text: str) -> str | None:
    """Read commas between digits as decimal ones; None where that is anyone's guess."""
    runs = _COMMA_RUN.findall(text)
    if any(run.count(",") not in {1, 3} for run in runs):
        return None
    if _NUMBERS.findall(text) == runs and len(runs) == 1 and runs[0].count(",") == 1:
        return None  # one decimal number is no place, so the comma can only part two

    def decimal(match: re.Match[str]) -> str:
        parts = match[0].split(",")
        return ";".join(f"{whole}.{rest}" for whole, rest in zip(parts[::2], parts[1::2], strict=True))

    return _COMMA_RUN.sub(decimal, text)


def _read_pair(text: str) -> DegreePair:
    first, second = (_read_coordinate(half) for half in _halves(_tokens(text)))
    letters = (first.hemisphere, second.hemisphere)
    if None in letters and letters != (None, None):
        raise LocationError("only one coordinate has a hemisphere letter; give both or neither")
    latitude, longitude = (second, first) if first.hemisphere in {"E", "W"} else (first, second)
    if latitude.hemisphere in {"E", "W"} or longitude.hemisphere in {"N", "S"}:
        raise LocationError(
            f"{letters[0]} and {letters[1]} name the same axis; give a latitude and a longitude"
        )
    if abs(latitude.value_deg) > 90.0:
        reason = f"latitude {latitude.value_deg:.10g} is beyond 90 degrees"
        if letters == (None, None) and abs(latitude.value_deg) <= 180.0 and abs(longitude.value_deg) <= 90.0:
            reason += (
                " and the latitude comes first; did you mean"
                f" '{longitude.value_deg:.10g} {latitude.value_deg:.10g}'?"
            )
        raise LocationError(reason)
    if abs(longitude.value_deg) > 180.0:
        raise LocationError(f"longitude {longitude.value_deg:.10g} is beyond 180 degrees")
    east_west = longitude.half_step_deg * math.cos(math.radians(latitude.value_deg))
    uncertainty_m = METRES_PER_DEGREE * max(latitude.half_step_deg, east_west)
    return DegreePair(latitude.value_deg, longitude.value_deg, uncertainty_m)


def _tokens(text: str) -> list[_Token]:
    tokens: list[_Token] = []
    position = 0
    text = text.rstrip()
    while position < len(text):
        match = _TOKEN.match(text, position)
        if match is None:
            word_start = text.rfind(" ", 0, position + 1) + 1
            raise LocationError(f"{text[word_start:].split()[0][:20]!r} is not part of any notation")
        position = match.end()
        if match["number"]:
            tokens.append(_Token("number", match["number"]))
        elif match["word"]:
            word = match["word"]
            long_unit = "second" if word.upper().startswith("SEC") else None
            tokens.append(_Token(long_unit or _KINDS[word[0].upper()], word))
        else:
            mark = match["sign"] or match["comma"]
            tokens.append(_Token(_SIGNS[mark], mark))
    return [_seconds_or_south(tokens, index) for index in range(len(tokens))]


def _seconds_or_south(tokens: list[_Token], index: int) -> _Token:
    """Tell seconds from south: the S of seconds follows minutes and is small or next to a hemisphere."""
    token = tokens[index]
    if token.text not in {"s", "S"} or index < 2:
        return token
    follows_minutes = tokens[index - 1].kind == "number" and tokens[index - 2].kind == "minute"
    is_followed_by_letter = index + 1 < len(tokens) and tokens[index + 1].kind in _HEMISPHERES
    has_letter = is_followed_by_letter or tokens[0].kind in _HEMISPHERES
    if follows_minutes and (token.text == "s" or has_letter):
        return _Token("second", token.text)
    return token


def _halves(tokens: list[_Token]) -> tuple[list[_Token], list[_Token]]:
    """Part the tokens into two coordinates, by the plainest mark there is."""
    kinds = [token.kind for token in tokens]
    numbers = [index for index, kind in enumerate(kinds) if kind == "number"]
    commas = [index for index, kind in enumerate(kinds) if kind == "comma"]
    letters = [index for index, kind in enumerate(kinds) if kind in _HEMISPHERES]
    degree_signs = [index for index, kind in enumerate(kinds) if kind == "degree"]
    later_signed = [index for index in numbers[1:] if tokens[index].text[0] in "+-"]
    if len(numbers) < 2:
        raise LocationError("a place needs two coordinates, a latitude and a longitude")
    if commas:
        if len(commas) > 1:
            raise LocationError("it has too many commas")
        return tokens[: commas[0]], tokens[commas[0] + 1 :]
    if len(letters) == 2:
        middle = letters[1] if letters[0] == 0 else letters[0] + 1
    elif len(degree_signs) == 2:
        middle = degree_signs[1] - 1
    elif len(later_signed) == 1:
        middle = later_signed[0]
    elif len(numbers) in {2, 4, 6}:
        middle = numbers[len(numbers) // 2]
    else:
        raise LocationError("it does not fall into two coordinates; put a comma between them")
    return tokens[:middle], tokens[middle:]


def _read_coordinate(tokens: list[_Token]) -> _Coordinate:
    hemisphere: str | None = None
    if tokens and tokens[0].kind in _HEMISPHERES:
        hemisphere, tokens = tokens[0].kind, tokens[1:]
    elif tokens and tokens[-1].kind in _HEMISPHERES:
        hemisphere, tokens = tokens[-1].kind, tokens[:-1]
    numbers: list[str] = []
    for index, token in enumerate(tokens):
        if token.kind == "number":
            numbers.append(token.text)
        elif (
            index == 0
            or tokens[index - 1].kind != "number"
            or token.kind not in _UNITS[len(numbers) - 1 :][:1]
        ):
            raise LocationError(f"{token.text!r} is out of place")
    if not 1 <= len(numbers) <= 3:
        raise LocationError("a coordinate has degrees, then perhaps minutes, then perhaps seconds")
    is_negative = numbers[0].startswith("-")
    if is_negative and hemisphere:
        raise LocationError(f"it has both a minus sign and {hemisphere}; use one of them")
    if any(number[0] in "+-" for number in numbers[1:]):
        raise LocationError("only degrees may carry a sign")
    if any("." in number for number in numbers[:-1]):
        raise LocationError("only the last of degrees, minutes and seconds may have decimals")
    parts = [float(number.lstrip("+-")) for number in numbers]
    for value, unit in zip(parts[1:], _UNITS[1:], strict=False):
        if value >= 60.0:
            raise LocationError(f"{value:g} {unit}s are not below 60")
    value_deg = sum(part / 60.0**power for power, part in enumerate(parts))
    decimals = len(numbers[-1].partition(".")[2])
    half_step_deg = 0.5 * 10.0**-decimals / 60.0 ** (len(numbers) - 1)
    return _Coordinate(
        -value_deg if is_negative or hemisphere in {"S", "W"} else value_deg, half_step_deg, hemisphere
    )
