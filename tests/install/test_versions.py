"""The lists of versions that CI installs fit pyproject.toml, and know every file by its hash."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

ROOT = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
DIRECT = [Requirement(text) for text in PROJECT["dependencies"] + PROJECT["optional-dependencies"]["dev"]]


def pinned(name: str) -> dict[str, list[Version]]:
    """Versions of each package in a list; each stands at the start of a line and has hashes below it."""
    found: dict[str, list[Version]] = {}
    for entry in re.split(
        r"\n(?=[a-z0-9])", (ROOT / "requirements" / name).read_text(encoding="utf-8").strip()
    ):
        pin = re.match(r"([a-z0-9-]+)==(\S+)", entry)
        assert pin, entry[:80]
        assert re.search(r"--hash=sha256:[0-9a-f]{64}", entry), pin[0]
        found.setdefault(pin[1], []).append(Version(pin[2]))
    return found


@pytest.mark.parametrize("name", ["ci.txt", "lowest.txt"])
def test_every_direct_requirement_is_met(name: str) -> None:
    versions = pinned(name)
    for requirement in DIRECT:
        for version in versions[canonicalize_name(requirement.name)]:
            assert version in requirement.specifier, f"{requirement} has {version} in {name}: run .ci/lock"


def test_the_lowest_are_the_lowest() -> None:
    """The first release that a bound allows is the bound itself, unless there never was such a release."""
    versions = pinned("lowest.txt")
    for requirement in DIRECT:
        (bound,) = [Version(part.version) for part in requirement.specifier if part.operator == ">="]
        (lowest,) = versions[canonicalize_name(requirement.name)]
        assert lowest.release[:2] == bound.release[:2] or requirement.name in {"scipy", "maidenhead"}, (
            requirement
        )


@pytest.mark.parametrize("name", ["ci.txt", "lowest.txt"])
def test_no_host_is_named(name: str) -> None:
    text = (ROOT / "requirements" / name).read_text(encoding="utf-8")
    assert "://" not in text
    assert not re.search(r"^-", text, re.MULTILINE)
