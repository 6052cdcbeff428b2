"""Sea, coast and inland from stated stretches and from a two-dimensional sea mask."""

from __future__ import annotations

import numpy as np
import pytest

from pathprofile.errors import OutOfRangeError
from pathprofile.ground.spacing import equally_spaced
from pathprofile.ground.zones import COASTAL, INLAND, SEA, inland, zones_from_stretches, zones_from_terrain


class _Ground:
    """A made-up model: a function of latitude and longitude."""

    def __init__(self, height) -> None:
        self._height = height

    def elevation_m(self, latitude_deg, longitude_deg):
        latitude, longitude = np.broadcast_arrays(latitude_deg, longitude_deg)
        return self._height(latitude, longitude)


def _path(height, longitude=(10.0, 11.0), latitude=45.0, count=801):
    longitudes = np.linspace(*longitude, count)
    latitudes = np.full(count, latitude)
    distance = np.linspace(0.0, 78_847.0, count)
    store = _Ground(height)
    wrapped = (longitudes + 180.0) % 360.0 - 180.0
    return store, distance, store.elevation_m(latitudes, wrapped), latitudes, wrapped


def test_all_inland_by_default() -> None:
    zones = inland(7)
    assert (zones.zone == INLAND).all()
    assert (zones.from_coast_km, zones.to_coast_km, zones.sea_share) == (500.0, 500.0, 0.0)


def test_stated_stretch_of_sea() -> None:
    distance = np.arange(0.0, 200_001.0, 100.0)
    ground = np.where(distance < 30_000, 400.0, 20.0)
    zones = zones_from_stretches(distance, ground, ((60_000.0, 90_000.0),))
    assert set(zones.zone[(distance >= 60_000) & (distance <= 90_000)]) == {SEA}
    assert set(zones.zone[distance < 30_000]) == {INLAND}  # high ground near the sea is inland: table 2
    assert set(zones.zone[(distance > 30_000) & (distance < 60_000)]) == {COASTAL}
    assert zones.zone[distance == 140_000] == COASTAL  # exactly 50 km
    assert zones.zone[distance == 140_100] == INLAND
    assert zones.from_coast_km == 60.0
    assert zones.to_coast_km == 110.0


@pytest.mark.parametrize("stretch", [(5.0, 5.0), (9e4, 8e4), (-1.0, 5.0), (0.0, 9e9)])
def test_impossible_stretch(stretch: tuple[float, float]) -> None:
    distance = np.arange(0.0, 100_001.0, 100.0)
    with pytest.raises(OutOfRangeError, match="give a stretch inside the path"):
        zones_from_stretches(distance, np.zeros_like(distance), (stretch,))


def test_sea_from_terrain_with_coast_beside_the_path() -> None:
    # land on the path, sea a quarter of a degree (28 km) south of it, hills from 10.8° E on
    def height(latitude, longitude):
        return np.where(latitude < 44.75, 0.0, np.where(longitude > 10.8, 300.0, 30.0))

    zones = zones_from_terrain(*_path(height))
    assert zones.sea_share == 0.0
    assert zones.zone[0] == COASTAL
    assert zones.zone[-1] == INLAND
    assert zones.from_coast_km == 500.0


def test_a_polder_and_a_pond_are_no_sea() -> None:
    def polder(latitude, longitude):
        return np.where((longitude > 10.3) & (longitude < 10.7), -3.0, 40.0)

    def pond(latitude, longitude):
        return np.where((np.abs(longitude - 10.5) < 0.02) & (np.abs(latitude - 45) < 0.02), 0.0, 40.0)

    for height in (polder, pond):
        assert (zones_from_terrain(*_path(height)).zone == INLAND).all()


def test_sea_over_the_date_line_and_outside_the_tiles() -> None:
    def height(latitude, longitude):
        return np.where(longitude < 0, np.where(longitude > -179.8, np.nan, 0.0), 5.0)

    zones = zones_from_terrain(*_path(height, longitude=(179.5, 180.15)))
    assert zones.zone[0] == COASTAL
    assert zones.zone[-1] == SEA
    assert zones.to_coast_km == 0.0


def test_equal_spacing_keeps_or_interpolates() -> None:
    even = np.linspace(0.0, 1000.0, 11)
    ground = np.arange(11.0)
    spacing, kept = equally_spaced(even, ground)
    assert spacing == 100.0
    assert kept is ground
    uneven = even.copy()
    uneven[3] += 40.0
    spacing, moved = equally_spaced(uneven, uneven / 100.0)
    np.testing.assert_allclose(moved, even / 100.0, atol=1e-12)
