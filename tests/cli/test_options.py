"""Options: one name, one meaning, one unit, in every command; and what help shows and loads."""

from __future__ import annotations

import re
import subprocess
import sys
from collections import defaultdict
from typing import TYPE_CHECKING, Any

import pytest
import typer.main

from pathprofile import __version__
from pathprofile.cli.app import app

if TYPE_CHECKING:
    from collections.abc import Callable


def walked(group: Any, before: str = "") -> dict[str, Any]:
    """Every command, those of groups under both words."""
    found: dict[str, Any] = {}
    for name, command in group.commands.items():
        inner = walked(command, f"{before}{name} ") if hasattr(command, "commands") else {}
        found |= inner or {f"{before}{name}": command}
    return found


COMMANDS = walked(typer.main.get_command(app))
HEAVY = {"numpy", "rasterio", "scipy", "numba", "matplotlib", "pydantic", "pyproj", "pygeomag", "rich"}


def _kind(parameter: Any) -> str:
    """What an option takes, as told by the typer at hand: newer ones keep the annotation."""
    described = getattr(parameter, "type_descriptor", None)
    return str(parameter.type if described is None else described.annotation)


def options() -> dict[str, dict[str, tuple]]:
    """Meaning of every option in every command that has it."""
    found: dict[str, dict[str, tuple]] = defaultdict(dict)
    for command, each in COMMANDS.items():
        for parameter in each.params:
            if parameter.param_type_name == "option" and parameter.name != "help":
                meaning = (
                    parameter.help,
                    parameter.metavar,
                    _kind(parameter),
                    parameter.is_flag,
                )
                for name in (*parameter.opts, *parameter.secondary_opts):
                    found[name][command] = (*meaning, parameter.multiple, tuple(parameter.opts))
    return found


def test_commands_are_walked() -> None:
    assert {"reach", "demo", "locate", "tiles", "defaults"} <= set(COMMANDS)
    assert len(options()) >= 30


def test_one_name_has_one_meaning_in_every_command() -> None:
    for name, meanings in options().items():
        assert len(set(meanings.values())) == 1, f"{name} means different things: {meanings}"


def test_one_meaning_has_one_name() -> None:
    names = defaultdict(set)
    for name, meanings in options().items():
        names[next(iter(meanings.values()))[0]].add(name)
    assert all(len(same) == 1 for text, same in names.items() if text != "Their antenna, likewise."), names


def test_every_option_is_a_long_word_with_help() -> None:
    for name, meanings in options().items():
        text = next(iter(meanings.values()))[0]
        assert re.fullmatch(r"--[a-z0-9]+(-[a-z0-9]+)*", name)
        assert text
        assert text.endswith((".", ")"))


def test_both_ends_have_the_same_options() -> None:
    names = set(options())
    ends = [
        {name.removeprefix(start) for name in names if name.startswith(start)}
        for start in ("--from-", "--to-")
    ]
    assert ends[0] == ends[1]
    assert {"height", "power", "antenna", "feedline", "noise", "ground"} <= ends[0]


@pytest.mark.parametrize("command", sorted(COMMANDS))
def test_help_of_a_command(run: Callable, command: str) -> None:
    text = run(*command.split(), "--help").answer()
    assert f"pathprofile {command}" in text
    for parameter in COMMANDS[command].params:
        assert all(name in text for name in parameter.opts if name.startswith("--"))


def test_help(run: Callable) -> None:
    text = run("--help").answer()
    assert all(re.search(rf"^  {command.split()[0]}\b", text, re.MULTILINE) for command in COMMANDS)
    assert "not a safety line" in " ".join(text.split())


def test_no_words_at_all_show_the_help(run: Callable) -> None:
    assert run().answer() == run("--help").answer()


def test_version(run: Callable) -> None:
    assert run("--version").answer() == f"pathprofile {__version__}\n"


def loaded(*words: str) -> set[str]:
    """Top-level modules in memory after a command, in a process of its own."""
    code = (
        "import sys\nfrom pathprofile.cli import main\n"
        "try:\n    main(sys.argv[1:])\nexcept SystemExit as end:\n    assert not end.code\n"
        "print(*{name.partition('.')[0] for name in sys.modules}, file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *words], capture_output=True, text=True, check=True, timeout=60
    )
    return set(done.stderr.splitlines()[-1].split())


@pytest.mark.parametrize("word", ["--help", "--version"])
def test_help_loads_nothing_slow(word: str) -> None:
    assert not loaded(word) & HEAVY


def test_an_answer_loads_no_more_than_it_needs(dem: str) -> None:
    path = ("reach", "47.74833,-21.00083", "46.29750,-20.93750", "--dem", dem, "--quiet")
    drawing = {"matplotlib", "numba", "rich", "scipy"}
    found = loaded(*path)
    assert {"numpy", "rasterio", "pyproj"} <= found  # or nothing was measured
    assert not found & drawing
    assert not loaded(*path, "--json") & drawing


def test_a_place_needs_no_raster_library() -> None:
    assert not loaded("locate", "47,-21", "46,-21") & {"rasterio", "matplotlib", "scipy", "numba", "rich"}
