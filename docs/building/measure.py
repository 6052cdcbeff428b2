"""Hold the code against published and closed-form cases, and keep the worst difference of each set."""

from __future__ import annotations

import importlib.metadata
import itertools
import json
import math
import platform
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from pathprofile import __version__
from pathprofile.geodesy import inverse
from pathprofile.link.chance import Spread, pair_chances
from pathprofile.propagation import delta_bullington, itm, knife_edge, p1812

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

__all__ = ["CaseSet", "case_sets", "versions"]

_PROFILE = ("distance_km", "ground_m", "clutter_m", "zone")
_ELSEWHERE = ("tx_latitude_deg", "tx_longitude_deg", "rx_latitude_deg", "rx_longitude_deg")
_SEA = 1  # zone code of P.1812-8 §3.2.1


@dataclass(frozen=True)
class CaseSet:
    """One set of cases and how far the code is from it.

    Attributes
    ----------
    kind : {"published", "separate", "closed form"}
        Figures that a standards body printed; those of an implementation written separately; mathematics.
    what, source : str
    cases, figures : int
        Cases, and numbers compared in them.
    worst : float
        Largest absolute difference, in ``unit``.
    asked : float
        What the tests allow.
    """

    kind: str
    what: str
    source: str
    cases: int
    figures: int
    worst: float
    unit: str
    asked: float


class _Tally:
    """Counts cases and figures, keeps the worst difference."""

    def __init__(self) -> None:
        self.cases = self.figures = 0
        self.worst = 0.0

    def case(self, pairs: Iterable[tuple[float, float]]) -> None:
        self.cases += 1
        for found, expected in pairs:
            self.figures += 1
            self.worst = max(self.worst, abs(found - expected))


def case_sets(tests_data: Path, reference: Path | None) -> list[CaseSet]:
    """All sets; the published ones only where their figures are at hand.

    Parameters
    ----------
    tests_data : Path
        The folder ``tests/data``.
    reference : Path or None
        Folder with ``p1812/`` and ``itm/``, the published figures.
    """
    found: list[CaseSet] = []
    if reference is not None:
        found += [*_published_p1812(reference / "p1812"), *_published_itm(reference / "itm" / "cases.json")]
    found += _separate(tests_data / "own_paths.json")
    found += [_grazing_edges(), _one_edge(), _joint_chance(), _geodesics()]
    return found


def versions() -> dict[str, str]:
    """Say what the figures were made with."""
    names = ("numpy", "scipy", "rasterio", "pyproj", "pygeomag", "numba", "matplotlib")
    found = {"pathprofile": __version__, "Python": platform.python_version()}
    return found | {name: importlib.metadata.version(name) for name in names}


def _set(kind: str, what: str, source: str, tally: _Tally, unit: str, asked: float) -> CaseSet:
    return CaseSet(kind, what, source, tally.cases, tally.figures, tally.worst, unit, asked)


def _published_p1812(folder: Path) -> Iterator[CaseSet]:
    loss, steps, diffraction = _Tally(), _Tally(), _Tally()
    for file in sorted(folder.glob("*.json")):
        data = json.loads(file.read_text(encoding="utf-8"))
        for case in data["cases"]:
            inputs = {key: value for key, value in case["inputs"].items() if key not in _ELSEWHERE}
            found = p1812.predict(*(data[key] for key in _PROFILE), **inputs)
            expected = case["expected"]
            loss.case([(found.loss_db, expected["L_b"])])
            steps.case((found.steps[key], value) for key, value in expected.items())
            if _bare_land(data):
                diffraction.case([(_delta_bullington(data, inputs), expected["L_d50"])])
    source = "ITU-R Study Group 3, validation profiles and results of P.1812-8"
    yield _set("published", "P.1812-8, basic transmission loss", source, loss, "dB", 1e-6)
    yield _set("published", "P.1812-8, every step on the way", source, steps, "of each step's unit", 1e-6)
    yield _set(
        "published", "delta-Bullington (P.526-16), loss over bare land", source, diffraction, "dB", 1e-6
    )


def _published_itm(file: Path) -> Iterator[CaseSet]:
    cases = {case["name"]: case for case in json.loads(file.read_text(encoding="utf-8"))["cases"]}
    vectors = _Tally()
    for name, case in cases.items():
        if name.startswith("ntia_p2p_vector_"):
            vectors.case([(_itm(case).loss_db, case["expected"]["basic_transmission_loss_db"])])
    example, table = _Tally(), _Tally()
    worked = cases["ntia_worked_example"]
    example.case([(_itm(worked).loss_db, worked["expected"]["basic_transmission_loss_db"])])
    printed = worked["expected"]["confidence_reliability_table"]
    for time, row in zip(printed["reliability_percent"], printed["basic_transmission_loss_db"], strict=True):
        for situation, loss_db in zip(printed["confidence_percent"], row, strict=True):
            found = _itm(worked, time_percent=time, situation_percent=situation)
            table.case([(found.loss_db, loss_db)])
    source = "NTIA, Irregular Terrain Model 1.4"
    yield _set("published", "ITM, test vectors printed to 0.01 dB", source, vectors, "dB", 0.006)
    yield _set("published", "ITM, worked example printed to 0.1 dB", source, example, "dB", 0.05)
    yield _set("published", "ITM, its table of confidence and reliability", source, table, "dB", 0.0501)


