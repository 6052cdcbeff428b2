"""The pages and the README: generated parts up to date, code that runs, links and commands that exist."""

from __future__ import annotations

import importlib
import json
import re
import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from pathprofile.trip.book import parse_book
from pathprofile.trip.log import _field_of, parse_log

if TYPE_CHECKING:
    from types import ModuleType

ROOT = Path(__file__).resolve().parents[1]
DOCS = ROOT / "docs"
PAGES = [ROOT / "README.md", *sorted(DOCS.glob("*.md"))]
MEASURED: dict[str, Any] = json.loads((DOCS / "measured.json").read_text(encoding="utf-8"))
pages = pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)

FENCE = re.compile(r"```(?P<kind>\w*)\n(?P<text>.*?)```", re.DOTALL)
SPAN = re.compile(r"(?<!`)`(?P<text>[^`\n]+)`(?!`)")
LINK = re.compile(r"\]\((?P<target>[^)\s]+)\)")


@pytest.fixture
def building(monkeypatch: pytest.MonkeyPatch) -> Any:
    """Import from what the pages are made with."""
    monkeypatch.syspath_prepend(str(DOCS))

    def get(name: str) -> ModuleType:
        return importlib.import_module(f"building.{name}")

    return get


def without_fences(text: str) -> str:
    return FENCE.sub("", text)


# --- generated parts ------------------------------------------------------------------------------------


@pytest.mark.parametrize("page", PAGES[1:], ids=lambda page: page.name)
def test_generated_parts_are_up_to_date(page: Path, building: Any) -> None:
    text = page.read_text(encoding="utf-8")
    again = building("pages").fill(text, MEASURED)
    assert again == text, f"run 'python docs/build.py': {page.name} is out of date"


def test_every_generated_part_is_on_a_page(building: Any) -> None:
    used = set(
        re.findall(r"<!-- made: ([a-z ]+) -->", "".join(page.read_text("utf-8") for page in PAGES[1:]))
    )
    assert used == set(building("blocks").BLOCKS)


def test_the_tour_prints_what_it_shows(building: Any, tmp_path: Path) -> None:
    text = (DOCS / "library.md").read_text(encoding="utf-8")
    assert len(building("pages").snippets(text)) > 10
    assert building("pages").fill_outputs(text, tmp_path) == text
    assert (tmp_path / "path.png").stat().st_size > 10_000


def test_figures_kept_are_figures_found(reference_dir: Path, building: Any) -> None:
    """Case sets again: as many cases, no difference beyond what is stated (tenfold for other machines)."""
    found = building("measure").case_sets(ROOT / "tests" / "data", reference_dir / "reference")
    kept = MEASURED["case_sets"]
    assert [each["what"] for each in kept] == [each.what for each in found]
    for stated, now in zip(kept, found, strict=True):
        assert (now.cases, now.figures) == (stated["cases"], stated["figures"]), now.what
        assert now.worst <= min(max(10.0 * stated["worst"], 1e-9), now.asked), now.what


def test_the_run_kept_counted_the_same_published_cases() -> None:
    sets = {each["what"]: each["cases"] for each in MEASURED["case_sets"] if each["kind"] == "published"}
    counted = MEASURED["tests"]["published"]
    assert counted["P.1812"] == sets["P.1812-8, basic transmission loss"]
    assert sum(counted.values()) == sum(sets.values()) - sets["P.1812-8, every step on the way"]


def test_tests_named_on_the_page_exist() -> None:
    named = [*MEASURED["properties"]]
    named += [("tests/export/sheet/test_browser.py", name) for name in MEASURED["tests"]["browser"]]
    assert len(named) > 40
    for file, name in named:
        assert f"def {name}(" in (ROOT / file).read_text(encoding="utf-8"), (file, name)


def test_worst_differences_are_rounded_up(building: Any) -> None:
    about = building("blocks")._about
    shown = {
        4.9e-8: "5e-8",
        2.86e-7: "3e-7",
        0.0048: "0.005",
        0.0491: "0.05",
        1e-12: "below 1e-9",
        1e-6: "1e-6",
    }
    assert {number: about(number) for number in shown} == shown


# --- examples -------------------------------------------------------------------------------------------


