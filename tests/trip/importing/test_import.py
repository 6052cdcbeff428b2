"""Lists taken into a book: what is added, changed, kept; and nothing half-written."""

from __future__ import annotations

import codecs
import csv
import io
import re
import tempfile
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st

from pathprofile.errors import OutputError, StationError
from pathprofile.places import parse_location
from pathprofile.trip import import_into, read_book

if TYPE_CHECKING:
    from pathprofile.trip import ImportReport

BOOK = """\
# My book: do not lose this line.
[trip]
bands = ["2 m"]  # one band
home = "47.74833 -21.00083"

[[stations]]
name = "Tidewick"          # by hand
place = "46.77917 -21.17583"

# About the summits
[[sites]]
name = "Gull Tor"
place = "47.74833 -21.00083"
"""


KML_POINT = "<Point><coordinates>-20.93750,46.29750</coordinates></Point>"
JSON_POINT = '{"type":"Point","coordinates":[-20.93750,46.29750]}'


@pytest.fixture
def book(tmp_path: Path) -> Path:
    path = tmp_path / "trip.toml"
    path.write_text(BOOK, encoding="utf-8", newline="")
    return path


def take(book: Path, content: str | bytes, name: str = "list.csv", **options: object) -> ImportReport:
    file = book.parent / name
    file.write_bytes(content if isinstance(content, bytes) else content.encode())
    return import_into(book, file, **options)  # type: ignore[arg-type]


def replace(book: Path, old: str, new: str) -> None:
    text = book.read_text(encoding="utf-8")
    assert old in text
    book.write_text(text.replace(old, new), encoding="utf-8")


def test_stations_are_added_below_and_all_else_stays(book: Path) -> None:
    report = take(
        book, "Name,Lat,Lon,Power\nMarsh End,46.29750,-20.93750,50 W\nOakenby,46.95750,-20.81750,\n"
    )
    text = book.read_text(encoding="utf-8")
    assert text.startswith(BOOK)
    assert [(r.line, r.name) for r in report.added] == [(2, "Marsh End"), (3, "Oakenby")]
    assert report.summary() == "list.csv into trip.toml: 2 added"
    station = read_book(book).station("marsh end")
    assert station.set_ups[0].power_w == 50.0
    assert station.set_ups[0].bands == ("2 m",)
    assert re.fullmatch(r"list\.csv:2 #[0-9a-f]{8}", station.source)


def test_the_same_list_again_changes_nothing(book: Path) -> None:
    rows = "Name,Lat,Lon,Power,Notes\nMarsh End,46.29750,-20.93750,12.5,warm\n"
    take(book, rows)
    before = book.read_bytes()
    report = take(book, rows, "again.csv")
    assert (report.added, report.changed, report.kept, report.unchanged) == ((), (), (), 1)
    assert book.read_bytes() == before


def test_an_untouched_station_follows_the_list(book: Path) -> None:
    take(book, "Name,Lat,Lon\nMarsh End,46.29750,-20.93750\nOakenby,46.95750,-20.81750\n")
    replace(book, 'place = "46.29750, -20.93750"', 'place = "46.29750, -20.93750"  # looked at, fine')
    report = take(book, "Name,Lat,Lon\nMarsh End,46.31667,-20.90750\n", "new.csv")
    (change,) = report.changed
    assert change.text == 'place = "46.31667, -20.90750"; was place = "46.29750, -20.93750"'
    text = book.read_text(encoding="utf-8")
    assert text.startswith(BOOK)
    assert "# looked at, fine" in text
    stations = read_book(book).stations
    assert [s.name for s in stations] == ["Tidewick", "Marsh End", "Oakenby"]
    assert stations[1].place == "46.31667, -20.90750"
    assert stations[1].source.startswith("new.csv:2 #")
    # The new values are untouched in their turn.
    assert take(book, "Name,Lat,Lon\nMarsh End,46.29750,-20.93750\n").changed


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('place = "46.29750, -20.93750"', 'place = "46.29755, -20.93755"'),
        ('name = "Marsh End"', 'name = "Marsh End"\nnotes = "met him"'),
        ("source = ", "receive_only = true\nsource = "),
    ],
)
def test_what_was_corrected_by_hand_is_never_overwritten(book: Path, old: str, new: str) -> None:
    take(book, "Name,Lat,Lon\nMarsh End,46.29750,-20.93750\n")
    replace(book, old, new)
    before = book.read_bytes()
    report = take(book, "Name,Lat,Lon\nMARSH END,46.31667,-20.90750\n")
    assert book.read_bytes() == before
    (kept,) = report.kept
    assert (kept.line, kept.name) == (2, "MARSH END")
    assert kept.text.startswith('corrected by hand, kept; the list says place = "46.31667, -20.90750"')
    assert re.search(r", [23]\.\d km from the book's '46\.297", kept.text)


