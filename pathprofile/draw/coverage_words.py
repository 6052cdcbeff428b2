"""What the picture of a coverage says in words; numbers come from results, only units are turned here."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from pathprofile import __version__
from pathprofile.area.coverage import NO_GROUND, OUTSIDE
from pathprofile.area.verdicts import shares
from pathprofile.draw.scales import grouped
from pathprofile.draw.words import FEET_PER_METRE, METRES_PER_MILE, distance
from pathprofile.link.words import ALIKE_DB

if TYPE_CHECKING:
    import datetime as dt

    import numpy.typing as npt

    from pathprofile.area.coverage import Coverage
    from pathprofile.area.verdicts import Needs
    from pathprofile.link.ends import End

__all__ = [
    "KEY_WORDS",
    "away",
    "ends",
    "footnote",
    "gap_share",
    "headline",
    "metres_and_feet",
    "percent",
    "reach",
    "sentences",
    "set_up",
]

_WORTH_A_WORD, _WORTH_THE_HEADLINE = 0.0005, 0.1
"""Share of the circle without ground that is told among the sentences, and that the headline tells."""
KEY_WORDS = {
    "solid": "solid: 9 in 10 or better, comfortable",
    "workable": "workable: 7 in 10 or better, just readable",
    "marginal": "marginal: 3 to 7 in 10, just readable",
    "unlikely": "unlikely: below 3 in 10",
    "gap": "no elevation data: nothing predicted",
    "near": "too near the site: nothing predicted",
    "seen": "edge of what is in sight",
}


def gap_share(coverage: Coverage) -> float:
    """Share of the circle for which the ground is not known."""
    inside = int(coverage.map_status.size) - int(np.count_nonzero(coverage.map_status == OUTSIDE))
    return int(np.count_nonzero(coverage.map_status == NO_GROUND)) / max(inside, 1)


def headline(coverage: Coverage, verdict: npt.NDArray[np.uint8]) -> str:
    """Say in a few words how much of the map is worth a call, and how much of it is not known."""
    found, gap = shares(verdict), gap_share(coverage)
    if not any(found.values()):
        return "Nothing could be predicted"
    of = "the known ground" if gap >= _WORTH_A_WORD else "the map"
    unknown = f"; {percent(gap)} of the circle unknown" if gap > _WORTH_THE_HEADLINE else ""
    good, worth = found["solid"] + found["workable"], found["marginal"]
    if found["solid"] >= 0.995:
        said = f"SOLID all over {of}"
    elif good >= 0.005:
        said = f"WORKABLE or better on {percent(good)} of {of}"
    elif worth >= 0.005:
        said = f"MARGINAL at best, on {percent(worth)} of {of}"
    else:
        said = f"UNLIKELY all over {of}"
    return said + unknown


def away(distance_m: float) -> str:
    """How far off a place is, for lists."""
    kilometres, miles = distance_m / 1000.0, distance_m / METRES_PER_MILE
    decimals = 1 if kilometres < 99.95 else 0
    return f"{kilometres:.{decimals}f} km / {miles:.{decimals}f} mi"


def sentences(coverage: Coverage, verdict: npt.NDArray[np.uint8], needs: Needs | None) -> list[str]:
    """Say how the map divides, which direction is the weaker, and what is missing."""
    found = shares(verdict)
    said = []
    if any(found.values()):
        parts = ", ".join(f"{word} {percent(share)}" for word, share in found.items() if share > 0.0)
        said.append(f"{parts[0].upper()}{parts[1:]}.")
    if needs is not None:
        said.append(_weaker(needs))
    gap = gap_share(coverage)
    if _WORTH_A_WORD <= gap <= _WORTH_THE_HEADLINE:  # beyond that the headline tells it
        said.append(f"No elevation data for {percent(gap)} of the circle, which is not counted.")
    said.append(
        "One method alone, ITU-R P.1812-8: ask 'reach' for the second opinion on a path, which behind ridges "
        "can differ by tens of dB."
    )
    return said


def ends(you: End, there: End) -> str:
    """Both stations that the map stands on, what was not stated after the word "assumed"."""
    return f"{_end('You', you)} {_end('A station there', there)}"


def reach(radius_m: float) -> str:
    """How far was asked for, in whole kilometres but for the first ten."""
    decimals = 1 if radius_m < 9_950.0 else 0
    return f"{radius_m / 1000.0:.{decimals}f} km / {radius_m / METRES_PER_MILE:.{decimals}f} mi"


def set_up(coverage: Coverage, mode: str) -> str:
    """Frequency, mode, polarization and antenna heights."""
    what = f"{coverage.frequency_mhz:.7g} MHz{' ' + mode if mode else ''}, {coverage.polarization}"
    here, there = (metres_and_feet(value) for value in (coverage.antenna_agl_m, coverage.receiver_agl_m))
    return f"{what}. Antennas above ground: {here} here, {there} there."


def footnote(coverage: Coverage, terrain: str, date: dt.date | None) -> str:
    """Where the map comes from and how fine it is."""
    parts = [
        f"Map {terrain}" if terrain else "",
        f"Detail {distance(coverage.resolution_m).split(' / ', maxsplit=1)[0]}",
        f"{percent(coverage.bridged_share)} on bridged holes" if coverage.bridged_share >= 0.0005 else "",
        f"k {coverage.atmosphere.k_factor:.2f}",
        f"ITU-R P.1812-8 alone, {coverage.time_percent:g} % of time",
        date.isoformat() if date else "",
        f"pathprofile {__version__}",
    ]
    return ". ".join(part for part in parts if part)


def percent(share: float) -> str:
    """Share in whole per cent, small ones and near wholes not rounded away."""
    if 0.0 < share < 0.005:
        return "under 1 %"
    if 0.995 <= share < 1.0:
        return "over 99 %"
    return f"{100.0 * share:.0f} %"


def metres_and_feet(value_m: float) -> str:
    """Height in both systems of units."""
    decimals = 1 if abs(value_m) < 10.0 and abs(value_m - round(value_m)) >= 0.05 else 0
    return f"{grouped(value_m, decimals)} m ({grouped(value_m * FEET_PER_METRE)} ft)"


def _end(who: str, end: End) -> str:
    taken = {item.what for item in end.assumed}
    stated: list[str] = []
    assumed: list[str] = []
    for what, text in (
        ("power", "listens only" if end.receive_only else f"{end.power_w:g} W"),
        ("antenna gain", f"antenna {end.antenna}"),
        ("antenna height", f"{end.height_m:g} m up"),
        ("noise", f"noise {end.noise.category}"),
    ):
        (assumed if what in taken else stated).append(text)
    parts = [", ".join(stated), f"assumed {', '.join(assumed)}" if assumed else ""]
    return f"{who}: {'; '.join(part for part in parts if part)}."


def _weaker(needs: Needs) -> str:
    ahead_db = needs.back_ahead_db
    if ahead_db is None:
        way = "you → them" if needs.back_loss_db is None else "them → you"
        return f"One way only, {way}."
    if abs(ahead_db) < ALIKE_DB:
        return "Both directions are alike; odds are for both ways."
    way = "you → them" if ahead_db > 0.0 else "them → you"
    return f"Weaker direction: {way}, by {abs(ahead_db):.0f} dB; odds are for both ways."
