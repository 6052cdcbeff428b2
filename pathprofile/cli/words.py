"""Command-line words that start with a minus sign: places, not options."""

from __future__ import annotations

import re
from typing import Any

from typer.core import TyperCommand

__all__ = ["PlaceCommand"]

_SECOND = re.compile(  # 18.42, 18°25.2', 18°25'12"E
    r"[-+\u2212]?(?:\d+\.?\d*|\.\d+)(?:°(?:\d+\.?\d*['\u2032](?:\d+\.?\d*[\"\u2033])?)?)?[NSEW]?",
    re.IGNORECASE,
)
_FIRST = re.compile(_SECOND.pattern + ",?", re.IGNORECASE)
_STARTS_NEGATIVE = re.compile(r"-\.?\d")
_MINUS = "\u2212"


class PlaceCommand(TyperCommand):
    """A command whose arguments may be places such as ``-33.92,18.42`` or ``-33.92 18.42``, unquoted.

    A word that is no option's value and starts like a negative number is an argument; two arguments in a
    row that are one coordinate each, with or without a comma between them, are one place.
    """

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Mark the places before the parser sees them."""
        takes_value = {
            name: not getattr(option, "is_flag", False)
            for option in self.params
            for name in (*option.opts, *option.secondary_opts)
            if name.startswith("-")
        }
        words: list[str] = []
        places: list[int] = []
        rest = list(args)
        while rest:
            word = rest.pop(0)
            if word == "--":
                words += [word, *rest]
                break
            if word.startswith("-") and not _STARTS_NEGATIVE.match(word) and word != "-":
                words.append(word)
                if takes_value.get(word) and rest:
                    words.append(rest.pop(0))
                continue
            if _STARTS_NEGATIVE.match(word):
                word = _MINUS + word[1:]
            after_a_word = bool(places) and places[-1] == len(words) - 1
            if after_a_word and _FIRST.fullmatch(words[-1]) and _SECOND.fullmatch(word):
                words[-1] += f" {word}"
                continue
            places.append(len(words))
            words.append(word)
        rest = super().parse_args(ctx, words)
        for name, value in ctx.params.items():  # what is shown again is what was typed
            if isinstance(value, str):
                ctx.params[name] = _as_typed(value)
            elif isinstance(value, list | tuple):
                ctx.params[name] = [_as_typed(item) if isinstance(item, str) else item for item in value]
        return rest


def _as_typed(word: str) -> str:
    return f"-{word[1:]}" if word.startswith(_MINUS) else word
