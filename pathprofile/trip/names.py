"""Names of stations and sites: compared as people compare them, and made into names of files."""

from __future__ import annotations

import difflib
import re
import unicodedata
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = ["did_you_mean", "is_plain_text", "name_key", "safe_file_name", "safe_file_names"]

_LONGEST_FILE_NAME = 60  # leaves room for a folder, a second name and an ending within 255 bytes
_MOST_BYTES = 120
_NEAR = 0.6  # share of letters alike: a slip of one letter in three still counts, chance likeness does not
# Names that some systems keep for devices, with or without an ending; from memory.
_DEVICES = {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(10))}


def name_key(name: str) -> str:
    """Form in which two names are the same: letter case, width and runs of spaces do not count."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def is_plain_text(text: str) -> bool:
    """Whether text is one line that shows as it is: no control, direction or other unseen characters."""
    return all(unicodedata.category(character)[0] != "C" for character in text)


def did_you_mean(wanted: str, known: Iterable[str]) -> str:
    """End of a refusal: the names closest to ``wanted``, or else the first few that are known."""
    by_key = {name_key(name): name for name in known}
    if not by_key:
        return "the book has none"
    key = name_key(wanted[:80])
    close = difflib.get_close_matches(key, by_key, n=3, cutoff=_NEAR)
    close = close or [other for other in by_key if key and key in other][:3]
    if close:
        return f"did you mean {' or '.join(by_key[c] for c in close)}?"
    names = list(by_key.values())
    more = f" and {len(names) - 5} more" if len(names) > 5 else ""
    return f"known: {', '.join(names[:5])}{more}"


def safe_file_name(name: str, taken: Iterable[str] = ()) -> str:
    """Name of a file, without ending, for a station or site.

    Parameters
    ----------
    name : str
        Any text, hostile or not.
    taken : iterable of str
        Names already given out; letter case does not make a difference.

    Returns
    -------
    str
        Letters and digits of any script, ``-`` and ``_``, at most 60 characters: no path separator, no
        leading dot or dash, no name of a device. Where it is taken, ``-2``, ``-3``… is added.
    """
    plain = unicodedata.normalize("NFC", unicodedata.normalize("NFKC", name))
    slug = re.sub(r"[^\w]+", "-", plain).strip("-_")[:_LONGEST_FILE_NAME]
    while len(slug.encode("utf-8", "ignore")) > _MOST_BYTES:
        slug = slug[:-1]
    slug = slug.rstrip("-_") or "unnamed"
    if slug.casefold() in _DEVICES:
        slug += "-station"
    used = {other.casefold() for other in taken}
    distinct, count = slug, 1
    while distinct.casefold() in used:
        count += 1
        distinct = f"{slug}-{count}"
    return distinct


def safe_file_names(names: Iterable[str]) -> list[str]:
    """Names of files for all ``names``, in order and all different; see `safe_file_name`."""
    used: set[str] = set()
    next_count: dict[str, int] = {}
    result = []
    for name in names:
        slug = distinct = safe_file_name(name)
        while distinct.casefold() in used:
            next_count[slug.casefold()] = count = next_count.get(slug.casefold(), 1) + 1
            distinct = f"{slug}-{count}"
        used.add(distinct.casefold())
        result.append(distinct)
    return result
