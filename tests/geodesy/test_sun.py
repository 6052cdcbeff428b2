"""The Sun against a published worked example and against what it must do at equinoxes and at noon."""

from __future__ import annotations

import datetime as dt

import pytest

from pathprofile.errors import LocationError
from pathprofile.geodesy import sun_azimuth_deg, sunrise_utc, sunset_utc

GOLDEN = (39.742476, -105.1786)


def _utc(*parts: int) -> dt.datetime:
    return dt.datetime(*parts, tzinfo=dt.UTC)  # type: ignore[arg-type, misc]


def test_published_worked_example() -> None:
    # I. Reda and A. Andreas, Solar Position Algorithm, NREL/TP-560-34302, table A5.1 (from memory): azimuth
    # 194.34024, elevation without refraction 39.872046. Tolerance: the 0.01 degree of these formulas.
    sun = sun_azimuth_deg(*GOLDEN, _utc(2003, 10, 17, 19, 30, 30))
    assert sun.azimuth_deg == pytest.approx(194.34024, abs=0.01)
    assert sun.elevation_deg == pytest.approx(39.872046, abs=0.01)


def test_published_sunrise_and_sunset() -> None:
    # Same report (from memory): sunrise 06:12:43, sunset 17:20:19 at UTC-7; that algorithm gives the events
    # of the UTC day, so its sunset belongs to the local day before.
    rise = sunrise_utc(*GOLDEN, dt.date(2003, 10, 17))
    fall = sunset_utc(*GOLDEN, dt.date(2003, 10, 16))
    assert rise is not None
    assert fall is not None
    assert abs(rise - _utc(2003, 10, 17, 13, 12, 43)) < dt.timedelta(seconds=15)
    assert abs(fall - _utc(2003, 10, 17, 0, 20, 19)) < dt.timedelta(seconds=15)


def test_the_sun_stands_due_south_at_solar_noon() -> None:
    # The equation of time is nil on April 15 (Astronomical Almanac, from memory: within 15 s), so noon at
    # Greenwich is 12 h UTC.
    sun = sun_azimuth_deg(51.4769, 0.0, _utc(2025, 4, 15, 12))
    assert sun.azimuth_deg == pytest.approx(180.0, abs=0.15)
    south = sun_azimuth_deg(-35.0, 0.0, _utc(2025, 4, 15, 12)).azimuth_deg
    assert (south + 180.0) % 360.0 == pytest.approx(180.0, abs=0.15)


@pytest.mark.parametrize("lat", [-50.0, 0.0, 40.0])
def test_at_an_equinox_the_sun_rises_due_east(lat: float) -> None:
    rise = sunrise_utc(lat, 0.0, dt.date(2025, 3, 20))
    fall = sunset_utc(lat, 0.0, dt.date(2025, 3, 20))
    assert rise is not None
    assert fall is not None
    # Refraction and the Sun's radius shift the event by less than 1.1 degrees of azimuth below 50 degrees.
    assert sun_azimuth_deg(lat, 0.0, rise).azimuth_deg == pytest.approx(90.0, abs=1.5)
    assert sun_azimuth_deg(lat, 0.0, fall).azimuth_deg == pytest.approx(270.0, abs=1.5)
    assert dt.timedelta(hours=12) < fall - rise < dt.timedelta(hours=12, minutes=15)


@pytest.mark.parametrize("equinox", [_utc(2025, 3, 20, 9, 1), _utc(2025, 9, 22, 18, 19)])
def test_at_the_equinoxes_the_sun_is_on_the_horizon_of_the_poles(equinox: dt.datetime) -> None:
    # Instants of the equinoxes of 2025, Astronomical Almanac (from memory).
    assert sun_azimuth_deg(90.0, 0.0, equinox).elevation_deg == pytest.approx(0.0, abs=0.01)
    assert sun_azimuth_deg(-90.0, 0.0, equinox).elevation_deg == pytest.approx(0.0, abs=0.01)


def test_solstice_heights_at_the_tropics() -> None:
    # Closed form: at the June solstice (2025 June 21, 02:42 UTC) the declination equals the obliquity, 23.44.
    overhead = max(
        sun_azimuth_deg(23.44, 0.0, _utc(2025, 6, 21, 12, minute)).elevation_deg for minute in range(6)
    )
    assert overhead == pytest.approx(90.0, abs=0.2)


def test_no_sunrise_in_polar_day_and_night() -> None:
    for day in (dt.date(2025, 6, 21), dt.date(2025, 12, 21)):
        assert sunrise_utc(75.0, 20.0, day) is None
        assert sunset_utc(75.0, 20.0, day) is None


def test_a_time_zone_is_honoured() -> None:
    east = dt.timezone(dt.timedelta(hours=2))
    local = dt.datetime(2025, 4, 15, 14, tzinfo=east)
    assert sun_azimuth_deg(46.0, 0.0, local) == sun_azimuth_deg(46.0, 0.0, _utc(2025, 4, 15, 12))


def test_impossible_place() -> None:
    with pytest.raises(LocationError, match="latitude 95 is impossible"):
        sun_azimuth_deg(95, 0.0, _utc(2025, 1, 1))
