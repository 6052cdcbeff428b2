"""A word while kernels are compiled, which keeps the first map of a machine waiting."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from contextlib import AbstractContextManager
    from pathlib import Path

__all__ = ["told_of_compiling"]


def told_of_compiling(cache_dir: Path | None) -> AbstractContextManager[None]:
    """Say on standard error that compiling begins, where it does; where all is read from the cache, nothing.

    Parameters
    ----------
    cache_dir : Path or None
        Where compiled code is kept.
    """
    from pathprofile.area.compiled import announcing

    once = "" if cache_dir is None else ", once"
    return announcing(lambda: typer.echo(f"compiling for this machine{once}, about 20 s", err=True))
