"""Many pairs: answered in order, on one processor or several, with progress, and stopped cleanly."""

from __future__ import annotations

import os
import signal
from collections import deque
from concurrent.futures import FIRST_COMPLETED, wait
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple, Protocol

from pathprofile.contact import contact
from pathprofile.errors import OutOfRangeError, PathProfileError
from pathprofile.trip.answer import PairAnswer, answer_pair
from pathprofile.trip.areas import area_of, too_vague
from pathprofile.trip.links import options_for
from pathprofile.trip.over_area import over_area

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from concurrent.futures import Future, ProcessPoolExecutor
    from types import TracebackType
    from typing import Self

    from pathprofile.contact import Contact, Party
    from pathprofile.terrain.store import TerrainStore
    from pathprofile.terrain.tiles import Tile
    from pathprofile.trip.terms import Terms

__all__ = ["PairDesk", "PairTask", "Picture", "Progress", "run_pairs", "workers_for"]

_QUEUED_A_WORKER = 3
_WORTH_A_PROCESS_LINKS = 300
"""Links that one process works out in about the time that another takes to start, a second."""
_MOST_WORKERS = 8
_CACHE_BYTES = 256 * 2**20


class PairTask(NamedTuple):
    """One pair to answer."""

    you: Party
    them: Party


class Picture(Protocol):
    """Draws one pair; called where the pair is worked out, so it must be a function of a module."""

    def __call__(self, index: int, answer: PairAnswer, contact: Contact) -> str:
        """Draw, and return what was made: the name of a file."""


class Progress(Protocol):
    """Told after each pair how many are done."""

    def __call__(self, done: int, of: int) -> None:
        """Show it."""


@dataclass(frozen=True)
class _Order:
    """What a worker process needs to know once."""

    tiles: tuple[Tile, ...]
    cache_bytes: int
    terms: Terms
    picture: Picture | None


class _How(NamedTuple):
    """How these pairs are answered, beside the terms of all."""

    cell_points: int
    pictures: bool


