"""Run the fuzzer: ``python -m fuzz [--inputs N] [--seed S] [--only TARGET ...] [--out FILE]``."""

from __future__ import annotations

import argparse
import json
import os
import select
import subprocess
import sys
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from fuzz.targets import TARGETS

_INPUTS = 100_000
# The child ends an input after 5 s of its own time; stuck in a library, or waiting, it is ended from here.
_STUCK_S = 120.0
_ONE_THREAD = dict.fromkeys(
    ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "GDAL_NUM_THREADS"), "1"
)


@dataclass
class Outcome:
    """What came of the inputs of one kind."""

    counts: Counter[str] = field(default_factory=Counter)
    findings: list[dict[str, Any]] = field(default_factory=list)
    seconds: float = 0.0


def run(name: str, seed: int, count: int) -> Outcome:
    """Try `count` inputs of a target in child processes: one that dies is a finding, and the next goes on."""
    outcome = Outcome()
    started = time.monotonic()
    first = 0
    while first < count:
        first = _child(name, seed, first, count, outcome)
    outcome.seconds = time.monotonic() - started
    return outcome


def _child(name: str, seed: int, first: int, last: int, outcome: Outcome) -> int:
    """Run one child to its end; the number of the input to go on with."""
    command = [sys.executable, "-m", "fuzz.worker", name, str(seed), str(first), str(last)]
    number, reported, stuck = first - 1, first, False
    with subprocess.Popen(  # noqa: S603 - ourselves
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={**os.environ, **_ONE_THREAD},
        cwd=Path(__file__).resolve().parents[1],
    ) as child:
        outgoing, complaints = child.stdout, child.stderr
        if outgoing is None or complaints is None:
            raise SystemExit("a child without pipes")
        os.set_blocking(complaints.fileno(), False)
        words, waiting = b"", b""
        while True:
            ready, _, _ = select.select([outgoing], [], [], _STUCK_S)
            words = (words + (complaints.read() or b""))[-4000:]
            if not ready:
                stuck = True
                child.kill()
                break
            piece = os.read(outgoing.fileno(), 65536)
            if not piece:
                break
            *lines, waiting = (waiting + piece).split(b"\n")
            for line in lines:
                if line.isdigit():
                    number = int(line)
                else:
                    said = json.loads(line)
                    outcome.counts.update(said["counts"])
                    outcome.findings += said["findings"]
                    reported = number + 1
        child.wait()
        words = (words + (complaints.read() or b""))[-4000:]
    if child.returncode == 0 and not stuck:
        return last
    if number < reported:
        raise SystemExit(f"the child for {name} does not start:\n{words.decode(errors='replace')}")
    outcome.counts["taken or refused before a child ended"] += number - reported
    outcome.counts["found"] += 1
    how = f"stuck for {_STUCK_S:g} s" if stuck else f"the process ended with {child.returncode}"
    problem = f"{how}\n{words[-1500:].decode(errors='replace')}"
    outcome.findings.append({"target": name, "seed": seed, "number": number, "problem": problem, "given": ""})
    return number + 1


def main() -> int:
    """Try everything; 1 if anything was found."""
    parser = argparse.ArgumentParser(
        prog="python -m fuzz", description="Try generated inputs on every reader."
    )
    parser.add_argument("--inputs", type=int, default=_INPUTS, help="how many in all (100,000)")
    parser.add_argument("--seed", type=int, default=1, help="another seed gives other inputs (1)")
    parser.add_argument(
        "--only", nargs="+", choices=list(TARGETS), default=list(TARGETS), help="these kinds alone"
    )
    parser.add_argument("--out", type=Path, help="write findings to this file, as JSON lines")
    asked = parser.parse_args()
    whole = sum(TARGETS[name].share for name in asked.only)
    total: Counter[str] = Counter()
    print("| input | tried | read | refused in one line | found | time |\n|---|---:|---:|---:|---:|---:|")
    found: list[dict[str, Any]] = []
    for name in asked.only:
        target = TARGETS[name]
        count = -(-asked.inputs * target.share // whole)
        outcome = run(name, asked.seed, count)
        counts, seconds = outcome.counts, f"{outcome.seconds:.0f} s"
        total.update(tried=count, taken=counts["taken"], refused=counts["refused"], found=counts["found"])
        print(
            f"| {target.name} | {count:,} | {counts['taken']:,} | {counts['refused']:,} "
            f"| {counts['found']:,} | {seconds} |",
            flush=True,
        )
        found += outcome.findings
        if asked.out is not None:
            with asked.out.open("a", encoding="utf-8") as file:
                file.writelines(json.dumps(finding) + "\n" for finding in outcome.findings)
    print(f"| all | {total['tried']:,} | {total['taken']:,} | {total['refused']:,} | {total['found']:,} | |")
    for problem, first in _kinds(found).items():
        print(
            f"\n{first['target']}, seed {first['seed']}, number {first['number']}: {problem}\n"
            f"{first['problem']}\n  given: {first['given'][:400]}",
            file=sys.stderr,
        )
    return 1 if found else 0


def _kinds(findings: list[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """Pick findings that differ: the first of each place and type of error."""
    first: dict[str, dict[str, Any]] = {}
    for finding in findings:
        lines = finding["problem"].splitlines()
        ours = [line.strip() for line in lines if "/pathprofile/" in line]
        key = f"{lines[0][:60]} {ours[-1] if ours else ''}"
        first.setdefault(
            f"{finding['target']}: {lines[0].partition(':')[0]} {ours[-1] if ours else key}", finding
        )
    return first


if __name__ == "__main__":
    sys.exit(main())
