"""Ends and paths to build links from; all stations are invented."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from pathprofile.link import End, equip_set_up
from pathprofile.station import SetUp

MakeEnd = Callable[..., End]


@pytest.fixture
def make_end() -> MakeEnd:
    """Factory: an isotropic, lossless, noiseless-line end in SSB unless told otherwise."""

    def make(
        name: str = "Gull Tor", *, mhz: float = 144.3, mode: str = "ssb", beacon: bool = False, **stated: Any
    ) -> End:
        set_up = {
            "bands": [mhz],
            "antenna": {"gain_dbi": 0.0, "pointing": "all round"},
            "feedline": {"loss_db": 0.0},
            "power_w": 10.0,
            "noise": {"category": "rural"},
        } | stated
        return equip_set_up(SetUp.read(set_up), name, mhz, mode, receive_only=beacon)

    return make