def _itm(case: dict[str, Any], **changed: float) -> itm.Prediction:
    inputs = case["inputs"] | {name: case["inputs"][name]["code"] for name in ("climate", "variability_mode")}
    return itm.predict(case["profile"]["spacing_m"], case["profile"]["elevations_m"], **(inputs | changed))


def _separate(file: Path) -> Iterator[CaseSet]:
    book = json.loads(file.read_text(encoding="utf-8"))
    loss, diffraction, terrain = _Tally(), _Tally(), _Tally()
    for case in book["p1812"]:
        data = book["profiles"][case["profile"]]
        inputs = {k: v for k, v in case.items() if k not in {"profile", "loss_db"} and not k.startswith("L_")}
        found = p1812.predict(*(data[key] for key in _PROFILE), **inputs)
        loss.case([(found.loss_db, case["loss_db"])])
        if _bare_land(data):
            diffraction.case([(_delta_bullington(data, inputs), case["L_d50"])])
    for case in book["itm"]:
        inputs = {k: v for k, v in case.items() if k not in {"profile", "spacing_m", "loss_db", "mode"}}
        ground_m = book["profiles"][case["profile"]]["ground_m"]
        terrain.case([(itm.predict(case["spacing_m"], ground_m, **inputs).loss_db, case["loss_db"])])
    source = "implementation written separately from the equations, tests/data/README.md"
    yield _set("separate", "P.1812-8, eight invented profiles", source, loss, "dB", 1e-5)
    yield _set(
        "separate", "delta-Bullington (P.526-16), those over bare land", source, diffraction, "dB", 1e-5
    )
    yield _set("separate", "ITM, eight invented profiles", source, terrain, "dB", 1e-3)


def _bare_land(data: dict[str, Any]) -> bool:
    return not any(data["clutter_m"]) and _SEA not in data["zone"]


def _delta_bullington(data: dict[str, Any], inputs: dict[str, Any]) -> float:
    return delta_bullington.loss_db(
        np.asarray(data["distance_km"]) * 1000.0,
        data["ground_m"],
        frequency_mhz=inputs["frequency_ghz"] * 1000.0,
        tx_antenna_agl_m=inputs["tx_antenna_agl_m"],
        rx_antenna_agl_m=inputs["rx_antenna_agl_m"],
        effective_radius_m=6371e3 * 157.0 / (157.0 - inputs["delta_n"]),  # P.1812-8 eqs 6 and 7
        polarization=inputs["polarization"],
    )


def _grazing_edges() -> CaseSet:
    tally = _Tally()
    for edges, slope in itertools.product(range(1, 11), (0.0, 0.01)):
        distance_m = np.linspace(0.0, 60e3, edges + 2)
        found = knife_edge.exact_loss_db(distance_m, 80.0 + slope * distance_m, 433.0)
        tally.case([(found, 20.0 * math.log10(edges + 1))])
    source = "S. W. Lee, IEEE Trans. Antennas Propag. 26(6), 1978: 20 log (n + 1)"
    return _set("closed form", "exact integral, 1 to 10 edges that graze", source, tally, "dB", 1e-6)


def _one_edge() -> CaseSet:
    from scipy.special import fresnel

    tally = _Tally()
    for nu in np.linspace(-10.0, 10.0, 401).tolist():
        s, c = fresnel(nu)
        expected = -20.0 * math.log10(math.hypot(1.0 - c - s, c - s) / 2.0)
        tally.case([(knife_edge.single_edge_loss_db(nu), expected)])
    source = "ITU-R P.526-16 §4.1, Fresnel integrals of scipy"
    return _set("closed form", "one knife edge, ν from −10 to 10", source, tally, "dB", 1e-9)


def _joint_chance() -> CaseSet:
    tally = _Tally()
    for shared, noise in itertools.product((1.0, 4.0, 8.0, 12.0), (0.5, 3.0, 6.0, 12.0)):
        found = pair_chances([(0.0, 0.0)], Spread(shared, noise, noise))
        share = shared**2 / (shared**2 + noise**2)
        tally.case([(float(found.both[0]), 0.25 + math.asin(share) / (2.0 * math.pi))])
    source = "orthant probability of two normal deviates, 1/4 + arcsin ρ / 2π (Sheppard 1899, from memory)"
    return _set("closed form", "chance of both directions, no margin either way", source, tally, "", 1e-6)


def _geodesics() -> CaseSet:
    from geographiclib.geodesic import Geodesic

    tally, draw = _Tally(), np.random.default_rng(8)
    solve: Callable[..., dict[str, float]] = Geodesic.WGS84.Inverse
    for _ in range(1000):
        lat, lon = draw.uniform(-89.0, 89.0), draw.uniform(-180.0, 180.0)
        ends = lat, lon, max(-89.0, min(89.0, lat + draw.uniform(-5.0, 5.0))), lon + draw.uniform(-5.0, 5.0)
        tally.case([(inverse(*ends[:3], (ends[3] + 180.0) % 360.0 - 180.0).distance_m, solve(*ends)["s12"])])
    source = "the package geographiclib (same algorithm, other code), paths drawn at random"
    return _set("separate", "distance on WGS 84", source, tally, "m", 1e-6)
