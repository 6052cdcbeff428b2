"""Beam positions: who shares one."""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pathprofile.trip.sheet_aiming import beams

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pathprofile.trip.sheet_calls import Call


def calls(*aims: tuple[float, float]) -> list[Call]:
    """Calls of one polarization by azimuth and tolerance; only what `beams` looks at."""
    return [
        cast(
            "Call",
            SimpleNamespace(
                key=key, azimuth_deg=azimuth_deg, good_within_deg=within_deg, polarization="horizontal"
            ),
        )
        for key, (azimuth_deg, within_deg) in enumerate(aims)
    ]


def shared(found: Sequence[Call]) -> set[tuple[int, ...]]:
    return {beam.keys for beam in beams(found, 0.0)}


@pytest.mark.parametrize(
    ("azimuths", "expected"),
    [
        ((10.0, 10.0, 100.0), {(0, 1), (2,)}),
        ((350.0, 350.0, 10.0, 120.0), {(0, 1, 2), (3,)}),
        ((10.0, 10.0), {(0, 1)}),
        ((10.0,), {(0,)}),
    ],
)
def test_equal_azimuths_share_a_beam(azimuths: tuple[float, ...], expected: set[tuple[int, ...]]) -> None:
    assert shared(calls(*((azimuth, 20.0) for azimuth in azimuths))) == expected


def test_a_narrow_antenna_at_the_same_azimuth_is_not_left_out() -> None:
    assert shared(calls((10.0, 20.0), (25.0, 20.0), (25.0, 5.0))) == {(0,), (1, 2)}


@given(st.lists(st.tuples(st.sampled_from([*range(0, 360, 7)]), st.integers(1, 60)), min_size=1, max_size=12))
def test_equal_azimuths_always_share_and_nobody_is_left_out(aims: list[tuple[int, int]]) -> None:
    together = shared(calls(*((float(azimuth), float(within)) for azimuth, within in aims)))
    assert sorted(key for keys in together for key in keys) == list(range(len(aims)))
    for azimuth in {azimuth for azimuth, _ in aims}:
        alike = {key for key, (each, _) in enumerate(aims) if each == azimuth}
        assert any(alike <= set(keys) for keys in together)
