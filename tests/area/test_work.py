"""Pieces: done anywhere alike, kept whole or not at all, taken up where an interrupt left them."""

from __future__ import annotations

import hashlib
import io
import math
import tracemalloc
import zipfile
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from pathprofile.area import work
from pathprofile.area.many_links import FarEnd, LinkTask, losses_between, site_pieces
from pathprofile.area.work import (
    Here,
    Order,
    PieceStore,
    Processes,
    SharedGround,
    State,
    by_tile,
    digest_of,
    do_piece,
    run_pieces,
)
from pathprofile.atmosphere import Atmosphere
from pathprofile.errors import OutOfRangeError, OutputError, PathProfileError
from pathprofile.sample import sample_dir, sample_places
from pathprofile.terrain.store import TerrainStore

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path


LONE_ARRAY = (
    b"\x93NUMPY\x01\x00v\x00"
    + b"{'descr': '<i8', 'fortran_order': False, 'shape': (1,), }".ljust(117)
    + b"\n"
    + bytes(8)
)


def _zipped(content: bytes, how: int = zipfile.ZIP_STORED) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", how) as archive:
        archive.writestr("a.npy", content)
    return packed.getvalue()


# contents whose digest is right and which are no result all the same
SOUND_DIGEST = [
    b"not a zip",
    LONE_ARRAY,
    _zipped(b"no array"),
    _zipped(LONE_ARRAY.replace(b"(1,)", b"(2,)")),
    _zipped(LONE_ARRAY.replace(b"(1,), }        ", b"(99999999,), } ")),  # 800 MB of room for 8 bytes
    _zipped(LONE_ARRAY.replace(b"<i8", b"|O8")),
    _zipped(LONE_ARRAY + bytes(50 * 2**20), zipfile.ZIP_DEFLATED),  # 50 MB in 50 kB
]


@pytest.fixture(scope="module")
def island() -> Iterator[TerrainStore]:
    with TerrainStore.open([sample_dir()]) as store:
        yield store


@dataclass(frozen=True)
class Square:
    """Squares a number, and counts how often it was asked to."""

    power: float
    asked: list[float]

    def inputs(self) -> object:
        return self.power

    def __call__(self, piece: float, ground: Any) -> dict[str, np.ndarray]:
        assert ground.tiles
        self.asked.append(piece)
        return {"value": np.array([piece**self.power])}


def values(found: Iterator[Any]) -> dict[int, float]:
    return {number: float(result["value"][0]) for number, result, _ in found}


def test_every_piece_once(island: TerrainStore) -> None:
    task = Square(2.0, [])
    assert values(run_pieces(task, [3.0, 4.0, 5.0], island)) == {0: 9.0, 1: 16.0, 2: 25.0}
    assert task.asked == [3.0, 4.0, 5.0]


def test_time_left_goes_by_the_pace(island: TerrainStore, monkeypatch: pytest.MonkeyPatch) -> None:
    clock = [0.0]
    monkeypatch.setattr(work.time, "monotonic", lambda: clock[0])
    states: list[State] = []
    for _ in run_pieces(
        Square(2.0, []), [1.0, 2.0, 3.0], island, weights=[1.0, 1.0, 2.0], progress=states.append
    ):
        clock[0] += 10.0
    # the clock moves between two pieces: 1 of 4 done at 0 s; 2 of 4 at 10 s, so 10 s for the rest
    assert [(state.done, state.total) for state in states] == [(1.0, 4.0), (2.0, 4.0), (4.0, 4.0)]
    assert [state.left_s for state in states] == [0.0, 10.0, 0.0]


