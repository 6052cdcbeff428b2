"""Scouting: on a plateau the brink facing the station wins, by what a knife edge costs; and why."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import rasterio
from rasterio.transform import Affine

from pathprofile import geodesy
from pathprofile.area.candidates import cell_m_of, field_within
from pathprofile.area.mask import mask_from
from pathprofile.area.scout import Scouting, scout
from pathprofile.area.scout_search import Means, Search, wanted_from
from pathprofile.area.scout_words import edge_ahead_m
from pathprofile.contact import Party, contact
from pathprofile.errors import LocationError, OutOfRangeError, PathProfileError, TerrainGapError
from pathprofile.places import Location, parse_location
from pathprofile.sample import sample_dir, sample_places
from pathprofile.station import Station
from pathprofile.terrain.store import TerrainStore
from pathprofile.trip.terms import Terms, wanted_modes

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from pathprofile.area.work import State

LATITUDE, LONGITUDE = 46.30, -21.40
EASTBY_LONGITUDE = LONGITUDE + 0.6
BRINK_M = 700.0
MAST_M = 80.0
"""Of Eastby: high enough that the plain before it costs nothing."""
STEP_DEG = 1.0 / 1800.0
"""About 43 m from west to east and 62 m from south to north."""
TERMS = Terms(dt.date(2026, 6, 14), wanted_modes([144.3], ["ssb"]))


def party(name: str, latitude: float, longitude: float, **more: Any) -> Party:
    text = f"{latitude:.5f} {longitude:.5f}"
    return Party(Station(name=name, place=text, **more), parse_location(text, label=name), "open")


def _metres_per_degree() -> tuple[float, float]:
    north = geodesy.inverse(LATITUDE, LONGITUDE, LATITUDE + 0.01, LONGITUDE).distance_m
    east = geodesy.inverse(LATITUDE, LONGITUDE, LATITUDE, LONGITUDE + 0.01).distance_m
    return north * 100.0, east * 100.0


def _plateau(latitude: np.ndarray, longitude: np.ndarray) -> np.ndarray:
    """Ground on which the best place is known.

    A plateau at 400 m, flat to 700 m each way, then 20° down to a plain at 100 m; in its middle a knoll of
    2 m. Half-way to Eastby a wall to 180 m: the line from the brink just clears it, one from lower does not.
    """
    north_m, east_m = _metres_per_degree()
    x, y = (longitude - LONGITUDE) * east_m, (latitude - LATITUDE) * north_m
    beyond = np.maximum(np.maximum(np.abs(x), np.abs(y)) - BRINK_M, 0.0)
    knoll = 2.0 * np.exp(-(x**2 + y**2) / 60.0**2)
    wall = 180.0 - np.abs(longitude - EASTBY_LONGITUDE + 0.3) * east_m / 3.0
    return np.maximum(np.maximum(400.0 - math.tan(math.radians(20.0)) * beyond, 100.0) + knoll, wall)


@pytest.fixture(scope="module")
def plateau(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TerrainStore]:
    rows, columns = round(0.2 / STEP_DEG) + 1, round(0.9 / STEP_DEG) + 1
    north, west = LATITUDE + 0.1, LONGITUDE - 0.1
    latitude = (north - STEP_DEG * np.arange(rows))[:, np.newaxis]
    longitude = (west + STEP_DEG * np.arange(columns))[np.newaxis, :]
    path = tmp_path_factory.mktemp("plateau") / "plateau.tif"
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=columns,
        height=rows,
        count=1,
        dtype="float32",
        crs="EPSG:4326",
        transform=Affine(STEP_DEG, 0, west - STEP_DEG / 2, 0, -STEP_DEG, north + STEP_DEG / 2),
    ) as dataset:
        dataset.write(_plateau(latitude, longitude).astype("float32"), 1)
    with TerrainStore.open([path]) as store:
        yield store


@pytest.fixture(scope="module")
def island() -> Iterator[TerrainStore]:
    with TerrainStore.open([sample_dir()]) as store:
        yield store


def islander(name: str, **more: Any) -> Party:
    place = sample_places()[name]
    return party(name, place.latitude_deg, place.longitude_deg, **more)


YOU = party("Tableland", LATITUDE, LONGITUDE)
EASTBY = party("Eastby", LATITUDE, EASTBY_LONGITUDE, set_ups=({"bands": ["2 m"], "height_m": MAST_M},))


@pytest.fixture(scope="module")
def look(cache_dir: Path) -> Callable[..., Scouting]:
    def ask(
        you: Party, stations: list[Party], terrain: TerrainStore, terms: Terms = TERMS, **more: Any
    ) -> Scouting:
        return scout(you, stations, terrain, terms, cache_dir=cache_dir, **more)

    return ask


@pytest.fixture(scope="module")
def found(look: Any, plateau: TerrainStore) -> Scouting:
    return look(YOU, [EASTBY], plateau, within_m=1200.0, most=3, most_candidates=300)


def east_north_m(location: Location) -> tuple[float, float]:
    north_m, east_m = _metres_per_degree()
    return (location.longitude_deg - LONGITUDE) * east_m, (location.latitude_deg - LATITUDE) * north_m


class TestPlateau:
    def test_the_brink_beats_the_middle(self, found: Scouting) -> None:
        best = found.places[0]
        assert east_north_m(best.location)[0] == pytest.approx(BRINK_M, abs=1.5 * found.cell_m)
        assert best.ground_m < found.spot_ground_m  # although the middle is higher
        assert best.azimuth_deg == pytest.approx(
            math.degrees(math.atan2(*east_north_m(best.location))) % 360.0, abs=1.0
        )
        assert best.found_as == "edge toward Eastby"

    def test_gain_is_what_the_brink_cost_as_a_knife_edge(self, found: Scouting) -> None:
        """Bullington with one edge below the sight line, ITU-R P.1812-8 eqs 12 to 21; from the brink none."""
        whole_m = geodesy.inverse(LATITUDE, LONGITUDE, LATITUDE, LONGITUDE + 0.6).distance_m
        wavelength_m = 299.8 / 144.3
        radius_m = 6_371_000.0 * 157.0 / (157.0 - 45.0)  # P.1812-8 eqs 6 and 7 with 45 N-units a km
        ends_m = (402.0 + 8.0, 100.0 + MAST_M)  # 8 m: common practice where no antenna height is stated
        line_m = ends_m[0] + (ends_m[1] - ends_m[0]) * BRINK_M / whole_m
        edge_m = 400.0 + BRINK_M * (whole_m - BRINK_M) / (2.0 * radius_m)
        nu = (edge_m - line_m) * math.sqrt(2.0 * whole_m / (wavelength_m * BRINK_M * (whole_m - BRINK_M)))
        assert -0.78 < nu < 0.0
        knife_db = 6.9 + 20.0 * math.log10(math.sqrt((nu - 0.1) ** 2 + 1.0) + nu - 0.1)
        cost_db = knife_db + (1.0 - math.exp(-knife_db / 6.0)) * (10.0 + 0.02 * whole_m / 1000.0)
        best = found.places[0].stations[0]
        # the map has the edge up to a cell nearer or farther
        assert best.margin_gain_db == pytest.approx(cost_db, abs=1.0)
        assert best.chance_gain > 0.0

    def test_why(self, found: Scouting) -> None:
        why = found.places[0].why
        assert "on the edge toward Eastby" in why
        assert any(phrase.endswith("less loss to Eastby") for phrase in why)
        assert "2 m lower" in why

    def test_what_is_said(self, found: Scouting) -> None:
        assert "terrain only; not checked for access, cliffs, snow, power lines" in found.notes
        assert any(f"shorter than {2.0 * found.cell_m:.0f} m" in note for note in found.notes)
        assert found.spot == YOU.location
        assert found.spot_is_given
        assert found.cell_m == pytest.approx(43.0, abs=1.0)

    def test_no_place_is_too_near_or_too_steep_or_too_far(self, found: Scouting) -> None:
        assert found.places
        for place in found.places:
            assert 2.0 * found.cell_m <= place.distance_m <= 1200.0
            assert place.slope_deg <= 25.0

    def test_order(self, found: Scouting) -> None:
        margins = [place.stations[0].margin_gain_db or 0.0 for place in found.places]
        assert margins == sorted(margins, reverse=True)
        assert all(
            place.gain == pytest.approx(place.contacts - found.spot_contacts) for place in found.places
        )

    def test_edge_ahead(self, plateau: TerrainStore) -> None:
        for east_m in (0.0, 300.0, 600.0):
            at = geodesy.direct(LATITUDE, LONGITUDE, 90.0, east_m)
            here = Location(float(at[0]), float(at[1]))
            ahead_m = edge_ahead_m(here, EASTBY.location, plateau, 43.0)
            assert ahead_m == pytest.approx(BRINK_M - east_m, abs=43.0)
        there = Location(LATITUDE, LONGITUDE + 0.2)  # on the plain
        assert edge_ahead_m(there, EASTBY.location, plateau, 43.0) is None


class TestSame:
    def test_again_and_in_one_thread(self, look: Any, found: Scouting, plateau: TerrainStore) -> None:
        again = look(YOU, [EASTBY], plateau, within_m=1200.0, most=3, most_candidates=300, threads=1)
        assert again == found

    def test_answers_are_those_of_the_contact(self, found: Scouting, plateau: TerrainStore) -> None:
        best = found.places[0]
        there = replace(YOU, location=best.location)
        alone = contact(there, EASTBY, plateau, date=TERMS.date, frequency_mhz=144.3, mode="ssb")
        assert best.contacts == alone.link.pair.chance
        assert best.stations[0].after.out_margin_db == alone.link.out.budget.margin_db  # type: ignore[union-attr]

    def test_weights_decide(self, look: Any, plateau: TerrainStore) -> None:
        westby = party("Westby", LATITUDE, LONGITUDE - 0.09)
        east, west = (
            look(
                YOU,
                [EASTBY, westby],
                plateau,
                replace(TERMS, weights=weights),
                within_m=1000.0,
                most=1,
                most_candidates=60,
            )
            for weights in ({"Westby": 0.0}, {"Eastby": 0.0})
        )
        assert east_north_m(east.places[0].location)[0] > 300.0
        assert east.left_out == (("Westby", "not wanted"),)
        assert west.left_out == (("Eastby", "not wanted"),)
        assert [gain.station for gain in west.places[0].stations] == ["Westby"] if west.places else True


class TestRefining:
    @pytest.fixture
    def search(self, island: TerrainStore, cache_dir: Path) -> Search:
        you = islander("Ravel Head")
        at = you.location
        cell_m = cell_m_of(island, at.latitude_deg, at.longitude_deg, 2000.0)
        field = field_within(at.latitude_deg, at.longitude_deg, 2000.0, cell_m, island)
        wanted, left_out = wanted_from(you, [islander("Norwater"), islander("Sandry")], island, TERMS)
        assert left_out == ()
        return Search(
            field,
            wanted,
            island,
            TERMS,
            Means(2, None, None, cache_dir, None),
            you,
            reach_ground(you, island),
        )

    def test_is_never_worse_and_ends_on_a_top(self, search: Search) -> None:
        field = search.field
        rows, columns = np.nonzero(field.allowed)
        seeds = list(zip(rows[::331].tolist(), columns[::331].tolist(), strict=True))
        search.judge("looking", seeds)
        looked_at = search.looked_at
        refined = search.refine(seeds, 8)
        assert search.looked_at > looked_at
        gains = [search.score(end) - search.score(start) for start, end in zip(seeds, refined, strict=True)]
        assert min(gains) >= 0.0
        assert max(gains) > 0.0
        for row, column in refined:
            assert field.allowed[row, column]
            around = [
                (r, c)
                for r in range(row - 1, row + 2)
                for c in range(column - 1, column + 2)
                if 0 <= r < field.grid.shape[0] and 0 <= c < field.grid.shape[0] and field.allowed[r, c]
            ]
            search.judge("checking", around)
            assert search.score((row, column)) == max(search.score(node) for node in around)

    def test_nothing_is_worked_out_twice(self, search: Search) -> None:
        node = (search.field.grid.half, search.field.grid.half)
        search.judge("looking", [node])
        worked = search.worked
        search.judge("looking", [node, node])
        assert search.worked == worked

    def test_loss_at_the_spot_is_that_of_the_whole_answer(self, search: Search, island: TerrainStore) -> None:
        """The middle node is the spot, so its score is that of the chances answered in full."""
        middle = (search.field.grid.half, search.field.grid.half)
        search.judge("looking", [middle])
        chance = sum(
            contact(
                islander("Ravel Head"),
                islander(name),
                island,
                date=TERMS.date,
                frequency_mhz=144.3,
                mode="ssb",
            ).link.pair.chance
            for name in ("Norwater", "Sandry")
        )
        # tables of chances are good to 0.005 each; loss weighs 1e-4 a dB
        assert search.score(middle) == pytest.approx(chance - 1e-4 * 150.0, abs=0.015)


def reach_ground(you: Party, terrain: TerrainStore) -> float:
    return float(terrain.elevation_m(you.location.latitude_deg, you.location.longitude_deg))


class TestAreaAndMask:
    def test_mask_is_kept(self, look: Any, plateau: TerrainStore) -> None:
        """Land one may enter ends 200 m short of the brink: the best is then at its rim."""
        north_m, east_m = _metres_per_degree()
        east, north = LONGITUDE + 500.0 / east_m, 900.0 / north_m
        ring = [
            [LONGITUDE - 0.02, LATITUDE - north],
            [east, LATITUDE - north],
            [east, LATITUDE + north],
            [LONGITUDE - 0.02, LATITUDE + north],
        ]
        mask = mask_from({"type": "Polygon", "coordinates": [[*ring, ring[0]]]})
        found = look(YOU, [EASTBY], plateau, within_m=1200.0, mask=mask, most=2, most_candidates=120)
        for place in found.places:
            assert mask.holds(place.location.latitude_deg, place.location.longitude_deg)
        assert 500.0 - 1.1 * found.cell_m <= east_north_m(found.places[0].location)[0] <= 500.0

    def test_area_alone_is_held_against_its_summit(self, look: Any, plateau: TerrainStore) -> None:
        ring = [
            [LONGITUDE + dx, LATITUDE + dy]
            for dx, dy in ((-0.01, -0.01), (0.012, -0.01), (0.012, 0.01), (-0.01, 0.01))
        ]
        area = mask_from({"type": "Polygon", "coordinates": [[*ring, ring[0]]]})
        elsewhere = party("Tableland", 46.25, -21.0)
        found = look(elsewhere, [EASTBY], plateau, area=area, most=2, most_candidates=120)
        assert not found.spot_is_given
        assert found.spot.label == "highest ground of the area"
        assert math.hypot(*east_north_m(found.spot)) < 60.0  # the knoll
        assert east_north_m(found.places[0].location)[0] == pytest.approx(BRINK_M, abs=1.5 * found.cell_m)
        for place in found.places:
            assert area.holds(place.location.latitude_deg, place.location.longitude_deg)


class TestResume:
    def test_after_an_interrupt_it_is_the_same_with_less_work(
        self, look: Any, island: TerrainStore, tmp_path: Path
    ) -> None:
        asked = {"within_m": 1500.0, "most": 2, "most_candidates": 500}
        stations = [islander(name) for name in ("Marsh End", "Quillhaven", "Norwater", "Sandry", "Tidewick")]
        you = islander("Gull Tor")
        whole = look(you, stations, island, **asked)
        seen: list[tuple[str, float]] = []

        def stop(stage: str, state: State) -> None:
            seen.append((stage, state.done))
            if stage == "looking" and state.total > 1000 and state.done >= 0.4 * state.total:
                raise KeyboardInterrupt

        with pytest.raises(KeyboardInterrupt):
            look(you, stations, island, resume=tmp_path, progress=stop, **asked)
        again = look(you, stations, island, resume=tmp_path, **asked)
        assert again.places == whole.places
        # what was finished, and the links from the spot before it
        assert again.links_kept == seen[-1][1] + len(stations) > 400
        assert again.links_worked + again.links_kept == whole.links_worked
        assert again.links_worked < whole.links_worked
        third = look(you, stations, island, resume=tmp_path, **asked)
        assert third.links_worked == 0
        assert third.places == whole.places

    def test_progress_goes_through_its_stages(self, look: Any, plateau: TerrainStore) -> None:
        stages: list[str] = []

        def note(stage: str, state: State) -> None:
            assert 0.0 < state.done <= state.total
            assert state.left_s is None or state.left_s >= 0.0
            stages.append(stage)

        look(YOU, [EASTBY], plateau, within_m=600.0, most=1, most_candidates=40, progress=note)
        assert list(dict.fromkeys(stages)) == ["looking", "refining", "judging"]


class TestBadInput:
    def test_nowhere_to_look(self, look: Any, plateau: TerrainStore) -> None:
        with pytest.raises(OutOfRangeError, match="give a distance from the spot, or an area"):
            look(YOU, [EASTBY], plateau)

    def test_mask_elsewhere(self, look: Any, plateau: TerrainStore) -> None:
        away = mask_from({"type": "Polygon", "coordinates": [[[10.0, 50.0], [11.0, 50.0], [10.0, 51.0]]]})
        with pytest.raises(LocationError, match="no point of the ground in it"):
            look(YOU, [EASTBY], plateau, within_m=600.0, mask=away)

    def test_no_tile(self, look: Any, plateau: TerrainStore) -> None:
        with pytest.raises(LocationError, match="no elevation tile at"):
            look(party("Nowhere", 10.0, 10.0), [EASTBY], plateau, within_m=600.0)

    def test_spot_on_a_hole(self, look: Any, plateau: TerrainStore, monkeypatch: pytest.MonkeyPatch) -> None:
        sample = plateau.sample

        def with_hole(latitude: Any, longitude: Any) -> Any:
            height, source = sample(latitude, longitude)
            at = np.broadcast_arrays(np.asarray(latitude), np.asarray(longitude))
            height[np.hypot(at[0] - LATITUDE, at[1] - LONGITUDE) < 1e-3] = np.nan
            return height, source

        monkeypatch.setattr(plateau, "sample", with_hole)
        with pytest.raises(TerrainGapError, match=r"no ground known at the spot .* move it, add the tile"):
            look(YOU, [EASTBY], plateau, within_m=600.0)

    def test_nobody_wanted(self, look: Any, plateau: TerrainStore) -> None:
        with pytest.raises(PathProfileError, match="no station is wanted"):
            look(YOU, [], plateau, within_m=600.0)
        away = party("Farland", 10.0, 10.0)
        with pytest.raises(PathProfileError, match=r"nobody to look for ground for \(Farland: "):
            look(YOU, [away], plateau, within_m=600.0)

    def test_one_station_that_cannot_be_reached_is_left_out(self, look: Any, plateau: TerrainStore) -> None:
        away = party("Farland", 10.0, 10.0)
        found = look(YOU, [away, EASTBY], plateau, within_m=600.0, most=1, most_candidates=40)
        assert [name for name, _ in found.left_out] == ["Farland"]
        assert found.places

    def test_a_radius_below_two_cells_offers_nothing(self, look: Any, plateau: TerrainStore) -> None:
        found = look(YOU, [EASTBY], plateau, within_m=60.0, most_candidates=40)
        assert found.places == ()
        assert "nothing better than the given spot was found" in found.notes
