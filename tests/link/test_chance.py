import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from pathprofile.errors import OutOfRangeError
from pathprofile.link.chance import Spread, location_sigma_db, pair_chances, time_spread

margin = st.floats(-60.0, 60.0)


def joint_by_double_integration(
    out: float, back: float, path: float, noise_out: float, noise_back: float
) -> float:
    """Chance that both margins hold, from the densities alone."""
    found, _ = integrate.dblquad(
        lambda noise, error: (
            stats.norm.pdf(error, 0, path)
            * stats.norm.pdf(noise, 0, noise_out)
            * stats.norm.cdf((back - error) / noise_back)
        ),
        -8 * path,
        8 * path,
        -8 * noise_out,
        lambda error: min(max(out - error, -8 * noise_out), 8 * noise_out),
        epsabs=1e-9,
    )
    return found


def test_joint_chance_of_the_stated_case() -> None:
    # Margins +3 and +6 dB, shared path error 9.4 dB, noise 6 dB each: stated as 53.6 %. The double integral,
    # the bivariate normal of scipy and 2e7 draws all give 53.49 %, which is what is held here.
    found = pair_chances([(3.0, 6.0)], Spread(9.4, 6.0, 6.0))
    independent = joint_by_double_integration(3.0, 6.0, 9.4, 6.0, 6.0)
    assert found.both[0] == pytest.approx(independent, abs=1e-7)
    assert found.both[0] == pytest.approx(0.536, abs=0.0015)


@pytest.mark.parametrize("sigmas", [(8, 6, 6), (9.4, 6, 3), (8, 3, 3), (8, 1, 2), (8, 0.3, 0.3), (2, 12, 9)])
@pytest.mark.parametrize("margins", [(0, 0), (-5, 10), (0.5, 0), (10, 9), (-8, -8.2), (-25, -20), (30, 1)])
def test_joint_chance_against_scipy(sigmas: tuple[float, float, float], margins: tuple[float, float]) -> None:
    path, one, other = sigmas
    covariance = [[path**2 + one**2, path**2], [path**2, path**2 + other**2]]
    expected = stats.multivariate_normal([0, 0], covariance).cdf(margins)
    found = pair_chances([margins], Spread(*sigmas))
    assert found.both[0] == pytest.approx(expected, abs=1e-5)  # scipy's own accuracy
    assert found.out[0] == pytest.approx(stats.norm.cdf(margins[0], scale=math.hypot(path, one)), abs=1e-9)
    assert found.back[0] == pytest.approx(stats.norm.cdf(margins[1], scale=math.hypot(path, other)), abs=1e-9)


@given(margin, margin, st.floats(0, 20), st.floats(0, 20), st.floats(0, 20))
def test_joint_chance_lies_between_the_product_and_the_weaker(
    out: float, back: float, path: float, noise_out: float, noise_back: float
) -> None:
    found = pair_chances([(out, back)], Spread(path, noise_out, noise_back))
    product, weaker = found.out[0] * found.back[0], min(found.out[0], found.back[0])
    assert product - 1e-5 <= found.both[0] <= weaker


@given(margin, margin)
def test_ends_may_be_swapped(out: float, back: float) -> None:
    one = pair_chances([(out, back)], Spread(8, 5, 7)).both[0]
    other = pair_chances([(back, out)], Spread(8, 7, 5)).both[0]
    assert one == pytest.approx(other, abs=1e-12)


def test_more_margin_is_never_worse() -> None:
    rising = [(m, m + 3.0) for m in np.linspace(-40, 40, 161)]
    time = time_spread({1: 140, 10: 150, 50: 160, 90: 165})
    found = pair_chances(rising, Spread(), time)
    for chances in (found.out, found.back, found.both):
        assert np.all(np.diff(chances) >= -1e-12)
    assert found.both[0] < 1e-3
    assert found.both[-1] > 0.999


def test_no_spread_at_all_is_a_step() -> None:
    found = pair_chances([(0.1, 0.1), (0.1, -0.1)], Spread(0, 0, 0))
    assert found.both == pytest.approx([1.0, 0.0])


def test_a_shared_error_alone_leaves_the_weaker_direction() -> None:
    found = pair_chances([(2.0, 5.0)], Spread(8, 0, 0))
    assert found.both[0] == pytest.approx(stats.norm.cdf(2 / 8), abs=1e-5)


@pytest.mark.parametrize("slope_db", [0.0, 3.0, 12.0])
def test_time_linear_in_the_deviate_is_one_more_normal_error(slope_db: float) -> None:
    # closed form: the variances add
    losses = {p: 150.0 + slope_db * float(stats.norm.ppf(p / 100)) for p in (1, 10, 50, 90)}
    found = pair_chances([(4.0, 4.0)], Spread(8, 6, 6), time_spread(losses))
    assert found.out[0] == pytest.approx(stats.norm.cdf(4.0 / math.hypot(10.0, slope_db)), abs=3e-8)
    covariance = np.full((2, 2), 64.0 + slope_db**2) + 36.0 * np.eye(2)
    assert found.both[0] == pytest.approx(stats.multivariate_normal([0, 0], covariance).cdf([4, 4]), abs=1e-6)


