"""What would change the answer: one thing altered at a time, ranked by what it does to the odds."""

from __future__ import annotations

from pathprofile.changes.distance import distance_to_keep_m
from pathprofile.changes.equipment import equipment_changes
from pathprofile.changes.ranking import Change, Changes, what_would_change
from pathprofile.changes.spots import NOT_CHECKED, Spot, better_spots

__all__ = [
    "NOT_CHECKED",
    "Change",
    "Changes",
    "Spot",
    "better_spots",
    "distance_to_keep_m",
    "equipment_changes",
    "what_would_change",
]
