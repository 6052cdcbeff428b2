"""Invented paths of every shape: real classes and sightlines, stated losses, no terrain files."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import numpy.typing as npt
import pytest

from pathprofile.atmosphere import Atmosphere
from pathprofile.geodesy import Leg
from pathprofile.ground.clutter import ClutteredProfile
from pathprofile.ground.obstacles import Obstacle, find_obstacles
from pathprofile.ground.zones import inland
from pathprofile.places import Location
from pathprofile.propagation.methods import PathLoss
from pathprofile.reach import PathEnd, Reach
from pathprofile.sightline import sightline
from pathprofile.terrain.profile import TerrainProfile
from pathprofile.terrain.voids import Bridge

Ground = Callable[[npt.NDArray[np.float64]], npt.NDArray[np.float64]]


def build(
    whole_m: float,
    ground: Ground,
    *,
    names: tuple[str, str] = ("Gull Tor", "Marsh End"),
    frequency_mhz: float = 146.52,
    heights_m: tuple[float, float] = (6.0, 10.0),
    obstacles_at: tuple[float, ...] = (),
    second_opinion: bool = True,
    count: int | None = None,
    bridges: tuple[tuple[float, float], ...] = (),
) -> Reach:
    """A path over invented ground; obstacles are found, or stated by the shares of its length they are at."""
    count = count or int(np.clip(whole_m / 30.0, 33, 30_000))
    distance_m = np.linspace(0.0, whole_m, count)
    ground_m = ground(distance_m / whole_m)
    atmosphere = Atmosphere()
    seen = sightline(
        distance_m,
        ground_m,
        from_antenna_agl_m=heights_m[0],
        to_antenna_agl_m=heights_m[1],
        frequency_mhz=frequency_mhz,
        atmosphere=atmosphere,
    )
    antennas_m = (float(ground_m[0]) + heights_m[0], float(ground_m[-1]) + heights_m[1])
    obstacles = find_obstacles(
        distance_m,
        ground_m,
        from_antenna_amsl_m=antennas_m[0],
        to_antenna_amsl_m=antennas_m[1],
        effective_radius_m=atmosphere.effective_radius_m,
        frequency_mhz=frequency_mhz,
    )
    if obstacles_at:
        stated = [
            Obstacle(
                distance_m=float(distance_m[i]),
                top_m=float(ground_m[i]),
                clearance_m=float(seen.clearance_m[i]),
                nu=float(-seen.fresnel_ratio[i] * 2**0.5),  # ν = √2 h/F1, ITU-R P.526-16 §4.1
                radius_m=0.0,
                start_m=float(distance_m[i]),
                stop_m=float(distance_m[i]),
            )
            for i in (round(share * (count - 1)) for share in obstacles_at)
        ]
        obstacles = replace(obstacles, kept=tuple(stated), found=len(stated), smooth_reason=None)
    places = [
        Location(46.2052 + 0.01 * i, -21.3127 + 0.01 * i, label=name, uncertainty_m=5.0)
        for i, name in enumerate(names)
    ]
    ends = [
        PathEnd(place, float(g), h, -3.0, azimuth, (azimuth + 3.0) % 360.0)
        for place, g, h, azimuth in zip(places, ground_m[[0, -1]], heights_m, (44.2, 225.1), strict=True)
    ]
    loss = PathLoss(
        primary="p1812",
        loss_db=172.04,
        free_space_db=119.8,
        mechanism="diffraction",
        methods={"p1812": 172.04, "itm": 168.18, "bullington": 166.0},
        abstained={},
        second_opinion="itm" if second_opinion else None,
    )
    no_points = np.zeros(count, dtype=bool)
    profile = TerrainProfile(
        distance_m=distance_m,
        latitude_deg=np.linspace(places[0].latitude_deg, places[1].latitude_deg, count),
        longitude_deg=np.linspace(places[0].longitude_deg, places[1].longitude_deg, count),
        ground_m=ground_m,
        void_mask=no_points,
        sea_mask=no_points,
        source_index=np.zeros(count, dtype=np.int32),
        tiles=(),
        sources=("N46W022", "N46W021"),
        bridges=tuple(Bridge(start, stop, "along the path", "N46W022") for start, stop in bridges),
        bridged_m=0.0,
        void_points=0,
        sea_points=0,
        step_m=float(distance_m[1]),
        cell_m=30.0,
        model_kinds=("surface",),
        vertical_datums=(),
        from_ground_stated=False,
        to_ground_stated=False,
        warnings=(),
    )
    cluttered = ClutteredProfile(distance_m, ground_m, np.zeros(count))
    return Reach(
        from_end=ends[0],
        to_end=ends[1],
        frequency_mhz=frequency_mhz,
        polarization="horizontal",
        date=dt.date(2025, 6, 14),
        atmosphere=atmosphere,
        leg=Leg(whole_m, 44.2, 225.1),
        profile=profile,
        sightline=seen,
        obstacles=obstacles,
        loss=loss,
        zones=inland(count),
        warnings=(),
        survey=cast("Any", SimpleNamespace(cluttered=cluttered)),
    )


def rough(seed: int, scale_m: float, base_m: float = 0.0, roughness: int = 60) -> Ground:
    """Hills from a sum of waves with seeded phases, never below ``base_m``."""
    draw = np.random.default_rng(seed)
    phases = draw.uniform(0.0, 2 * np.pi, roughness)

    def ground(share: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        total = sum(np.sin(2 * np.pi * n * share + phases[n - 1]) / n**1.1 for n in range(1, roughness + 1))
        lifted = np.asarray(total, dtype=np.float64)
        return np.asarray(base_m + scale_m * (lifted - lifted.min()) / np.ptp(lifted))

    return ground


def peaks(*shares_and_heights: tuple[float, float, float], base: Ground | None = None) -> Ground:
    """Hills at (share, height, width share) upon a base."""
    below = base or (lambda share: np.zeros(share.shape))

    def ground(share: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        total = below(share)
        for at, height_m, width in shares_and_heights:
            total = total + height_m * np.exp(-(((share - at) / width) ** 2))
        return total

    return ground


def sloping(from_m: float, to_m: float) -> Ground:
    return lambda share: from_m + (to_m - from_m) * share


def _cases() -> dict[str, Callable[[], Reach]]:
    long_names = ("Upper Windward Signal Station By The Gap", "Lower Leeward Harbour Breakwater Lantern")
    ridges = peaks(
        (0.0, 850.0, 0.03),
        (0.15, 600.0, 0.02),
        (0.32, 800.0, 0.015),
        (0.445, 1100.0, 0.02),
        (0.62, 700.0, 0.03),
        (0.9, 300.0, 0.01),
        base=rough(3, 120.0),
    )
    return {
        "short_300m": lambda: build(300.0, rough(1, 4.0, 210.0, 5), obstacles_at=()),
        "short_300m_blocked": lambda: build(
            300.0, peaks((0.6, 16.0, 0.08), base=rough(1, 4.0, 210.0, 5)), obstacles_at=(0.6,)
        ),
        "obstructed_160km": lambda: build(
            160_300.0, ridges, obstacles_at=(0.15, 0.32, 0.445, 0.62, 0.9), names=("Gull Tor", "Marsh End")
        ),
        "obstructed_found": lambda: build(160_300.0, ridges),
        "hills_90km": lambda: build(90_000.0, rough(21, 700.0), frequency_mhz=432.2),
        "clustered": lambda: build(
            80_000.0,
            peaks(
                (0.0, 300.0, 0.05),
                *((0.1 + 0.02 * i, 400.0 + 40 * i, 0.006) for i in range(5)),
                base=rough(5, 90.0),
            ),
            obstacles_at=tuple(0.1 + 0.02 * i for i in range(5)),
        ),
        "clear_30km": lambda: build(
            30_000.0, peaks((0.0, 700.0, 0.1), (1.0, 620.0, 0.09), base=rough(7, 110.0, 20.0))
        ),
        "partial_42km": lambda: build(
            42_000.0,
            peaks((0.0, 500.0, 0.08), (1.0, 420.0, 0.07), (0.55, 350.0, 0.03), base=rough(8, 60.0, 20.0)),
            obstacles_at=(0.55,),
        ),
        "far_800km": lambda: build(
            800_000.0, rough(9, 1500.0, roughness=200), obstacles_at=(0.2, 0.5, 0.7), count=26_000
        ),
        "sea_60km": lambda: build(60_000.0, lambda share: np.zeros(share.shape)),
        "wall_4000m": lambda: build(
            50_000.0, peaks((0.42, 4000.0, 0.006), base=rough(2, 60.0, 5.0)), obstacles_at=(0.42,)
        ),
        "below_sea": lambda: build(35_000.0, rough(4, 60.0, -430.0), obstacles_at=(0.5,)),
        "level_ends": lambda: build(
            20_000.0, peaks((0.0, 300.0, 0.06), (1.0, 300.0, 0.06)), heights_m=(10.0, 10.0)
        ),
        "long_names": lambda: build(160_300.0, ridges, names=long_names, obstacles_at=(0.32, 0.445, 0.62)),
        "odd_names": lambda: build(
            12_000.0,
            rough(6, 200.0),
            names=("Pay $5 $_^2 \\frac{1} 漢字 hut", "東京の山"),
            obstacles_at=(0.4,),
        ),
        "holes": lambda: build(
            40_000.0,
            rough(11, 300.0),
            obstacles_at=(0.6,),
            bridges=((9_000.0, 9_600.0), (24_000.0, 27_000.0)),
        ),
        "uhf": lambda: build(
            30_000.0,
            peaks((0.0, 700.0, 0.1), (1.0, 620.0, 0.09), (0.5, 300.0, 0.05), base=rough(7, 110.0, 20.0)),
            frequency_mhz=2400.0,
        ),
        "fifty_mhz": lambda: build(
            120_000.0,
            peaks((0.0, 900.0, 0.05), (1.0, 800.0, 0.05), base=rough(7, 210.0)),
            frequency_mhz=50.1,
            obstacles_at=(0.5,),
        ),
    }


CASES = _cases()


@pytest.fixture(params=sorted(CASES))
def any_reach(request: pytest.FixtureRequest) -> Reach:
    """Every invented path in turn."""
    return CASES[request.param]()


@pytest.fixture
def make_reach() -> Callable[[str], Reach]:
    """One invented path by name."""
    return lambda name: CASES[name]()
