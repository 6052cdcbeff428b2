"""Invented ground, parties and answers for a day out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import rasterio
from rasterio.transform import Affine

from pathprofile.contact import Party
from pathprofile.link.evaluate import Pair
from pathprofile.link.words import verdict
from pathprofile.places import Location, parse_location
from pathprofile.sample import sample_dir, sample_places
from pathprofile.station import Station
from pathprofile.terrain.store import TerrainStore
from pathprofile.trip.answer import PairAnswer
from pathprofile.trip.terms import Terms, wanted_modes

if TYPE_CHECKING:
    from pathlib import Path

DAY = dt.date(2026, 6, 14)
Surface = Callable[[Any, Any], Any]
MakeStore = Callable[..., TerrainStore]
MakeParty = Callable[..., Party]


@pytest.fixture
def make_store(tmp_path: Path) -> MakeStore:
    """One raster over 46.0 to 46.6 N, 21.6 to 21.0 W, of a surface of latitude and longitude."""

    def make(
        surface: Surface, *, cells_a_degree: int = 600, west: float = -21.6, south: float = 46.0
    ) -> TerrainStore:
        step, count = 1.0 / cells_a_degree, round(0.6 * cells_a_degree) + 1
        y = (south + 0.6) - step * np.arange(count)[:, np.newaxis]
        x = west + step * np.arange(count)[np.newaxis, :]
        heights = np.broadcast_to(np.asarray(surface(y, x), float), (count, count)).astype("float32")
        path = tmp_path / f"ground{len(list(tmp_path.iterdir()))}.tif"
        with rasterio.open(
            path,
            "w",
            driver="GTiff",
            width=count,
            height=count,
            count=1,
            dtype="float32",
            crs="EPSG:4326",
            transform=Affine(step, 0, west - step / 2, 0, -step, south + 0.6 + step / 2),
        ) as dataset:
            dataset.write(heights, 1)
        return TerrainStore.open([path])

    return make


@pytest.fixture
def make_party() -> MakeParty:
    """A party at a place, with set-ups as stated or none at all."""

    def make(name: str, place: str, *, unstated: str = "suburb", **station: Any) -> Party:
        return Party(
            Station(name=name, place=place, **station),
            parse_location(place, label=name),
            unstated,  # type: ignore[arg-type]
        )

    return make


@pytest.fixture
def terms() -> Terms:
    return Terms(DAY, wanted_modes([144.3], ["ssb"]))


@pytest.fixture(scope="session")
def island() -> Iterator[TerrainStore]:
    with TerrainStore.open([sample_dir()]) as store:
        yield store


@pytest.fixture
def islander(make_party: MakeParty) -> Callable[..., Party]:
    """A place of the sample island, exact or by its locator."""
    from pathprofile.places.locators import locator

    def make(name: str, characters: int = 0, **more: Any) -> Party:
        place = sample_places()[name]
        text = (
            locator(place.latitude_deg, place.longitude_deg, characters)
            if characters
            else f"{place.latitude_deg:.5f} {place.longitude_deg:.5f}"
        )
        return make_party(name, text, **more)

    return make


def answer(you: str, them: str, chance: float | None, comfortable: float | None = None) -> PairAnswer:
    """A made-up answer; no verdict where there is no chance."""
    at = Location(46.2, -21.3)
    if chance is None:
        return PairAnswer(you, them, at, at, reason="made up: no verdict")
    easy = chance * 0.8 if comfortable is None else comfortable
    return PairAnswer(you, them, at, at, pair=Pair(chance, easy, verdict(chance, easy)))


@pytest.fixture
def make_answer() -> Callable[..., PairAnswer]:
    return answer
