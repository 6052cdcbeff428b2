"""Lines for which tiles are needed."""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from pathprofile.errors import StationError
from pathprofile.sample import sample_dir
from pathprofile.trip import Book, ListedStation, Site, read_book, tiles_for

SITE = Site(name="Gull Tor", place="47.74833 -21.00083")


def test_a_point_gets_one_line_with_points_a_kilometre_apart() -> None:
    book = Book(sites=(SITE,), stations=(ListedStation(name="Marsh End", place="46.29750 -20.93750"),))
    (path,) = tiles_for(book).paths
    assert (path.site, path.station) == ("Gull Tor", "Marsh End")
    ends = (path.latitude_deg[0], path.longitude_deg[0], path.latitude_deg[-1], path.longitude_deg[-1])
    assert ends == (47.74833, -21.00083, 46.2975, -20.9375)
    steps = [
        Geodesic.WGS84.Inverse(*a, *b)["s12"]
        for a, b in zip(
            zip(path.latitude_deg, path.longitude_deg, strict=True),
            zip(path.latitude_deg[1:], path.longitude_deg[1:], strict=True),
            strict=False,
        )
    ]
    assert max(steps) <= 1000.0
    assert np.ptp(steps) < 0.01


def test_a_cell_gets_lines_to_its_corners_too() -> None:
    book = Book(sites=(SITE,), stations=(ListedStation(name="Flaxmill", place="HN96nn"),))
    ends = {(round(p.latitude_deg[-1], 4), round(p.longitude_deg[-1], 4)) for p in tiles_for(book).paths}
    # Bounds of HN96nn by the locator's definition: 2.5' by 5' from 46°32.5' N, 20°55' W.
    south, north, west, east = 46 + 32.5 / 60, 46 + 35 / 60, -(20 + 55 / 60), -(20 + 50 / 60)
    corners = {(round(lat, 4), round(lon, 4)) for lat in (south, north) for lon in (west, east)}
    assert corners < ends
    assert len(ends) == 5


def test_pairs_without_a_line_are_named_with_the_reason() -> None:
    book = Book(
        sites=(SITE,),
        stations=(
            ListedStation(name="Somewhere", place="HN97"),
            ListedStation(name="Here", place="47.74833 -21.00083"),
        ),
    )
    answer = tiles_for(book)
    assert answer.paths == ()
    assert [left[:2] for left in answer.left_out] == [("Gull Tor", "Somewhere"), ("Gull Tor", "Here")]
    assert "HN97 is too large a cell" in answer.left_out[0][2]
    assert "same place" in answer.left_out[1][2]


def test_a_book_without_pairs_is_refused() -> None:
    with pytest.raises(StationError, match=r"the book has no station: add one under \[\[stations\]\]"):
        tiles_for(Book(sites=(SITE,)))
    with pytest.raises(StationError, match="the book has no site"):
        tiles_for(Book())


def test_all_pairs_of_the_sample_have_lines() -> None:
    book = read_book(sample_dir() / "trip.toml")
    answer = tiles_for(book)
    named = {(path.site, path.station) for path in answer.paths} | {left[:2] for left in answer.left_out}
    assert len(named) == len(book.sites) * len(book.stations)
