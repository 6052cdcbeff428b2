"""Pieces on a cluster of dask.distributed, when one machine is too small.

The library is optional (``pip install 'pathprofile[cluster]'``) and imported when a cluster is asked for.
Schedulers take orders from whoever reaches them and workers run what they are sent: use those of your own
network only. Workers need the same version of this package, and the elevation files at the same paths.
"""

from __future__ import annotations

import contextlib
import socket
import threading
import time
from collections import deque
from importlib import import_module
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from pathprofile.area.work import CACHE_BYTES, Here, Order, Processes, do_piece
from pathprofile.errors import PathProfileError

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from typing import Self

    import numpy.typing as npt

    from pathprofile.area.work import Engine, Task
    from pathprofile.terrain.store import TerrainStore

    Arrays = dict[str, npt.NDArray[Any]]

__all__ = ["Cluster", "engine_for"]

_GREETING_S = 3.0
_CONNECT_S = 6.0
_LOOK_EACH_S = 0.02
_PATIENCE_S = 30.0
_QUEUED_A_THREAD = 2


class Cluster:
    """An engine that sends pieces to a scheduler; use it in a ``with`` statement.

    Parameters
    ----------
    address : str
        Of the scheduler, ``tcp://host:port``.
    cache_bytes : int
        Most memory for decoded ground in each worker process.
    patience_s : float
        How long to wait for a worker when there is none [s].

    Raises
    ------
    PathProfileError
        If the library is absent or the scheduler cannot be reached within 10 s.

    Notes
    -----
    Two pieces a thread of the cluster are under way at once, and every result is fetched and forgotten there
    as soon as it is done. When a worker is lost, the scheduler gives its pieces to others; what was fetched
    stays.
    """

    def __init__(
        self, address: str, *, cache_bytes: int = CACHE_BYTES, patience_s: float = _PATIENCE_S
    ) -> None:
        self.address = address
        self._cache_bytes = cache_bytes
        self._patience_s = patience_s
        self._library = _library()
        self._client = _connected(self._library, address)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Leave the scheduler; it and its workers go on."""
        with contextlib.suppress(OSError, TimeoutError):
            self._client.close(timeout=2)

    def results(
        self, task: Task, pieces: Sequence[tuple[int, Any]], terrain: TerrainStore
    ) -> Iterator[tuple[int, Arrays]]:
        """See `pathprofile.area.work.Engine`.

        Raises
        ------
        PathProfileError
            If a piece fails, the scheduler goes away, or there are no workers.
        """
        order = Order(terrain.tiles, self._cache_bytes)
        queue = deque(pieces)
        waiting: dict[Any, int] = {}
        alone_since: float | None = None
        try:
            while queue or waiting:
                threads = self._threads()
                if threads == 0:
                    alone_since = alone_since or time.monotonic()
                    self._refuse_to_wait(time.monotonic() - alone_since)
                else:
                    alone_since = None
                while queue and len(waiting) < _QUEUED_A_THREAD * threads:
                    number, piece = queue.popleft()
                    waiting[self._client.submit(do_piece, order, task, number, piece, pure=False)] = number
                done = [future for future in waiting if future.done()]
                for future in done:
                    number = waiting.pop(future)
                    yield self._fetched(future, number)
                    future.release()
                if not done:
                    time.sleep(_LOOK_EACH_S)
        finally:
            with contextlib.suppress(Exception):  # nobody may be there to be told
                self._client.cancel(list(waiting), force=True)

    def _threads(self) -> int:
        """Threads of all workers as last heard, 0 without a scheduler."""
        if self._client.status != "running":
            return 0
        workers = self._client.scheduler_info(n_workers=-1)["workers"]
        return sum(worker["nthreads"] for worker in workers.values())

    def _refuse_to_wait(self, waited_s: float) -> None:
        if self._client.status != "running":
            raise PathProfileError(
                f"the scheduler at {self.address!r} went away; start it again. Pieces that are finished are "
                "kept where that was asked for"
            )
        if waited_s > self._patience_s:
            raise PathProfileError(
                f"the scheduler at {self.address!r} has no workers: start some, or work on this machine alone"
            )

    def _fetched(self, future: Any, number: int) -> tuple[int, Arrays]:
        try:
            found: tuple[int, Arrays] = future.result(timeout=60)
        except PathProfileError:
            raise
        except self._library.KilledWorker as error:
            raise PathProfileError(
                f"piece {number} ended several workers one after another, perhaps for lack of memory: give "
                "them more, or fewer threads"
            ) from error
        except Exception as error:
            if future.cancelled() or isinstance(error, TimeoutError):
                raise PathProfileError(
                    f"the scheduler at {self.address!r} lost piece {number}; start again. Pieces that are "
                    "finished are kept where that was asked for"
                ) from error
            raise PathProfileError(
                f"a worker could not do piece {number} ({type(error).__name__}: {str(error)[:200]}); it "
                "needs the same pathprofile, and the elevation files at the same paths"
            ) from error
        return found


@contextlib.contextmanager
def engine_for(scheduler: str | None = None, workers: int = 1) -> Iterator[Engine]:
    """Where pieces are done: on a cluster, in several processes, or here.

    Parameters
    ----------
    scheduler : str, optional
        Address of a scheduler of dask.distributed, ``tcp://host:port``.
    workers : int
        Without a scheduler, processes of this machine; with one, pieces are done in this process.

    Raises
    ------
    PathProfileError
        As `Cluster`.
    OutOfRangeError
        As `Processes`.
    """
    if scheduler is not None:
        with Cluster(scheduler) as cluster:
            yield cluster
    elif workers != 1:
        with Processes(workers) as processes:
            yield processes
    else:
        yield Here()


def _library() -> Any:
    try:
        return import_module("distributed")
    except ImportError as error:
        raise PathProfileError(
            "a scheduler needs dask.distributed: pip install 'pathprofile[cluster]'"
        ) from error


def _connected(library: Any, address: str) -> Any:
    """Client of a scheduler; tried in a thread of its own, because a greeting may never end."""
    if not _greets(address):
        raise PathProfileError(_unreachable(address))
    found: list[Any] = []

    def connect() -> None:
        try:
            found.append(library.Client(address, timeout=_CONNECT_S - 1.0, set_as_default=False))
        except Exception as error:  # noqa: BLE001 - handed over to the caller's thread
            found.append(error)

    thread = threading.Thread(target=connect, daemon=True)
    thread.start()
    thread.join(_CONNECT_S)
    if found and not isinstance(found[0], Exception):
        return found[0]
    raise PathProfileError(_unreachable(address))


def _greets(address: str) -> bool:
    """Whether something there speaks first, as a scheduler does on plain TCP.

    A client that waits for a greeting in vain would hold up the end of the process.
    """
    parts = urlsplit(address)
    try:
        host, port = parts.hostname, parts.port
    except ValueError:
        return False
    if parts.scheme != "tcp":
        return "://" in address
    if host is None or port is None:
        return False
    try:
        with socket.create_connection((host, port), timeout=_GREETING_S) as connection:
            connection.settimeout(_GREETING_S)
            return bool(connection.recv(1))
    except OSError:
        return False


def _unreachable(address: str) -> str:
    return (
        f"no scheduler answers at {address!r}: give the address that it prints, such as "
        "tcp://192.168.1.10:8786, or work on this machine alone"
    )