def test_what_was_written_by_hand_is_kept_too(book: Path) -> None:
    report = take(book, "Name,Lat,Lon\nTidewick,46.85,-21.25\n")
    assert report.kept[0].text.startswith("written by hand, kept; the list says place")
    assert book.read_text(encoding="utf-8") == BOOK


def test_a_vaguer_place_that_agrees_changes_nothing(book: Path) -> None:
    take(book, "Name,Lat,Lon\nFlaxmill,46.54250,-20.88583\n")
    assert take(book, "Name,Loc\nFlaxmill,HN96nn\nTidewick,HN96js\n").changed == ()
    book_now = read_book(book)
    assert book_now.station("Flaxmill").place == "46.54250, -20.88583"
    # A finer one does.
    take(book, "Name,Loc\nStone Row,HN97\n")
    assert take(book, "Name,Loc\nStone Row,HN97oc\n").changed
    assert read_book(book).station("Stone Row").place == "HN97oc"


def test_what_a_list_no_longer_mentions_stays(book: Path) -> None:
    take(book, "Name,Lat,Lon,Notes,Power\nMarsh End,46.29750,-20.93750,kind,50\n")
    take(book, "Name,Lat,Lon\nMarsh End,46.31667,-20.90750\n")
    station = read_book(book).station("Marsh End")
    assert (station.notes, station.set_ups[0].power_w) == ("kind", 50.0)


def test_names_again_and_names_of_sites_are_unclear(book: Path) -> None:
    report = take(
        book,
        "Name,Lat,Lon\nMarsh End,46.29750,-20.93750\nmarsh  end,46.29750,-20.93750\n"
        "Marsh End,46.5,-20.6\nGull Tor,47.1,-21.1\n",
    )
    assert [(r.line, r.text) for r in report.unclear] == [
        (3, "the name again, at the same place as on line 2; left out"),
        (4, "the name again, but elsewhere than on line 2; left out"),
        (5, "a candidate site of the book has this name; left out"),
    ]
    assert len(report.added) == 1


def test_distances_are_recomputed_from_home_and_the_stated_ones_reported(book: Path) -> None:
    km = Geodesic.WGS84.Inverse(47.74833, -21.00083, 46.2975, -20.9375)["s12"] / 1000.0
    rows = f"Name,Lat,Lon,Distance (km)\nMarsh End,46.29750,-20.93750,99\nTwin,46.29751,-20.93750,{km:.0f}\n"
    report = take(book, rows)
    assert [(r.line, r.text) for r in report.doubts] == [
        (2, f"list says 99 km, from here it is {km:.0f} km: the list was made elsewhere")
    ]
    assert "99" not in book.read_text(encoding="utf-8").replace(BOOK, "")
    near = parse_location("46.45 -20.9")
    assert [r.line for r in take(book, rows, from_location=near).doubts] == [2, 3]


