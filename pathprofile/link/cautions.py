"""What to say wherever a prediction could send someone up a hill with a mast."""

from __future__ import annotations

from typing import Final

__all__ = ["CAUTIONS", "CONDITIONAL", "EMERGENCY", "ON_THE_SUMMIT", "odds_meaning"]

CAUTIONS: Final[tuple[str, ...]] = (
    "Keep twice the height of mast plus antenna from any overhead line; if unsure, do not raise it.",
    "Thunder, or hair or mast humming: stop, leave the mast standing, get into the car.",
    "Guy the mast; mind the wind.",
    "A predicted contact is not a safety line: carry another way to call for help.",
    "Do not use the sheet while driving.",
    "Keep to your licence and band limits; local rules and licensed practice prevail.",
)

ON_THE_SUMMIT: Final[tuple[str, ...]] = (
    "Nobody under mast and guys: ice and loose parts fall.",
    "Visitors: keep them outside that distance; do not send while anybody is nearer or touches mast or guys.",
)

EMERGENCY: Final = (
    "Local emergency number first; if that fails, any station that hears you. Say where (the position at the "
    "top of this page), what happened, how many need help, how to reach you. Let them end the call."
)

CONDITIONAL: Final = "Odds hold only if the other station is on the air and listening."


def odds_meaning(chance: float) -> str:
    """Say what a chance means to the one who calls.

    Parameters
    ----------
    chance : float
        Chance of the pair, 0 to 1.
    """
    tenths = min(max(round(chance * 10), 0), 10)
    share = {0: "hardly any", 10: "nearly all"}.get(tenths, f"about {tenths} in 10")
    return (
        f"{share} paths like this work; if yours does not, repeating the call seldom helps: change something"
    )
