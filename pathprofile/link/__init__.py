"""From a loss to a contact: ends, budget, modes, chance, exposure, and what an operator is told.

`equip` (or `equip_set_up`) completes what a station states into an `End`; `evaluate` takes two ends and the
`PathFacts` between them; `evaluate_modes` makes the table of modes and bands.
"""

from __future__ import annotations

from pathprofile.link.assume import DEFAULTS, Assumption
from pathprofile.link.budget import LinkBudget, Term, budget
from pathprofile.link.cautions import CAUTIONS
from pathprofile.link.chance import Spread, TimeSpread, location_sigma_db, pair_chances, time_spread
from pathprofile.link.ends import End, NoFit, equip, equip_set_up, fitting_set_up
from pathprofile.link.evaluate import (
    Direction,
    Link,
    ModeRow,
    Pair,
    PathQuestion,
    common_bands,
    default_spread,
    evaluate,
    evaluate_modes,
)
from pathprofile.link.exposure import Exposure, exposure
from pathprofile.link.path import PathFacts
from pathprofile.link.words import Verdict, odds_text, verdict, who_hears_whom

__all__ = [
    "CAUTIONS",
    "DEFAULTS",
    "Assumption",
    "Direction",
    "End",
    "Exposure",
    "Link",
    "LinkBudget",
    "ModeRow",
    "NoFit",
    "Pair",
    "PathFacts",
    "PathQuestion",
    "Spread",
    "Term",
    "TimeSpread",
    "Verdict",
    "budget",
    "common_bands",
    "default_spread",
    "equip",
    "equip_set_up",
    "evaluate",
    "evaluate_modes",
    "exposure",
    "fitting_set_up",
    "location_sigma_db",
    "odds_text",
    "pair_chances",
    "time_spread",
    "verdict",
    "who_hears_whom",
]
