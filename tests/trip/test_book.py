"""The book: read, refused with line and limits, asked for names."""

from __future__ import annotations

import datetime as dt
import re
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from pathprofile.errors import StationError
from pathprofile.trip import Book, find_book, read_book
from pathprofile.trip.finding import KEYS_OF_A_BOOK

if TYPE_CHECKING:
    from pathlib import Path

BOOK = """\
notes = "one day"
[trip]
tiles = ["ground"]
bands = ["2 m"]
modes = ["ssb"]
date = 2026-06-14
time_zone = "UTC"
home = "47.41250 -20.77667"
[trip.weights]
"marsh end" = 2

[my_set_ups.rucksack]
bands = ["2m"]
height_m = 5
max_height_m = 10

[[sites]]
name = "Gull Tor"
place = "47.74833 -21.00083"
max_height_m = 4
set_ups = ["rucksack"]

[[stations]]
name = "Marsh End"
place = "46.29750 -20.93750"
[[stations.set_ups]]
bands = ["2m"]
antenna = { kind = "dipole" }
power_w = 50

[[stations]]
name = "Oakenby"
place = "HN96"
"""


def line_of(text: str, part: str) -> int:
    return text[: text.index(part)].count("\n") + 1


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "trip.toml"
    path.write_text(BOOK, encoding="utf-8")
    return path


def test_everything_stated_is_read(file: Path) -> None:
    book = read_book(file)
    assert [station.name for station in book.stations] == ["Marsh End", "Oakenby"]
    assert book.trip.date == dt.date(2026, 6, 14)
    assert book.trip.bands == ("2 m",)
    assert book.my_set_ups["rucksack"].bands == ("2 m",)
    assert book.path == file
    assert book.tile_folders() == (file.parent / "ground",)
    assert book.stations[0].set_ups[0].power_w == 50.0


def test_names_are_found_whatever_their_letter_case(file: Path) -> None:
    book = read_book(file)
    assert book.station("marsh  END").name == "Marsh End"
    assert book.site("GULL TOR").name == "Gull Tor"
    assert book.weight("MARSH END") == 2.0
    assert book.weight("Oakenby") == 1.0


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (
            lambda book: book.station("Marsh Ent"),
            r"no station 'Marsh Ent' in trip.toml; did you mean Marsh End\?",
        ),
        (lambda book: book.site("Gul Tor"), r"no site 'Gul Tor' in trip.toml; did you mean Gull Tor\?"),
        (lambda book: book.station("xyzzy"), r"no station 'xyzzy' in trip.toml; known: Marsh End, Oakenby$"),
        (lambda _: Book().site("Gull Tor"), r"no site 'Gull Tor'; the book has none$"),
    ],
)
def test_an_unknown_name_gets_the_nearest(file: Path, ask: object, words: str) -> None:
    with pytest.raises(StationError, match=words):
        ask(read_book(file))  # type: ignore[operator]


# What is replaced, by what, the text whose line must be named, and the words.
FAULTS = [
    (
        "power_w = 50",
        "power_w = -3",
        "power_w",
        r"Marsh End: set_ups\[0\]\.power_w = -3: accepted: 0\.001 to 10000 W",
    ),
    ("power_w = 50", "powr_w = 50", "powr_w", r"set_ups\[0\]\.powr_w: unknown key; did you mean power_w"),
    ('"dipole"', '"dipol"', '"dipol"', r"antenna\.kind: unknown antenna 'dipol'; did you mean dipole"),
    ("[my_set", "[my_et", "[my_et", r"my_et_ups: unknown key; did you mean my_set_ups\?"),
    ('modes = ["ssb"]', 'modes = ["sbs"]', '"sbs"', r"trip\.modes: unknown mode 'sbs'; did you mean ssb"),
    ('bands = ["2 m"]', 'bands = ["5 m"]', '"5 m"', r"trip\.bands: unknown band '5 m'"),
    ("2026-06-14", '"soon"', '"soon"', r"trip\.date = 'soon': accepted: a date, such as 2026-06-14"),
    ("2026-06-14", "2026-06-14T10:00:00", "T10", r"trip\.date = .*: accepted: a date"),
    ('"UTC"', '"Mars"', '"Mars"', r"trip\.time_zone = 'Mars': accepted: UTC, UTC\+2"),
    ('"47.41250 -20.77667"', '"home"', '"home"', r"trip\.home = 'home': it holds no numbers; give latitude"),
    (
        '"marsh end" = 2',
        '"march end" = 2',
        '"march end"',
        r"no station 'march end'; did you mean Marsh End\?",
    ),
    ('"marsh end" = 2', '"marsh end" = 200', '"marsh end"', r"accepted: 0 to 100 \(1 is usual"),
    (
        '["rucksack"]',
        '["sack"]',
        '["sack"]',
        r"Gull Tor: set_ups: 'sack' is not among my_set_ups; did you mean ruck",
    ),
    (
        '"46.29750 -20.93750"',
        '"nowhere"',
        '"nowhere"',
        r"Marsh End: place = 'nowhere': it holds no numbers; give",
    ),
    ('"HN96"', '"HZ96"', '"HZ96"', r"Oakenby: place = 'HZ96': .*not a locator"),
    (
        '"Oakenby"',
        '"MARSH end"',
        '"MARSH end"',
        r"name = 'MARSH end': there is a station of that name already",
    ),
    ('"Oakenby"', '"gull tor"', '"gull tor"', r"name = 'gull tor': there is a site of that name already"),
    ('"Oakenby"', '"Oak\\u001b[2J"', '"Oak', r"a name is one line without control characters"),
    ('"Oakenby"', '" Oakenby"', '" Oakenby"', r"a name has single spaces"),
    ('name = "Oakenby"\n', "", '[[stations]]\nplace = "HN96"', r"name is needed"),
    (
        "max_height_m = 4",
        "max_height_m = 4\nheight_m = 6",
        "height_m = 6",
        r"Gull Tor: height_m = 6: above the stated",
    ),
    (
        "max_height_m = 4",
        "ground_m = 9999",
        "ground_m",
        r"Gull Tor: ground_m = 9999: accepted: -450 to 8900 m",
    ),
    ("power_w = 50", "tone_hz = 5", "tone_hz", r"tone_hz = 5: accepted: 60 to 260 Hz"),
    (
        "power_w = 50",
        "power_w = 50\nmax_power_w = 5",
        "power_w = 50",
        r"power_w = 50: above the stated limit",
    ),
    ('notes = "one day"', "sites = 3", "sites = 3", r"not TOML: Cannot overwrite a value|sites"),
    ("[trip]", "[trip", "[trip\n", r"not TOML: Expected"),
]