def test_without_a_place_to_check_from_that_is_said(book: Path) -> None:
    book.write_text("", encoding="utf-8")
    report = take(book, "Name,Lat,Lon,Distance (km)\nMarsh End,46.29750,-20.93750,99\n")
    assert "not checked: the book has neither trip.home nor a site" in report.unclear[0].text


def test_a_locator_in_disguise_is_taken_as_its_cell_and_said(book: Path) -> None:
    report = take(book, "Name,Lat,Lon\nFlaxmill,46.5625,-20.875\n")
    assert read_book(book).station("Flaxmill").place == "HN96nn"
    assert (
        report.doubts[0].text
        == "46.5625 -20.875, exactly the centre of this cell: taken as that cell, HN96nn"
    )
    assert 'place = "HN96nn"  # the list says 46.5625 -20.875' in book.read_text(encoding="utf-8")


def test_a_set_up_without_a_band_is_left_out_and_said(book: Path) -> None:
    replace(book, 'bands = ["2 m"]  # one band\n', "")
    report = take(book, "Name,Loc,Power\nMarsh End,HN96mh,50\n")
    assert "no band is stated" in report.doubts[0].text
    assert read_book(book).station("Marsh End").set_ups == ()


def test_a_set_up_beyond_the_limits_is_left_out_and_the_station_kept(book: Path) -> None:
    report = take(book, "Name,Loc,Power\nMarsh End,HN96mh,50 kW\n")
    assert "its set-up is left out and kept as a note: set_ups[0].power_w" in report.doubts[0].text
    assert "50000 W" in read_book(book).station("Marsh End").notes
    assert read_book(book).station("Marsh End").place == "HN96mh"


@pytest.mark.parametrize(
    "encoded",
    [
        "Name;Loc\nHöhenweg;HN96mh\n".encode(),
        "Name;Loc\nHöhenweg;HN96mh\n".encode("utf-8-sig"),
        "Name;Loc\nHöhenweg;HN96mh\n".encode("utf-16"),
        codecs.BOM_UTF16_BE + "Name;Loc\nHöhenweg;HN96mh\n".encode("utf-16-be"),
        "Name;Loc\nHöhenweg;HN96mh\n".encode("utf-16-le"),
        "Name;Loc\r\nHöhenweg;HN96mh\r\n".encode("cp1252"),
    ],
)
def test_encodings(book: Path, encoded: bytes) -> None:
    assert [r.name for r in take(book, encoded).added] == ["Höhenweg"]


def test_mixed_encodings_are_read_line_by_line_and_named(book: Path) -> None:
    mixed = "Name;Loc\nHöhe;HN96mh\n".encode() + "Brücke;HN96nn\n".encode("cp1252")
    report = take(book, mixed)
    assert [r.name for r in report.added] == ["Höhe", "Brücke"]
    assert str(report.unclear[0]) == "line 3: line 3 not UTF-8, read as Windows-1252; look at the accents"


@pytest.mark.parametrize(
    ("content", "name", "kind"),
    [
        ("Name,Lat,Lon\nMarsh End,46.29750,-20.93750\n", "list.txt", "csv"),
        ("Hello,\nMarsh End 46.29750 -20.93750\n", "list.txt", "text"),
        ('<gpx><wpt lat="46.29750" lon="-20.93750"><name>Marsh End</name></wpt></gpx>', "list", "gpx"),
        (f"<kml><Placemark><name>Marsh End</name>{KML_POINT}</Placemark></kml>", "list", "kml"),
        (
            f'{{"type":"Feature","geometry":{JSON_POINT},"properties":{{"name":"Marsh End"}}}}',
            "list",
            "geojson",
        ),
    ],
)
def test_kinds_are_told_from_the_text(book: Path, content: str, name: str, kind: str) -> None:
    report = take(book, content, name)
    assert report.kind == kind
    assert read_book(book).station("Marsh End").place == "46.29750, -20.93750"


