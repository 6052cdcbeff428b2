"""Listening hours in the time of the site; clock arithmetic done by hand beside each case."""

from __future__ import annotations

import datetime as dt

import pytest

from pathprofile.errors import StationError
from pathprofile.trip.sheet_hours import offset_text, windows_on, zone_of

DAY = dt.date(2026, 6, 14)


@pytest.mark.parametrize(
    ("hours", "station", "site", "expected"),
    [
        (["18:00-20:00"], "UTC", "UTC-1", [(17 * 60, 19 * 60)]),
        (["18:00-20:00"], "UTC+2", "UTC", [(16 * 60, 18 * 60)]),
        # Summer time in Lisbon is UTC+1 in June.
        (["09:00-10:00"], "Europe/Lisbon", "UTC", [(8 * 60, 9 * 60)]),
        (["20:00-21:00"], "UTC-3:30", "UTC", [(23 * 60 + 30, 24 * 60 + 30)]),
        (["08:00-09:00", "06:00-07:00"], "UTC", "UTC", [(360, 420), (480, 540)]),
        (["00:00-24:00"], "UTC", "UTC", [(0, 1440)]),
    ],
)
def test_windows_in_local_minutes(
    hours: list[str], station: str, site: str, expected: list[tuple[int, int]]
) -> None:
    found = windows_on(hours, station, DAY, zone_of(site))
    inside = [window[:2] for window in found if window.start_min >= 0]
    assert inside == expected


def test_past_midnight_touches_the_day_twice() -> None:
    found = windows_on(["22:00-02:00"], "UTC", DAY, dt.UTC)
    assert [window[:2] for window in found] == [(-120, 120), (1320, 1560)]


def test_a_station_a_day_ahead() -> None:
    # 08:00 on the 15th at UTC+13 is 19:00 UTC on the 14th.
    found = windows_on(["08:00-09:00"], "UTC+13", DAY, dt.UTC)
    assert [window[:2] for window in found] == [(19 * 60, 20 * 60)]
    assert found[0].start_utc == dt.datetime(2026, 6, 14, 19, tzinfo=dt.UTC)


@pytest.mark.parametrize(
    ("zone", "text"),
    [
        ("UTC-1", "UTC = local + 1 h"),
        ("UTC", "UTC = local"),
        ("UTC+5:30", "UTC = local − 5 h 30 min"),
        ("Europe/Lisbon", "UTC = local − 1 h"),
        (None, "UTC = local"),
    ],
)
def test_offset_in_words(zone: str | None, text: str) -> None:
    assert offset_text(DAY, zone_of(zone)) == text


def test_bad_zone_and_bad_hours() -> None:
    with pytest.raises(StationError, match=r"time zone 'Mars/Olympus': accepted UTC, UTC\+2"):
        zone_of("Mars/Olympus")
    with pytest.raises(StationError, match=r"listening hours 'noon': accepted HH:MM-HH:MM"):
        windows_on(["noon"], "UTC", DAY, dt.UTC)
