from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest

from pathprofile.errors import OutOfRangeError
from pathprofile.propagation import bullington, delta_bullington, spherical_earth

OWN_PATHS = Path(__file__).resolve().parents[1] / "data" / "own_paths.json"


def _over_land(data, settings):
    """Loss of this module, in its own units, for P.1812 cases whose diffraction is pure P.526."""
    return delta_bullington.loss_db(
        np.asarray(data["distance_km"]) * 1000.0,
        data["ground_m"],
        frequency_mhz=settings["frequency_ghz"] * 1000.0,
        tx_antenna_agl_m=settings["tx_antenna_agl_m"],
        rx_antenna_agl_m=settings["rx_antenna_agl_m"],
        effective_radius_m=6371e3 * 157.0 / (157.0 - settings["delta_n"]),
        polarization=settings["polarization"],
    )


def _bare_land(data):
    return not any(data["clutter_m"]) and 1 not in data["zone"]


def test_invented_paths_solved_elsewhere():
    book = json.loads(OWN_PATHS.read_text(encoding="utf-8"))  # source: tests/data/README.md
    cases = [case for case in book["p1812"] if _bare_land(book["profiles"][case["profile"]])]
    assert len(cases) >= 20
    for case in cases:
        found = _over_land(book["profiles"][case["profile"]], case)
        assert found == pytest.approx(case["L_d50"], abs=1e-5), case


def test_published_paths(reference_dir, count_published):
    checked = 0
    for file in sorted((reference_dir / "reference" / "p1812").glob("*.json")):
        data = json.loads(file.read_text(encoding="utf-8"))
        if not _bare_land(data):
            continue
        for case in data["cases"]:  # ITU-R Study Group 3, P.1812 validation results, L_d50
            found = _over_land(data, case["inputs"])
            assert found == pytest.approx(case["expected"]["L_d50"], abs=1e-6), (file.name, case["inputs"])
            checked += 1
    assert checked > 0
    count_published("delta-Bullington", checked)


@pytest.mark.parametrize("distance_m", [15e3, 60e3, 160e3])
def test_flat_ground_costs_what_the_smooth_sphere_costs(distance_m):
    distance = np.linspace(0.0, distance_m, 401)
    ground = np.zeros(401)
    earth = {"frequency_mhz": 145.0, "effective_radius_m": 8.5e6}
    found = delta_bullington.loss_db(
        distance, ground, tx_antenna_agl_m=10.0, rx_antenna_agl_m=6.0, polarization="vertical", **earth
    )
    sphere = spherical_earth.loss_db(distance_m, 10.0, 6.0, polarization="vertical", **earth)
    edge = bullington.loss_db(distance, ground, from_antenna_amsl_m=10.0, to_antenna_amsl_m=6.0, **earth)
    assert found == pytest.approx(
        max(sphere, edge), abs=1e-9
    )  # P.526-16 §4.5.2: the two Bullington terms cancel


def test_line_fitted_to_a_tilted_plane_is_the_plane():
    distance = np.sort(np.concatenate([[0.0, 40.0], np.random.default_rng(3).uniform(0.1, 39.9, 50)]))
    ground = 120.0 - 2.5 * distance
    slopes = bullington.profile_slopes(distance[1:-1], 40.0 - distance[1:-1], ground[1:-1], 130.0, 30.0)
    surface = delta_bullington.fit_smooth_surface(distance, ground, slopes)
    assert surface == pytest.approx((120.0, 20.0, 120.0, 20.0), abs=1e-9)


def test_line_fitted_to_rough_ground_is_the_least_squares_line():
    # P.1812-8 Attachment 1 fits the ground between its points, so resample finely and use an ordinary fit
    rng = np.random.default_rng(4)
    distance = np.linspace(0.0, 30.0, 61)
    ground = rng.uniform(0.0, 300.0, 61)
    slopes = bullington.profile_slopes(distance[1:-1], 30.0 - distance[1:-1], ground[1:-1], 400.0, 400.0)
    surface = delta_bullington.fit_smooth_surface(distance, ground, slopes)
    fine = np.linspace(0.0, 30.0, 300_001)
    slope, start = np.polyfit(fine, np.interp(fine, distance, ground), 1)
    assert surface.tx_m == pytest.approx(start, abs=0.01)
    assert surface.rx_m == pytest.approx(start + 30.0 * slope, abs=0.01)


def test_ground_that_grazes_the_sight_line_is_no_accident():
    distance = np.linspace(0.0, 20e3, 21)
    ground = np.zeros(21)
    ground[1:-1] = 10.0  # every interior point exactly on the line between the antennas
    loss = delta_bullington.loss_db(
        distance,
        ground,
        frequency_mhz=145.0,
        tx_antenna_agl_m=10.0,
        rx_antenna_agl_m=10.0,
        effective_radius_m=8.5e6,
        polarization="vertical",
    )
    assert math.isfinite(loss)
    assert loss > 6.0  # P.526-16 §4.1: grazing one edge already costs 6 dB


@pytest.mark.parametrize(
    ("changed", "match"),
    [
        ({"tx_antenna_agl_m": 0.0}, r"delta-Bullington: tx_antenna_agl_m 0\.0"),
        ({"rx_antenna_agl_m": math.nan}, "delta-Bullington: rx_antenna_agl_m nan"),
        ({"frequency_mhz": 1.0}, r"delta-Bullington: frequency_mhz 1\.0: give 10 to"),
        ({"polarization": "circular"}, "delta-Bullington: polarization 'circular'"),
        ({"ground_m": [0.0] * 4}, "4 values of ground_m for 5 distances"),
    ],
)
def test_bad_input_is_refused(changed, match):
    given = {
        "distance_m": [0.0, 1e3, 2e3, 3e3, 4e3],
        "ground_m": [0.0] * 5,
        "frequency_mhz": 145.0,
        "tx_antenna_agl_m": 10.0,
        "rx_antenna_agl_m": 10.0,
        "effective_radius_m": 8.5e6,
        "polarization": "vertical",
    }
    with pytest.raises(OutOfRangeError, match=match):
        delta_bullington.loss_db(**given | changed)
