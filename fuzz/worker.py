"""A child process that tries inputs of one kind, with its memory and its time limited.

``python -m fuzz.worker TARGET SEED FIRST LAST``: before each input its number goes to standard output, so
that whoever started the child knows which one ended it; findings follow as JSON lines.
"""

from __future__ import annotations

import contextlib
import gc
import io
import json
import os
import random
import resource
import signal
import sys
import time
import traceback
import warnings
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fuzz.case import Target, WrongAnswerError
from fuzz.targets import TARGETS

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["MEMORY_BYTES", "main", "try_inputs"]

MEMORY_BYTES = 2**30


class _HangError(BaseException):
    """An input that took too long; no ``except Exception`` of the code under test may swallow it."""


def try_inputs(
    target: Target, seed: int, first: int, last: int, begin: Callable[[int], None] = lambda _number: None
) -> tuple[Counter[str], list[dict[str, Any]]]:
    """Try inputs number `first` to `last` - 1 of a target.

    Returns
    -------
    counts : Counter
        How many were taken and refused.
    findings : list of dict
        What went wrong, with the input.
    """
    counts: Counter[str] = Counter()
    findings = []
    before = signal.signal(signal.SIGPROF, _hang)
    for number in range(first, last):
        begin(number)
        given = target.make(random.Random(f"{seed}/{target.name}/{number}"))  # noqa: S311 - no secrets
        peak = _fresh_peak()
        started = time.process_time()
        signal.setitimer(signal.ITIMER_PROF, target.hang_s)
        problem = ""
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("error")  # what a library warns of on the screen, nobody asked for
                warnings.simplefilter("ignore", DeprecationWarning)  # of old code, not of this input
                counts[target.try_out(given)] += 1
        except WrongAnswerError as error:
            problem = f"wrong answer: {error}"
        except _HangError:
            problem = f"hang: more than {target.hang_s:g} s\n{traceback.format_exc()}"
        except Exception as error:  # noqa: BLE001 - whatever escapes is what is looked for
            problem = f"{type(error).__name__}: {str(error)[:300]}\n{_where(error)}"
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0.0)
        used = _peak_bytes() - peak
        if not problem and used > MEMORY_BYTES:
            problem = f"memory: {used / 2**20:.0f} MB"
        if problem:
            took = time.process_time() - started
            findings.append(
                {
                    "target": target.name,
                    "seed": seed,
                    "number": number,
                    "problem": problem,
                    "given": repr(given)[:3000],
                    "seconds": round(took, 2),
                }
            )
            counts["found"] += 1
    signal.signal(signal.SIGPROF, before)
    return counts, findings


def _where(error: BaseException) -> str:
    frames = traceback.extract_tb(error.__traceback__)
    return "\n".join(f"  {frame.filename}:{frame.lineno} {frame.name}" for frame in frames[-8:])


def _fresh_peak() -> int:
    """Have the system forget the peak of memory so far; resident memory now [bytes]."""
    try:
        Path("/proc/self/clear_refs").write_text("5", encoding="ascii")
    except OSError:
        return 0
    return _peak_bytes()


def _peak_bytes() -> int:
    try:
        status = Path("/proc/self/status").read_text(encoding="ascii")
    except OSError:
        return 0
    return int(status.partition("VmHWM:")[2].split()[0]) * 1024


def _limit_memory(more_bytes: int) -> None:
    """Let address space grow by so much at most."""
    size = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (size + more_bytes, resource.RLIM_INFINITY))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _hang(_signal: int, _frame: object) -> None:
    raise _HangError


def main() -> None:
    """Try the inputs named on the command line."""
    name, seed, first, last = sys.argv[1], *map(int, sys.argv[2:5])
    said = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)
    target = TARGETS[name]()
    target.make(random.Random(0))  # noqa: S311 - no secrets
    _limit_memory(target.address_bytes)

    def begin(number: int) -> None:
        said.write(f"{number}\n")
        said.flush()

    gc.collect()
    with contextlib.closing(target):
        for start in range(first, last, 50):
            counts, findings = try_inputs(target, seed, start, min(start + 50, last), begin)
            said.write(json.dumps({"counts": counts, "findings": findings}) + "\n")
            said.flush()


if __name__ == "__main__":
    with contextlib.redirect_stdout(io.StringIO()):
        main()