def test_books_shown_are_books() -> None:
    shown = [f["text"] for f in FENCE.finditer((DOCS / "book.md").read_text("utf-8")) if f["kind"] == "toml"]
    assert len(shown) >= 3
    for text in shown:
        book, _ = parse_book(text, "book.md")
        assert book.stations


def test_the_log_shown_is_a_log_and_its_columns_are_read() -> None:
    text = (DOCS / "book.md").read_text("utf-8").partition("## Your log")[2]
    (shown,) = (fence["text"] for fence in FENCE.finditer(text))
    log = parse_log(shown)
    assert (len(log.rows), log.unclear) == (3, ())
    table = [line.split("|")[1:3] for line in text.splitlines() if line.startswith("| `")]
    assert len(table) == 9
    for names, also in table:
        fields = re.findall(r"`(\w+)`", names)
        for name in [*fields, *also.split(",")]:
            assert _field_of(name)[0] in fields, name


# --- links and commands ---------------------------------------------------------------------------------


def anchors_of(page: Path) -> set[str]:
    """Anchors of headings, as the usual renderers make them."""
    headings = re.findall(r"^#+ (.+)$", without_fences(page.read_text(encoding="utf-8")), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-") for heading in headings}


@pages
def test_links_lead_somewhere(page: Path) -> None:
    for found in LINK.finditer(without_fences(page.read_text(encoding="utf-8"))):
        file, _, anchor = found["target"].partition("#")
        if re.match(r"https?:", file):
            continue
        target = (page.parent / file).resolve() if file else page
        assert target.exists(), found["target"]
        assert not anchor or anchor in anchors_of(target), found["target"]


@pages
def test_files_named_exist(page: Path) -> None:
    for found in SPAN.finditer(without_fences(page.read_text(encoding="utf-8"))):
        if re.fullmatch(r"(pathprofile|tests|docs|bench|sample_dem|notebooks)/[\w./-]+", found["text"]):
            assert (ROOT / found["text"]).exists(), found["text"]


@pytest.fixture(scope="module")
def commands() -> dict[str, set[str]]:
    """Every command, 'book add' among them, with its options."""
    import typer

    from pathprofile.cli.app import app

    found: dict[str, set[str]] = {}

    def walk(command: Any, name: str) -> None:
        found[name] = {"--help", "--debug"} | {flag for one in command.params for flag in one.opts}
        for inner, child in getattr(command, "commands", {}).items():
            walk(child, f"{name} {inner}".strip())

    walk(typer.main.get_command(app), "")
    return found


def calls_in(text: str) -> list[list[str]]:
    """Words after ``pathprofile`` in code: lines of fences, and spans."""
    lines = []
    for fence in FENCE.finditer(text):
        lines += fence["text"].replace("\\\n", " ").splitlines() if fence["kind"] in {"", "sh"} else []
    lines += [span["text"] for span in SPAN.finditer(without_fences(text))]
    found = []
    for line in lines:
        call = re.match(r"\s*(?:\S*[/\\])?pathprofile\s+(?P<rest>\S.*)", line.partition("  (")[0])
        if call and re.match(r"[a-z-]", call["rest"]):
            found.append(shlex.split(call["rest"].replace("…", ""), comments=True))
    return found


@pages
def test_commands_exist_with_their_options(page: Path, commands: dict[str, set[str]]) -> None:
    for words in calls_in(page.read_text(encoding="utf-8")):
        name = ""
        for word in words:
            if f"{name} {word}".strip() not in commands:
                break
            name = f"{name} {word}".strip()
        assert name or words[0].startswith("-"), f"no command {words[0]!r}"
        for word in words:
            if word.startswith("--"):
                assert word.partition("=")[0] in commands[name], f"'pathprofile {name}' has no {word}"


@pages
def test_options_named_exist(page: Path, commands: dict[str, set[str]]) -> None:
    known = set().union(*commands.values())
    for found in SPAN.finditer(without_fences(page.read_text(encoding="utf-8"))):
        if found["text"].startswith("--"):
            assert found["text"].split()[0] in known, found["text"]


def test_the_checks_of_commands_see_them() -> None:
    text = (
        "`pathprofile reach A B --json` and\n"
        "```\n.venv/bin/pathprofile demo   (Linux)\npathprofile tiles \\\n  X --dem y\n```"
    )
    assert calls_in(text) == [["demo"], ["tiles", "X", "--dem", "y"], ["reach", "A", "B", "--json"]]
