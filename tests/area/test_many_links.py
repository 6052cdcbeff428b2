"""Many places to many stations: every loss is that of the single path on its own geodesic."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from pathprofile.area.many_links import FarEnd, Losses, losses_between, site_pieces
from pathprofile.atmosphere import Atmosphere
from pathprofile.errors import OutOfRangeError
from pathprofile.propagation import p1812
from pathprofile.sample import sample_dir, sample_places
from pathprofile.terrain.profile import extract_profile
from pathprofile.terrain.store import TerrainStore

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from pathprofile.area.work import State

AIR = Atmosphere(45.0)
STEP_M = 90.0


def far(name: str, ground_m: float = math.nan) -> FarEnd:
    place = sample_places()[name]
    return FarEnd(place.latitude_deg, place.longitude_deg, ground_m, 8.0, 6.0, 144.3, True, STEP_M)


STATIONS = [far("Marsh End"), far("Quillhaven"), far("Norwater")]


@pytest.fixture(scope="module")
def island() -> Iterator[TerrainStore]:
    with TerrainStore.open([sample_dir()]) as store:
        yield store


@pytest.fixture(scope="module")
def losses(cache_dir: Path, island: TerrainStore) -> Callable[..., Losses]:
    def ask(latitude: Any, longitude: Any, stations: list[FarEnd], **more: Any) -> Losses:
        return losses_between(
            np.asarray(latitude, float),
            np.asarray(longitude, float),
            stations,
            more.pop("terrain", island),
            atmosphere=AIR,
            cache_dir=cache_dir,
            **more,
        )

    return ask


@pytest.fixture(scope="module")
def places() -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(2)
    tor = sample_places()["Gull Tor"]
    return tor.latitude_deg + rng.uniform(-0.02, 0.02, 25), tor.longitude_deg + rng.uniform(-0.02, 0.02, 25)


def test_equal_the_single_path(losses: Any, places: Any, island: TerrainStore) -> None:
    found = losses(*places, STATIONS).loss_db
    for row in range(0, 25, 4):
        for column, station in enumerate(STATIONS):
            profile = extract_profile(
                island,
                places[0][row],
                places[1][row],
                station.latitude_deg,
                station.longitude_deg,
                step_m=STEP_M,
            )
            expected = p1812.predict(
                profile.distance_m / 1000.0,
                profile.ground_m,
                np.zeros(profile.count),
                np.full(profile.count, 4),
                frequency_ghz=0.1443,
                time_percent=50.0,
                tx_antenna_agl_m=6.0,
                rx_antenna_agl_m=8.0,
                polarization="vertical",
                path_centre_latitude_deg=float(np.median(profile.latitude_deg)),
                delta_n=45.0,
                n0=AIR.n0,
            ).loss_db
            # points 2 nm apart, on ground with slopes
            assert found[row, column] == pytest.approx(expected, abs=1e-6)


def test_it_does_not_matter_how_places_are_grouped(losses: Any, places: Any) -> None:
    whole = losses(*places, STATIONS).loss_db
    order = np.random.default_rng(0).permutation(25)
    parts = [
        losses(places[0][rows], places[1][rows], STATIONS, threads=1).loss_db
        for rows in (order[:9], order[9:])
    ]
    assert np.abs(np.concatenate(parts) - whole[order]).max() < 1e-9


def test_stated_ground(losses: Any) -> None:
    tor = sample_places()["Gull Tor"]
    at = ([tor.latitude_deg], [tor.longitude_deg])
    bare, raised = (
        losses(*at, [far("Marsh End"), far("Marsh End", 300.0)], ground_m=[height]).loss_db[0]
        for height in (math.nan, 900.0)
    )
    assert raised[0] < bare[0]  # a higher stand over the same ridges loses less
    assert bare[1] < bare[0]
    assert raised[1] < min(raised[0], bare[1])


def test_beside_the_station_is_free_space(losses: Any) -> None:
    place = sample_places()["Marsh End"]
    found = losses([place.latitude_deg, place.latitude_deg + 1e-3], [place.longitude_deg] * 2, [STATIONS[0]])
    # ITU-R P.525-4 §2.2: 32.4 + 20 log f/MHz + 20 log d/km, at 1 m and at 111.2 m (a thousandth of a degree)
    expected = [32.4 + 20.0 * math.log10(144.3 * d_km) for d_km in (0.001, 0.1112)]
    assert found.loss_db[:, 0] == pytest.approx(expected, abs=0.06)


def test_no_ground_no_loss(losses: Any) -> None:
    away = losses([40.0], [-21.0], STATIONS)
    assert np.isnan(away.loss_db).all()
    at_sea = losses([46.0], [-21.9], [STATIONS[0]], sea_where_missing=True)
    assert np.isfinite(at_sea.loss_db).all()


def test_progress_counts_links(losses: Any, places: Any) -> None:
    states: list[State] = []
    found = losses(*places, STATIONS, progress=states.append)
    assert found.worked == states[-1].done == states[-1].total == 75
    assert states[-1].left_s == 0.0
    assert found.kept == 0


def test_pieces_hold_every_link_once(island: TerrainStore) -> None:
    rng = np.random.default_rng(4)
    latitude, longitude = rng.uniform(46.5, 47.7, 700), rng.uniform(-21.6, -20.6, 700)
    stations = [far(name) for name in sample_places()]
    seen = np.zeros((700, len(stations)), int)
    pieces = site_pieces(latitude, longitude, np.full(700, math.nan), stations, island)
    for rows, piece in pieces:
        seen[np.ix_(rows, np.array(piece.far))] += 1
        assert rows.size * len(piece.far) <= 2000
        _, sources = island.sample(piece.latitude_deg, piece.longitude_deg)
        assert np.unique(sources).size == 1
    assert (seen == 1).all()
    # two tiles of places against four of stations, and more for their number only
    assert len(pieces) >= 8


def test_nothing_asked(losses: Any) -> None:
    assert losses([], [], STATIONS).loss_db.shape == (0, 3)


@pytest.mark.parametrize(
    ("latitude", "station", "reason"),
    [
        ([47.0, 47.1], STATIONS[0], "one length for all"),
        ([47.0], STATIONS[0]._replace(step_m=0.0), "step 0.0 m"),
    ],
)
def test_refusals(losses: Any, latitude: list[float], station: FarEnd, reason: str) -> None:
    with pytest.raises(OutOfRangeError, match=reason):
        losses(latitude, [-21.0], [station])
