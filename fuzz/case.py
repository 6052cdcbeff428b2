"""What a fuzz target is, and what it says when something is wrong."""

from __future__ import annotations

import shutil
import tempfile
from abc import ABC, abstractmethod
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

if TYPE_CHECKING:
    from random import Random

__all__ = ["Target", "WrongAnswerError", "check_one_line", "sure"]


class WrongAnswerError(Exception):
    """An answer, or a refusal, that is not what it should be."""


class Target(ABC):
    """One reader under test: makes inputs from a random generator, and tries them.

    `try_out` returns ``"taken"`` or ``"refused"``, raises `WrongAnswerError` for a wrong answer, and lets
    everything else through that escapes from the code under test.
    """

    name: str
    share: int  # inputs of this kind in a run of 100,000
    hang_s: ClassVar[float] = 5.0  # processor time after which an input hangs
    # How far address space may grow: 256 MB of it are reserved for each kind of heights, and not used.
    address_bytes: ClassVar[int] = 2 * 2**30

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="fuzz-"))

    def close(self) -> None:
        """Remove the files of this target."""
        shutil.rmtree(self.folder, ignore_errors=True)

    @abstractmethod
    def make(self, rng: Random) -> Any:
        """Make one input."""

    @abstractmethod
    def try_out(self, given: Any) -> str:
        """Give one input to the reader and judge what comes back."""


def sure(condition: object, words: str) -> None:
    """Complain unless a condition holds."""
    if not condition:
        raise WrongAnswerError(words)


def check_one_line(error: Exception, longest: int = 1200) -> None:
    """Complain of a refusal that is no single line meant for a user."""
    text = str(error)
    sure(text.strip(), f"{type(error).__name__} without words")
    sure("\n" not in text and "\r" not in text, f"refusal of several lines: {text[:300]!r}")
    sure(len(text) <= longest, f"refusal of {len(text)} characters: {text[:300]!r}")
