"""Run every ``bench/bench_*.py`` (or those named on the command line) and print one table."""

from __future__ import annotations

import importlib
import os
import platform
import sys
from pathlib import Path


def main() -> None:
    here = Path(__file__).parent
    names = sys.argv[1:] or sorted(p.stem.removeprefix("bench_") for p in here.glob("bench_*.py"))
    cpu = next(
        (line.split(":")[1].strip() for line in _cpuinfo() if line.startswith("model name")),
        platform.processor(),
    )
    machine = f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores, {cpu}"
    print(f"# {machine}, Python {platform.python_version()}")
    for name in names:
        for row in importlib.import_module(f"bench.bench_{name}").rows():
            verdict = ""
            if row.limit is not None:
                ok = row.value >= row.limit if row.more_is_better else row.value <= row.limit
                sign = ">=" if row.more_is_better else "<="
                verdict = f"(asked {sign} {row.limit:g}: {'met' if ok else 'NOT MET'})"
            print(
                f"{row.room:12} {row.what:66} {row.value:10.4g} {row.unit:14} {verdict} {row.note}",
                flush=True,
            )


def _cpuinfo() -> list[str]:
    path = Path("/proc/cpuinfo")
    return path.read_text(encoding="utf-8").splitlines() if path.exists() else []


if __name__ == "__main__":
    main()
