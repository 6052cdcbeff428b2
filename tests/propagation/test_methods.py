"""All methods on one profile: who answers, who abstains and why, and what is said when they part."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from scipy.special import fresnel

from pathprofile.atmosphere import Atmosphere
from pathprofile.errors import OutOfRangeError
from pathprofile.ground.clutter import ClutteredProfile
from pathprofile.ground.obstacles import find_obstacles
from pathprofile.ground.zones import inland
from pathprofile.propagation.methods import METHOD_NAMES, PathLoss, Surroundings, all_methods

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Ground = Callable[[Floats], Floats]

EDGES = {"single_edge", "rounded_obstacle", "epstein_peterson", "deygout", "giovanelli", "exact_edges"}


def ask(
    whole_m: float,
    ground: Ground,
    *,
    heights_m: tuple[float, float] = (6.0, 10.0),
    frequency_mhz: float = 146.52,
    step_m: float = 50.0,
    clutter_m: float = 0.0,
    **asked: Any,
) -> PathLoss:
    """Ground as a function of the distance in km."""
    distance_m = np.linspace(0.0, whole_m, max(33, round(whole_m / step_m) + 1))
    ground_m = np.asarray(ground(distance_m / 1000.0), float) + np.zeros(distance_m.size)
    clutter = np.full(distance_m.size, clutter_m)
    clutter[[0, -1]] = 0.0
    profile = ClutteredProfile(distance_m, ground_m, clutter)
    atmosphere = Atmosphere()
    obstacles = find_obstacles(
        distance_m,
        ground_m + clutter,
        from_antenna_amsl_m=float(ground_m[0]) + heights_m[0],
        to_antenna_amsl_m=float(ground_m[-1]) + heights_m[1],
        effective_radius_m=atmosphere.effective_radius_m,
        frequency_mhz=frequency_mhz,
    )
    usual: dict[str, Any] = {
        "polarization": "vertical",
        "atmosphere": atmosphere,
        "latitude_deg": 46.0,
        "surroundings": Surroundings(),
    }
    return all_methods(
        profile,
        obstacles,
        inland(distance_m.size),
        frequency_mhz=frequency_mhz,
        from_antenna_agl_m=heights_m[0],
        to_antenna_agl_m=heights_m[1],
        **(usual | asked),
    )


def flat(km: Floats) -> Floats:
    return np.zeros_like(km)


def wedge(at_km: float, height_m: float, half_width_km: float = 2.0) -> Ground:
    return lambda km: height_m * np.clip(1.0 - np.abs(km - at_km) / half_width_km, 0.0, 1.0)


def test_on_a_ridge_every_method_answers() -> None:
    loss = ask(60_000.0, wedge(25.0, 400.0))
    assert list(loss.methods) == list(METHOD_NAMES)
    assert loss.abstained == {}
    assert (loss.primary, loss.second_opinion) == ("p1812", "itm")
    assert loss.loss_db == loss.methods["p1812"]
    assert loss.second_opinion_db == loss.methods["itm"]
    assert loss.disagreement_db == pytest.approx(abs(loss.methods["itm"] - loss.methods["p1812"]))
    assert all(math.isfinite(each) for each in loss.methods.values())


def test_free_space_is_the_floor() -> None:
    """ITU-R P.525-4 eq. 4: 32.4 + 20 log f + 20 log d; diffraction only adds to it."""
    loss = ask(60_000.0, wedge(25.0, 400.0))
    expected = 32.4 + 20.0 * math.log10(146.52) + 20.0 * math.log10(60.0)
    assert loss.free_space_db == pytest.approx(expected, abs=0.1)
    assert loss.methods["free_space"] == loss.free_space_db
    for method in {*EDGES, "bullington", "delta_bullington", "spherical_earth"}:
        assert loss.methods[method] >= loss.free_space_db - 1e-9, method


def test_one_knife_edge_is_the_fresnel_integral() -> None:
    """½ ((½ − C(ν))² + (½ − S(ν))²) of the power (ITU-R P.526-16 §4.1), C and S from scipy.

    ν worked out here from heights and distances alone: a wedge narrow enough to be an edge, 30 km of 60.
    """
    loss = ask(60_000.0, wedge(30.0, 400.0, 0.1), heights_m=(10.0, 10.0))
    radius_m = 6_371_000.0 * 4.0 / 3.0
    above_m = 400.0 + 30_000.0**2 / (2.0 * radius_m) - 10.0
    nu = above_m * math.sqrt(2.0 / (299.792458 / 146.52) * (1.0 / 30_000.0 + 1.0 / 30_000.0))
    s, c = fresnel(nu)
    expected = -10.0 * math.log10(0.5 * ((0.5 - c) ** 2 + (0.5 - s) ** 2))
    assert loss.methods["single_edge"] - loss.free_space_db == pytest.approx(expected, abs=1e-3)


def test_under_250_m_p1812_abstains_and_bullington_is_the_estimate() -> None:
    """ITU-R P.1812-8 §1: paths from 0.25 km."""
    loss = ask(200.0, flat, heights_m=(5.0, 5.0))
    assert "p1812" not in loss.methods
    assert "0.25" in loss.abstained["p1812"] or "250" in loss.abstained["p1812"]
    assert loss.primary == "bullington"
    assert loss.loss_db == loss.methods["bullington"]
    assert loss.mechanism == "sight"
    assert loss.without_troposcatter_db is None
    assert loss.not_exceeded_db == {}


def test_a_short_path_behind_a_wall_is_diffraction() -> None:
    loss = ask(200.0, lambda km: np.where(np.abs(km - 0.1) < 0.004, 40.0, 0.0), heights_m=(5.0, 5.0))
    assert (loss.primary, loss.mechanism) == ("bullington", "diffraction")


def test_an_antenna_under_half_a_metre_silences_itm_alone() -> None:
    """NTIA Report 82-100: antenna heights from 0.5 m."""
    loss = ask(30_000.0, wedge(12.0, 200.0), heights_m=(0.3, 10.0))
    assert set(loss.abstained) == {"itm"}
    assert "0.3" in loss.abstained["itm"]
    assert loss.second_opinion is None
    assert loss.second_opinion_db is None
    assert loss.disagreement_db is None
    assert loss.second_opinion_k is None
    assert loss.primary == "p1812"
    assert set(loss.not_exceeded_db) == {1.0, 10.0, 50.0}


def test_smooth_ground_silences_the_edges_alone() -> None:
    """Over ground as round as the Earth no edge stands for it."""
    loss = ask(60_000.0, flat)
    assert set(loss.abstained) == EDGES
    assert {"as round as the Earth" in reason for reason in loss.abstained.values()} == {True}
    assert set(loss.methods) == set(METHOD_NAMES) - EDGES


def test_far_in_sight_the_edges_say_free_space() -> None:
    loss = ask(20_000.0, wedge(10.0, -200.0, 9.99), heights_m=(150.0, 150.0))
    assert loss.mechanism == "sight"
    for method in EDGES:
        assert loss.methods[method] == loss.free_space_db


def test_nobody_left_is_an_error() -> None:
    with pytest.raises(OutOfRangeError, match=r"Bullington: frequency_mhz 0\.1: give 1 to"):
        ask(60_000.0, flat, frequency_mhz=0.1)


def test_scatter_that_undercuts_on_a_short_path_is_remarked() -> None:
    """Flat, 52 MHz, 6 m and 10 m, 60 km: diffraction 162.3 dB, scatter 140.9 dB (ITU-R P.1812-8).

    Figures from a restatement of the Recommendation's equations, to 0.5 dB as its path is not given in full.
    """
    loss = ask(60_000.0, flat, frequency_mhz=52.0)
    assert loss.mechanism == "troposcatter"
    assert loss.without_troposcatter_db == pytest.approx(162.3, abs=0.5)
    assert loss.loss_db == pytest.approx(140.9, abs=0.5)
    (remark,) = [text for text in loss.remarks if text.startswith("Troposcatter")]
    assert remark == (
        "Troposcatter rules although the path is only 60 km long; the standard is optimistic there. "
        f"Without it the loss is {loss.without_troposcatter_db:.0f} dB instead of {loss.loss_db:.0f} dB."
    )


def test_scatter_beyond_100_km_is_usual_and_not_remarked() -> None:
    loss = ask(160_000.0, flat, step_m=100.0)
    assert loss.mechanism == "troposcatter"
    assert not any(text.startswith("Troposcatter") for text in loss.remarks)


def test_methods_that_part_are_remarked_with_how_far() -> None:
    """A lone ridge with low masts at 50 MHz is where they part most (common practice)."""
    parted = [
        loss
        for at_km in (10.0, 20.0, 30.0)
        for height_m in (200.0, 600.0, 1000.0)
        if (
            loss := ask(60_000.0, wedge(at_km, height_m, 3.0), heights_m=(6.0, 6.0), frequency_mhz=50.2)
        ).disagreement_db
        > 15.0
    ]
    assert parted
    for loss in parted:
        (remark,) = [text for text in loss.remarks if text.startswith("The methods part")]
        other = "less" if loss.methods["itm"] < loss.loss_db else "more"
        assert remark.startswith(
            f"The methods part: the second opinion is {loss.disagreement_db:.0f} dB {other}."
        )
        assert remark.endswith("Take the figure as a guess until somebody has tried the path.")


def test_methods_that_agree_are_not_remarked() -> None:
    loss = ask(20_000.0, wedge(10.0, -200.0, 9.99), heights_m=(150.0, 150.0))
    assert loss.disagreement_db is not None
    assert loss.disagreement_db < 15.0
    assert loss.remarks == ()


def test_loss_grows_with_the_share_of_time() -> None:
    """The loss not exceeded for more of the year is larger, by definition."""
    years = ask(120_000.0, wedge(50.0, 300.0)).not_exceeded_db
    assert list(years) == [1.0, 10.0, 50.0, 90.0]
    assert list(years.values()) == sorted(years.values())
    assert ask(120_000.0, wedge(50.0, 300.0)).loss_db == years[50.0]


def test_higher_ridges_lose_more_by_every_edge_method() -> None:
    low, high = (ask(60_000.0, wedge(25.0, height_m)) for height_m in (300.0, 600.0))
    for method in EDGES:
        assert high.methods[method] > low.methods[method], method


def test_clutter_counts_as_height() -> None:
    bare, trees = (
        ask(60_000.0, wedge(25.0, 400.0), clutter_m=height_m, heights_m=(30.0, 30.0))
        for height_m in (0.0, 15.0)
    )
    for method in ("p1812", "bullington", *EDGES):
        assert trees.methods[method] > bare.methods[method], method
    assert trees.methods["itm"] == bare.methods["itm"]  # it takes the bare ground


def test_deciding_only_leaves_the_deciding_figures_as_they_are() -> None:
    whole = ask(60_000.0, wedge(25.0, 400.0))
    quick = ask(60_000.0, wedge(25.0, 400.0), deciding_only=True)
    assert not EDGES & set(quick.methods)
    assert (quick.loss_db, quick.second_opinion_db) == (whole.loss_db, whole.second_opinion_db)
    assert (quick.mechanism, quick.not_exceeded_db, quick.remarks) == (
        whole.mechanism,
        whole.not_exceeded_db,
        whole.remarks,
    )


def test_ground_constants_and_climate_reach_the_second_opinion_only() -> None:
    average = ask(120_000.0, wedge(50.0, 300.0))
    other = ask(120_000.0, wedge(50.0, 300.0), surroundings=Surroundings(81.0, 5.0, 7))
    assert other.loss_db == average.loss_db
    assert other.methods["itm"] != average.methods["itm"]


def test_unknown_climate_is_an_abstention_with_its_reason() -> None:
    loss = ask(30_000.0, wedge(12.0, 200.0), surroundings=Surroundings(climate=9))
    assert "climate 9" in loss.abstained["itm"]
    assert loss.primary == "p1812"