def test_pasted_text_may_come_from_an_open_file(book: Path) -> None:
    report = import_into(book, io.BytesIO(b"Marsh End 46.29750 -20.93750\n"))
    assert report.file == "pasted text"
    assert len(report.added) == 1
    with pytest.raises(StationError, match="kind 'doc' is not known; known: csv, text, gpx"):
        import_into(book, io.BytesIO(b"x"), kind="doc")


def test_line_ends_of_the_book_stay_as_they_are(book: Path) -> None:
    book.write_bytes(BOOK.replace("\n", "\r\n").encode())
    take(book, "Name,Loc\nMarsh End,HN96mh\n")
    take(book, "Name,Loc,Power\nMarsh End,HN96mh,5\n")
    assert re.search(rb"(?<!\r)\n", book.read_bytes()) is None
    assert read_book(book).station("Marsh End").set_ups[0].power_w == 5.0


def test_lists_written_in_turns_keep_their_order(book: Path) -> None:
    take(book, "Name,Loc\nMarsh End,HN96mh\n")
    text = (
        book.read_text(encoding="utf-8")
        + '\n# a third summit\n[[sites]]\nname = "Emberlaw"\nplace = "HN96rq"\n'
    )
    book.write_text(text, encoding="utf-8")
    take(book, "Name,Loc,Power\nMarsh End,HN96mh,5\nOakenby,HN96ow,\n")
    now = book.read_text(encoding="utf-8")
    assert (
        now.index("Marsh End") < now.index("# a third summit") < now.index("Emberlaw") < now.index("Oakenby")
    )
    assert read_book(book).station("Marsh End").set_ups[0].power_w == 5.0


def test_a_book_that_cannot_be_added_to_is_refused_and_left_alone(book: Path) -> None:
    inline = 'stations = [{ name = "A", place = "HN96mh" }]\n'
    book.write_text(inline, encoding="utf-8")
    with pytest.raises(
        StationError, match=r"trip.toml: line 1: stations stand in one list; write each under"
    ):
        take(book, "Name,Loc\nMarsh End,HN96mh\n")
    assert book.read_text(encoding="utf-8") == inline


HOSTILE = [
    (b"", "empty; there is nothing to import"),
    (b" \n\n", "empty; there is nothing to import"),
    (b"PK\x03\x04rest", "this is a zip container"),
    (b"%PDF-1.7", "this is a PDF"),
    (b"\x00" * 50, "not text"),
    (b"Name,Loc\nA\x00,HN96mh\n", "not text"),
    (b"Name,Lat,Lon\n" + b"a" * 10_000_001, "larger than 10 MB"),
    (b"a\n" * 500_001, "more than 500000 lines"),
    (b"Name,Loc\n" + b"=1,HN96mh\n" * 20_001, "more than 20000 places"),
    (b'<!DOCTYPE x [<!ENTITY a "b">]><gpx>&a;</gpx>', "it declares a document type"),
    (b"<gpx><wpt>", "broken XML"),
    (b'{"type": "Feature"', "broken JSON"),
]


@pytest.mark.parametrize(("content", "words"), HOSTILE, ids=[words for _, words in HOSTILE])
def test_a_hostile_file_is_one_line_and_nothing_is_written(book: Path, content: bytes, words: str) -> None:
    with pytest.raises(StationError, match=words) as refusal:
        take(book, content, "hostile")
    assert "\n" not in str(refusal.value)
    assert book.read_text(encoding="utf-8") == BOOK
    assert sorted(p.name for p in book.parent.iterdir()) == ["hostile", "trip.toml"]


def test_a_huge_file_is_read_up_to_the_limit_only(book: Path) -> None:
    class Endless(io.RawIOBase):
        asked = 0

        def read(self, size: int = -1) -> bytes:
            assert size >= 0, "asked for everything"
            self.asked = size
            return b"a" * size

    source = Endless()
    with pytest.raises(StationError, match="larger than 10 MB"):
        import_into(book, source)  # type: ignore[arg-type]
    assert source.asked == 10_000_001


