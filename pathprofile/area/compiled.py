"""Compiled twins of the scalar equations and of the loops over many receivers, made when first wanted.

The functions stay where they are and stay plain Python; here a compiler is shown them. Importing this module
does not import the compiler, which alone takes longer than a whole single path.
"""

from __future__ import annotations

import hashlib
import inspect
import threading
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

__all__ = ["CACHE_NAME", "Kernels", "announcing", "compiled"]

CACHE_NAME = "compiled"
"""Folder that callers keep under the user's cache directory for ``cache_dir``."""

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


_lock = threading.Lock()
_registered = False
_made: dict[Path | None, Kernels] = {}


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
        Folder for compiled code that later runs read back. Without one, or where it cannot be written, each
        process compiles for itself; ``note`` then says so.

    Notes
    -----
    A function is compiled when first called. The cache holds one folder a state of the sources and of the
    compiler, because the compiler does not notice that a function called by another has changed.

    No liberties are taken with floating-point arithmetic: results are those of the plain functions, but for
    the last digit of an elementary function.
    """
    global _registered  # noqa: PLW0603 - the compiler's register is one a process
    with _lock:
        if cache_dir not in _made:
            if not _registered:
                _register()
                _registered = True
            _made[cache_dir] = _make(cache_dir)
        return _made[cache_dir]


def _register() -> None:
    from numba.extending import register_jitable

    for name in _LEAVES:
        module = import_module(name)
        for function in vars(module).values():
            if inspect.isfunction(function) and function.__module__ == name:
                register_jitable(error_model="numpy", forceinline=True)(function)


def _make(cache_dir: Path | None) -> Kernels:
    import numba

    folder, note = _cache_folder(cache_dir, numba.__version__)
    config: Any = numba.config
    before = config.CACHE_DIR
    if folder is not None:
        config.CACHE_DIR = str(folder)
    try:
        jit = numba.njit(nogil=True, error_model="numpy", cache=folder is not None)
        twins = {name: jit(getattr(import_module(module), name)) for name, module in _ENTRY_POINTS.items()}
    finally:
        config.CACHE_DIR = before
    return Kernels(**twins, note=note)


def _cache_folder(cache_dir: Path | None, compiler: str) -> tuple[Path | None, str | None]:
    """Folder for this state of the sources, if it can be written; else why not."""
    slower = "compiling anew, which takes some seconds more"
    if cache_dir is None:
        return None, f"no cache folder for compiled code: {slower}"
    folder = cache_dir / f"{_state_of_sources(compiler)}"
    probe = folder / f"probe-{threading.get_ident()}"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        probe.touch()
        probe.unlink()
    except OSError as error:
        return None, f"cache folder {str(cache_dir)!r} cannot be written ({error.strerror}): {slower}"
    return folder, None


def _state_of_sources(compiler: str) -> str:
    digest = hashlib.sha256(compiler.encode())
    package = Path(__file__).resolve().parents[1]
    for room in ("propagation", "area"):
        for source in sorted((package / room).rglob("*.py")):
            digest.update(source.relative_to(package).as_posix().encode())
            digest.update(source.read_bytes())
    return digest.hexdigest()[:20]
