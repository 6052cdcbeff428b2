"""All published methods on one profile: the best estimate, the second opinion, and why they part."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["PathLoss"]


@dataclass(frozen=True)
class PathLoss:
    """Basic transmission loss of one path by every method that answers.

    Attributes
    ----------
    primary : str
        Key in ``methods`` of the best estimate.
    loss_db, free_space_db : float
        Median loss of the best estimate, and of free space over the same distance.
    mechanism : str
        What controls the best estimate: ``sight``, ``diffraction``, ``troposcatter`` or ``ducting``.
    methods : mapping of str to float
        Median basic transmission loss by method [dB].
    abstained : mapping of str to str
        Methods that gave no figure, with the reason.
    second_opinion : str or None
        Key in ``methods`` of the independent model that the best estimate is held against.
    not_exceeded_db : mapping of float to float
        Share of an average year [%] to the loss not exceeded for it [dB].
    remarks : tuple of str
        Sentences for the user: why methods part, what to mistrust.
    """

    primary: str
    loss_db: float
    free_space_db: float
    mechanism: str
    methods: Mapping[str, float]
    abstained: Mapping[str, str]
    second_opinion: str | None = None
    not_exceeded_db: Mapping[float, float] = field(default_factory=dict)
    remarks: tuple[str, ...] = ()

    @property
    def second_opinion_db(self) -> float | None:
        """Loss by the second opinion [dB]."""
        return None if self.second_opinion is None else self.methods[self.second_opinion]

    @property
    def disagreement_db(self) -> float | None:
        """How far the second opinion is from the best estimate [dB]."""
        other = self.second_opinion_db
        return None if other is None else abs(other - self.loss_db)