class PairDesk:
    """Answers pairs, in this process or in several; use it in a ``with`` statement.

    Parameters
    ----------
    terrain : TerrainStore
        Worker processes open its tiles anew.
    terms : Terms
    workers : int
        Processes, this one counted, which does its share. With more than one a script needs the customary
        ``if __name__ == "__main__":``, because processes are started afresh on every system.
    picture : callable, optional
        Draws each pair that has a verdict, see `Picture`.

    Raises
    ------
    OutOfRangeError
        For less than one worker.

    Notes
    -----
    At most three pairs a process are under way at once, and each answer is small, so that memory is bounded
    whatever the number of pairs. Other processes are started with the first pairs that are worth it and kept
    until the end of the ``with`` statement; while they start, this one works.
    """

    def __init__(
        self, terrain: TerrainStore, terms: Terms, *, workers: int = 1, picture: Picture | None = None
    ) -> None:
        if workers < 1:
            raise OutOfRangeError(f"workers {workers!r}: give 1 or more")
        self.terrain = terrain
        self.terms = terms
        self.workers = workers
        self.picture = picture
        self._pool: ProcessPoolExecutor | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """End the processes, after the pairs they are at."""
        if self._pool is not None:
            self._pool.shutdown(wait=True, cancel_futures=True)
            self._pool = None

    def answer(
        self,
        tasks: Sequence[PairTask],
        *,
        progress: Progress | None = None,
        cell_points: int | None = None,
        pictures: bool = True,
    ) -> list[PairAnswer]:
        """Answer pairs.

        Parameters
        ----------
        tasks : sequence of PairTask
        progress : callable, optional
        cell_points : int, optional
            Other than that of the terms, for a first look.
        pictures : bool
            Whether to draw, where the desk has a picture.

        Returns
        -------
        list of PairAnswer
            In the order of ``tasks``, whatever the order in which they were finished.

        Raises
        ------
        PathProfileError
            When a worker process died.

        Notes
        -----
        Pairs that take long are begun first. On an interrupt (Ctrl-C) nothing new is begun, the pairs under
        way are finished, and the interrupt is passed on.
        """
        answers: list[PairAnswer | None] = [None] * len(tasks)
        how = _How(cell_points or self.terms.cell_points, pictures and self.picture is not None)
        cost = [_links(task, how.cell_points) for task in tasks]
        worth_it = self._pool is not None or how.pictures or sum(cost) >= _WORTH_A_PROCESS_LINKS
        if self.workers == 1 or len(tasks) < 2 or not worth_it:
            for index, task in enumerate(tasks):
                answers[index] = self._answer_here(index, task, how)
                if progress is not None:
                    progress(index + 1, len(tasks))
        else:
            order = sorted(range(len(tasks)), key=lambda index: -cost[index])
            for done, (index, answer) in enumerate(self._spread_out(tasks, order, how), start=1):
                answers[index] = answer
                if progress is not None:
                    progress(done, len(tasks))
        return [answer for answer in answers if answer is not None]

    def _answer_here(self, index: int, task: PairTask, how: _How) -> PairAnswer:
        return _answer(self.terrain, self.terms, self.picture, index, task, how)

    def _spread_out(
        self, tasks: Sequence[PairTask], order: list[int], how: _How
    ) -> Iterator[tuple[int, PairAnswer]]:
        from concurrent.futures.process import BrokenProcessPool

        pool = self._pool = self._pool or self._started()
        waiting: dict[Future[PairAnswer], int] = {}
        queue = deque(order)
        try:
            while queue or waiting:
                while queue and len(waiting) < _QUEUED_A_WORKER * (self.workers - 1):
                    index = queue.popleft()
                    waiting[pool.submit(_work, index, tasks[index], how)] = index
                mine = queue.popleft() if queue else _taken_back(waiting)
                if mine is not None:
                    yield mine, self._answer_here(mine, tasks[mine], how)
                else:
                    wait(waiting, return_when=FIRST_COMPLETED)
                for future in [each for each in waiting if each.done()]:
                    yield waiting.pop(future), future.result()
        except BrokenProcessPool:
            self._pool = None
            raise PathProfileError(
                "a worker process ended unexpectedly, perhaps for lack of memory; try again with one worker"
            ) from None

    def _started(self) -> ProcessPoolExecutor:
        import multiprocessing
        from concurrent.futures import ProcessPoolExecutor

        return ProcessPoolExecutor(
            self.workers - 1,
            mp_context=multiprocessing.get_context("spawn"),
            initializer=_begin,
            initargs=(_Order(self.terrain.tiles, _CACHE_BYTES // self.workers, self.terms, self.picture),),
        )


def run_pairs(
    tasks: Sequence[PairTask],
    terrain: TerrainStore,
    terms: Terms,
    *,
    workers: int = 1,
    progress: Progress | None = None,
    picture: Picture | None = None,
) -> list[PairAnswer]:
    """Answer pairs once; see `PairDesk`, which keeps its processes for more.

    Parameters
    ----------
    tasks : sequence of PairTask
    terrain, terms, workers, picture
        As for `PairDesk`.
    progress : callable, optional
        Told after each pair.

    Returns
    -------
    list of PairAnswer
        In the order of ``tasks``.
    """
    with PairDesk(terrain, terms, workers=workers, picture=picture) as desk:
        return desk.answer(tasks, progress=progress)


def workers_for() -> int:
    """Processors that this process may use, at most eight."""
    usable = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return max(1, min(usable, _MOST_WORKERS))


def _taken_back(waiting: dict[Future[PairAnswer], int]) -> int | None:
    """Pair that was handed out last and is not begun yet: this process may as well do it."""
    for future in reversed(waiting):
        if future.cancel():
            return waiting.pop(future)
    return None


def _links(task: PairTask, cell_points: int) -> int:
    places = (task.you.location, task.them.location)
    if any(too_vague(place) for place in places):
        return 0
    return cell_points if any(area_of(place) is not None for place in places) else 1


def _answer(
    terrain: TerrainStore,
    terms: Terms,
    picture: Picture | None,
    index: int,
    task: PairTask,
    how: _How,
) -> PairAnswer:
    if how.cell_points != terms.cell_points:
        terms = replace(terms, cell_points=how.cell_points)
    answer = answer_pair(task.you, task.them, terrain, terms)
    if picture is None or not how.pictures or answer.mode is None:
        return answer
    try:
        whole = contact(
            replace(task.you, location=answer.you_at),
            replace(task.them, location=answer.them_at),
            terrain,
            date=terms.date,
            frequency_mhz=answer.mode.frequency_mhz,
            mode=answer.mode.mode,
            atmosphere=terms.atmosphere,
            surroundings=terms.surroundings,
            options=options_for(task.you, task.them, terms),
            spread=terms.spread,
            with_modes=False,
        )
        return replace(answer, picture=picture(index, answer, over_area(whole, answer)))
    except PathProfileError as error:
        return replace(answer, notes=(*answer.notes, f"no picture: {error}"))


# A worker process has no other place to keep its open tiles between two pairs.
_at_hand: list[Callable[[int, PairTask, _How], PairAnswer]] = []


def _begin(order: _Order) -> None:
    """Open the tiles in a new process; an interrupt is for the main process to act on."""
    from pathprofile.terrain.finding import FileIndex
    from pathprofile.terrain.store import TerrainStore

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    terrain = TerrainStore(order.tiles, cache_bytes=order.cache_bytes, index=FileIndex(None), refused=())

    def work(index: int, task: PairTask, how: _How) -> PairAnswer:
        return _answer(terrain, order.terms, order.picture, index, task, how)

    _at_hand[:] = [work]


def _work(index: int, task: PairTask, how: _How) -> PairAnswer:
    return _at_hand[0](index, task, how)
