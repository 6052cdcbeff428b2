"""The operator's log in the forms it comes in. All stations are invented."""

from __future__ import annotations

import datetime as dt
import io
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pathprofile.errors import StationError
from pathprofile.trip.log import Log, parse_log, read_log

if TYPE_CHECKING:
    from pathlib import Path

PLAIN = "time,station,mode,frequency,sent,received,heard,remarks\n14:05,Ash,ssb,144.300,57,55,y,clear\n"


def only(log: Log) -> str:
    """The one thing that was unclear."""
    assert len(log.unclear) == 1
    return str(log.unclear[0])


def test_a_plain_row() -> None:
    log = parse_log(PLAIN)
    (row,) = log.rows
    assert log.unclear == ()
    assert (row.line, row.time, row.station, row.mode, row.band) == (2, "14:05", "Ash", "ssb", "2 m")
    assert (row.sent.level_dbm, row.received.level_dbm) == (-105.0, -117.0)  # S7, S5 by IARU R.1
    assert (row.heard, row.remarks) == (True, "clear")


@pytest.mark.parametrize("delimiter", [";", "\t", "|"])
def test_other_delimiters_with_a_decimal_comma(delimiter: str) -> None:
    (row,) = parse_log(PLAIN.replace(",", delimiter).replace("144.300", "144,300")).rows
    assert (row.band, row.received.level_dbm) == ("2 m", -117.0)


@pytest.mark.parametrize(
    ("header", "cell", "band"),
    [
        ("frequency", "144.3", "2 m"),
        ("QRG (kHz)", "144300", "2 m"),
        ("freq", "432200", "70 cm"),
        ("freq", "144300000", "2 m"),
        ("freq MHz", "50.150", "6 m"),
        ("frequency", "432.2 MHz", "70 cm"),
        ("frequency GHz", "1.296", "23 cm"),
        ("band", "70cm", "70 cm"),
        ("Band", "2 m", "2 m"),
        ("frequency", "", ""),
    ],
)
def test_frequency_or_band(header: str, cell: str, band: str) -> None:
    log = parse_log(f"station;{header};sent\nAsh;{cell};57\n")
    assert (log.rows[0].band, log.unclear) == (band, ())


@pytest.mark.parametrize(
    "header",
    [
        "Station;RST sent;RST rcvd",
        "CALL;Sent;Received",
        "Rufzeichen;gesendet;empfangen",
        "nom;envoyé;reçu",
        "who;report sent;report received",
        "name;I gave;I got",
    ],
)
def test_headers_of_several_countries(header: str) -> None:
    (row,) = parse_log(f"{header}\nAsh;57;55\n").rows
    assert (row.station, row.sent.text, row.received.text) == ("Ash", "57", "55")


def test_header_below_a_title_and_rows_of_nothing() -> None:
    log = parse_log("My day on the hill\n\nstation,sent,heard (y/n)\n,,\nAsh,57,\n\nBeck,,N\n")
    assert [(row.line, row.station, row.heard) for row in log.rows] == [(5, "Ash", None), (7, "Beck", False)]


def test_dates_are_read_year_first() -> None:
    log = parse_log("date,time,station,sent\n2026-06-14,1405,Ash,57\n20260615,,Beck,57\n14.6.26,,Esk,57\n")
    assert [row.date for row in log.rows] == [dt.date(2026, 6, 14), dt.date(2026, 6, 15), None]
    (row,) = parse_log("time,station,sent\n2026-06-14T14:05Z,Ash,57\n").rows
    assert row.date == dt.date(2026, 6, 14)


def test_a_date_that_is_not_read_is_named_once() -> None:
    log = parse_log("date,station,sent\n14/6/2026,Ash,57\n15.6.26,Beck,57\n2026-06-14,Esk,57\n-,Elm,57\n")
    assert only(log) == (
        "line 2: date '14/6/2026' (and 1 more) is not read, nor held against the day: year first, 2026-06-14"
    )
    assert len(log.rows) == 4


@pytest.mark.parametrize("time", ["25:10", "2510", "14:75", "14:05:99", "24:01", "2026-06-14 25:10", "26h00"])
def test_a_time_that_no_clock_shows_is_named(time: str) -> None:
    log = parse_log(f"time,station,sent\n{time},Ash,57\n")
    assert only(log) == f"line 2: Ash: time: {time[:20]!r} is no time of day; passed over"
    assert (log.rows[0].time, log.rows[0].sent.text) == ("", "57")


@pytest.mark.parametrize(
    "time",
    [
        "14:05",
        "1405",
        "140530",
        "14.05",
        "14h05",
        "24:00",
        "9:05 am",
        "1405z",
        "14:05+01:00",
        "noon",
        "14",
        "",
        "2026-06-14T14:05Z",
        "20260614 1405",
        "2026-06-14",
    ],
)
def test_times_as_people_write_them_raise_no_doubt(time: str) -> None:
    log = parse_log(f"time,station,sent\n{time},Ash,57\n")
    assert (log.unclear, log.rows[0].time) == ((), time)


