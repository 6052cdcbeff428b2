"""Two real workers on this machine, one of them ended in the middle; and schedulers that are not there."""

from __future__ import annotations

import contextlib
import math
import re
import socket
import subprocess
import sys
import time
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pytest

from pathprofile.area import cluster as module
from pathprofile.area.cluster import Cluster, engine_for
from pathprofile.area.many_coverages import coverages
from pathprofile.area.many_links import FarEnd, losses_between
from pathprofile.area.work import Here, Processes, State
from pathprofile.atmosphere import Atmosphere
from pathprofile.errors import PathProfileError
from pathprofile.places.location import Location
from pathprofile.sample import sample_dir, sample_places
from pathprofile.terrain.store import TerrainStore

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

needs_dask = pytest.mark.skipif(
    find_spec("distributed") is None, reason="dask.distributed is not installed (pathprofile[cluster])"
)


class Machines(NamedTuple):
    """A scheduler and two workers, processes of this test."""

    address: str
    workers: list[subprocess.Popen[bytes]]


def _started(what: str, *arguments: str, **more: Any) -> subprocess.Popen[Any]:
    command = [
        sys.executable,
        "-W",
        "ignore",
        "-m",
        f"distributed.cli.dask_{what}",
        "--no-dashboard",
        *arguments,
    ]
    return subprocess.Popen(command, **more)


@pytest.fixture(scope="module")
def machines() -> Iterator[Machines]:
    with contextlib.ExitStack() as stack:

        def run(*command: Any, **more: Any) -> subprocess.Popen[Any]:
            process = _started(*command, **more)
            stack.callback(process.wait)
            stack.callback(process.kill)
            return process

        scheduler = run("scheduler", "--host", "127.0.0.1", "--port", "0", stderr=subprocess.PIPE, text=True)
        address = ""
        while not address:
            line = scheduler.stderr.readline()
            assert line, "the scheduler ended before it gave its address"
            found = re.search(r"Scheduler at:\s+(tcp://\S+)", line)
            address = found[1] if found else ""
        stack.callback(scheduler.stderr.close)
        options = ("--no-nanny", "--nthreads", "1", "--host", "127.0.0.1")
        workers = [run("worker", address, *options, stderr=subprocess.DEVNULL) for _ in range(2)]
        yield Machines(address, workers)


@pytest.fixture(scope="module")
def island() -> Iterator[TerrainStore]:
    with TerrainStore.open([sample_dir()]) as store:
        yield store


@pytest.fixture(scope="module")
def question(cache_dir: Path, island: TerrainStore) -> Callable[..., np.ndarray]:
    rng = np.random.default_rng(0)
    latitude, longitude = rng.uniform(46.5, 47.8, 2500), rng.uniform(-21.4, -20.6, 2500)
    places = list(sample_places().values())[:8]
    far = [
        FarEnd(each.latitude_deg, each.longitude_deg, math.nan, 8.0, 6.0, 144.3, True, 120.0)
        for each in places
    ]

    def ask(**more: Any) -> np.ndarray:
        return losses_between(
            latitude, longitude, far, island, atmosphere=Atmosphere(), cache_dir=cache_dir, **more
        ).loss_db

    return ask


@needs_dask
class TestTwoWorkers:
    def test_coverage_is_that_of_here(
        self, machines: Machines, island: TerrainStore, cache_dir: Path
    ) -> None:
        names = ("Gull Tor", "Ravel Head")
        sites = [
            Location(sample_places()[name].latitude_deg, sample_places()[name].longitude_deg)
            for name in names
        ]
        asked = {
            "radius_m": 8000.0,
            "frequency_mhz": 145.0,
            "antenna_agl_m": 10.0,
            "receiver_agl_m": 2.0,
            "cell_m": 200.0,
            "radials": 60,
            "atmosphere": Atmosphere(50.0),
        }
        here = dict(coverages(sites, island, cache_dir=cache_dir, **asked))
        with engine_for(machines.address) as engine:
            there = dict(coverages(sites, island, cache_dir=cache_dir, engine=engine, **asked))
        assert sorted(there) == [0, 1]
        for number, found in there.items():
            assert np.array_equal(found.loss_db, here[number].loss_db, equal_nan=True)
            assert np.array_equal(found.map_status, here[number].map_status)
            assert found.grid == here[number].grid
            assert found.notes == here[number].notes
            assert found.site_ground_m == here[number].site_ground_m
            assert found.atmosphere == Atmosphere(50.0)

    def test_an_error_comes_back_in_one_line(self, machines: Machines, island: TerrainStore) -> None:
        with engine_for(machines.address) as engine, pytest.raises(PathProfileError, match=r"radius 5\.0 m"):
            list(
                coverages(
                    [Location(47.0, -21.0)],
                    island,
                    engine=engine,
                    radius_m=5.0,
                    frequency_mhz=145.0,
                    antenna_agl_m=10.0,
                    receiver_agl_m=2.0,
                )
            )

    def test_a_lost_worker_costs_only_its_own_pieces(
        self, machines: Machines, question: Callable[..., np.ndarray]
    ) -> None:
        states: list[State] = []

        def end_one(state: State) -> None:
            states.append(state)
            if len(states) == 4:
                machines.workers[0].kill()

        with Cluster(machines.address) as engine:
            there = question(engine=engine, threads=1, progress=end_one)
        assert machines.workers[0].wait(timeout=5) != 0
        assert machines.workers[1].poll() is None
        done = [state.done for state in states]
        assert done == sorted(set(done))  # every piece came once
        assert done[-1] == states[-1].total == 20_000
        assert np.array_equal(there, question(), equal_nan=True)

    def test_without_workers_it_ends(self, machines: Machines, question: Callable[..., np.ndarray]) -> None:
        machines.workers[1].kill()
        machines.workers[1].wait(timeout=5)
        with (
            Cluster(machines.address, patience_s=0.5) as engine,
            pytest.raises(PathProfileError, match="has no workers: start some"),
        ):
            question(engine=engine)


@needs_dask
class TestUnreachable:
    def test_nobody_there(self) -> None:
        with socket.socket() as taken:
            taken.bind(("127.0.0.1", 0))  # bound, not listening
            address = f"tcp://127.0.0.1:{taken.getsockname()[1]}"
            began = time.monotonic()
            with pytest.raises(PathProfileError, match=f"no scheduler answers at '{address}'"):
                Cluster(address)
        assert time.monotonic() - began < 10.0

    def test_somebody_silent(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(module, "_GREETING_S", 0.3)
        with socket.socket() as silent:
            silent.bind(("127.0.0.1", 0))
            silent.listen()
            began = time.monotonic()
            with pytest.raises(PathProfileError, match="no scheduler answers"):
                Cluster(f"tcp://127.0.0.1:{silent.getsockname()[1]}")
        assert time.monotonic() - began < 5.0

    @pytest.mark.parametrize("address", ["nonsense", "tcp://", "tcp://127.0.0.1", "tcp://127.0.0.1:x"])
    def test_no_address(self, address: str) -> None:
        with pytest.raises(PathProfileError, match=re.escape(f"no scheduler answers at {address!r}")):
            Cluster(address)


def test_without_the_library(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(PathProfileError, match=r"pip install 'pathprofile\[cluster\]'"):
        Cluster("tcp://127.0.0.1:8786")


def test_engines_without_a_scheduler() -> None:
    with engine_for() as here:
        assert isinstance(here, Here)
    with engine_for(workers=2) as several:
        assert isinstance(several, Processes)
