"""A short seeded part of the fuzzer; ``make fuzz`` runs the long one."""

from __future__ import annotations

import contextlib
import io
import zipfile
from random import Random

import pytest

from fuzz.__main__ import run
from fuzz.case import Target, WrongAnswerError, check_one_line
from fuzz.made import bombs, samples
from fuzz.mutate import mutate_json
from fuzz.targets import TARGETS
from fuzz.worker import try_inputs

HERE = {
    "places": 600,
    "quantities": 400,
    "reports": 300,
    "book": 100,
    "import": 60,
    "log": 120,
    "prediction": 40,
    "maps": 6,
    "mask": 150,
    "pieces": 100,
    "index": 15,
}
# Rasters may end the process that reads them; command lines change its folder and environment.
IN_A_CHILD = {"rasters": 250, "bombs": 8, "command": 15}


def test_every_kind_of_input_is_tried() -> None:
    assert HERE.keys() | IN_A_CHILD.keys() == TARGETS.keys()
    assert len({target.name for target in TARGETS.values()}) == len(TARGETS)


@pytest.mark.parametrize("name", HERE)
def test_nothing_is_found(name: str) -> None:
    with contextlib.closing(TARGETS[name]()) as target:
        counts, findings = try_inputs(target, seed=0, first=0, last=HERE[name])
    assert [finding["problem"] for finding in findings] == []
    assert counts.total() == HERE[name]


@pytest.mark.parametrize("name", IN_A_CHILD)
def test_nothing_is_found_in_a_child(name: str) -> None:
    outcome = run(name, 0, IN_A_CHILD[name])
    assert [finding["problem"] for finding in outcome.findings] == []
    assert outcome.counts["taken"] + outcome.counts["refused"] == IN_A_CHILD[name]


# --- the fuzzer itself finds what is wrong


class Wrong(Target):
    """A reader that fails in every way there is."""

    name = "wrong"
    share = 1

    def make(self, _rng: object) -> int:
        return 0

    def try_out(self, given: int) -> str:
        raise NotImplementedError


@pytest.mark.parametrize(
    ("code", "words"),
    [
        ("1 / 0", "ZeroDivisionError"),
        ("while True: pass", "hang: more than 0.2 s"),
        ("bytearray(1_200_000_000)", "memory: 11"),
        ("import warnings; warnings.warn('x')", "UserWarning"),
        ("raise WrongAnswerError('off')", "wrong answer: off"),
        ("check_one_line(ValueError('two' + chr(10) + 'lines'))", "refusal of several lines"),
    ],
)
def test_it_finds(monkeypatch: pytest.MonkeyPatch, code: str, words: str) -> None:
    space = {"WrongAnswerError": WrongAnswerError, "check_one_line": check_one_line}
    compiled = compile(code, "reader", "exec")
    monkeypatch.setattr(Wrong, "try_out", lambda _self, _given: exec(compiled, space))  # noqa: S102 - ours
    monkeypatch.setattr(Wrong, "hang_s", 0.2 if words.startswith("hang") else 5.0)
    with contextlib.closing(Wrong()) as target:
        _, (finding,) = try_inputs(target, seed=0, first=0, last=1)
    assert words in finding["problem"]


def test_samples_are_of_many_formats_and_bombs_are_what_they_claim() -> None:
    names = {sample.name for sample in samples()}
    assert {"plain.tif", "N46W021.hgt", "N46W021.hgt.zip", "grid.asc", "raw.bil"} <= names
    made = dict(bombs())
    with zipfile.ZipFile(io.BytesIO(made["N46W021.hgt.zip"])) as archive:
        (member,) = archive.infolist()
        assert member.file_size == 3000 * 2**20
        with archive.open(member) as packed:
            assert packed.read(2**21) == bytes(2**21)


def test_an_input_follows_from_its_seed_alone() -> None:
    """Whatever was made before it: the odd values put into documents are not themselves changed."""
    text = '{"a": {"b": [1, 2, {"c": "d"}]}, "e": null}'

    def made() -> list[str]:
        return [mutate_json(Random(seed), text) for seed in range(300)]  # noqa: S311 - no secrets

    first = made()
    assert made() == first
