"""Compiled twins of the scalar equations and of the loops over many receivers, made when first wanted.

The functions stay where they are and stay plain Python; here a compiler is shown them. Importing this module
does not import the compiler, which alone takes longer than a whole single path.
"""

from __future__ import annotations

import hashlib
import inspect
import os
import stat
import threading
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

__all__ = ["Kernels", "announcing", "compiled", "made"]

T = TypeVar("T")

# rooms of plain functions that kernels may call
_LEAVES = (
    "pathprofile.propagation.bullington",
    "pathprofile.propagation.delta_bullington",
    "pathprofile.propagation.spherical_earth",
    "pathprofile.propagation.p1812.loss",
    "pathprofile.propagation.p1812.path",
    "pathprofile.area.blocks",
    "pathprofile.area.horizon",
    "pathprofile.area.hull",
    "pathprofile.area.mosaic",
    "pathprofile.area.polar",
    "pathprofile.area.receivers",
    "pathprofile.area.runs",
    "pathprofile.area.smooth",
)
_ENTRY_POINTS = {
    "field_losses": "pathprofile.area.receivers",
    "sample": "pathprofile.area.mosaic",
    "bridge": "pathprofile.area.mosaic",
    "horizons": "pathprofile.area.horizon",
    "sights": "pathprofile.area.horizon",
    "steepest_before": "pathprofile.area.horizon",
    "to_grid": "pathprofile.area.polar",
}
_SLOW = "field_losses"
"""The only one whose compilation is felt: about 15 s of work, against 1 s for all others together."""


@dataclass(frozen=True)
class Kernels:
    """Compiled functions, each named as the plain one it was made from; they release the interpreter's lock.

    Attributes
    ----------
    note : str or None
        Why they are compiled anew in this process, where they are.
    """

    field_losses: Callable[..., Any]
    sample: Callable[..., Any]
    bridge: Callable[..., Any]
    horizons: Callable[..., Any]
    sights: Callable[..., Any]
    steepest_before: Callable[..., Any]
    to_grid: Callable[..., Any]
    note: str | None


_lock = threading.Lock()  # the compiler's register and its folder are one a process
_registered: set[Callable[..., Any]] = set()
_made: dict[tuple[Callable[..., Any], Path | None], Any] = {}


@contextmanager
def announcing(say: Callable[[], None]) -> Iterator[None]:
    """Call ``say`` when the one function that is slow to compile really is, and not read from the cache.

    Parameters
    ----------
    say : callable
        Called before that, from whichever thread comes to it.
    """
    from numba.core import event

    class Slow(event.Listener):
        def on_start(self, event: Any) -> None:
            if event.data["dispatcher"].py_func.__name__ == _SLOW:
                say()

        def on_end(self, event: Any) -> None:
            """Nothing to say then."""

    with event.install_listener("numba:compile", Slow()):
        yield


def compiled(cache_dir: Path | None = None) -> Kernels:
    """Compiled functions for this process, read from a cache on disk where there is one.

    Parameters
    ----------
    cache_dir : Path, optional
        Folder for compiled code that later runs read back. Without one, or where it cannot be written, or by
        others too, each process compiles for itself; ``note`` then says so.

    Notes
    -----
    A function is compiled when first called. The cache holds one folder a state of the sources and of the
    compiler, because the compiler does not notice that a function called by another has changed.

    No liberties are taken with floating-point arithmetic: results are those of the plain functions, but for
    the last digit of an elementary function.
    """
    return made(Kernels, _plain(), cache_dir)


def _plain() -> dict[str, Callable[..., Any]]:
    return {name: getattr(import_module(module), name) for name, module in _ENTRY_POINTS.items()}


def made(
    kind: Callable[..., T],
    functions: Mapping[str, Callable[..., Any]],
    cache_dir: Path | None,
    leaves: Iterable[Callable[..., Any]] = (),
) -> T:
    """Compiled twins of some functions, made once a process; the one place that talks to the compiler.

    Parameters
    ----------
    kind : callable
        Called with every twin under the name of its function, and with ``note``: see `Kernels`.
    functions : mapping
        The plain functions by name.
    cache_dir : Path or None
        As for `compiled`.
    leaves : iterable of callable
        Plain functions that these call, beside the equations.
    """
    with _lock:
        if (kind, cache_dir) not in _made:
            _register(leaves)
            _made[kind, cache_dir] = _make(kind, functions, cache_dir)
        found: T = _made[kind, cache_dir]
        return found


def _register(leaves: Iterable[Callable[..., Any]]) -> None:
    from numba.extending import register_jitable

    if not _registered:
        for name in _LEAVES:
            module = import_module(name)
            for function in vars(module).values():
                if inspect.isfunction(function) and function.__module__ == name:
                    register_jitable(error_model="numpy", forceinline=True)(function)
                    _registered.add(function)
    for function in set(leaves) - _registered:
        register_jitable(error_model="numpy")(function)
        _registered.add(function)


def _make(kind: Callable[..., T], functions: Mapping[str, Callable[..., Any]], cache_dir: Path | None) -> T:
    import numba

    folder, note = _cache_folder(cache_dir, numba.__version__)
    config: Any = numba.config
    before = config.CACHE_DIR
    if folder is not None:
        config.CACHE_DIR = str(folder)
    try:
        jit = numba.njit(nogil=True, error_model="numpy", cache=folder is not None)
        twins = {name: jit(function) for name, function in functions.items()}
    finally:
        config.CACHE_DIR = before
    return kind(**twins, note=note)


def _cache_folder(cache_dir: Path | None, compiler: str) -> tuple[Path | None, str | None]:
    """Folder for this state of the sources, if it can be written and only by this user; else why not."""
    slower = "compiling anew, which takes some seconds more"
    if cache_dir is None:
        return None, f"no cache folder for compiled code: {slower}"
    folder = cache_dir / f"{_state_of_sources(compiler)}"
    probe = folder / f"probe-{threading.get_ident()}"
    try:
        cache_dir.mkdir(0o700, parents=True, exist_ok=True)
        folder.mkdir(0o700, exist_ok=True)
        if not all(map(_only_ours, (cache_dir, folder))):
            return None, f"cache folder {str(cache_dir)!r} is somebody else's, or others may write: {slower}"
        probe.touch()
        probe.unlink()
    except OSError as error:
        return None, f"cache folder {str(cache_dir)!r} cannot be written ({error.strerror}): {slower}"
    return folder, None


def _only_ours(folder: Path) -> bool:
    """Whether nobody but this user can put files there: what is read back from the cache is run."""
    if os.name != "posix":
        return True  # a user's own folders are private there; the bits say nothing
    state = folder.stat()
    return state.st_uid == os.geteuid() and not state.st_mode & (stat.S_IWGRP | stat.S_IWOTH)


def _state_of_sources(compiler: str) -> str:
    digest = hashlib.sha256(compiler.encode())
    package = Path(__file__).resolve().parents[1]
    for room in ("propagation", "area"):
        for source in sorted((package / room).rglob("*.py")):
            digest.update(source.relative_to(package).as_posix().encode())
            digest.update(source.read_bytes())
    return digest.hexdigest()[:20]