def test_one_line_of_megabytes_costs_that_line_alone(book: Path) -> None:
    report = take(book, b"Name,Loc\nA,HN96mh\n" + b"x" * 9_000_000 + b"\nB,HN96nn\n")
    assert [r.name for r in report.added] == ["A", "B"]
    assert str(report.unclear[0]) == "line 3: a line of 9000000 characters; left out"


def test_unseen_characters_reach_neither_book_nor_report(book: Path) -> None:
    hostile = "\\ud800\\u001b[31m\\u202e"
    feature = (
        f'{{"type":"Feature","geometry":{JSON_POINT},"properties":{{"name":"Marsh {hostile} End",'
        f'"notes":"{hostile}","dist":"9 {hostile}","power":"{hostile}"}}}}'
    )
    report = take(book, feature, "list\x1b[31m\n.json")
    assert report.added[0].name == "Marsh [31m End"
    shown = "\n".join(report.lines()) + book.read_text(encoding="utf-8").replace(BOOK, "")
    assert all(character.isprintable() or character == "\n" for character in shown)


def test_hostile_names_are_names_and_nothing_more(book: Path) -> None:
    names = ["../../etc/passwd", 'say "hi" \\ # [x]', "&amp; <", "'''", "\u202eevil", "a\x07b"]
    rows = "".join('"{}";HN96mh\n'.format(name.replace('"', '""')) for name in names)
    report = take(book, f"Name;Loc\n{rows}")
    added = [r.name for r in report.added]
    assert added == ["../../etc/passwd", 'say "hi" \\ # [x]', "&amp; <", "'''", "evil", "a b"]
    assert [s.name for s in read_book(book).stations][1:] == added


@settings(max_examples=30, deadline=None)
@given(st.lists(st.text(max_size=40), min_size=1, max_size=4))
def test_any_names_come_through_the_book_whole(names: list[str]) -> None:
    buffer = io.StringIO()
    csv.writer(buffer, delimiter=";").writerows([["Name", "Loc"], *([name, "HN96mh"] for name in names)])
    raw = buffer.getvalue().encode("utf-8", "replace")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "trip.toml"
        path.write_text(BOOK, encoding="utf-8")
        try:
            report = import_into(path, io.BytesIO(raw), kind="csv")
        except StationError as refusal:
            assert "not text" in str(refusal)  # noqa: PT017 - a zero byte is the only reason to refuse all
            return
        assert [s.name for s in read_book(path).stations] == ["Tidewick", *(r.name for r in report.added)]


def test_ten_thousand_stations_are_taken(book: Path) -> None:
    rows = "".join(f"S{n},{46 + n / 6000:.5f},{-21 + n / 7001:.5f},99\n" for n in range(10_000))
    report = take(book, f"Name,Lat,Lon,Distance (km)\n{rows}")
    assert len(report.added) == 10_000
    assert len(tomllib.loads(book.read_text(encoding="utf-8"))["stations"]) == 10_001


