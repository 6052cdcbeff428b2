"""``book add``: what was read of a list is shown, so that a misreading is seen."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

MAIL = """\
Brindle Bay 47.404, -21.070 2m FM 25W vertical, 18:00-20:00 UTC
Swapped -21.03667, 47.07083 2m packet
"""


def test_each_station_is_shown_as_it_was_read(run: Callable, alone: Path) -> None:
    assert run("new", "trip.toml").code == 0
    (alone / "mail.txt").write_text(MAIL, encoding="utf-8")
    text = run("book", "add", "mail.txt").answer()
    assert max(map(len, text.splitlines())) <= 79
    _, added, unclear = text.replace("\n    ", " ").splitlines()
    assert added == (
        "added: line 1: Brindle Bay: 47.404, -21.070; 2 m, FM, 25 W, vertical, listens 18:00-20:00 UTC"
    )
    assert unclear.startswith("unclear: line 2: Swapped: 10191 km from here; swapped it would be 75 km")
    assert "Swapped" not in (alone / "trip.toml").read_text(encoding="utf-8")
