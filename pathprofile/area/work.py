"""Long work in pieces: done here, in several processes or on a cluster; merged as it comes; kept and resumed.

A task is called with one piece after the other and gives arrays; what it gives depends on the piece, on the
ground and on nothing else, so that it does not matter where or in which order pieces are done.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import math
import os
import signal
import threading
import time
from collections import deque
from collections.abc import Mapping
from concurrent.futures import FIRST_COMPLETED, wait
from dataclasses import dataclass, field, fields, is_dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol

import numpy as np

from pathprofile import __version__
from pathprofile.area.compiled import _state_of_sources
from pathprofile.area.kept import UNREADABLE, unpacked
from pathprofile.atomic import write_atomically
from pathprofile.errors import OutOfRangeError, OutputError, PathProfileError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from concurrent.futures import Future
    from typing import Self

    import numpy.typing as npt

    from pathprofile.terrain.store import TerrainStore
    from pathprofile.terrain.tiles import Tile

    Arrays = dict[str, npt.NDArray[Any]]
    Floats = npt.NDArray[np.float64]
    Ints = npt.NDArray[np.int64]

__all__ = [
    "Engine",
    "Here",
    "Order",
    "PieceStore",
    "Processes",
    "SharedGround",
    "State",
    "Task",
    "by_tile",
    "digest_of",
    "do_piece",
    "run_pieces",
]

CACHE_BYTES = 256 * 2**20
"""Most memory for decoded ground in one process."""
_QUEUED_A_WORKER = 2
_DIGEST_BYTES = 32


class Task(Protocol):
    """What is done with every piece; a frozen dataclass at the top of a module, so that it can be sent."""

    def __call__(self, piece: Any, ground: Any) -> Arrays:
        """Work one piece out."""

    def inputs(self) -> object:
        """All that decides the results beside piece and ground; not how many threads work."""


class State(NamedTuple):
    """How far the work is.

    ``done`` and ``total`` are in the unit of the work (links, rays …); ``left_s`` is the time left at the
    pace so far, None before anything is done.
    """

    done: float
    total: float
    left_s: float | None


class Engine(Protocol):
    """Where pieces are done."""

    def results(
        self, task: Task, pieces: Sequence[tuple[int, Any]], terrain: TerrainStore
    ) -> Iterator[tuple[int, Arrays]]:
        """Do numbered pieces, and give each with its number as soon as it is done."""


class SharedGround:
    """A store that several threads may ask, one after the other; keeps count of the blocks it decoded."""

    def __init__(self, store: TerrainStore) -> None:
        self._store = store
        self._lock = threading.Lock()

    def elevation_m(self, latitude_deg: npt.ArrayLike, longitude_deg: npt.ArrayLike) -> Floats:
        """As `TerrainStore.elevation_m`."""
        with self._lock:
            return self._store.elevation_m(latitude_deg, longitude_deg)

    def sample(
        self, latitude_deg: npt.ArrayLike, longitude_deg: npt.ArrayLike
    ) -> tuple[Floats, npt.NDArray[np.int32]]:
        """As `TerrainStore.sample`."""
        with self._lock:
            return self._store.sample(latitude_deg, longitude_deg)

    @property
    def decoded_blocks(self) -> int:
        """As `TerrainStore.decoded_blocks`."""
        return self._store.decoded_blocks

    def close(self) -> None:
        """Close the files, when nobody reads."""
        with self._lock:
            self._store.close()


@dataclass(frozen=True)
class Order:
    """What another process needs to know of the ground, and which state of the formulas is wanted.

    Attributes
    ----------
    tiles : tuple of Tile
        By headers; the files must lie at the same paths there.
    cache_bytes : int
        Most memory for decoded ground in that process.
    formulas : str
        State of the sources; a process with another one refuses.
    """

    tiles: tuple[Tile, ...]
    cache_bytes: int
    formulas: str = field(default_factory=lambda: _state_of_sources(__version__))
    key: str = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "key", digest_of((self.tiles, self.cache_bytes, self.formulas)))


# A worker process has no other place to keep its open tiles between two pieces.
_at_hand: dict[str, SharedGround] = {}
_at_hand_lock = threading.Lock()


def do_piece(order: Order, task: Task, number: int, piece: object) -> tuple[int, Arrays]:
    """Work out one piece in a process that keeps the tiles of its last order open.

    Raises
    ------
    PathProfileError
        If this process runs another version of the formulas.
    """
    return number, task(piece, _ground_for(order))


def _ground_for(order: Order) -> SharedGround:
    from pathprofile.terrain.finding import FileIndex
    from pathprofile.terrain.store import TerrainStore

    with _at_hand_lock:
        if order.key not in _at_hand:
            if order.formulas != _state_of_sources(__version__):
                raise PathProfileError(
                    f"a worker runs another state of pathprofile ({__version__} there): install the same "
                    "everywhere"
                )
            for old in _at_hand.values():
                old.close()
            _at_hand.clear()
            _at_hand[order.key] = SharedGround(
                TerrainStore(order.tiles, cache_bytes=order.cache_bytes, index=FileIndex(None), refused=())
            )
        return _at_hand[order.key]


class Here:
    """Pieces one after the other in this process; tasks may use threads of their own."""

    def results(
        self, task: Task, pieces: Sequence[tuple[int, Any]], terrain: TerrainStore
    ) -> Iterator[tuple[int, Arrays]]:
        """See `Engine`."""
        for number, piece in pieces:
            yield number, task(piece, terrain)


class Processes:
    """Pieces in several processes of this machine; use it in a ``with`` statement.

    Parameters
    ----------
    workers : int
        Processes. They start afresh on every system, so that a script needs the customary
        ``if __name__ == "__main__":``.
    cache_bytes : int
        Most memory for decoded ground in all of them together.

    Raises
    ------
    OutOfRangeError
        For less than one worker.
    """

    def __init__(self, workers: int, *, cache_bytes: int = CACHE_BYTES) -> None:
        if not 1 <= workers <= 1024:
            raise OutOfRangeError(f"workers {workers!r}: give 1 to 1024, best the number of processor cores")
        self.workers = workers
        self._cache_bytes = cache_bytes // workers
        self._pool: Any = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self._pool is not None:
            self._pool.shutdown(wait=True, cancel_futures=True)
            self._pool = None

    def results(
        self, task: Task, pieces: Sequence[tuple[int, Any]], terrain: TerrainStore
    ) -> Iterator[tuple[int, Arrays]]:
        """See `Engine`.

        Raises
        ------
        PathProfileError
            When a process died.
        """
        import multiprocessing
        from concurrent.futures import ProcessPoolExecutor
        from concurrent.futures.process import BrokenProcessPool

        self._pool = self._pool or ProcessPoolExecutor(
            self.workers, mp_context=multiprocessing.get_context("spawn"), initializer=_leave_interrupts
        )
        order = Order(terrain.tiles, self._cache_bytes)
        queue = deque(pieces)
        waiting: set[Future[tuple[int, Arrays]]] = set()
        try:
            while queue or waiting:
                while queue and len(waiting) < _QUEUED_A_WORKER * self.workers:
                    waiting.add(self._pool.submit(do_piece, order, task, *queue.popleft()))
                done, waiting = wait(waiting, return_when=FIRST_COMPLETED)
                for future in done:
                    yield future.result()
        except BrokenProcessPool:
            self._pool = None
            raise PathProfileError(
                "a worker process ended unexpectedly, perhaps for lack of memory; try again with fewer"
            ) from None
        finally:
            for future in waiting:
                future.cancel()


def _leave_interrupts() -> None:
    """Leave interrupts to the main process."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


