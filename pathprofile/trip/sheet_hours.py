"""Listening hours as they fall on the day of a trip, in minutes after local midnight at the site."""

from __future__ import annotations

import datetime as dt
import re
from typing import TYPE_CHECKING, NamedTuple

from pathprofile.errors import StationError

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["Window", "local_midnight", "offset_text", "windows_on", "zone_of"]

_SHIFT = re.compile(r"UTC(?:([+-])(\d{1,2})(?::(\d{2}))?)?")
_HOURS = re.compile(r"(\d{2}):(\d{2})-(\d{2}):(\d{2})")
_DAY_MIN = 24 * 60


class Window(NamedTuple):
    """When a station listens: minutes after local midnight at the site, and the same in UTC."""

    start_min: int
    end_min: int
    start_utc: dt.datetime
    end_utc: dt.datetime


def zone_of(text: str | None) -> dt.tzinfo:
    """Time zone for "UTC", "UTC+2", "UTC-3:30" or a name such as "Europe/Lisbon"; UTC where none is stated.

    Raises
    ------
    StationError
        For anything else.
    """
    if text is None:
        return dt.UTC
    found = _SHIFT.fullmatch(text)
    if found is not None:
        sign, hours, minutes = found.groups()
        shift = dt.timedelta(hours=int(hours or 0), minutes=int(minutes or 0))
        if shift <= dt.timedelta(hours=14, minutes=59):
            return dt.timezone(-shift if sign == "-" else shift)
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

    try:
        return ZoneInfo(text)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise StationError(
            f"time zone {text!r}: accepted UTC, UTC+2, UTC-3:30, or a name such as Europe/Lisbon"
        ) from None


def local_midnight(date: dt.date, zone: dt.tzinfo) -> dt.datetime:
    """Start of a day at the site."""
    return dt.datetime(date.year, date.month, date.day, tzinfo=zone)


def offset_text(date: dt.date, zone: dt.tzinfo) -> str:
    """How UTC follows from local time at noon of that day: "UTC = local + 1 h"."""
    shift = (local_midnight(date, zone) + dt.timedelta(hours=12)).utcoffset() or dt.timedelta()
    minutes = -round(shift.total_seconds() / 60.0)
    if minutes == 0:
        return "UTC = local"
    hours, rest = divmod(abs(minutes), 60)
    amount = f"{hours} h" + (f" {rest:02d} min" if rest else "")
    sign = "+" if minutes > 0 else "\N{MINUS SIGN}"
    return f"UTC = local {sign} {amount}"


def windows_on(
    hours: Sequence[str], station_zone: str | None, date: dt.date, site_zone: dt.tzinfo
) -> tuple[Window, ...]:
    """Find the listening hours of a station that touch a day at the site.

    Parameters
    ----------
    hours : sequence of str
        As stated, "HH:MM-HH:MM" in the station's own time; past midnight where the end comes first.
    station_zone : str, optional
        The station's time zone.
    date : datetime.date
        Day at the site.
    site_zone : datetime.tzinfo

    Returns
    -------
    tuple of Window
        By opening time; cut at neither end of the day.
    """
    zone = zone_of(station_zone)
    midnight = local_midnight(date, site_zone)
    found = []
    for text in hours:
        match = _HOURS.fullmatch(text)
        if match is None:
            raise StationError(f"listening hours {text!r}: accepted HH:MM-HH:MM, such as '18:00-20:00'")
        start, end = (int(match[i]) * 60 + int(match[i + 1]) for i in (1, 3))
        for shift in (-1, 0, 1):  # the station's day is another one where zones lie far apart
            opening = local_midnight(date + dt.timedelta(days=shift), zone) + dt.timedelta(minutes=start)
            closing = opening + dt.timedelta(minutes=(end - start) % _DAY_MIN or _DAY_MIN)
            start_min, end_min = (
                round((moment.astimezone(dt.UTC) - midnight.astimezone(dt.UTC)).total_seconds() / 60.0)
                for moment in (opening, closing)
            )
            if end_min > 0 and start_min < _DAY_MIN:
                found.append(
                    Window(start_min, end_min, opening.astimezone(dt.UTC), closing.astimezone(dt.UTC))
                )
    return tuple(sorted(set(found)))
