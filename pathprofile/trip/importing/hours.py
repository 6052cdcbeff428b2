"""Listening hours as people write them: ``18:00-20:00 UTC``, ``1800-2000z``, ``18 to 20 UTC+1``."""

from __future__ import annotations

import re
from typing import NamedTuple

from pathprofile.errors import StationError

__all__ = ["FoundHours", "read_hours", "zone_name"]

_TIME = r"(?:[01]?\d|2[0-4])(?:[:.h]?[0-5]\d)?"
_SPAN = rf"{_TIME}\s?[hz]?\s?(?:[-\u2013\u2014]|to|till|until)\s?{_TIME}"
_ZONE = (
    r"(?:UTC|GMT|UT|Z)(?:\s?[+\-\u2212]\s?\d{1,2}(?::[0-5]\d)?)?|CES?T|WES?T|EES?T|local(?:\stime)?"
    r"|[A-Z][A-Za-z]{2,20}/[A-Z][A-Za-z_]{2,30}"
)
_HOURS = re.compile(
    r"(?P<said>\b(?:listen(?:s|ing)?|active|hours|qrv|on air)\b[\s:]*(?:from\s)?)?"
    rf"(?<![\w.,:/-])(?P<spans>{_SPAN}(?:(?:\s?[,;&+/]\s?|\sand\s){_SPAN})*)\s?(?:h\b|hrs\b|hours\b)?"
    rf"(?:(?<=\d)(?P<z>z)\b|[\s(]*\b(?P<zone>{_ZONE})\b\)?)?(?![\w:-])",
    re.IGNORECASE,
)
_PARTS = re.compile(r"(\d{1,2})[:.h]?(\d\d)?")
_SEVERAL = re.compile(r"\s?[,;&+/]\s?|\sand\s", re.IGNORECASE)
# Offsets that their names mean by definition; others stand for several zones, or for none.
_NAMED_ZONES = {
    **dict.fromkeys(("utc", "gmt", "ut", "z", "wet"), "UTC"),
    **dict.fromkeys(("cet", "west"), "UTC+1"),
    **dict.fromkeys(("cest", "eet"), "UTC+2"),
    "eest": "UTC+3",
}


class FoundHours(NamedTuple):
    """Spans as the book has them, the zone as written (perhaps none), and where they stand in the text."""

    hours: tuple[str, ...]
    zone: str
    start: int
    end: int


def read_hours(text: str, *, said_to_be_hours: bool = False) -> FoundHours | None:
    """Find listening hours in a text; None where it holds none.

    Parameters
    ----------
    text : str
    said_to_be_hours : bool
        Whether the text holds nothing else. Otherwise two bare numbers such as ``18-20`` count only with a
        zone behind them or a word such as ``listens`` before them.
    """
    for match in _HOURS.finditer(text[:2000]):
        spans = [_span(span) for span in _SEVERAL.split(match["spans"])]
        zone = match["zone"] or match["z"] or ""
        plain = all(
            re.search(r"\d[:h]\d\d.*\d[:h]\d\d", span, re.IGNORECASE)
            for span in _SEVERAL.split(match["spans"])
        )
        if all(spans) and (said_to_be_hours or zone or match["said"] or plain):
            return FoundHours(tuple(span for span in spans if span), zone, *match.span())
    return None


def zone_name(written: str) -> str:
    """Zone as the book has it; empty where it is not known."""
    plain = re.sub(r"\s", "", written).replace("\u2212", "-")
    if known := _NAMED_ZONES.get(plain.casefold()):
        return known
    if shifted := re.fullmatch(r"(?:UTC|GMT|UT|Z)([+-].+)", plain, re.IGNORECASE):
        plain = f"UTC{shifted[1]}"
    from pathprofile.station import Station

    try:
        Station(name="zone", place="0 0", time_zone=plain)
    except StationError:
        return ""
    return plain


def _span(text: str) -> str:
    """One span as ``18:00-20:00``; empty where no day has such hours."""
    times = []
    for hour, minute in _PARTS.findall(text):
        if int(hour) > 24 or (int(hour) == 24 and minute not in {"", "00"}):
            return ""
        times.append(f"{int(hour):02d}:{minute or '00'}")
    return "-".join(times) if len(times) == 2 and times[0] != times[1] else ""