class PieceStore:
    """Finished pieces in a folder, each in a file named by a digest of all that decided it.

    Parameters
    ----------
    folder : Path
        Made where it does not exist.
    terrain : TerrainStore
        Its tiles count by the checksums of their files, wherever they lie.

    Raises
    ------
    OutputError
        If the folder cannot be made.

    Notes
    -----
    A file is written beside its place and moved there, so that it is whole or absent, and ends with a digest
    of what comes before. A damaged one is done again.
    """

    def __init__(self, folder: Path | str, terrain: TerrainStore) -> None:
        self.folder = Path(folder)
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            self._others = {path.name for path in self.folder.glob("piece-*.npz")}
        except OSError as error:
            raise OutputError(
                f"cannot keep pieces in {str(folder)!r}: {error.strerror}; choose another folder"
            ) from error
        sums = sorted(terrain.checksums().values())
        self._ground = digest_of((_state_of_sources(__version__), sums))
        self._damaged = 0

    def load(self, task: Task, piece: object) -> Arrays | None:
        """Read the result of a piece, None where it is not there."""
        path = self._path(task, piece)
        self._others.discard(path.name)
        try:
            raw = path.read_bytes()
        except FileNotFoundError:
            return None
        except OSError:
            raw = b""
        content, digest = raw[:-_DIGEST_BYTES], raw[-_DIGEST_BYTES:]
        if hashlib.sha256(content).digest() == digest:
            with contextlib.suppress(*UNREADABLE):
                return unpacked(content)
        self._damaged += 1
        return None

    def save(self, task: Task, piece: object, result: Arrays) -> None:
        """Keep the result of a piece."""
        content = io.BytesIO()
        np.savez(content, allow_pickle=False, **result)
        whole = content.getvalue()
        write_atomically(self._path(task, piece), whole + hashlib.sha256(whole).digest())

    @property
    def notes(self) -> tuple[str, ...]:
        """What the user should know of the folder, after the work."""
        found = []
        if self._others:
            found.append(
                f"{len(self._others)} pieces in {str(self.folder)!r} belong to another question, other "
                "tiles or another version and were not used"
            )
        if self._damaged:
            found.append(f"{self._damaged} pieces in {str(self.folder)!r} were damaged and done again")
        return tuple(found)

    def _path(self, task: Task, piece: object) -> Path:
        name = digest_of((type(task).__qualname__, task.inputs(), piece, self._ground))
        return self.folder / f"piece-{name}.npz"


