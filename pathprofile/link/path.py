"""What a link needs to know of a path, and nothing else of it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["PathFacts"]


@dataclass(frozen=True, slots=True)
class PathFacts:
    """Losses, directions and the line-of-sight fact of one path at one frequency.

    Attributes
    ----------
    frequency_mhz : float
        Frequency [MHz].
    loss_db : float
        Median basic transmission loss by the primary method, the best estimate [dB].
    azimuth_out_deg, azimuth_back_deg : float
        Azimuth from the first end to the second, and back [degrees true].
    takeoff_out_deg, takeoff_back_deg : float
        Take-off angle at the first end and at the second, up positive [degrees].
    in_sight : bool
        Whether the ends see each other.
    second_opinion_db : float, optional
        Median loss by the second method [dB].
    time_losses_db : mapping of float to float
        Loss not exceeded for a percentage of the time [%: dB]; only the differences to its figure at 50 %
        (else to ``loss_db``) are used, so one method may give the lower and another the upper side, each as a
        difference to its own median. Empty: no spread in time.
    mechanism : str
        The mechanism that rules the loss.
    method, second_method : str
        Names of both methods, as sources of the budget's term.
    """

    frequency_mhz: float
    loss_db: float
    azimuth_out_deg: float = 0.0
    azimuth_back_deg: float = 180.0
    takeoff_out_deg: float = 0.0
    takeoff_back_deg: float = 0.0
    in_sight: bool = False
    second_opinion_db: float | None = None
    time_losses_db: Mapping[float, float] = field(default_factory=dict)
    mechanism: str = ""
    method: str = "ITU-R P.1812-8"
    second_method: str = "Irregular Terrain Model"

    @property
    def disagreement_db(self) -> float | None:
        """Second opinion less best estimate [dB]."""
        return None if self.second_opinion_db is None else self.second_opinion_db - self.loss_db

    def reversed(self) -> PathFacts:
        """Return the same path from the other end; losses are reciprocal."""
        return replace(
            self,
            azimuth_out_deg=self.azimuth_back_deg,
            azimuth_back_deg=self.azimuth_out_deg,
            takeoff_out_deg=self.takeoff_back_deg,
            takeoff_back_deg=self.takeoff_out_deg,
        )
