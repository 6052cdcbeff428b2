"""Nothing that text or files of others could make run, and no way out of this machine: seen in the source."""

from __future__ import annotations

import ast
from collections import defaultdict
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "pathprofile"

# Reading what these wrote runs what it holds.
RUN_WHAT_THEY_READ = {
    "pickle",
    "cPickle",
    "marshal",
    "shelve",
    "dill",
    "cloudpickle",
    "joblib",
    "yaml",
    "code",
    "runpy",
}
UNPACK_TO_DISK = {"tarfile", "extract", "extractall", "unpack_archive"}
RUN_TEXT = {"eval", "exec", "compile", "__import__", "getoutput", "getstatusoutput", "popen", "system"}
TALK = {"ftplib", "http", "requests", "smtplib", "socket", "ssl", "telnetlib", "urllib"}
MAY_IMPORT = {
    "socket": {"area/cluster.py"},  # to the scheduler that the user names
    "subprocess": {"export/sheet/browser.py"},  # a browser of this machine, spoken to through pipes
    "urllib": {"area/cluster.py"},  # takes an address apart, asks nothing
}


def source(file: Path) -> ast.Module:
    return ast.parse(file.read_text(encoding="utf-8"), filename=str(file))


TREES = {file.relative_to(PACKAGE).as_posix(): source(file) for file in sorted(PACKAGE.rglob("*.py"))}


def imported(tree: ast.Module) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name.partition(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module.partition(".")[0])
    return found


def calls(tree: ast.Module) -> list[tuple[str, ast.Call]]:
    """Calls by the last word of what is called; ``re.compile`` is told from the built-in by its dot."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            if isinstance(node.func, ast.Name):
                found.append((node.func.id, node))
            elif isinstance(node.func, ast.Attribute):
                found.append((f".{node.func.attr}", node))
    return found


def test_the_whole_package_is_looked_at() -> None:
    assert len(TREES) > 100
    assert {"cli/__init__.py", "terrain/archives.py", "export/sheet/browser.py"} <= set(TREES)


def test_imports() -> None:
    users = defaultdict(set)
    for name, tree in TREES.items():
        for module in imported(tree):
            users[module].add(name)
    assert not {module: users[module] for module in RUN_WHAT_THEY_READ & users.keys()}
    assert "tarfile" not in users
    allowed = {module: users[module] for module in (TALK | {"subprocess"}) & users.keys()}
    assert allowed == MAY_IMPORT


@pytest.mark.parametrize("name", TREES)
def test_calls(name: str) -> None:
    for called, node in calls(TREES[name]):
        where = f"{name}:{node.lineno} {called}"
        settings = {keyword.arg: keyword.value for keyword in node.keywords}
        assert called not in RUN_TEXT, where
        assert called.lstrip(".") not in UNPACK_TO_DISK | (RUN_TEXT - {"compile"}), where
        assert "shell" not in settings, where
        if called == ".load" and isinstance(node.func.value, ast.Name) and node.func.value.id == "np":
            allow = settings.get("allow_pickle")
            assert isinstance(allow, ast.Constant), where
            assert allow.value is False, where