def test_a_disk_that_refuses_leaves_the_book_whole(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("pathprofile.atomic.os.fsync", full)
    with pytest.raises(OutputError, match="the disk is full"):
        take(book, "Name,Loc\nMarsh End,HN96mh\n")
    assert book.read_text(encoding="utf-8") == BOOK
    assert sorted(p.name for p in book.parent.iterdir()) == ["list.csv", "trip.toml"]


def test_the_report_reads_line_by_line(book: Path) -> None:
    report = take(book, "Name,Lat,Lon\nMarsh End,46.29750,-20.93750\nBad,x,y\n")
    assert report.lines() == [
        "list.csv into trip.toml: 1 added, 1 unclear",
        "added: line 2: Marsh End: 46.29750, -20.93750; assumed: band, mode and equipment",
        "unclear: line 3: Bad: cannot read 'x; y' as a place: it holds no numbers; left out",
    ]
    assert str(report).split("\n") == report.lines()


def test_the_report_says_what_was_read_of_each(book: Path) -> None:
    report = take(
        book,
        "Brindle Bay 47.404, -21.070 2m FM 25W vertical, 18:00-20:00 UTC\n"
        "Lighthouse HN96fl beacon 144.44\nRidge repeater HN96ok 145.600 -0.6, ask for Ann\n",
        "mail.txt",
    )
    assert "\n".join(map(str, report.added)) == (
        "line 1: Brindle Bay: 47.404, -21.070; 2 m, FM, 25 W, vertical, listens 18:00-20:00 UTC\n"
        "line 2: Lighthouse: HN96fl; beacon or the like: it does not answer, 2 m, sends on 144.44 MHz;"
        " assumed: the modes customary on 144.44 MHz, as none is stated\n"
        "line 3: Ridge repeater: HN96ok; 2 m, FM, sends on 145.6 MHz, listens on 145 MHz, shift -0.6 MHz;"
        " kept as a note: ask for Ann; assumed: FM, as it is a repeater"
    )
    station = read_book(book).station("Brindle Bay")
    assert (station.listening_hours, station.time_zone, station.notes) == (("18:00-20:00",), "UTC", "")
    (set_up,) = station.set_ups
    assert (set_up.bands, set_up.modes, set_up.power_w) == (("2 m",), ("fm",), 25.0)


def test_no_band_is_invented(book: Path) -> None:
    rows = "Name,Loc,Power,Height\nMarsh End,HN96mh,50,12\n"
    (added,) = take(book, rows).added
    assert added.text.endswith("assumed: 2 m, the book's only band, any mode, as none is stated")
    replace(book, 'bands = ["2 m"]', 'bands = ["2 m", "70 cm"]')
    report = take(book, rows.replace("Marsh End", "Oakenby"))
    assert report.doubts[0].text == "no band is stated, so this is kept as a note only: 50 W, 12 m high"
    station = read_book(book).station("Oakenby")
    assert (station.set_ups, station.notes) == ((), "50 W, 12 m high")


def test_hours_without_a_zone_take_that_of_the_book_or_stay_a_note(book: Path) -> None:
    report = take(book, "Name,Loc,Hours\nMarsh End,HN96mh,18:00-20:00\n")
    assert "no time zone, nor has the book" in report.doubts[0].text
    assert read_book(book).station("Marsh End").notes == "listens 18:00-20:00"
    replace(book, "[trip]", '[trip]\ntime_zone = "UTC+1"')
    (added,) = take(book, "Name,Loc,Hours\nOakenby,HN96ow,18:00-20:00\n").added
    assert "listens 18:00-20:00 UTC+1" in added.text
    assert "assumed: hours in UTC+1, the book's time zone" in added.text
    assert read_book(book).station("Oakenby").time_zone == "UTC+1"


def test_exchanged_coordinates_are_offered_the_other_way_round_and_not_added(book: Path) -> None:
    def km(latitude: float, longitude: float) -> str:
        return f"{Geodesic.WGS84.Inverse(47.74833, -21.00083, latitude, longitude)['s12'] / 1000.0:.0f} km"

    report = take(book, "Name,Lat,Lon\nEmberlaw,-21.03667,47.07083\nMarsh End,46.29750,-20.93750\n")
    (unclear,) = report.unclear
    given, swapped = km(-21.03667, 47.07083), km(47.07083, -21.03667)
    assert str(unclear) == (
        f"line 2: Emberlaw: {given} from here; swapped it would be {swapped}:"
        " latitude and longitude exchanged? Left out"
    )
    assert [remark.name for remark in report.added] == ["Marsh End"]
    # Letters leave no doubt, and far both ways is far.
    far = take(book, 'Name,Place\nA,"21.03667 S 47.07083 E"\nB,"-30.123 100.321"\nC,"-30.123 80.321"\n')
    assert [remark.name for remark in far.added] == ["A", "B", "C"]
    assert all("is the position right?" in remark.text for remark in far.doubts)