def run_pieces(
    task: Task,
    pieces: Sequence[Any],
    terrain: TerrainStore,
    *,
    engine: Engine | None = None,
    store: PieceStore | None = None,
    weights: Sequence[float] | None = None,
    progress: Callable[[State], None] | None = None,
) -> Iterator[tuple[int, Arrays, bool]]:
    """Do pieces, and give each as soon as it is there.

    Parameters
    ----------
    task : Task
    pieces : sequence
        What the task takes.
    terrain : TerrainStore
        The ground.
    engine : Engine, optional
        Where they are done; by default in this process.
    store : PieceStore, optional
        Finished pieces are taken from it and kept in it.
    weights : sequence of float, optional
        How much work each piece is; 1 by default.
    progress : callable, optional
        Told the `State` after each piece.

    Yields
    ------
    number : int
        Which piece.
    result : dict of str to ndarray
    kept : bool
        Whether it came from the store.

    Notes
    -----
    Nothing is held here: the memory needed is that of the pieces under way (two a worker) beside what the
    caller keeps. On an interrupt (Ctrl-C) what is finished is in the store.
    """
    weight = [1.0] * len(pieces) if weights is None else list(weights)
    total = math.fsum(weight)
    done = fresh = 0.0
    began = time.monotonic()

    def tell() -> None:
        if progress is not None:
            spent = time.monotonic() - began
            progress(State(done, total, spent * (total - done) / fresh if fresh > 0.0 else None))

    wanted = []
    for number, piece in enumerate(pieces):
        kept = None if store is None else store.load(task, piece)
        if kept is None:
            wanted.append((number, piece))
            continue
        done += weight[number]
        tell()
        yield number, kept, True
    began = time.monotonic()
    results = (engine or Here()).results(task, wanted, terrain)
    try:
        for number, result in results:
            if store is not None:
                store.save(task, pieces[number], result)
            done += weight[number]
            fresh += weight[number]
            tell()
            yield number, result, False
    finally:
        close = getattr(results, "close", None)
        if close is not None:
            close()


def by_tile(terrain: Any, latitude_deg: Floats, longitude_deg: Floats) -> list[Ints]:
    """Places grouped by the tile whose ground they have, tiles in the order of the store.

    Parameters
    ----------
    terrain : TerrainStore
    latitude_deg, longitude_deg : ndarray, shape (n,)
        Places [degrees].

    Returns
    -------
    list of ndarray of int64
        Numbers of the places of each tile, in their order; those on no tile first.
    """
    _, source = terrain.sample(latitude_deg, longitude_deg)
    return [np.flatnonzero(source == tile) for tile in np.unique(source)]


def digest_of(value: object) -> str:
    """Digest of numbers, texts, arrays, dataclasses and containers of them, the same on every machine."""
    digest = hashlib.sha256()
    _feed(digest, value)
    return digest.hexdigest()[:32]


def _feed(digest: Any, value: object) -> None:
    """Type and content of a value; what nests has its length before it, so that no two read alike."""
    if isinstance(value, np.ndarray):
        digest.update(f"a{value.dtype.str}{value.shape}".encode())
        digest.update(np.ascontiguousarray(value).tobytes())
    elif is_dataclass(value) and not isinstance(value, type):
        digest.update(f"d{type(value).__qualname__}".encode())
        _feed(digest, [(each.name, getattr(value, each.name)) for each in fields(value)])
    elif isinstance(value, Mapping):
        _feed(digest, sorted(value.items()))
    elif isinstance(value, list | tuple):
        digest.update(f"l{len(value)}:".encode())
        for each in value:
            _feed(digest, each)
    elif isinstance(value, bool | np.bool_) or value is None:
        digest.update(f"b{value}".encode())
    elif isinstance(value, int | np.integer):
        digest.update(f"i{int(value)};".encode())
    elif isinstance(value, float | np.floating):
        digest.update(f"f{float(value).hex()};".encode())
    elif isinstance(value, str | os.PathLike):
        text = os.fspath(value).encode()
        digest.update(f"s{len(text)}:".encode())
        digest.update(text)
    else:
        raise TypeError(f"{type(value).__qualname__} has no digest")