@pytest.mark.parametrize(("old", "new", "marked", "words"), FAULTS)
def test_a_fault_names_file_line_field_value_and_limits(
    file: Path, old: str, new: str, marked: str, words: str
) -> None:
    text = BOOK.replace(old, new, 1)
    assert text != BOOK
    file.write_text(text, encoding="utf-8")
    with pytest.raises(StationError, match=words) as refusal:
        read_book(file)
    message = str(refusal.value)
    assert "\n" not in message
    found = re.match(re.escape(str(file)) + r", line (\d+): ", message)
    assert found, message
    if "overwrite" not in message:  # tomllib names the line where the clash shows
        assert int(found[1]) == line_of(text, marked)


def test_a_book_that_cannot_be_read_is_refused_in_one_line(tmp_path: Path) -> None:
    with pytest.raises(StationError, match=r"no book '.*absent.toml': give the name"):
        read_book(tmp_path / "absent.toml")
    with pytest.raises(StationError, match="cannot read the book"):
        read_book(tmp_path)
    latin = tmp_path / "latin.toml"
    latin.write_bytes('notes = "ok"\n# h\xf6he\n'.encode("latin-1"))
    with pytest.raises(StationError, match=r"latin.toml, line 2: not UTF-8 text"):
        read_book(latin)
    deep = tmp_path / "deep.toml"
    deep.write_text("notes = " + "[" * 100_000, encoding="utf-8")
    with pytest.raises(StationError, match=r"deep.toml(: brackets are nested too deep|, line 1: not TOML)"):
        read_book(deep)


def test_a_book_of_too_many_bytes_or_stations_is_refused(
    tmp_path: Path, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("pathprofile.trip.finding.LARGEST_BOOK_BYTES", 100)
    with pytest.raises(StationError, match=r"trip\.toml: larger than"):
        read_book(file)
    monkeypatch.undo()
    many = tmp_path / "many.toml"
    rows = (f'{{name="s{n}",place="HN96"}},' for n in range(20_001))
    many.write_text("stations = [" + "".join(rows) + "]", encoding="utf-8")
    with pytest.raises(StationError, match=r"many.toml, line 1: .*20000"):
        read_book(many)


def test_a_byte_order_mark_does_no_harm(file: Path) -> None:
    file.write_text(BOOK, encoding="utf-8-sig")
    assert read_book(file).stations[0].name == "Marsh End"


def test_a_site_limits_my_antennas(file: Path) -> None:
    book = read_book(file)
    (set_up,) = book.operator_at("gull tor").set_ups
    assert (set_up.height_m, set_up.max_height_m) == (4.0, 4.0)
    site = book.sites[0].model_copy(update={"height_m": 2.0, "max_height_m": None, "set_ups": ()})
    (set_up,) = book.operator_at(site).set_ups
    assert (set_up.height_m, set_up.max_height_m) == (2.0, 10.0)


def test_distances_are_checked_from_home_or_else_the_first_site(file: Path) -> None:
    book = read_book(file)
    assert book.start().latitude_deg == 47.4125  # type: ignore[union-attr]
    homeless = Book(sites=book.sites, my_set_ups=book.my_set_ups)
    assert homeless.start().label == "Gull Tor"  # type: ignore[union-attr]
    assert Book().start() is None


def test_looking_for_a_book_loads_no_models(tmp_path: Path) -> None:
    code = (
        "import sys; from pathprofile.trip import find_book; find_book(sys.argv[1]);"
        " sys.exit(any(name in sys.modules for name in ('pydantic', 'numpy', 'pyproj')))"
    )
    subprocess.run([sys.executable, "-c", code, str(tmp_path)], check=True)
    assert set(Book.model_fields) == KEYS_OF_A_BOOK


def test_the_book_of_a_folder_is_found(tmp_path: Path) -> None:
    assert find_book(tmp_path) is None
    (tmp_path / "other.toml").write_text('[[place]]\nname = "Gull Tor"\n', encoding="utf-8")
    (tmp_path / "broken.toml").write_text("[[stations", encoding="utf-8")
    assert find_book(tmp_path) is None
    (tmp_path / "june.toml").write_text(BOOK, encoding="utf-8")
    assert find_book(tmp_path) == tmp_path / "june.toml"
    (tmp_path / "july.toml").write_text(BOOK, encoding="utf-8")
    with pytest.raises(StationError, match=r"2 books in .* \(july.toml, june.toml\); name the one"):
        find_book(tmp_path)
    (tmp_path / "trip.toml").write_text("", encoding="utf-8")
    assert find_book(tmp_path) == tmp_path / "trip.toml"
