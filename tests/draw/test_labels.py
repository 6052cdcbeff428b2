from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pathprofile.draw.labels import Box, Skyline, Wanted, leader, place

FRAME = Box(0.0, 0.0, 600.0, 200.0)
FLAT = Skyline(np.linspace(0.0, 600.0, 61), np.full(61, 20.0), np.full(61, 30.0))


def _overlap(a: Box, b: Box) -> bool:
    return a.left < b.right and b.left < a.right and a.bottom < b.top and b.bottom < a.top


def _cross(a: tuple[np.ndarray, np.ndarray], b: tuple[np.ndarray, np.ndarray]) -> bool:
    """Whether two segments meet inside both, by solving for where their lines do."""
    matrix = np.column_stack((a[1] - a[0], b[0] - b[1]))
    if abs(np.linalg.det(matrix)) < 1e-9:
        return False
    shares = np.linalg.solve(matrix, b[0] - a[0])
    return bool(((shares > 0.01) & (shares < 0.99)).all())


def test_a_lone_label_stands_over_its_point() -> None:
    (box,) = place([Wanted(300.0, 20.0, 100.0, 30.0)], FRAME, FLAT) or []
    assert box.left <= 300.0 <= box.right
    assert 20.0 < box.bottom < 60.0


@pytest.mark.parametrize("x", [0.0, 600.0])
def test_labels_at_the_edges_stay_inside(x: float) -> None:
    (box,) = place([Wanted(x, 20.0, 140.0, 30.0)], FRAME, FLAT) or []
    assert box.left >= FRAME.left
    assert box.right <= FRAME.right


@given(
    points=st.lists(st.tuples(st.floats(0, 600), st.floats(0, 90)), min_size=1, max_size=5),
    hill=st.floats(0, 110),
)
@settings(max_examples=60, deadline=None)
def test_labels_never_overlap_each_other_the_ground_or_the_frame(
    points: list[tuple[float, float]], hill: float
) -> None:
    x = np.linspace(0.0, 600.0, 121)
    solid = 20.0 + hill * np.exp(-(((x - 250.0) / 60.0) ** 2))
    wanted = [Wanted(px, max(py, float(np.interp(px, x, solid))), 130.0, 32.0) for px, py in points]
    boxes = place(wanted, FRAME, Skyline(x, solid, solid + 10.0))
    if boxes is None:
        assert len(points) > 1  # one label always fits here
        return
    leaders = [(np.array(leader(w, box)), np.array([w.x, w.y])) for w, box in zip(wanted, boxes, strict=True)]
    for i, box in enumerate(boxes):
        assert not any(_cross(leaders[i], other) for other in leaders[i + 1 :])
        assert box.left >= FRAME.left
        assert box.right <= FRAME.right
        assert box.top <= FRAME.top + 1e-9
        inside = (x >= box.left) & (x <= box.right)
        assert box.bottom >= solid[inside].max()
        assert not any(_overlap(box, other) for other in boxes[i + 1 :])
        start = leader(wanted[i], box)
        for share in np.linspace(0.05, 1.0, 40):
            at = (start[0] + share * (wanted[i].x - start[0]), start[1] + share * (wanted[i].y - start[1]))
            for other in boxes[:i] + boxes[i + 1 :]:
                inside = other.left < at[0] < other.right and other.bottom < at[1] < other.top
                assert not inside, "a leader runs through a label"
        assert start[1] > wanted[i].y
        assert abs(start[0] - wanted[i].x) <= 130.0  # else it seems to speak of another point
    order = sorted(range(len(points)), key=lambda i: wanted[i].x)
    assert order == sorted(order, key=lambda i: boxes[i].left), "from left to right as their points"


def test_no_room_is_said_not_forced() -> None:
    crowd = [Wanted(300.0 + i, 20.0, 250.0, 60.0) for i in range(12)]
    assert place(crowd, FRAME, FLAT) is None
    assert place([Wanted(300.0, 20.0, 700.0, 30.0)], FRAME, FLAT) is None


def test_leaders_do_not_cross() -> None:
    wanted = [Wanted(280.0, 40.0, 130.0, 30.0), Wanted(320.0, 60.0, 130.0, 30.0)]
    first, second = place(wanted, FRAME, FLAT) or []
    assert leader(wanted[0], first)[0] < leader(wanted[1], second)[0]


def test_the_right_one_of_two_near_the_edge_is_labelled_right_of_the_other() -> None:
    """There is no room beside it, so it stands above."""
    wanted = [Wanted(520.0, 70.0, 150.0, 32.0), Wanted(575.0, 25.0, 150.0, 32.0)]
    ridge = 20.0 + np.maximum(0.0, 50.0 - np.abs(FLAT.x - 520.0))
    left, right = place(wanted, FRAME, Skyline(FLAT.x, ridge, ridge)) or []
    assert left.left < right.left
    assert right.bottom >= left.top


def test_no_leader_runs_close_by_the_point_of_another() -> None:
    wanted = [Wanted(200.0, 120.0, 130.0, 30.0), Wanted(215.0, 60.0, 130.0, 30.0)]
    boxes = place(wanted, FRAME, FLAT) or []
    for own, other in ((0, 1), (1, 0)):
        start, point = leader(wanted[own], boxes[own]), wanted[other]
        along = np.linspace(start, (wanted[own].x, wanted[own].y), 200)
        assert np.hypot(along[:, 0] - point.x, along[:, 1] - point.y).min() >= 6.9
