"""The notebooks run from top to bottom in a fresh kernel, say what the library says, and are committed so."""

from __future__ import annotations

import importlib.util
import json
import math
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
FOLDER = ROOT / "notebooks"
NAMES = ("can-this-hilltop-reach", "choosing-between-two-summits", "how-good-are-knife-edge-methods")
MOST_BYTES = 300 * 1024
OFFLINE = """\
import sys

def loopback_only(event, args):
    if event == "socket.connect" and isinstance(args[1], tuple):
        if not str(args[1][0]).startswith(("127.", "::1", "localhost")):
            raise RuntimeError(f"notebooks are offline, yet something connects to {args[1]!r}")

sys.addaudithook(loopback_only)
"""
VOLATILE = re.compile(r"20\d\d-\d\d-\d\dT\d\d:|/home/|/root/|/tmp/|\\\\Users\\\\|object at 0x")


@pytest.fixture(scope="module")
def runner():
    pytest.importorskip("nbclient", reason="nbclient is not installed: pip install nbclient")
    pytest.importorskip("ipykernel", reason="ipykernel is not installed: pip install ipykernel")
    spec = importlib.util.spec_from_file_location("execute_notebooks", FOLDER / "execute.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def kernel_home(tmp_path, monkeypatch) -> Path:
    """Folder for a kernel that knows nothing of this user and may talk to this machine only."""
    (tmp_path / "sitecustomize.py").write_text(OFFLINE)
    for name, value in {
        "PYTHONPATH": tmp_path,
        "JUPYTER_DATA_DIR": tmp_path / "jupyter",
        "JUPYTER_CONFIG_DIR": tmp_path / "jupyter-config",
        "IPYTHONDIR": tmp_path / "ipython",
        "PROJ_NETWORK": "OFF",
    }.items():
        monkeypatch.setenv(name, str(value))
    return tmp_path


def printed(notebook) -> str:
    """All that the cells print, in order."""
    return "".join(
        "".join(output["text"])
        for cell in notebook["cells"]
        for output in cell.get("outputs", [])
        if output["output_type"] == "stream" and output["name"] == "stdout"
    )


def pictures(notebook) -> int:
    return sum(
        "image/png" in output.get("data", {})
        for cell in notebook["cells"]
        for output in cell.get("outputs", [])
    )


def committed(name: str):
    return json.loads((FOLDER / f"{name}.ipynb").read_text(encoding="utf-8"))


def numbers(text: str, pattern: str) -> list[float]:
    """Numbers caught by a pattern that matches once."""
    found = re.findall(pattern, text)
    assert len(found) == 1, (pattern, found)
    return [float(each) for each in (found[0] if isinstance(found[0], tuple) else found)]


def test_all_notebooks_are_known_here() -> None:
    assert sorted(path.stem for path in FOLDER.glob("*.ipynb")) == sorted(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_committed_form(name: str) -> None:
    path = FOLDER / f"{name}.ipynb"
    notebook = committed(name)
    assert path.stat().st_size <= MOST_BYTES
    assert notebook["metadata"] == {
        "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
        "language_info": {"name": "python"},
    }
    for cell in notebook["cells"]:
        assert cell["metadata"] == {}
        assert all(not output.get("metadata") for output in cell.get("outputs", []))
    code = [cell for cell in notebook["cells"] if cell["cell_type"] == "code"]
    assert [cell["execution_count"] for cell in code] == list(range(1, len(code) + 1))
    assert not VOLATILE.search(printed(notebook))
    words = " ".join(" ".join(cell["source"]) for cell in notebook["cells"]).split()
    said = " ".join(words) + printed(notebook)
    assert "no such land exists" in said
    assert "safety line" in said


@pytest.mark.parametrize("name", NAMES)
def test_runs_and_says_what_the_library_says(name: str, runner, kernel_home) -> None:
    notebook = runner.executed(FOLDER / f"{name}.ipynb", kernel_home)  # raises where a cell fails
    text = printed(notebook)
    for cell in notebook.cells:
        for output in cell.get("outputs", []):
            assert "Warning" not in output.get("text", ""), output.text
    CHECKS[name](text)
    assert text == printed(committed(name)), (
        "answers moved: run 'python notebooks/execute.py' and look at them"
    )
    assert pictures(notebook) == pictures(committed(name)) > 0


def test_a_failing_cell_is_noticed_and_kernels_are_offline(runner, kernel_home) -> None:
    nbformat = pytest.importorskip("nbformat")
    from nbclient.exceptions import CellExecutionError

    code = "import socket; socket.create_connection(('192.0.2.1', 9), timeout=1)"  # TEST-NET-1, RFC 5737
    cells = [nbformat.v4.new_code_cell(code)]
    path = kernel_home / "online.ipynb"
    nbformat.write(nbformat.v4.new_notebook(cells=cells), path)
    with pytest.raises(CellExecutionError, match="notebooks are offline"):
        runner.executed(path, kernel_home)


def hilltop(text: str) -> None:
    """By the route of ``pathprofile reach``: the models of the book, then `contact`."""
    from pathprofile.contact import contact
    from pathprofile.link.words import odds_text
    from pathprofile.sample import sample_dir
    from pathprofile.terrain.store import TerrainStore
    from pathprofile.trip import read_book
    from pathprofile.trip.from_book import site_party, station_party

    book = read_book(sample_dir() / "trip.toml")
    sides = site_party(book, "Gull Tor"), station_party(book, "Marsh End")
    with TerrainStore.open([sample_dir()]) as terrain:
        found = {
            mode: contact(*sides, terrain, date=book.trip.date, frequency_mhz=144.3, mode=mode)
            for mode in ("ssb", "morse")
        }
    ssb = found["ssb"]
    # 47.74833 N 21.00083 W to 46.29750 N 20.93750 W, by an independent geodesic library.
    from geographiclib.geodesic import Geodesic

    metres = Geodesic.WGS84.Inverse(47.74833, -21.00083, 46.29750, -20.93750)["s12"]
    km, miles = numbers(text, r"Marsh End, ([\d.]+) km, ([\d.]+) miles")
    assert km == pytest.approx(metres / 1000, abs=0.06)
    assert miles == pytest.approx(metres / 1609.344, abs=0.06)
    assert f"SSB on 2 m: {ssb.link.pair.verdict.word}, {odds_text(ssb.link.pair.chance)}" in text
    assert numbers(text, r"ITU-R P.1812-8: (\d+) dB") == [round(ssb.reach.loss.loss_db)]
    assert numbers(text, r"Irregular Terrain Model: (\d+) dB") == [round(ssb.reach.loss.methods["itm"])]
    # free space: 32.45 + 20 log f + 20 log d (ITU-R P.525-4, eq. 4)
    free_db = 32.45 + 20 * math.log10(144.3) + 20 * math.log10(metres / 1000)
    assert numbers(text, r"free space \(P.525\): (\d+) dB") == [round(free_db)]
    margins = numbers(text, r"margin, dB +(-?[\d.]+) +(-?[\d.]+)")
    assert margins == pytest.approx(
        [way.budget.margin_db for way in (ssb.link.out, ssb.link.back)], abs=0.051
    )
    # the station stated in Python is the book's, so at its 10 W it has the book's odds
    at_10_w = numbers(text, r"\b10\.0 W: SSB ([\d.]+), Morse ([\d.]+)")
    assert at_10_w == pytest.approx([found[mode].link.pair.chance for mode in ("ssb", "morse")], abs=0.0051)
    columns = budget_columns(text)
    for column, margin in zip(columns, margins, strict=True):
        assert sum(column[:9]) - sum(column[9:]) == pytest.approx(margin, abs=0.8)  # 14 rounded terms
    assert numbers(text, r"k = 1\.33: loss (\d+) dB") == [round(ssb.reach.loss.loss_db)]


def budget_columns(text: str) -> list[list[float]]:
    """Both columns of the budget, from power to what the mode needs."""
    table = text[text.index("power  ") : text.index("signal, dBm")]
    rows = [[float(each) for each in line.split()[-2:]] for line in table.splitlines()]
    assert len(rows) == 13
    return [list(column) for column in zip(*rows, strict=True)]


def summits(text: str) -> None:
    """By the pairs themselves: each site against each station, counted here."""
    from pathprofile.sample import sample_dir
    from pathprofile.terrain.store import TerrainStore
    from pathprofile.trip import read_book
    from pathprofile.trip.answer import answer_pair
    from pathprofile.trip.from_book import site_party, station_party, terms_of

    book = read_book(sample_dir() / "trip.toml")
    terms = terms_of(book, date=book.trip.date)
    with TerrainStore.open([sample_dir()]) as terrain:
        reached = {
            site: [
                each
                for each in book.stations
                if answer_pair(site_party(book, site), station_party(book, each), terrain, terms).in_reach
            ]
            for site in ("Gull Tor", "Kestrel Pike")
        }
    weights = {site: sum(book.weight(each.name) for each in names) for site, names in reached.items()}
    flat = " ".join(text.split())
    assert numbers(
        flat,
        r"Gull Tor: (\d+) of 14 wanted stations within reach \(weight ([\d.]+)\) "
        r"against (\d+) \(weight ([\d.]+)\) from Kestrel Pike",
    ) == [
        len(reached["Gull Tor"]),
        weights["Gull Tor"],
        len(reached["Kestrel Pike"]),
        weights["Kestrel Pike"],
    ]
    assert flat.count("Kestrel Pike: 11 of 14 wanted stations") == 1  # with the FM radio it wins
    losses = [float(each) for each in re.findall(r"at \d+ km; loss ([\d.]+) dB", text)]
    assert len(losses) == 2
    assert losses[0] - losses[1] > 10  # the text says that the higher summit looks over the middle hills
    assert numbers(text, r"Kestrel Pike: reached weight ([\d.]+)") == [weights["Kestrel Pike"]]
    assert text.index("Kestrel Pike: reached weight") < text.index("Gull Tor: reached weight")


def edges(text: str) -> None:
    """By closed forms and by figures from print."""
    # ITU-R P.526-16, §4.1: J(0) = 20 log 2; least −1.37 dB at ν = −1.217 (the maximum of the Cornu spiral)
    assert numbers(text, r"On the line: ([\d.]+) dB") == [6.02]
    assert numbers(text, r"Least: (-[\d.]+) dB at nu = (-[\d.]+)") == [-1.37, -1.22]
    # S. W. Lee 1978; H. H. Xia, H. L. Bertoni 1992: 20 log(N + 1). The sums charge 20 log 2 an edge.
    rows = re.findall(r"^ +(\d+)((?: +\d+\.\d\d){6})$", text, re.MULTILINE)
    assert [int(edge) for edge, _ in rows] == list(range(1, 11))
    for edge, rest in rows:
        exact, formula, *sums, _bullington = (float(each) for each in rest.split())
        assert exact == formula == pytest.approx(20 * math.log10(int(edge) + 1), abs=0.0051)
        assert sums == pytest.approx([int(edge) * 20 * math.log10(2)] * 3, abs=0.0051)
    assert "less than 1e-9 dB: True" in text
    # Deygout is pessimistic for close similar edges: nearly a whole grazing edge, 6.02 dB (from memory)
    close_db, _, apart_db = numbers(
        text, r"Deygout +([-+][\d.]+) dB at 0.3 km, +([-+][\d.]+) dB at 5 km, +([-+][\d.]+) dB at 30 km"
    )
    assert 5.0 < close_db < 6.02
    assert 0.0 < apart_db < close_db
    means = dict(re.findall(r"^([A-Z].*?) +([-+][\d.]+) +[\d.]+ +[-+][\d.]+$", text, re.MULTILINE))
    assert set(means) == {"Epstein-Peterson", "Deygout", "Deygout, three edges", "Giovanelli", "Bullington"}
    error = {name: float(mean) for name, mean in means.items()}
    # What the text says of the ensemble (known behaviours, from memory)
    assert error["Deygout"] > 2.0
    assert error["Deygout, three edges"] < error["Deygout"] - 5.0
    assert -12.0 < error["Bullington"] < -8.0
    assert max(abs(error["Giovanelli"]), abs(error["Epstein-Peterson"])) < 1.5


CHECKS = dict(zip(NAMES, (hilltop, summits, edges), strict=True))
