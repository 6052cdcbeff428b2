from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pathprofile.area.verdicts import (
    MARGINAL,
    SOLID,
    UNKNOWN,
    UNLIKELY,
    WORDS,
    WORKABLE,
    Needs,
    VerdictTable,
    needs_of,
    shares,
)
from pathprofile.errors import OutOfRangeError
from pathprofile.link.chance import Spread, TimeSpread, pair_chances, time_spread
from pathprofile.link.ends import equip
from pathprofile.link.evaluate import evaluate
from pathprofile.link.path import PathFacts
from pathprofile.link.words import verdict
from pathprofile.station import Station

ASKEW = time_spread({1.0: -25.0, 10.0: -9.0, 50.0: 0.0, 90.0: 6.0})
CASES = {
    "usual": Needs(150.0, 157.0, 8.0, Spread(), ASKEW),
    "alike": Needs(150.0, 150.0, 8.0, Spread(8.0, 0.05, 0.05)),
    "nearly alike": Needs(150.0, 150.3, 8.0, Spread(9.0, 0.5, 0.0)),
    "narrow": Needs(150.0, 151.0, 3.0, Spread(0.5, 0.0, 0.0)),
    "wide": Needs(180.0, 120.0, 20.0, Spread(40.0, 40.0, 40.0, 40.0), ASKEW),
    "only out": Needs(150.0, None, 8.0, Spread(), ASKEW),
    "only back": Needs(None, 140.0, 8.0),
}


def _exact(needs: Needs, loss_db: np.ndarray) -> np.ndarray:
    limits = needs.limits_db
    pairs = [(limits[0] - loss, limits[-1] - loss) for loss in loss_db.tolist()]
    chances = pair_chances(pairs, needs.spread, needs.time)
    if needs.back_ahead_db is not None:
        return chances.both
    return chances.back if needs.out_loss_db is None else chances.out


@pytest.mark.parametrize("name", CASES)
def test_chances_are_those_of_the_link_within_the_stated_error(name: str) -> None:
    needs = CASES[name]
    table = VerdictTable(needs)
    wide = 7.0 * needs.spread.out_db + 40.0
    loss = np.random.default_rng(7).uniform(min(needs.limits_db) - wide, max(needs.limits_db) + wide, 3000)
    np.testing.assert_allclose(table.chance(loss), _exact(needs, loss), atol=0.005)
    comfortable = _exact(needs, loss + needs.comfortable_db)
    np.testing.assert_allclose(table.comfortable_chance(loss), comfortable, atol=0.005)


@pytest.mark.parametrize("name", CASES)
def test_verdicts_are_the_words_of_the_link_except_at_their_limits(name: str) -> None:
    needs = CASES[name]
    table = VerdictTable(needs)
    wide = 60.0 + 3.0 * needs.spread.out_db
    loss = np.linspace(min(needs.limits_db) - wide, min(needs.limits_db) + wide, 1500)
    readable, comfortable = _exact(needs, loss), _exact(needs, loss + needs.comfortable_db)
    off = [abs(readable - 0.3), abs(readable - 0.7), abs(comfortable - 0.9)]
    sure = np.minimum.reduce(off) > 0.005
    expected = [verdict(r, c).word for r, c in zip(readable[sure], comfortable[sure], strict=True)]
    found = table.verdict(loss)
    assert sure.mean() > 0.5
    assert [WORDS[code] for code in found[sure]] == expected
    assert {int(code) for code in found} == {UNLIKELY, MARGINAL, WORKABLE, SOLID}
    assert (np.diff(found.astype(int)) <= 0).all()  # more loss is never better


def test_a_single_direction_is_a_normal_distribution() -> None:
    # Φ(margin/σ), from tables of the normal distribution: Φ(1) = 0.8413, Φ(−2) = 0.0228
    table = VerdictTable(Needs(150.0, None, 8.0, Spread(8.0, 6.0, 0.0)))
    np.testing.assert_allclose(table.chance([140.0, 150.0, 170.0]), [0.8413, 0.5, 0.0228], atol=5e-4)


