"""Reports as operators write them: 59, 599, 5x9+10, S7, -12 dB, "in and out", "full quieting", nothing."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from pathprofile.errors import OutOfRangeError
from pathprofile.link.noise import s_reading_dbm

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["NO_REPORT", "WORDS", "CopyWord", "Report", "parse_report"]

CopyWord = Literal["in and out", "noisy", "some quieting", "readable", "quiet"]
ReportKind = Literal["none", "not heard", "reading", "words"]

_EMPTY: Final = frozenset({"", "-", "--", "---", "?", "n/a", "none"})
_NOT_HEARD: Final = frozenset(
    {
        "nil",
        "nh",
        "nothing",
        "nothing heard",
        "not heard",
        "no copy",
        "not copied",
        "not readable",
        "unreadable",
    }
)
WORDS: Final[Mapping[str, CopyWord]] = {
    **dict.fromkeys(("in and out", "in & out", "breaking up", "choppy", "up and down"), "in and out"),
    **dict.fromkeys(("noisy", "in the noise", "scratchy", "rough", "weak", "hissy"), "noisy"),
    **dict.fromkeys(("some quieting", "partial quieting", "half quieting", "quieting"), "some quieting"),
    **dict.fromkeys(("readable", "good copy", "copyable"), "readable"),
    **dict.fromkeys(("full quieting", "fully quieting", "full quiet", "quiet", "loud and clear"), "quiet"),
}
"""Words of FM operators (common practice) and the word taken for each."""

_OVER: Final = r"(?:\s*\+\s*(?P<over>\d{0,2})\s*(?:db)?)?"
_RST: Final = re.compile(rf"(?P<r>[1-5])\s*(?:[x/-]|by|and)?\s*(?P<s>[0-9n])\s*(?P<t>[1-9na])?{_OVER}")
_S: Final = re.compile(rf"s\s*(?P<s>\d){_OVER}")
_OVER_NINE: Final = re.compile(r"\+?\s*(?P<over>\d{1,2})\s*(?:db)?\s*over(?:\s*s?\s*9)?")
_DB: Final = re.compile(
    r"(?:(?P<signed>[+-]\s*\d{1,2}(?:[.,]\d+)?)\s*(?:db)?|(?P<bare>\d{1,2}(?:[.,]\d+)?)\s*db)"
)
_ACCEPTED: Final = (
    "accepted: 59, 599, 5x9+10, S7, -12 dB, noisy, in and out, full quieting, not heard, or empty"
)
_AROUND: Final = " .,;:/()-"


@dataclass(frozen=True, slots=True)
class Report:
    """What one operator said of the other's signal.

    Attributes
    ----------
    text : str
        As written.
    kind : {"none", "not heard", "reading", "words"}
    level_dbm : float or None
        Of an S-reading.
    at_least : bool
        For "59+": the level or more.
    courtesy : bool
        For a bare S9, given as often out of courtesy as from a meter.
    readability : int or None
        First figure of a report such as 57, 1 to 5.
    snr_db : float or None
        Of a report in dB by a program.
    word : str or None
        Of a report in words.
    """

    text: str = ""
    kind: ReportKind = "none"
    level_dbm: float | None = None
    at_least: bool = False
    courtesy: bool = False
    readability: int | None = None
    snr_db: float | None = None
    word: CopyWord | None = None

    @property
    def heard(self) -> bool:
        """Whether the report says that something was heard."""
        return self.kind in {"reading", "words"}


NO_REPORT: Final = Report()


def parse_report(text: str) -> Report:
    """Read a report.

    Parameters
    ----------
    text : str
        A figure, words, or a figure with words ("S3, in and out").

    Returns
    -------
    Report

    Raises
    ------
    OutOfRangeError
        For anything else.

    Notes
    -----
    The S-figure is taken as a level by IARU Region 1 Technical Recommendation R.1 for use above 30 MHz
    (S9 = -93 dBm, 6 dB a unit); the tone figure is passed over; N stands for 9 as it is keyed in Morse.
    """
    plain = unicodedata.normalize("NFKC", text).casefold()
    for written, meant in (("\u2212", "-"), ("\u2013", "-"), ("×", "x"), ("plus", "+")):
        plain = plain.replace(written, meant)
    plain = " ".join(re.sub(r"[\"'«»“”!]", " ", plain).split()).strip(" .,;")
    if plain in _EMPTY:
        return Report(text)
    if plain in _NOT_HEARD:
        return Report(text, "not heard")
    word, rest = _word_in(plain)
    if not rest:
        return Report(text, "words", word=word)
    figure = _figure(text, rest, word)
    if figure is None:
        raise OutOfRangeError(f"report {text[:40]!r} not understood; {_ACCEPTED}")
    return figure


def _word_in(plain: str) -> tuple[CopyWord | None, str]:
    """Word of a report, and what is left of it."""
    for phrase in sorted(WORDS, key=len, reverse=True):
        found = re.search(rf"(?<!\w){re.escape(phrase)}(?!\w)", plain)
        if found:
            rest = f"{plain[: found.start()]} {plain[found.end() :]}".strip(_AROUND)
            return WORDS[phrase], re.sub(r"^(?:but|and)\b|\b(?:but|and)$", "", rest).strip(_AROUND)
    return None, plain


def _figure(text: str, plain: str, word: CopyWord | None) -> Report | None:
    if found := _RST.fullmatch(plain):
        s = found["s"].replace("n", "9")
        level = _level(s, found["over"])
        return level and Report(text, "reading", *level, readability=int(found["r"]), word=word)
    if found := _S.fullmatch(plain):
        level = _level(found["s"], found["over"])
        return level and Report(text, "reading", *level, word=word)
    if found := _OVER_NINE.fullmatch(plain):
        level = _level("9", found["over"])
        return level and Report(text, "reading", *level, word=word)
    if found := _DB.fullmatch(plain):
        figure = (found["signed"] or found["bare"]).replace(" ", "").replace(",", ".")
        return Report(text, "reading", snr_db=float(figure), word=word)
    return None


def _level(s: str, over: str | None) -> tuple[float, bool, bool] | None:
    """Level, whether it was more than that, and whether it may be courtesy; None for "57+10"."""
    if over is not None and s != "9":
        return None
    level_dbm = s_reading_dbm(f"S{s}+{over}" if over else f"S{s}")
    return level_dbm, over == "", s == "9" and over is None
