"""Which site, for whom, and what is lost."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from pathprofile.errors import OutOfRangeError
from pathprofile.trip.comparing import compare, scores
from pathprofile.trip.pairs import PairDesk
from pathprofile.trip.terms import Terms, Wanted

DAY = date(2026, 6, 14)
FM = (Wanted(145.0, "fm"),)


class _Made(PairDesk):
    """A desk that answers from a table of chances."""

    def __init__(self, chances, make_answer):
        self.chances, self.make_answer = chances, make_answer

    def answer(self, tasks, **_):
        return [
            self.make_answer(
                you.station.name, them.station.name, self.chances[you.station.name][them.station.name]
            )
            for you, them in tasks
        ]


@pytest.fixture
def compared(make_party, make_answer):
    """Compare made-up chances: {site: {station: chance}}."""

    def run(chances, **weights):
        stations = list(next(iter(chances.values())))
        return compare(
            [make_party(name, "46.50000 -21.10000") for name in chances],
            [make_party(name, "46.20000 -21.40000") for name in stations],
            None,
            Terms(DAY, FM, weights=weights),
            desk=_Made(chances, make_answer),
        )

    return run


def test_more_wanted_stations_come_first(compared):
    found = compared(
        {
            "Gull Tor": {"Flaxmill": 0.8, "Oakenby": 0.8, "Sandry": 0.1},
            "High Hallow": {"Flaxmill": 0.99, "Oakenby": 0.6, "Sandry": 0.6},
        }
    )
    assert found.pick == "Gull Tor"
    assert found.sentence == (
        "Gull Tor: 2 of 3 wanted stations within reach against 1 from High Hallow; only it reaches Oakenby; "
        "you lose nobody."
    )
    assert found.notes[0].startswith(
        "Nearly a toss-up: with the chances of all wanted stations added up High Hallow is ahead, 2.2 to 1.7 "
        "of a possible 3."
    )


def test_weights_decide(compared):
    chances = {
        "Gull Tor": {"Flaxmill": 0.8, "Oakenby": 0.8, "Sandry": 0.1},
        "High Hallow": {"Flaxmill": 0.4, "Oakenby": 0.2, "Sandry": 0.9},
    }
    assert compared(chances).pick == "Gull Tor"
    weighted = compared(chances, Sandry=3.0)
    assert weighted.pick == "High Hallow"
    assert weighted.sentence == (
        "High Hallow: 1 of 3 wanted stations within reach (weight 3) against 2 (weight 2) from Gull Tor; "
        "only it reaches Sandry; you lose Flaxmill and Oakenby (from Gull Tor)."
    )


def test_of_equals_the_better_worst_case(compared):
    found = compared(
        {
            "Gull Tor": {"Flaxmill": 0.98, "Oakenby": 0.71},
            "High Hallow": {"Flaxmill": 0.75, "Oakenby": 0.75},
        }
    )
    assert found.pick == "High Hallow"
    assert found.sentence == (
        "High Hallow: 2 of 2 wanted stations within reach, the same as from Gull Tor, but with better "
        "odds for the hardest of those that any site reaches: about 8 in 10 against about 7 in 10; you lose "
        "nobody."
    )


def test_close_sums_are_told_with_the_decimals_that_part_them(compared):
    found = compared(
        {"Gull Tor": {"Flaxmill": 0.8, "Oakenby": 0.77}, "High Hallow": {"Flaxmill": 0.99, "Oakenby": 0.65}}
    )
    assert found.pick == "Gull Tor"
    assert "1.64 to 1.57 of a possible 2." in found.notes[0]
    weighted = compared({"Gull Tor": {"Flaxmill": 0.8}, "High Hallow": {"Flaxmill": 0.9}}, Flaxmill=3.0)
    assert weighted.wanted_weight == 3.0


def test_weight_that_rests_on_one_method_is_named(make_answer):
    unlikely = make_answer("", "", 0.02).pair
    parted = {"methods_part": True, "second": unlikely, "apart_db": 38.0}
    matrix = [
        [
            replace(make_answer("Gull Tor", "Flaxmill", 0.9), **parted),
            replace(make_answer("Gull Tor", "Oakenby", 0.8), **parted),
            make_answer("Gull Tor", "Sandry", 0.8),
        ]
    ]
    terms = Terms(DAY, FM, weights={"Flaxmill": 3.0, "Oakenby": 0.0})
    (score,) = scores(matrix, terms)
    assert (score.reached_weight, score.doubtful, score.doubtful_weight) == (4.0, ("Flaxmill",), 3.0)
    assert matrix[0][0].verdict_text == (
        "workable or unlikely: about 9 in 10 or below 1 in 20 (methods part by 38 dB)"
    )
    assert matrix[0][2].verdict_text == "workable, about 8 in 10"


def test_weight_nothing_is_shown_and_does_not_count(compared):
    found = compared(
        {"Gull Tor": {"Flaxmill": 0.9, "Oakenby": 0.1}, "High Hallow": {"Flaxmill": 0.8, "Oakenby": 0.9}},
        Oakenby=0.0,
    )
    assert found.pick == "Gull Tor"
    assert found.matrix[1][1].in_reach
    assert found.notes[-1] == "Left out of the choice, weight 0: Oakenby."


def test_where_nobody_is_within_reach_the_nearest_chance_is_named(compared):
    found = compared({"Gull Tor": {"Flaxmill": 0.2}, "High Hallow": {"Flaxmill": 0.4}})
    assert found.sentence == (
        "High Hallow comes nearest, though no wanted station is within reach: "
        "Flaxmill is marginal, about 4 in 10."
    )


def test_pairs_without_verdict_are_named(compared):
    found = compared(
        {"Gull Tor": {"Flaxmill": 0.9, "Oakenby": None}, "High Hallow": {"Flaxmill": None, "Oakenby": None}}
    )
    assert found.pick == "Gull Tor"
    assert "Oakenby does not count: made up: no verdict" in found.notes
    assert "High Hallow to Flaxmill: no verdict. made up: no verdict" in found.notes


def test_more_weight_never_favours_a_site_that_does_worse_by_that_station(make_answer):
    rng = np.random.default_rng(144300)
    for _ in range(300):
        chance = rng.uniform(0.0, 1.0, (3, 5)).round(1)  # coarse, so that there are ties
        weights = {f"station {k}": float(rng.integers(1, 4)) for k in range(5)}
        matrix = [
            [make_answer(f"site {i}", f"station {k}", float(chance[i, k])) for k in range(5)]
            for i in range(3)
        ]
        before = int(scores(matrix, Terms(DAY, FM, weights=weights))[0].site[-1])
        wanted = int(rng.integers(5))
        weights[f"station {wanted}"] += float(rng.integers(1, 5))
        after = int(scores(matrix, Terms(DAY, FM, weights=weights))[0].site[-1])
        assert after == before or chance[after, wanted] > chance[before, wanted]


def test_scores_are_those_counted_by_hand(make_answer):
    matrix = [
        [
            make_answer("Gull Tor", "a", 0.9),
            make_answer("Gull Tor", "b", 0.5),
            make_answer("Gull Tor", "c", 0.1),
        ],
        [
            make_answer("Ravel Head", "a", 0.2),
            make_answer("Ravel Head", "b", 0.7),
            make_answer("Ravel Head", "c", 0.2),
        ],
    ]
    by_site = {each.site: each for each in scores(matrix, Terms(DAY, FM, weights={"b": 2.0}))}
    gull, ravel = by_site["Gull Tor"], by_site["Ravel Head"]
    assert (gull.reached, gull.reached_weight, gull.worst_chance, gull.only_here) == (
        ("a",),
        1.0,
        0.5,
        ("a",),
    )
    assert (ravel.reached, ravel.reached_weight, ravel.worst_chance, ravel.only_weight) == (
        ("b",),
        2.0,
        0.2,
        2.0,
    )
    assert gull.expected_weight == pytest.approx(0.9 + 2 * 0.5 + 0.1)
    assert ravel.expected_weight == pytest.approx(0.2 + 2 * 0.7 + 0.2)


def test_the_order_of_sites_and_stations_does_not_matter(island, islander, terms):
    sites = [islander(name, unstated="open") for name in ("Gull Tor", "Kestrel Pike", "Ravel Head")]
    stations = [islander(name) for name in ("Norwater", "Marsh End", "Pennowick", "Sandry", "Tidewick")]
    first = compare(sites, stations, island, terms)
    assert len(first.matrix) == 3
    assert all([cell.them for cell in row] == list(first.stations) for row in first.matrix)
    again = compare(sites[::-1], [stations[i] for i in (3, 0, 4, 1, 2)], island, terms)
    assert again.pick == first.pick
    assert [(s.site, s.reached_weight, set(s.reached)) for s in again.scores] == [
        (s.site, s.reached_weight, set(s.reached)) for s in first.scores
    ]
    assert again.inquiries == first.inquiries


def test_there_must_be_something_to_compare(make_party, terms):
    one = make_party("Gull Tor", "46.50000 -21.10000")
    with pytest.raises(OutOfRangeError, match="nothing to compare: give at least one site"):
        compare([], [one], None, terms)
    with pytest.raises(OutOfRangeError, match="give at least one station"):
        compare([one], [], None, terms)
    with pytest.raises(OutOfRangeError, match="two sites are called 'Gull Tor': give each a name"):
        compare([one, one], [one], None, terms)