class TestKept:
    def test_are_not_done_again(self, tmp_path: Path, island: TerrainStore) -> None:
        first, second = Square(2.0, []), Square(2.0, [])
        assert values(run_pieces(first, [3.0, 4.0], island, store=PieceStore(tmp_path, island))) == {
            0: 9.0,
            1: 16.0,
        }
        store = PieceStore(tmp_path, island)
        found = list(run_pieces(second, [4.0, 3.0, 5.0], island, store=store))
        assert values(iter(found)) == {0: 16.0, 1: 9.0, 2: 25.0}
        assert [kept for _, _, kept in found] == [True, True, False]
        assert second.asked == [5.0]
        assert store.notes == ()

    def test_after_an_interrupt(self, tmp_path: Path, island: TerrainStore) -> None:
        def stop(state: State) -> None:
            if state.done == 2.0:
                raise KeyboardInterrupt

        store = PieceStore(tmp_path, island)
        with pytest.raises(KeyboardInterrupt):
            list(run_pieces(Square(2.0, []), [1.0, 2.0, 3.0, 4.0], island, store=store, progress=stop))
        again = Square(2.0, [])
        found = values(run_pieces(again, [1.0, 2.0, 3.0, 4.0], island, store=PieceStore(tmp_path, island)))
        assert found == {0: 1.0, 1: 4.0, 2: 9.0, 3: 16.0}
        assert again.asked == [3.0, 4.0]
        assert not list(tmp_path.glob("*.part"))

    def test_for_other_inputs_are_left_with_a_note(self, tmp_path: Path, island: TerrainStore) -> None:
        list(run_pieces(Square(2.0, []), [1.0, 2.0], island, store=PieceStore(tmp_path, island)))
        cubes, store = Square(3.0, []), PieceStore(tmp_path, island)
        assert values(run_pieces(cubes, [1.0, 2.0], island, store=store)) == {0: 1.0, 1: 8.0}
        assert cubes.asked == [1.0, 2.0]
        assert len(store.notes) == 1
        assert store.notes[0].startswith("2 pieces in ")
        assert "another question" in store.notes[0]

    def test_for_other_tiles_are_left(self, tmp_path: Path, island: TerrainStore) -> None:
        list(run_pieces(Square(2.0, []), [1.0], island, store=PieceStore(tmp_path / "kept", island)))
        one = next(iter(sample_dir().glob("*N47W021*")))
        with TerrainStore.open([one]) as fewer:
            again = Square(2.0, [])
            list(run_pieces(again, [1.0], fewer, store=PieceStore(tmp_path / "kept", fewer)))
        assert again.asked == [1.0]

    @pytest.mark.parametrize("content", [b"", b"PK\x03\x04 cut off", b"not a zip", LONE_ARRAY])
    def test_damaged_are_done_again(self, tmp_path: Path, island: TerrainStore, content: bytes) -> None:
        list(run_pieces(Square(2.0, []), [1.0], island, store=PieceStore(tmp_path, island)))
        next(tmp_path.glob("piece-*.npz")).write_bytes(content)
        again, store = Square(2.0, []), PieceStore(tmp_path, island)
        assert values(run_pieces(again, [1.0], island, store=store)) == {0: 1.0}
        assert again.asked == [1.0]
        assert "1 pieces" in store.notes[0]
        assert "damaged" in store.notes[0]
        assert values(run_pieces(Square(2.0, []), [1.0], island, store=PieceStore(tmp_path, island))) == {
            0: 1.0
        }

    @pytest.mark.parametrize("content", SOUND_DIGEST, ids=range(len(SOUND_DIGEST)))
    def test_a_digest_alone_makes_no_result(
        self, tmp_path: Path, island: TerrainStore, content: bytes
    ) -> None:
        list(run_pieces(Square(2.0, []), [1.0], island, store=PieceStore(tmp_path, island)))
        (file,) = tmp_path.glob("piece-*.npz")
        file.write_bytes(content + hashlib.sha256(content).digest())
        again, store = Square(2.0, []), PieceStore(tmp_path, island)
        tracemalloc.start()
        assert values(run_pieces(again, [1.0], island, store=store)) == {0: 1.0}
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        assert most < 10 * 2**20
        assert again.asked == [1.0]
        assert "damaged" in store.notes[0]

    def test_a_flipped_bit_is_damage(self, tmp_path: Path, island: TerrainStore) -> None:
        list(run_pieces(Square(2.0, []), [1.0], island, store=PieceStore(tmp_path, island)))
        (file,) = tmp_path.glob("piece-*.npz")
        whole = file.read_bytes()
        for at in range(0, len(whole), 7):
            file.write_bytes(whole[:at] + bytes([whole[at] ^ 4]) + whole[at + 1 :])
            assert PieceStore(tmp_path, island).load(Square(2.0, []), 1.0) is None

    def test_folder_that_cannot_be(self, tmp_path: Path, island: TerrainStore) -> None:
        (tmp_path / "file").touch()
        with pytest.raises(OutputError, match="choose another folder"):
            PieceStore(tmp_path / "file", island)