def test_remark_over_several_lines() -> None:
    log = parse_log('station,sent,remarks\nAsh,57,"faded\nat noon"\nBeck,55,\n')
    assert [(row.line, row.remarks) for row in log.rows] == [(2, "faded at noon"), (4, "")]


def test_quotation_mark_that_never_closes_costs_no_row() -> None:
    assert [row.station for row in parse_log('station,sent\n"Ash,57\nBeck,55\n').rows] == ["Ash", "Beck"]


def test_unseen_characters_do_not_reach_the_screen() -> None:
    (row,) = parse_log("station,sent,remarks\nA\x1b[31msh,57,x\u202ey\n").rows
    assert (row.station, row.remarks) == ("A [31msh", "x y")


@pytest.mark.parametrize(
    ("row", "said", "kept"),
    [
        ("Ash,ssb,144.3,blah,57,y", "line 2: Ash: sent: report 'blah' not understood; accepted: 59", True),
        ("Ash,ssb,144.3,57,blah,y", "line 2: Ash: received: report 'blah' not understood", True),
        ("Ash,ssb,144.3,57,55,maybe", "line 2: Ash: heard: 'maybe' is neither y nor n; passed over", True),
        ("Ash,smoke,144.3,57,55,y", "line 2: Ash: unknown mode 'smoke'; did you mean", False),
        ("Ash,ssb,9.9,57,55,y", "line 2: Ash: frequency 9.9 MHz: accepted 30 to 3000 MHz; left out", False),
        ("Ash,ssb,tuba,57,55,y", "line 2: Ash: unknown band 'tuba'; known: 6 m", False),
        (",ssb,144.3,57,55,y", "line 2: no station named; left out", False),
        ("Ash,ssb,144,3,57,55,y", "line 2: 7 cells under 6 column names; a decimal comma", False),
        ("Ash,ssb,144.3,57,55,n", "line 2: Ash: not heard, yet a report of '57' was sent; left out", False),
        ("Ash,ssb,144.3,nil,55,y", "line 2: Ash: heard, yet 'nil' under sent; left out", False),
    ],
)
def test_what_is_unclear_takes_one_line_each(row: str, said: str, kept: bool) -> None:
    log = parse_log(f"station,mode,frequency,sent,received,heard\n{row}\n")
    assert only(log).startswith(said)
    assert bool(log.rows) is kept


def test_byte_order_mark_and_other_encodings(tmp_path: Path) -> None:
    text = "station;sent\nKühberg;57\n"
    for encoding in ("utf-8-sig", "utf-16", "cp1252"):
        (tmp_path / "log.csv").write_bytes(text.encode(encoding))
        log = read_log(tmp_path / "log.csv")
        assert (log.name, log.rows[0].station) == ("log.csv", "Kühberg")


def test_reads_an_open_file() -> None:
    assert read_log(io.BytesIO(PLAIN.encode())).rows[0].station == "Ash"


@pytest.mark.parametrize(
    ("raw", "match"),
    [
        (b"", r"^log\.csv: empty; write one row for each call, under a line of column names$"),
        (b"  \n ", r"^log\.csv: empty"),
        (b"PK\x03\x04rest", r"^log\.csv: a spreadsheet or document, not a table of text: save it as CSV$"),
        (b"a\0b" * 50, r"^log\.csv: not text"),
        (b"Ash 57 55\n", r"^log\.csv: no column names found: .* a column named station"),
        (b"station,colour\nAsh,red\n", r"^log\.csv: no column names found"),
        (b"station,sent\n", r"^log\.csv: no call below the column names"),
        (b"x" * 5_000_001, r"^log\.csv: larger than 5 MB, the most a log may be$"),
    ],
    ids=["empty", "blank", "zip", "binary", "no header", "no reports", "no rows", "large"],
)
def test_refuses_a_file_that_is_no_log(tmp_path: Path, raw: bytes, match: str) -> None:
    (tmp_path / "log.csv").write_bytes(raw)
    with pytest.raises(StationError, match=match):
        read_log(tmp_path / "log.csv")


def test_refuses_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(StationError, match=r"^cannot read the log '.*none\.csv': No such file or directory$"):
        read_log(tmp_path / "none.csv")


cells = st.text(alphabet=st.characters(codec="utf-8"), max_size=12)


@given(st.lists(st.lists(cells, max_size=8), max_size=5))
def test_any_table_is_read_or_refused_in_one_line(rows: list[list[str]]) -> None:
    text = "station;mode;frequency;sent;received;heard\n" + "\n".join(";".join(row) for row in rows)
    said = []
    try:
        said = [str(unclear) for unclear in parse_log(text).unclear]
    except StationError as error:
        said = [str(error)]
    assert not any("\n" in line for line in said)
