"""A locator is an area: its points, its thirds, its spread, and the question worth mailing."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from pathprofile.contact import contact
from pathprofile.places import parse_location
from pathprofile.places.locators import locator_cell
from pathprofile.trip.answer import answer_pair
from pathprofile.trip.areas import area_of, direction_span, dry_points, too_vague
from pathprofile.trip.cells import CellPoint, Third
from pathprofile.trip.inquiries import height_inquiry
from pathprofile.trip.splits import height_split, mean_pair
from pathprofile.trip.terms import wanted_modes

SITE = "46.50000 -21.10000"


def cell_on_raster() -> str:
    """Locator of a cell in the middle of the test raster."""
    from pathprofile.places.locators import locator

    return locator(46.2, -21.4)


def test_a_cell_is_looked_at_in_at_least_49_points_all_inside(make_store, make_party, terms):
    store = make_store(lambda y, x: 100.0 + 300.0 * (y - 46.0) + 0.0 * x)
    text = cell_on_raster()
    found = answer_pair(make_party("Gull Tor", SITE), make_party("Marsh End", text), store, terms)
    cell = locator_cell(text)
    assert found.cell is not None
    assert found.cell.chance.size >= 49
    assert ((found.cell.latitude_deg > cell.south_deg) & (found.cell.latitude_deg < cell.north_deg)).all()
    assert ((found.cell.longitude_deg > cell.west_deg) & (found.cell.longitude_deg < cell.east_deg)).all()


def test_every_point_is_an_exact_contact_from_there(make_store, make_party, terms):
    store = make_store(lambda y, x: 150.0 + 80.0 * np.sin(90.0 * y) * np.cos(110.0 * x))
    you, them = make_party("Gull Tor", SITE, unstated="open"), make_party("Marsh End", cell_on_raster())
    cell = answer_pair(you, them, store, terms).cell
    assert cell is not None
    for index in (0, 17, 48):
        there = parse_location(f"{cell.latitude_deg[index]:.12f} {cell.longitude_deg[index]:.12f}")
        alone = contact(
            you,
            replace(them, location=there),
            store,
            date=terms.date,
            frequency_mhz=144.3,
            mode="ssb",
            with_modes=False,
        )
        # the same place to 0.1 mm, over ground that bends by metres in a kilometre
        assert cell.chance[index] == pytest.approx(alone.link.pair.chance, abs=1e-5)


def test_the_odds_of_each_mode_are_those_over_the_whole_area(make_store, make_party, terms):
    store = make_store(lambda y, x: 150.0 + 80.0 * np.sin(90.0 * y) * np.cos(110.0 * x))
    you, them = make_party("Gull Tor", SITE, unstated="open"), make_party("Marsh End", cell_on_raster())
    both = replace(terms, wanted=wanted_modes([144.3], ["ssb", "fm"]))
    for odds in answer_pair(you, them, store, both).modes:
        alone = answer_pair(you, them, store, replace(terms, wanted=(odds.wanted,)))
        assert odds.pair == alone.pair


def test_flat_ground_gives_equal_thirds_and_no_question(make_store, make_party, terms):
    store = make_store(lambda y, x: 120.0 + 0.0 * y * x)
    found = answer_pair(make_party("Gull Tor", SITE), make_party("Marsh End", cell_on_raster()), store, terms)
    cell = found.cell
    assert cell is not None
    assert cell.lowest == cell.middle == cell.highest
    assert cell.lowest.pair == cell.pair
    assert cell.split is None
    assert all(inquiry.about != "height" for inquiry in found.inquiries)


def test_worst_and_best_enclose_the_thirds(island, islander, terms):
    cell = answer_pair(islander("Gull Tor"), islander("Hanging Combe", 6), island, terms).cell
    assert cell is not None
    chances = [third.pair.chance for third in (cell.lowest, cell.middle, cell.highest)]
    assert cell.worst.chance <= min(chances) <= max(chances) <= cell.best.chance
    assert cell.lowest.to_m <= cell.middle.to_m <= cell.highest.to_m
    assert cell.pair.chance == pytest.approx(float(np.mean(cell.chance)))


def made_up_cell(cell, chance, comfortable, parted=False):
    """The odds of a cell with other chances in it, evenly over its heights."""
    size = chance.size
    pair = mean_pair(chance, comfortable, np.full(size, parted))
    third = Third(10.0, 20.0, pair)
    ends = [CellPoint(46.2, -21.4, 15.0, float(each)) for each in (chance.min(), chance.max())]
    return replace(
        cell,
        chance=chance,
        comfortable_chance=comfortable,
        parted=np.full(size, parted),
        pair=pair,
        lowest=third,
        middle=third,
        highest=third,
        worst=ends[0],
        best=ends[1],
    )


def test_anywhere_is_said_only_where_it_is_so_at_every_point(make_store, make_party, terms):
    store = make_store(lambda y, x: 120.0 + 0.0 * y * x)
    cell = answer_pair(
        make_party("Gull Tor", SITE), make_party("Marsh End", cell_on_raster()), store, terms
    ).cell
    alike = made_up_cell(cell, np.linspace(0.82, 0.9, 50), np.full(50, 0.6))
    assert alike.text == "workable, about 9 in 10 anywhere in the area"

    wide = made_up_cell(
        cell, np.linspace(0.7, 1.0, 50), np.full(50, 0.6)
    )  # workable everywhere, odds are not
    assert wide.text == (
        "workable, about 8 in 10 on the whole; weakest tenth of the area about 7 in 10, best over 19 in 20"
    )

    # one point in fifty is solid: comfortable copy there, see `pathprofile.link.words.verdict`
    uneven = made_up_cell(cell, np.full(50, 0.94), np.where(np.arange(50) == 7, 0.93, 0.6))
    assert "anywhere" not in uneven.text


def test_the_second_opinion_is_over_all_of_the_area_too(island, islander, terms):
    you, them = islander("Gull Tor", unstated="open"), islander("Hanging Combe", 6)
    found = answer_pair(you, them, island, replace(terms, cell_points=9))
    cell = found.cell
    links = [
        contact(
            you,
            replace(them, location=parse_location(f"{latitude:.12f} {longitude:.12f}")),
            island,
            date=terms.date,
            frequency_mhz=144.3,
            mode="ssb",
            with_modes=False,
        ).link
        for latitude, longitude in zip(cell.latitude_deg, cell.longitude_deg, strict=True)
    ]
    assert found.second.chance == pytest.approx(np.mean([link.second.chance for link in links]), abs=1e-4)
    apart_db = np.median([abs(link.disagreement_db) for link in links])
    assert found.apart_db == pytest.approx(apart_db, abs=0.01)
    assert found.methods_part == (apart_db > 15.0)  # the rule of a single path


def test_water_is_left_out_and_polders_are_not(make_store):
    text = cell_on_raster()
    cell = locator_cell(text)
    middle = (cell.west_deg + cell.east_deg) / 2.0
    third = cell.west_deg + (cell.east_deg - cell.west_deg) / 3.0
    store = make_store(lambda y, x: np.where(x < third, 0.0, np.where(x < middle, -3.0, 40.0)) + 0.0 * y)
    found = dry_points(cell, store, 49)
    assert found.ground_m.size >= 49
    assert found.water > 0
    assert (found.longitude_deg > third - 1 / 600).all()  # up to one cell of the raster from the shore
    assert (found.ground_m == -3.0).any()


def test_slopes_over_thirty_degrees_are_left_out(make_store):
    cell = locator_cell(cell_on_raster())
    middle = (cell.south_deg + cell.north_deg) / 2.0
    metres = 111_195.0  # a degree of latitude on a sphere of 6371 km

    def ramp(y, x):
        along = (y - middle) * metres
        return (
            3000.0
            + np.where(along > 0.0, math.tan(math.radians(35.0)), math.tan(math.radians(25.0))) * along
            + 0.0 * x
        )

    found = dry_points(cell, make_store(ramp), 49)
    assert found.steep > 0
    assert (found.latitude_deg < middle + 2 / 600).all()
    assert found.water == 0


def test_nothing_but_sea_has_no_verdict_and_says_why(make_store, make_party, terms):
    store = make_store(lambda y, x: np.where(y > 46.4, 50.0, 0.0) + 0.0 * x)
    found = answer_pair(make_party("Gull Tor", SITE), make_party("Marsh End", cell_on_raster()), store, terms)
    assert found.pair is None
    assert "no dry and gentle ground" in found.reason
    assert found.directions is not None


def test_a_cell_outside_the_tiles_asks_for_its_tile(make_store, make_party, terms):
    store = make_store(lambda y, x: 50.0 + 0.0 * x * y)
    found = answer_pair(make_party("Gull Tor", SITE), make_party("Off the map", "HN98aa"), store, terms)
    assert found.pair is None
    assert found.reason == "Off the map: no elevation data under HN98aa; get tile N48W022"


def test_a_rock_in_the_sea_serves_with_the_points_it_has(make_store):
    cell = locator_cell(cell_on_raster())
    y0, x0 = (cell.south_deg + cell.north_deg) / 2, (cell.west_deg + cell.east_deg) / 2
    store = make_store(lambda y, x: np.where(np.hypot(y - y0, x - x0) < 0.003, 25.0, 0.0))
    found = dry_points(cell, store, 49)
    assert 0 < found.ground_m.size < 100


@pytest.mark.parametrize(("characters", "most"), [(8, 48), (10, 1)])
def test_smaller_cells_need_fewer_points(island, islander, terms, characters, most):
    cell = answer_pair(islander("Gull Tor"), islander("Marsh End", characters), island, terms).cell
    assert cell is not None
    assert 1 <= cell.chance.size <= most


def test_four_characters_give_a_direction_and_the_reason(island, islander, terms):
    found = answer_pair(islander("Gull Tor"), islander("Marsh End", 4), island, terms)
    assert found.pair is None
    assert found.cell is None
    assert "4 characters" in found.reason
    assert "azimuth and distance only" in found.reason
    assert found.directions is not None
    assert found.directions.span is not None
    assert [inquiry.about for inquiry in found.inquiries] == ["place"]


def test_spread_of_direction_encloses_the_whole_edge():
    # extremes by GeographicLib over a dense edge of the cell
    here, there = parse_location("47.74833 -21.00083"), parse_location("HN96")
    span = direction_span(here, there)
    cell = locator_cell("HN96")
    share = np.linspace(0.0, 1.0, 201)
    lats = cell.south_deg + share * (cell.north_deg - cell.south_deg)
    lons = cell.west_deg + share * (cell.east_deg - cell.west_deg)
    edge = [(lat, lon) for lat in lats for lon in (cell.west_deg, cell.east_deg)]
    edge += [(lat, lon) for lon in lons for lat in (cell.south_deg, cell.north_deg)]
    legs = [Geodesic.WGS84.Inverse(here.latitude_deg, here.longitude_deg, *point) for point in edge]
    distances = [leg["s12"] for leg in legs]
    azimuths = [leg["azi1"] % 360.0 for leg in legs]
    assert span is not None
    assert span.farthest_m == pytest.approx(max(distances), abs=0.01)
    assert span.nearest_m == pytest.approx(min(distances), rel=1e-3)  # 17 points a side, not 201
    assert span.first_azimuth_deg == pytest.approx(min(azimuths), abs=0.2)
    assert span.last_azimuth_deg == pytest.approx(max(azimuths), abs=0.2)


def test_from_within_a_cell_any_azimuth_may_be_right():
    span = direction_span(parse_location("46.5 -21.0001"), parse_location("HN96"))
    assert span is not None
    assert span.width_deg == 360.0
    assert span.nearest_m == 0.0
    assert span.text.startswith("any azimuth")


def test_two_points_have_no_spread():
    assert direction_span(parse_location("46.50000 -21.00000"), parse_location("46.60000 -21.00000")) is None


def test_degrees_with_few_decimals_are_areas_too():
    assert area_of(parse_location("46.30 -20.94")) is not None  # ± 556 m
    assert area_of(parse_location("46.2975 -20.9375")) is None
    assert too_vague(parse_location("46 -21")) is not None  # ± 56 km
    assert too_vague(parse_location("46.3 -20.9")) is None


def test_two_areas_are_paired_point_by_point(island, islander, terms):
    found = answer_pair(islander("Gull Tor", 6), islander("Marsh End", 6), island, terms)
    assert found.cell is not None
    assert found.cell.chance.size >= 49
    assert sum("points of the area" in note for note in found.notes) == 2


def test_an_area_of_one_point_is_paired_with_every_point_of_the_other(island, islander, terms):
    spot = replace(islander("Marsh End"), location=parse_location("27T WM 04813 27104"))
    found = answer_pair(islander("Gull Tor", 6), spot, island, terms)
    assert found.cell is not None
    assert found.cell.chance.size == found.cell.ground_m.size >= 49


def test_the_question_names_the_height_that_tells_odds_apart():
    ground_m = np.linspace(20.0, 220.0, 49)
    chance = np.where(ground_m < 120.0, 0.1, 0.8)
    split = height_split(ground_m, chance, 0.5 * chance, np.zeros(49, bool))
    assert split is not None
    assert split.height_m == 120.0
    assert height_inquiry("Marsh End", split).text == (
        "Ask Marsh End: above or below 120 m? Below: unlikely. Above: workable."
    )


@pytest.mark.parametrize(
    ("ground_m", "chance"),
    [
        (np.linspace(20.0, 220.0, 49), np.full(49, 0.8)),  # all alike
        (np.linspace(20.0, 220.0, 49), np.linspace(0.4, 0.6, 49)),  # one verdict
        (np.linspace(20.0, 28.0, 49), np.where(np.arange(49) < 24, 0.1, 0.9)),  # finer than the map
        (np.linspace(20.0, 220.0, 49), np.where(np.arange(49) < 24, 0.69, 0.72)),  # not worth a question
        (np.array([50.0]), np.array([0.5])),
    ],
)
def test_no_question_where_the_answer_would_not_tell(ground_m, chance):
    assert height_split(ground_m, chance, 0.5 * chance, np.zeros(chance.size, bool)) is None


def test_the_split_leaves_least_variance_within_its_sides():
    rng = np.random.default_rng(20260614)
    for _ in range(20):
        ground_m = rng.uniform(0.0, 300.0, 60)
        chance = np.clip(0.2 + 0.6 * (ground_m > rng.uniform(60.0, 240.0)) + rng.normal(0, 0.05, 60), 0, 1)
        split = height_split(ground_m, chance, 0.5 * chance, np.zeros(60, bool))
        assert split is not None
        within = {}
        for height_m in range(10, 300, 10):
            lower = ground_m < height_m
            if 6 <= lower.sum() <= 54:
                within[height_m] = chance[lower].var() * lower.sum() + chance[~lower].var() * (~lower).sum()
        assert within[int(split.height_m)] == pytest.approx(min(within.values()))
        share = split.share_below
        explained = chance.var() - within[int(split.height_m)] / 60
        assert split.decisive == pytest.approx(math.sqrt(explained), abs=1e-9)
        assert 0.0 < share < 1.0
