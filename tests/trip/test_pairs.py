"""Many pairs at once: same answers, same order, progress, pictures, and a clean end."""

from __future__ import annotations

import multiprocessing
import pickle
from dataclasses import replace

import pytest

from pathprofile.errors import OutOfRangeError, StationError
from pathprofile.trip import pairs as desk_module
from pathprofile.trip.pairs import PairDesk, PairTask, run_pairs, workers_for

NAMES = ("Norwater", "Marsh End", "Oakenby", "Sandry")


@pytest.fixture
def tasks(islander):
    you = islander("Gull Tor", unstated="open")
    exact = [PairTask(you, islander(name)) for name in NAMES]
    return [
        *exact,
        *(PairTask(you, islander(name, 6)) for name in NAMES),
        PairTask(you, islander("Flaxmill", 4)),
    ]


def test_two_processes_give_the_same_in_the_same_order(island, tasks, terms, monkeypatch):
    monkeypatch.setattr(desk_module, "_WORTH_A_PROCESS_LINKS", 1)
    terms = replace(terms, cell_points=9)
    alone = run_pairs(tasks, island, terms)
    with PairDesk(island, terms, workers=2, picture="{0} {1.them}".format) as desk:
        told = []
        together = desk.answer(tasks, progress=lambda done, of: told.append((done, of)), pictures=False)
        # a second round over the same processes, drawn this time
        drawn = desk.answer(tasks)
    assert [row.them for row in together] == [task.them.station.name for task in tasks]
    for one, other in zip(alone, together, strict=True):
        assert one.pair == other.pair
        assert one.directions == other.directions
        assert one.inquiries == other.inquiries
    assert told == [(done, len(tasks)) for done in range(1, len(tasks) + 1)]
    assert [row.picture for row in drawn] == [
        f"{index} {task.them.station.name}" if index < 8 else "" for index, task in enumerate(tasks)
    ]
    assert not multiprocessing.active_children()


def test_an_interrupt_leaves_no_process_behind(island, tasks, terms, monkeypatch):
    monkeypatch.setattr(desk_module, "_WORTH_A_PROCESS_LINKS", 1)

    def pressed(done: int, of: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        run_pairs(tasks, island, replace(terms, cell_points=9), workers=2, progress=pressed)
    assert not multiprocessing.active_children()


def test_a_few_exact_pairs_start_no_process(island, tasks, terms):
    with PairDesk(island, terms, workers=2) as desk:
        desk.answer(tasks[:4])
        assert not multiprocessing.active_children()


def test_a_picture_is_drawn_of_the_whole_contact_and_a_failure_is_a_note(island, tasks, terms):
    seen = []

    def draw(index, answer, contact):
        if answer.them == "Oakenby":
            raise StationError("no ink")
        seen.append((index, answer.pair, contact.link.pair))
        return f"{index}.png"

    rows = run_pairs(tasks[:4], island, terms, picture=draw)
    assert [row.picture for row in rows] == ["0.png", "1.png", "", "3.png"]
    assert rows[2].notes[-1] == "no picture: no ink"
    assert all(mine == drawn for _, mine, drawn in seen)


def test_an_answer_is_small(island, tasks, terms):
    # ten thousand stations, most of them by locator, are to fit into a few hundred megabytes
    for row in run_pairs(tasks[3:6], island, terms):
        assert len(pickle.dumps(row)) < 20_000


def test_workers_are_counted(island, terms):
    assert 1 <= workers_for() <= 8
    with pytest.raises(OutOfRangeError, match="workers 0: give 1 or more"):
        PairDesk(island, terms, workers=0)