def test_the_pair_with_errors_of_their_own_is_the_product() -> None:
    table = VerdictTable(Needs(150.0, 150.0, 8.0, Spread(0.0, 6.0, 6.0)))
    assert table.chance(150.0) == pytest.approx(0.25, abs=1e-3)
    # correlation ρ: ¼ + asin(ρ)/2π at the median (Sheppard 1899); here ρ = 64/100
    shared = VerdictTable(Needs(150.0, 150.0, 8.0, Spread(8.0, 6.0, 6.0)))
    assert shared.chance(150.0) == pytest.approx(0.25 + math.asin(0.64) / math.tau, abs=1e-3)


def test_cells_without_loss_stay_unknown_whatever_their_type_and_shape() -> None:
    table = VerdictTable(CASES["usual"])
    loss = np.array([[np.nan, 90.0], [300.0, np.inf]], np.float32)
    assert table.verdict(loss).tolist() == [[UNKNOWN, SOLID], [UNLIKELY, UNLIKELY]]
    assert np.isnan(table.chance(loss)).tolist() == [[True, False], [False, False]]
    assert table.chance(loss)[0, 1] == pytest.approx(1.0, abs=1e-5)
    assert table.chance(loss)[1, 0] == pytest.approx(0.0, abs=1e-5)
    assert table.verdict(np.float64(90.0)).shape == ()
    assert table.verdict(np.empty((0, 3))).shape == (0, 3)
    assert table.verdict(loss).dtype == np.uint8


@given(
    out=st.floats(100.0, 200.0),
    ahead=st.floats(-30.0, 30.0),
    path=st.floats(0.5, 15.0),
    noise=st.floats(0.0, 10.0),
    off=st.floats(-40.0, 40.0),
)
@settings(max_examples=40, deadline=None)
def test_swapping_the_directions_changes_nothing(
    out: float, ahead: float, path: float, noise: float, off: float
) -> None:
    one = VerdictTable(Needs(out, out + ahead, 6.0, Spread(path, noise, 3.0)))
    other = VerdictTable(Needs(out + ahead, out, 6.0, Spread(path, 3.0, noise)))
    assert one.chance(out + off) == pytest.approx(float(other.chance(out + off)), abs=0.002)


def test_needs_of_a_link_give_back_its_margins_and_chance() -> None:
    you, them = (Station(name=name, place="JN46") for name in ("Hill", "Town"))
    ends = [equip(station, 144.3, "ssb", unstated_surroundings="open") for station in (you, them)]
    link = evaluate(*ends, PathFacts(144.3, 150.0))
    needs = needs_of(link)
    for loss_db in (135.0, 150.0, 163.0):
        again = evaluate(*ends, PathFacts(144.3, loss_db))
        assert needs.out_loss_db - loss_db == pytest.approx(again.out.budget.margin_db, abs=1e-9)
        assert needs.back_loss_db - loss_db == pytest.approx(again.back.budget.margin_db, abs=1e-9)
        table = VerdictTable(needs)
        assert float(table.chance(loss_db)) == pytest.approx(again.pair.chance, abs=0.005)
        assert float(table.comfortable_chance(loss_db)) == pytest.approx(
            again.pair.comfortable_chance, abs=0.005
        )


@pytest.mark.parametrize("limits", [(None, None), (math.nan, 150.0), (math.inf, None)])
def test_needs_without_a_direction_are_refused(limits: tuple[float | None, float | None]) -> None:
    with pytest.raises(OutOfRangeError, match="give a finite number for one direction at least"):
        Needs(*limits, comfortable_db=8.0)


@pytest.mark.parametrize("comfortable", [-1.0, math.nan, 200.0])
def test_impossible_comfort_is_refused(comfortable: float) -> None:
    with pytest.raises(OutOfRangeError, match="give 0 to 100"):
        Needs(150.0, 150.0, comfortable)


def test_shares_leave_out_the_unknown() -> None:
    codes = np.array([[SOLID, SOLID, WORKABLE], [UNLIKELY, UNKNOWN, UNKNOWN]], np.uint8)
    assert shares(codes) == {"solid": 0.5, "workable": 0.25, "marginal": 0.0, "unlikely": 0.25}
    assert set(shares(np.zeros((2, 2), np.uint8)).values()) == {0.0}


def test_time_spread_matters() -> None:
    without = VerdictTable(Needs(150.0, 157.0, 8.0, Spread(), TimeSpread()))
    assert float(VerdictTable(CASES["usual"]).chance(170.0)) > float(without.chance(170.0)) + 0.01