def test_two_sided_time_against_direct_integration() -> None:
    # Skewed: enhancements far below the median for little of the time, losses little above it.
    losses = {1: 128.0, 10: 145.0, 50: 160.0, 90: 163.0}
    knots = stats.norm.ppf([0.01, 0.10, 0.50, 0.90])
    values = np.array([-32.0, -15.0, 0.0, 3.0])

    def above_median_db(z: float) -> float:
        if z < knots[0]:
            return values[0] + (z - knots[0]) * (values[1] - values[0]) / (knots[1] - knots[0])
        if z > knots[3]:
            return values[3] + (z - knots[3]) * (values[3] - values[2]) / (knots[3] - knots[2])
        return float(np.interp(z, knots, values))

    expected, _ = integrate.quad(
        lambda z: stats.norm.pdf(z) * stats.norm.cdf((-10.0 - above_median_db(z)) / 10.0),
        -8,
        8,
        points=list(knots),
        epsabs=1e-10,
    )
    found = pair_chances([(-10.0, 50.0)], Spread(8, 6, 6), time_spread(losses))
    assert found.out[0] == pytest.approx(expected, abs=1e-6)
    symmetric = pair_chances([(-10.0, 50.0)], Spread(8, 6, 6), time_spread({10: 157.0, 50: 160.0, 90: 163.0}))
    assert found.out[0] > symmetric.out[0] + 0.05


def test_only_differences_to_the_median_count() -> None:
    one = time_spread({10: 150.0, 50: 160.0, 90: 165.0})
    other = time_spread({10: -10.0, 50: 0.0, 90: 5.0})
    assert one.above_median_db == pytest.approx(other.above_median_db)
    assert time_spread({10: 150.0, 90: 165.0}, 160.0).above_median_db == pytest.approx(one.above_median_db)


def test_time_that_does_not_vary_changes_nothing() -> None:
    plain = pair_chances([(3, 6)], Spread())
    assert pair_chances([(3, 6)], Spread(), time_spread({})).both == pytest.approx(plain.both)
    assert pair_chances([(3, 6)], Spread(), time_spread({1: 9, 50: 9, 90: 9})).both == pytest.approx(
        plain.both
    )


def test_levelling_keeps_the_median_and_what_is_lost_above_it() -> None:
    fallen = time_spread({1: 130.0, 50: 120.0, 99: 125.0})
    level = time_spread({1: 120.0, 50: 120.0, 99: 125.0})
    assert fallen.above_median_db == pytest.approx(level.above_median_db)
    assert max(fallen.above_median_db) > 5.0
    assert min(fallen.above_median_db) == 0.0
    inside = time_spread({1: 110.0, 10: 112.0, 30: 108.0, 50: 120.0, 70: 119.0, 99: 125.0})
    mended = time_spread({1: 108.0, 10: 108.0, 30: 108.0, 50: 120.0, 70: 120.0, 99: 125.0})
    assert inside.above_median_db == pytest.approx(mended.above_median_db)


def test_a_quantile_that_falls_is_levelled() -> None:
    spread = time_spread({1: 150.0, 10: 161.0, 50: 160.0, 90: 165.0})
    assert np.all(np.diff(spread.above_median_db) >= -1e-12)


@pytest.mark.parametrize("losses", [{0: 150, 50: 160}, {50: 160, 100: 165}, {10: math.nan, 50: 160}])
def test_bad_time_losses(losses: dict[float, float]) -> None:
    with pytest.raises(OutOfRangeError, match=r"% of the time: accepted"):
        time_spread(losses)


def test_time_losses_need_a_median() -> None:
    with pytest.raises(OutOfRangeError, match=r"the figure for 50 % is needed"):
        time_spread({10: 150, 90: 160})


@pytest.mark.parametrize("value", [-1.0, 41.0, math.nan])
def test_bad_spread(value: float) -> None:
    with pytest.raises(OutOfRangeError, match=r"spread noise_out_db = .*: accepted 0 to 40 dB"):
        Spread(8.0, value)


def test_margins_must_be_numbers() -> None:
    with pytest.raises(OutOfRangeError, match=r"margins .*: accepted finite numbers"):
        pair_chances([(math.nan, 1.0)], Spread())


def test_location_variability() -> None:
    # ITU-R P.1812-8 §4.8; by hand at 1 GHz and 500 m: 0.544 * 500^0.28 = 0.544 * 5.698 = 3.10 dB
    assert location_sigma_db(1000.0, 500.0) == pytest.approx(3.10, abs=0.01)
    half = location_sigma_db(1000.0, 500.0, height_m=15.0, clutter_m=10.0)
    assert half == pytest.approx(1.55, abs=0.01)
    assert location_sigma_db(1000.0, 500.0, height_m=25.0, clutter_m=10.0) == 0.0
    with pytest.raises(OutOfRangeError, match=r"width of the area 0 m: accepted above 0 m"):
        location_sigma_db(145.0, 0)


def test_location_variability_adds_to_the_shared_part() -> None:
    assert Spread(8, 6, 6, 5).shared_db == pytest.approx(math.sqrt(89))
