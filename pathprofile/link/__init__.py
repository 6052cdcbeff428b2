"""From a loss to a contact: ends, budget, modes, chance, exposure, and what an operator is told.

`equip_pair` (for one end `equip`) completes what stations state into an `End` each; `evaluate` takes both and
the `PathFacts` between them; `evaluate_modes` makes the table of modes and bands.
"""

from __future__ import annotations

from pathprofile.link.assume import DEFAULTS, Assumption
from pathprofile.link.budget import LinkBudget, Term, budget
from pathprofile.link.cautions import CAUTIONS
from pathprofile.link.chance import Spread, TimeSpread, location_sigma_db, pair_chances, time_spread
from pathprofile.link.ends import End, equip, equip_pair, equip_set_up
from pathprofile.link.evaluate import (
    Direction,
    Link,
    ModeRow,
    Pair,
    PathQuestion,
    default_spread,
    evaluate,
    evaluate_modes,
)
from pathprofile.link.exposure import Exposure, exposure
from pathprofile.link.fitting import NoFit, common_bands, common_mode, fitting_set_up
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
    "common_mode",
    "default_spread",
    "equip",
    "equip_pair",
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