class TestDigests:
    def test_tell_apart_what_differs(self) -> None:
        values = [
            (1.0, 2.0),
            (1.0, (2.0,)),
            ((1.0,), 2.0),
            (1, 2),
            ("1", "2"),
            ("12",),
            (True, None),
            np.array([1.0, 2.0]),
            np.array([1.0, 2.0], np.float32),
            np.array([[1.0], [2.0]]),
            {"a": 1.0},
            {"a": 2.0},
            Atmosphere(45.0),
            Atmosphere(46.0),
            math.nan,
            0.0,
            -0.0,
        ]
        assert len({digest_of(each) for each in values}) == len(values)

    def test_are_the_same_for_the_same(self) -> None:
        assert digest_of({"b": 1, "a": 2}) == digest_of({"a": 2, "b": 1})
        assert digest_of(np.arange(6.0)[::2]) == digest_of(np.array([0.0, 2.0, 4.0]))
        assert digest_of(math.nan) == digest_of(float("nan"))

    def test_of_something_else(self) -> None:
        with pytest.raises(TypeError, match="has no digest"):
            digest_of(object())


@pytest.fixture(scope="module")
def question(cache_dir: Path) -> Callable[..., Any]:
    rng = np.random.default_rng(1)
    latitude, longitude = rng.uniform(46.6, 47.6, 900), rng.uniform(-21.4, -20.7, 900)
    places = (sample_places()[name] for name in ("Marsh End", "Quillhaven", "Norwater", "Tidewick"))
    stations = [
        FarEnd(place.latitude_deg, place.longitude_deg, math.nan, 8.0, 6.0, 144.3, True, 300.0)
        for place in places
    ]

    def ask(terrain: TerrainStore, **more: Any) -> Any:
        return losses_between(
            latitude, longitude, stations, terrain, atmosphere=Atmosphere(45.0), cache_dir=cache_dir, **more
        )

    ask.pieces = lambda terrain: site_pieces(latitude, longitude, np.full(900, math.nan), stations, terrain)  # type: ignore[attr-defined]
    ask.task = LinkTask(tuple(stations), Atmosphere(45.0), cache_dir=cache_dir)  # type: ignore[attr-defined]
    return ask


class TestElsewhere:
    def test_processes_give_what_this_one_gives(self, island: TerrainStore, question: Any) -> None:
        here = question(island, engine=Here()).loss_db
        with Processes(2) as engine:
            there = question(island, engine=engine).loss_db
        assert np.array_equal(here, there, equal_nan=True)
        assert np.isfinite(here).mean() > 0.8

    def test_a_worker_decodes_a_tile_once(self, island: TerrainStore, question: Any) -> None:
        order = Order(island.tiles, 64 * 2**20)
        for number, (_, piece) in enumerate(question.pieces(island)):
            do_piece(order, question.task, number, piece)
        (ground,) = work._at_hand.values()
        blocks = sum(math.ceil(tile.height / 256) * math.ceil(tile.width / 256) for tile in island.tiles)
        assert 0 < ground.decoded_blocks <= blocks
        other = Order(island.tiles, 32 * 2**20)
        number, piece = 0, question.pieces(island)[0][1]
        do_piece(other, question.task, number, piece)
        assert list(work._at_hand) == [other.key]  # one order's tiles are open at a time

    def test_another_state_of_the_formulas_is_refused(self, island: TerrainStore, question: Any) -> None:
        order = replace(Order(island.tiles, 2**20), formulas="older")
        with pytest.raises(PathProfileError, match="install the same everywhere"):
            do_piece(order, question.task, 0, question.pieces(island)[0][1])

    def test_impossible_number_of_workers(self) -> None:
        with pytest.raises(OutOfRangeError, match="workers 0"):
            Processes(0)


def test_places_by_tile(island: TerrainStore) -> None:
    latitude = np.array([47.5, 46.5, 47.5, 40.0, 46.4])
    longitude = np.array([-20.5, -20.5, -21.5, -21.0, -20.6])
    groups = by_tile(island, latitude, longitude)
    assert sorted(group.tolist() for group in groups) == [[0], [1, 4], [2], [3]]
    assert groups[0].tolist() == [3]


def test_ground_for_several_threads(island: TerrainStore) -> None:
    from concurrent.futures import ThreadPoolExecutor

    rng = np.random.default_rng(6)
    latitude, longitude = rng.uniform(46.2, 47.9, (8, 3000)), rng.uniform(-21.9, -20.2, (8, 3000))
    with TerrainStore.open([sample_dir()], cache_bytes=2**20) as store:
        shared = SharedGround(store)
        with ThreadPoolExecutor(4) as pool:
            found = list(pool.map(shared.elevation_m, latitude, longitude))
    assert np.array_equal(np.array(found), island.elevation_m(latitude, longitude), equal_nan=True)
